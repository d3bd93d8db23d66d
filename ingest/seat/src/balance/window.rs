//! What the rows of the last seconds add up to, box by box, in bins of a twentieth of a second: whatever the rate, so that
//! a second's judgement costs the same.

use ingest::plow::{ChannelRole, LoadTable, Plow, Setting};
use ingest::recorder::LiveRows;
use statics::contradiction::{TableReadings, TableTally};
use statics::judged_load::JudgedLoad;
use statics::plow_model::{LIFTED_SHARE_OF_STATIC, standing_loads};
use stats::Estimate;
use std::collections::VecDeque;

const ROLES: usize = ChannelRole::ALL.len();
/// Width of a bin: the slow waves that an interval rests on are slower than 1.2 Hz.
const BIN_US: u64 = 50_000;
/// Bins a second.
pub(super) const BINS_A_SECOND: f64 = 1e6 / BIN_US as f64;
/// Intervals between rows of which the median is the usual one.
const INTERVALS: usize = 31;
/// Longer than so many usual intervals is a gap.
const GAP_INTERVALS: f64 = 1.8;
/// No rows of a box for this long are a gap, though more may come at once.
const SILENCE_US: u64 = 1_000_000;

/// Sums over the rows of one box within one bin.
#[derive(Clone, Debug)]
struct Bin {
    /// Live time over the width of a bin.
    number: u64,
    rows: f64,
    sums: [f64; ROLES],
    /// Rows in which the load of that role was under a twentieth of the standing plow's.
    lifted: [f64; ROLES],
    /// Of the tail spring's load by its table, in N.
    by_table_n: f64,
    table: TableTally,
    /// Time before its rows in which rows should have come and did not.
    missing_us: u64,
}

impl Bin {
    fn at(number: u64) -> Self {
        Self {
            number,
            rows: 0.0,
            sums: [0.0; ROLES],
            lifted: [0.0; ROLES],
            by_table_n: 0.0,
            table: TableTally::default(),
            missing_us: 0,
        }
    }
}

#[derive(Clone, Debug, Default)]
struct BoxRows {
    columns: Vec<ChannelRole>,
    bins: VecDeque<Bin>,
    last_us: Option<u64>,
    intervals_us: VecDeque<u64>,
}

impl BoxRows {
    fn usual_us(&self) -> Option<u64> {
        let mut sorted: Vec<u64> = self.intervals_us.iter().copied().collect();
        sorted.sort_unstable();
        sorted.get(sorted.len() / 2).copied()
    }
}

/// The last seconds of readings of all boxes.
#[derive(Clone, Debug)]
pub struct Window {
    boxes: Vec<BoxRows>,
    keep_us: u64,
    table: Option<LoadTable>,
    /// Under this load a carrier counts as lifted, N, role by role.
    lifted_under_n: [f64; ROLES],
}

impl Window {
    /// An empty one of a plow in one setting, that keeps at least `keep_s`.
    #[must_use]
    pub fn of(plow: &Plow, setting: &Setting, keep_s: f64) -> Self {
        let mut lifted_under_n = [f64::NEG_INFINITY; ROLES];
        if let Ok((front, tail)) = standing_loads(plow, setting) {
            for (role, standing) in
                [(ChannelRole::FrontLoad, front), (ChannelRole::TailLoad, tail), (ChannelRole::Tail, tail)]
            {
                lifted_under_n[role as usize] = LIFTED_SHARE_OF_STATIC * standing.n();
            }
        }
        Self {
            boxes: Vec::new(),
            keep_us: (keep_s * 1e6) as u64,
            table: plow.tail.wheel().map(|wheel| wheel.load_table.clone()),
            lifted_under_n,
        }
    }

