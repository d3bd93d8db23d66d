//! The latest readings: a reading that is no longer followed by others is no reading any more.

use super::carried::Carried;
use super::snapshot::Now;
use super::strip::{Strip, StripRow};
use ingest::plow::ChannelRole;
use ingest::recorder::LiveRows;
use std::time::{Duration, Instant};

/// A reading that is older is not shown: whoever looks must not take it for what is.
const STALE: Duration = Duration::from_secs(2);
/// A lift shows for this long at least, in µs of live time, or whoever looks in between would miss it.
const LIFT_SHOWN_US: u64 = 100_000;

/// A figure as it was last read, and when.
#[derive(Clone, Copy, Debug, Default)]
struct Latest(Option<(f64, Instant)>);

impl Latest {
    fn put(&mut self, value: Option<f64>, at: Instant) {
        if let Some(value) = value.filter(|value| value.is_finite()) {
            self.0 = Some((value, at));
        }
    }

    fn at(&self, now: Instant) -> Option<f64> {
        self.0.filter(|(_, at)| now.saturating_duration_since(*at) < STALE).map(|(value, _)| value)
    }
}

/// The latest readings of all boxes, and the last 20 s.
#[derive(Debug, Default)]
pub(super) struct Readings {
    load: Latest,
    pull: Latest,
    depth: Latest,
    speed: Latest,
    /// Columns of each box, by its number.
    columns: Vec<Vec<ChannelRole>>,
    pub strip: Strip,
    last_us: u64,
    /// When the last row came, of any box.
    last_row: Option<Instant>,
    under: bool,
    /// The last row that counted as lifted: its live time in µs, and its load in N.
    last_lifted: Option<(u64, f64)>,
}

impl Readings {
    /// All channels of all boxes.
    pub fn channels(&self) -> Vec<ChannelRole> {
        self.columns.iter().flatten().copied().collect()
    }

    /// Whether these rows have other columns than those of the same box before; they are remembered.
    pub fn has_new_columns(&mut self, rows: &LiveRows<'_>) -> bool {
        if self.columns.len() <= rows.number {
            self.columns.resize(rows.number + 1, Vec::new());
        }
        let Some(known) = self.columns.get_mut(rows.number) else { return false };
        let is_new = known != rows.columns;
        if is_new {
            *known = rows.columns.to_vec();
        }
        is_new
    }

    /// Takes in rows; whether a lift began in them.
    pub fn push(&mut self, carried: &Carried, rows: &LiveRows<'_>, at: Instant) -> bool {
        // Which box has the figure that the strip is thinned by: rows of the others would double its points.
        let place = |role| rows.columns.iter().position(|column| *column == role);
        let has_depth = place(ChannelRole::Depth).is_some();
        let mut began = false;
        if !rows.rows.is_empty() {
            self.last_row = Some(at);
        }
        for row in rows.rows {
            let reading = |role| place(role).and_then(|place| row.values().get(place)).copied();
            let load_n = carried.load_n(reading).filter(|load_n| load_n.is_finite());
            self.load.put(load_n, at);
            self.pull.put(carried.pull_n(reading), at);
            self.depth.put(reading(ChannelRole::Depth), at);
            self.speed.put(reading(ChannelRole::Speed), at);
            self.last_us = self.last_us.max(row.t_us);
            if let Some(load_n) = load_n {
                let under = carried.is_lifted(load_n);
                began |= under && !self.under;
                self.under = under;
                if under {
                    self.last_lifted = Some((row.t_us, load_n));
                }
            }
            if load_n.is_some() || (has_depth && carried.shown().is_none()) {
                self.strip.push(StripRow { t_us: row.t_us, load_n, depth_mm: self.depth.at(at) });
            }
        }
        began
    }

    /// A speed that no box measures.
    pub fn put_speed(&mut self, speed_mps: f64, at: Instant) {
        self.speed.put(Some(speed_mps), at);
    }

    /// For how long no row has come of any box, in s; `None` while they come, and before the first.
    pub fn silent_s(&self, now: Instant) -> Option<f64> {
        let silent = now.saturating_duration_since(self.last_row?);
        (silent >= STALE).then_some(silent.as_secs_f64())
    }

    /// The readings of this moment.
    pub fn now(&self, now: Instant) -> Now {
        let latest_n = self.load.at(now);
        let shown = |(us, _): &(u64, f64)| self.last_us.saturating_sub(*us) < LIFT_SHOWN_US;
        let lifted = self.last_lifted.filter(shown).filter(|_| latest_n.is_some());
        // Word and figure are of one moment.
        let load_n = lifted.map(|(_, lifted_n)| lifted_n).or(latest_n);
        Now {
            t_s: self.last_us as f64 / 1e6,
            load_n,
            pull_n: self.pull.at(now),
            depth_mm: self.depth.at(now),
            speed_mps: self.speed.at(now),
            lifted: lifted.is_some(),
        }
    }
}
