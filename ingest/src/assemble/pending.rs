//! Rows and events on their way out: they wait, in their order, until the box clock can be placed in run time.

use super::box_clock::BoxClock;
use super::item::Row;
use super::saturation::Change;
use crate::plow::ChannelRole;
use crate::run_event::{EventKind, Item, RunEvent};
use std::collections::VecDeque;

/// Rows wait this long for the first answer to a ping, so that they can be placed by it, in µs.
pub(super) const HOLD_US: u64 = 250_000;

/// Something that waits.
#[derive(Clone, Debug)]
enum Waiting {
    Row {
        box_us: u64,
        row: Row,
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
    /// How many fell away, as they were sampled before the run began.
    pub rows_before_start: u64,
}

impl Pending {
    /// A row whose run time is not known yet.
    pub(super) fn row(&mut self, box_us: u64, row: Row, host_us: u64) {
        self.since_us.get_or_insert(host_us);
        self.waiting.push_back(Waiting::Row { box_us, row });
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

    pub(super) fn saturation(&mut self, role: ChannelRole, change: Change) {
        let column = role.column();
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
                Waiting::Row { box_us, mut row } => {
                    // With a row that waits the clock places box times, or nothing is released.
                    if let Some(t_us) = run.place_row(box_us) {
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
            };
            self.ready.push(Item::Event(RunEvent { t_us, kind, detail }));
        }
    }
}