    /// Takes rows that have just come.
    pub fn take(&mut self, came: &LiveRows<'_>) {
        if self.boxes.len() <= came.number {
            self.boxes.resize_with(came.number + 1, BoxRows::default);
        }
        let (table, lifted_under_n) = (self.table.as_ref(), &self.lifted_under_n);
        let Some(rows_of) = self.boxes.get_mut(came.number) else { return };
        if rows_of.columns != came.columns {
            *rows_of = BoxRows { columns: came.columns.to_vec(), ..BoxRows::default() };
        }
        let mut usual_us = rows_of.usual_us();
        for row in came.rows {
            let number = row.t_us / BIN_US;
            let since_us = rows_of.last_us.map(|last_us| row.t_us.saturating_sub(last_us));
            rows_of.last_us = Some(row.t_us);
            if rows_of.bins.back().is_none_or(|bin| bin.number != number) {
                rows_of.bins.push_back(Bin::at(number));
            }
            let Some(bin) = rows_of.bins.back_mut() else { return };
            if let Some(since_us) = since_us {
                let usual = usual_us.unwrap_or(since_us);
                if since_us as f64 > GAP_INTERVALS * usual as f64 {
                    bin.missing_us += since_us - usual;
                }
                rows_of.intervals_us.push_back(since_us);
                if rows_of.intervals_us.len() > INTERVALS {
                    rows_of.intervals_us.pop_front();
                }
            }
            bin.rows += 1.0;
            for (role, value) in came.columns.iter().zip(row.values()) {
                let (place, mut load_n) = (*role as usize, *value);
                if let (ChannelRole::Tail, Some(table)) = (role, table) {
                    bin.table.take(table, *value);
                    load_n = table.load_n(value / 1000.0);
                    bin.by_table_n += load_n;
                }
                if let (Some(sum), Some(lifted), Some(under_n)) =
                    (bin.sums.get_mut(place), bin.lifted.get_mut(place), lifted_under_n.get(place))
                {
                    *sum += value;
                    *lifted += f64::from(u8::from(load_n < *under_n));
                }
            }
            if rows_of.intervals_us.len() < INTERVALS {
                usual_us = rows_of.usual_us();
            }
        }
        let from = rows_of.last_us.unwrap_or(0).saturating_sub(self.keep_us) / BIN_US;
        while rows_of.bins.front().is_some_and(|bin| bin.number < from) {
            rows_of.bins.pop_front();
        }
    }

    /// Live time of the latest row of any box, in µs.
    #[must_use]
    pub fn latest_us(&self) -> Option<u64> {
        self.boxes.iter().filter_map(|rows_of| rows_of.last_us).max()
    }

    /// What was read between two live times, in whole bins.
    #[must_use]
    pub fn between(&self, from_us: u64, to_us: u64) -> WindowReadings<'_> {
        WindowReadings { window: self, from: from_us / BIN_US, to: to_us / BIN_US, to_us }
    }

    /// Mean depth and pull of each bin between two live times, for the question whether the plow is in the ground; `None`
    /// where no row came.
    pub(super) fn depth_and_pull(
        &self,
        (from_us, to_us): (u64, u64),
        pull_of: impl Fn(&dyn Fn(ChannelRole) -> Option<f64>) -> Option<f64>,
    ) -> Vec<Option<(f64, f64)>> {
        let readings = self.between(from_us, to_us);
        let by_bin = |role| -> std::collections::BTreeMap<u64, f64> {
            readings.bins_of(role).map(|bin| (bin.number, bin.sums[role as usize] / bin.rows)).collect()
        };
        let of: Vec<_> = ChannelRole::ALL.iter().map(|role| by_bin(*role)).collect();
        (readings.from..readings.to)
            .map(|number| {
                let at = |role: ChannelRole| of.get(role as usize)?.get(&number).copied();
                Some((at(ChannelRole::Depth)?, pull_of(&at)?))
            })
            .collect()
    }
}

/// A stretch of a window.
#[derive(Clone, Copy, Debug)]
pub struct WindowReadings<'a> {
    window: &'a Window,
    from: u64,
    to: u64,
    to_us: u64,
}

