//! Rows and events on their way out: they wait until the box clock can be placed in run time.

use super::saturation::{Change, Saturation};
use super::{Assembler, EventKind, Item, Row, RunEvent};
use crate::plow::ChannelRole;
use firmware_protocol::CHANNELS_MAX;

/// Rows wait this long for the first answer to a ping, so that they can be placed by it, in µs.
pub(super) const HOLD_US: u64 = 250_000;

/// Something that waits for the box clock to be placed in run time.
#[derive(Clone, Debug)]
pub(super) enum Held {
    Row {
        box_us: u64,
        counts: [i32; CHANNELS_MAX],
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

impl Assembler {
    /// Moves what is held to what is ready, once box times can be placed: by the first answer to a
    /// ping, else after a while by arrival, or at once if `forced`.
    pub(super) fn release(&mut self, host_us: u64, forced: bool) {
        let first_row = self.held.iter().find_map(|held| match held {
            Held::Row { box_us, .. } => Some(*box_us),
            _ => None,
        });
        if let (Some(box_us), Some(delay_us), false) = (first_row, self.least_delay_us, self.clock.places()) {
            let waited = self.held_since_us.is_some_and(|since| host_us.saturating_sub(since) >= HOLD_US);
            if !(forced || waited || self.clock.is_fitted()) {
                return;
            }
            self.clock.begin(box_us, delay_us);
        }
        self.held_since_us = None;
        while let Some(held) = self.held.pop_front() {
            let (t_us, kind, detail) = match held {
                Held::Row { box_us, counts } => {
                    let Some(t_us) = self.clock.place_row(box_us) else { continue };
                    self.counters.rows += 1;
                    let mut row = Row::at(t_us);
                    for column in &self.reading {
                        let count = counts.get(column.index).copied().unwrap_or(0);
                        row.push(column.curve.reading(f64::from(count)));
                    }
                    self.ready.push(Item::Row(row));
                    continue;
                }
                Held::AfterRow(kind, detail) => (self.clock.last_run_us(), kind, detail),
                Held::AtBox { box_us, host_us, kind, detail } => {
                    let t_us = self.clock.run_at(box_us).unwrap_or_else(|| self.clock.run_at_host(host_us));
                    (t_us, kind, detail)
                }
                Held::AtHost(host_us, kind, detail) => (self.clock.run_at_host(host_us), kind, detail),
            };
            self.ready.push(Item::Event(RunEvent { t_us, kind, detail }));
        }
    }

    pub(super) fn end_saturation(&mut self) {
        for k in 0..self.columns().len() {
            let role = self.columns().get(k).copied();
            let change = self.saturation.get_mut(k).and_then(Saturation::end);
            if let Some(role) = role {
                self.saturation_changed(role, change, None);
            }
        }
    }

    pub(super) fn saturation_changed(
        &mut self,
        role: ChannelRole,
        change: Option<Change>,
        count: Option<i32>,
    ) {
        let column = role.column();
        match change {
            Some(Change::Began) => {
                let detail = format!("column={column}; count={}", count.unwrap_or(0));
                self.after_row(EventKind::Saturated, detail);
            }
            Some(Change::Ended { rows }) => {
                self.after_row(EventKind::SaturatedEnd, format!("column={column}; rows={rows}"));
            }
            None => {}
        }
    }

    pub(super) fn end_refused(&mut self) {
        let rows = std::mem::take(&mut self.refused_in_a_row);
        if rows > 0 {
            self.counters.rows_refused += rows;
            self.after_row(EventKind::Refused, format!("rows={rows}"));
        }
    }

    pub(super) fn gap(&mut self, rows: u32, lasted_us: u64) {
        if rows > 0 {
            self.counters.rows_lost += u64::from(rows);
            self.counters.gaps += 1;
            self.after_row(EventKind::Gap, format!("rows={rows}; lasted_s={:.6}", lasted_us as f64 / 1e6));
        }
    }

    pub(super) fn after_row(&mut self, kind: EventKind, detail: String) {
        self.held.push_back(Held::AfterRow(kind, detail));
    }

    pub(super) fn at_host(&mut self, host_us: u64, kind: EventKind, detail: String) {
        self.held.push_back(Held::AtHost(host_us, kind, detail));
    }
}
