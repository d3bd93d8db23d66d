//! Rows and events on their way out: they wait, in their order, until the box clock can be placed in run time.

use super::box_clock::BoxClock;
use super::item::Row;
use super::saturation::Change;
use crate::run_event::{EventKind, Item, RunEnd, RunEvent};
use std::collections::VecDeque;

/// Rows wait this long for the first answer to a ping, so that they can be placed by it, in µs.
pub(super) const HOLD_US: u64 = 250_000;

/// Time between two rows that is not told: half a second, which a line or a boot may take, ...
const UNTOLD_US: u64 = 500_000;
/// ... and so many intervals, ...
const UNTOLD_ROWS: u64 = 2;
/// ... and one in so many of the time of lost rows: a box that samples and prints in one loop may be slower than it says.
const SLOWER_ONE_IN: u64 = 5;

/// Something that waits.
#[derive(Clone, Debug)]
enum Waiting {
    Row {
        box_us: u64,
        row: Row,
        due: Due,
    },
    /// An event that goes with the row before it.
    AfterRow(EventKind, String),
    AtBox {
        box_us: u64,
        host_us: u64,
        kind: EventKind,
        detail: String,
    },
    AtHost(u64, EventKind, String),
    /// The end of the run.
    End {
        host_us: u64,
        how: String,
        due: Due,
    },
}

/// When the next row is to be expected, in µs after the row before.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Due {
    pub interval_us: u64,
    /// What rows take that came before it and were not written, or are counted as lost.
    pub counted_us: u64,
}

impl Due {
    /// How much of the time since the row before is without readings and in no count; `None` if it may be nothing.
    fn without_us(self, since_us: u64) -> Option<u64> {
        let Self { interval_us, counted_us } = self;
        let without_us = since_us.saturating_sub(interval_us + counted_us);
        (without_us > UNTOLD_US + UNTOLD_ROWS * interval_us + counted_us / SLOWER_ONE_IN)
            .then_some(without_us)
    }
}

/// What waits, and what has its run time and is to be taken away.
#[derive(Clone, Debug, Default)]
pub(super) struct Pending {
    waiting: VecDeque<Waiting>,
    /// Since when rows wait, in host time in µs.
    since_us: Option<u64>,
    pub ready: Vec<Item<Row>>,
    /// How many rows have got their run time so far.
    pub rows_released: u64,
    /// Time without rows that is in no other count, in ms.
    pub without_readings_ms: u64,
    /// What the next row that waits is due after.
    due: Due,
    /// How many fell away, as they were sampled before the run began.
    pub rows_before_start: u64,
}

impl Pending {
    /// A row whose run time is not known yet.
    pub(super) fn row(&mut self, box_us: u64, row: Row, host_us: u64) {
        self.since_us.get_or_insert(host_us);
        let due = Due { counted_us: std::mem::take(&mut self.due.counted_us), ..self.due };
        self.waiting.push_back(Waiting::Row { box_us, row, due });
    }

    /// Rows follow at this interval from now on.
    pub(super) fn rows_come_every(&mut self, interval_us: u64) {
        self.due.interval_us = interval_us;
    }

    /// So many rows before the next one are counted.
    pub(super) fn counted(&mut self, rows: u64) {
        self.due.counted_us += rows * self.due.interval_us;
    }

    /// The end of the run; no row comes after it.
    pub(super) fn end(&mut self, host_us: u64, how: String) {
        self.waiting.push_back(Waiting::End { host_us, how, due: std::mem::take(&mut self.due) });
    }

    pub(super) fn after_row(&mut self, kind: EventKind, detail: String) {
        self.waiting.push_back(Waiting::AfterRow(kind, detail));
    }

    /// An event at a box time, or if that cannot be placed, at a host time.
    pub(super) fn at_box(&mut self, box_us: u64, host_us: u64, kind: EventKind, detail: String) {
        self.waiting.push_back(Waiting::AtBox { box_us, host_us, kind, detail });
    }

    pub(super) fn at_host(&mut self, host_us: u64, kind: EventKind, detail: String) {
        self.waiting.push_back(Waiting::AtHost(host_us, kind, detail));
    }

    pub(super) fn saturation(&mut self, column: &str, change: Change) {
        match change {
            Change::Began { count } => {
                self.after_row(EventKind::Saturated, format!("column={column}; count={count}"));
            }
            Change::Ended { rows } => {
                self.after_row(EventKind::SaturatedEnd, format!("column={column}; rows={rows}"));
            }
        }
    }

    /// Place and box time of the first row that waits.
    fn first_row(&self) -> Option<(usize, u64)> {
        self.waiting.iter().enumerate().find_map(|(at, waiting)| match waiting {
            Waiting::Row { box_us, .. } => Some((at, *box_us)),
            _ => None,
        })
    }

    /// Moves what waits to what is ready, once box times can be placed: by the first answer to a
    /// ping, else after a while by arrival, or at once if `forced`.
    pub(super) fn release(&mut self, host_us: u64, forced: bool, clock: &mut BoxClock) {
        let waited = self.since_us.is_some_and(|since| host_us.saturating_sub(since) >= HOLD_US);
        if self.first_row().is_some() && !clock.can_place(forced || waited) {
            return;
        }
        if !clock.run.places() {
            // Placed at the beginning, where run time is 0, they would push all later ones back.
            while let Some((at, _)) = self.first_row().filter(|(_, box_us)| clock.is_before_start(*box_us)) {
                self.waiting.remove(at);
                self.rows_before_start += 1;
            }
            if let Some((_, box_us)) = self.first_row() {
                clock.place_from(box_us);
            }
        }
        self.since_us = None;
        while let Some(waiting) = self.waiting.pop_front() {
            let run = &mut clock.run;
            let (t_us, kind, detail) = match waiting {
                Waiting::Row { box_us, mut row, due } => {
                    let before_us = run.last_run_us();
                    // With a row that waits the clock places box times, or nothing is released.
                    if let Some(t_us) = run.place_row(box_us) {
                        self.without_readings(before_us, t_us, due);
                        row.t_us = t_us;
                        self.rows_released += 1;
                        self.ready.push(Item::Row(row));
                    }
                    continue;
                }
                Waiting::AfterRow(kind, detail) => (run.last_run_us(), kind, detail),
                Waiting::AtBox { box_us, host_us, kind, detail } => {
                    let t_us = run.run_at(box_us).unwrap_or_else(|| run.run_at_host(host_us));
                    (t_us, kind, detail)
                }
                Waiting::AtHost(host_us, kind, detail) => (run.run_at_host(host_us), kind, detail),
                Waiting::End { host_us, how, due } => {
                    let (before_us, t_us) = (run.last_run_us(), run.run_at_host(host_us));
                    // Who lets a run end by the ports that are away, has said for how long they may be.
                    if how != RunEnd::PortsGone.to_string() {
                        self.without_readings(before_us, t_us, due);
                    }
                    (t_us, EventKind::Ended, how)
                }
            };
            self.ready.push(Item::Event(RunEvent { t_us, kind, detail }));
        }
    }

    /// Tells of time between two run times, in µs, in which a row was due.
    fn without_readings(&mut self, from_us: u64, to_us: u64, due: Due) {
        let Some(without_us) = due.without_us(to_us.saturating_sub(from_us)) else { return };
        self.without_readings_ms += without_us / 1000;
        let detail = format!("lasted_s={:.3}", without_us as f64 / 1e6);
        self.ready.push(Item::Event(RunEvent { t_us: from_us, kind: EventKind::WithoutReadings, detail }));
    }
}