impl<'a> WindowReadings<'a> {
    fn box_of(&self, role: ChannelRole) -> Option<&'a BoxRows> {
        self.window.boxes.iter().find(|rows_of| rows_of.columns.contains(&role))
    }

    fn within(&self, rows_of: &'a BoxRows) -> impl Iterator<Item = &'a Bin> + use<'a> {
        let (from, to) = (self.from, self.to);
        rows_of.bins.iter().filter(move |bin| (from..to).contains(&bin.number))
    }

    fn bins_of(&self, role: ChannelRole) -> impl Iterator<Item = &'a Bin> + use<'a> {
        let readings = *self;
        self.box_of(role).into_iter().flat_map(move |rows_of| readings.within(rows_of))
    }

    /// Whether a box sends this channel.
    #[must_use]
    pub fn has(&self, role: ChannelRole) -> bool {
        self.box_of(role).is_some()
    }

    /// The largest share of the stretch that a box is without rows, 0 to 1.
    #[must_use]
    pub fn missing_share(&self) -> f64 {
        let span_us = (self.to - self.from).max(1) * BIN_US;
        let missing_us = |rows_of: &'a BoxRows| {
            let inside: u64 = self.within(rows_of).map(|bin| bin.missing_us).sum();
            let first = self.within(rows_of).next().map_or(self.to, |bin| bin.number);
            // Up to a bin is rounding, and a box may be slower than that.
            let slack_us = 2 * BIN_US.max(rows_of.usual_us().unwrap_or(0));
            let before_us = (first.saturating_sub(self.from) * BIN_US).saturating_sub(slack_us);
            let silent_us = self.to_us.saturating_sub(rows_of.last_us.unwrap_or(0));
            let after_us = if silent_us > SILENCE_US { silent_us } else { 0 };
            (inside.max(before_us) + after_us).min(span_us)
        };
        let most_us =
            self.window.boxes.iter().filter(|rows_of| !rows_of.columns.is_empty()).map(missing_us).max();
        most_us.map_or(1.0, |most_us| most_us as f64 / span_us as f64)
    }

    fn mean_by(&self, role: ChannelRole, sum: impl Fn(&Bin) -> f64) -> Option<Estimate> {
        let (mut all, mut rows, mut means) = (0.0, 0.0, Vec::new());
        for bin in self.bins_of(role) {
            all += sum(bin);
            rows += bin.rows;
            means.push(sum(bin) / bin.rows);
        }
        mean_of_bins(all / rows, &means)
    }

    /// The mean of a channel, in the column's unit, with the 95 % interval of the process; `None` if it is not measured,
    /// or in fewer bins than an interval takes.
    #[must_use]
    pub fn mean(&self, role: ChannelRole) -> Option<Estimate> {
        self.mean_by(role, |bin| bin.sums[role as usize])
    }

    /// The same of what two channels of one box or of two make together, if that is linear.
    pub(super) fn mean_of_both(
        &self,
        (one, other): (ChannelRole, ChannelRole),
        of: impl Fn(f64, f64) -> f64,
    ) -> Option<Estimate> {
        let exact = of(self.mean(one)?.value, self.mean(other)?.value);
        let (mut second, mut means) = (self.bins_of(other).peekable(), Vec::new());
        for bin in self.bins_of(one) {
            while second.peek().is_some_and(|next| next.number < bin.number) {
                second.next();
            }
            if let Some(both) = second.peek().filter(|next| next.number == bin.number) {
                means.push(of(bin.sums[one as usize] / bin.rows, both.sums[other as usize] / both.rows));
            }
        }
        mean_of_bins(exact, &means)
    }

    /// Mean tail load by the spring's load table, N.
    #[must_use]
    pub fn tail_by_table(&self) -> Option<Estimate> {
        self.window.table.as_ref()?;
        self.mean_by(ChannelRole::Tail, |bin| bin.by_table_n)
    }

    /// The readings of the tail's spring against its load table.
    #[must_use]
    pub fn table(&self, plow: &Plow) -> Option<TableReadings> {
        let table = &plow.tail.wheel()?.load_table;
        self.has(ChannelRole::Tail).then(|| {
            let tally =
                self.bins_of(ChannelRole::Tail).fold(TableTally::default(), |all, bin| all.plus(bin.table));
            tally.of_table(table)
        })
    }

    /// Share of the readings with next to no load; `None` where that says nothing.
    #[must_use]
    pub fn lifted_share(&self, judged: &JudgedLoad) -> Option<f64> {
        judged.lifted_under_n()?;
        let role = judged.load.role();
        let (lifted, rows) = self
            .bins_of(role)
            .fold((0.0, 0.0), |(lifted, rows), bin| (lifted + bin.lifted[role as usize], rows + bin.rows));
        (rows > 0.0).then_some(lifted / rows)
    }

    /// Whether a channel that is measured is the same in every bin.
    #[must_use]
    pub fn never_moves(&self, role: ChannelRole) -> bool {
        let means = self.bins_of(role).map(|bin| bin.sums[role as usize] / bin.rows);
        let (low, high) = means
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), mean| (low.min(mean), high.max(mean)));
        // The sums of like values differ by rounding.
        high >= low && high - low <= 1e-9 * high.abs().max(low.abs())
    }
}

/// The mean of a series of means of bins, which weighs each reading alike, with the interval of the process.
fn mean_of_bins(exact: f64, bins: &[f64]) -> Option<Estimate> {
    let stretch = stats::bins::Stretch { start_s: 0.0, values: bins };
    let of_bins = stats::series_figures::series_mean(&[stretch], BINS_A_SECOND).ok()?;
    Estimate::around(exact, of_bins.half_width())
}

#[cfg(test)]
mod tests;
