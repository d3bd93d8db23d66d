//! One uniform time base for all channels. Gaps end a segment; nothing is interpolated over one.

use super::resample;
use crate::run::{Table, usual_step};
use ingest::plow::ChannelRole;
use stats::bins::Stretch;
use std::collections::BTreeMap;
use std::ops::Range;

/// A step longer than this many times the usual one is a gap.
pub const GAP_STEPS: f64 = 1.5;
/// A step off by more than this share of the usual one makes a segment uneven: it is then put on an
/// even grid by straight lines between neighbours. The clock's slewing stays far below (500 ppm).
const UNEVEN_SHARE: f64 = 0.1;

/// A stretch of rows without a gap.
#[derive(Clone, Debug, PartialEq)]
pub struct Segment {
    /// Run time of its first row in s.
    pub start_s: f64,
    /// Its rows.
    pub rows: Range<usize>,
}

impl Segment {
    /// Run time of its last row in s.
    pub(super) fn end_s(&self, rate_hz: f64) -> f64 {
        self.start_s + self.rows.len().saturating_sub(1) as f64 / rate_hz
    }
}

/// All channels on one time base.
#[derive(Clone, Debug)]
pub struct Signals {
    /// Rows per second.
    pub rate_hz: f64,
    /// Stretches without gaps, in time order.
    pub segments: Vec<Segment>,
    /// Readings of each channel, in the column's unit; segments index into them.
    pub channels: BTreeMap<ChannelRole, Vec<f64>>,
}

/// Why a table has no time base. Each is one sentence.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[allow(missing_docs, reason = "names of fields say what they are, and their unit")]
pub enum SignalError {
    /// No rate follows from so few rows.
    #[error(
        "{rows} row is too few to say anything: a test pass has thousands; was the recording stopped at once?"
    )]
    TooFewRows { rows: usize },
    /// The boxes of pull, tail wheel and depth never sent at the same time.
    #[error(
        "pull, tail wheel and depth come from several boxes, and at no moment of the run did all of them send: \
         `hitchwright check` shows each box's rows"
    )]
    NothingInCommon,
}

/// The channels of a table on a uniform time base.
///
/// # Errors
/// [`SignalError::TooFewRows`] for fewer than two rows.
pub fn uniform(table: Table) -> Result<Signals, SignalError> {
    let all = 0..table.t_s.len();
    uniform_within(table, &[all], GAP_STEPS)
}

/// The same with what lies outside of these rows, in order, and steps of more than `gap_steps` usual ones
/// taken for gaps.
///
/// # Errors
/// As [`uniform`].
pub(super) fn uniform_within(
    table: Table,
    kept: &[Range<usize>],
    gap_steps: f64,
) -> Result<Signals, SignalError> {
    let step_s = usual_step(&table.t_s).ok_or(SignalError::TooFewRows { rows: table.t_s.len() })?;
    let pieces = common(&pieces(&table.t_s, gap_steps * step_s), kept);
    let uneven = pieces.iter().any(|rows| is_uneven(table.t_s.get(rows.clone()).unwrap_or(&[]), step_s));
    if uneven {
        return Ok(on_even_grid(&table, &pieces, step_s));
    }
    let segment = |rows: Range<usize>| Some(Segment { start_s: *table.t_s.get(rows.start)?, rows });
    let segments = pieces.into_iter().filter_map(segment).collect();
    Ok(Signals { rate_hz: 1.0 / step_s, segments, channels: table.channels })
}

fn is_uneven(t_s: &[f64], step_s: f64) -> bool {
    t_s.windows(2).any(|pair| ((pair[1] - pair[0]) / step_s - 1.0).abs() > UNEVEN_SHARE)
}

fn on_even_grid(table: &Table, pieces: &[Range<usize>], step_s: f64) -> Signals {
    let mut segments = Vec::new();
    let mut channels: BTreeMap<ChannelRole, Vec<f64>> =
        table.channels.keys().map(|role| (*role, Vec::new())).collect();
    let mut filled = 0;
    for rows in pieces {
        let times = table.t_s.get(rows.clone()).unwrap_or(&[]);
        let (Some(first), Some(last)) = (times.first(), times.last()) else { continue };
        let targets = even_times(*first, *last, step_s);
        let count = targets.len();
        let pieces: Vec<&[f64]> =
            table.channels.values().map(|values| values.get(rows.clone()).unwrap_or(&[])).collect();
        for (grid, values) in channels.values_mut().zip(resample::at(times, &pieces, &targets, step_s)) {
            grid.extend(values);
        }
        segments.push(Segment { start_s: *first, rows: filled..filled + count });
        filled += count;
    }
    Signals { rate_hz: 1.0 / step_s, segments, channels }
}

fn even_times(first_s: f64, last_s: f64, step_s: f64) -> Vec<f64> {
    // Rounding must not lose the last row of an even segment.
    let count = ((last_s - first_s) / step_s + 1e-6).floor() as usize + 1;
    (0..count).map(|index| first_s + index as f64 * step_s).collect()
}

/// One series by itself on a uniform time base: its readings a second, and its stretches without gaps; `None` for fewer
/// than two readings.
pub fn even_stretches(t_s: &[f64], values: &[f64]) -> Option<(f64, Vec<Vec<f64>>)> {
    let step_s = usual_step(t_s)?;
    let even = |rows: Range<usize>| {
        let (times, values) = (t_s.get(rows.clone())?, values.get(rows)?);
        if !is_uneven(times, step_s) {
            return Some(values.to_vec());
        }
        let targets = even_times(*times.first()?, *times.last()?, step_s);
        resample::at(times, &[values], &targets, step_s).pop()
    };
    Some((1.0 / step_s, pieces(t_s, GAP_STEPS * step_s).into_iter().filter_map(even).collect()))
}

impl Signals {
    /// Time of the last row in s.
    pub fn end_s(&self) -> f64 {
        self.segments.last().map_or(0.0, |last| last.end_s(self.rate_hz))
    }

    /// The same signals, cut to the rows between two times; segments without a row left are dropped.
    pub fn part(&self, from_s: f64, to_s: f64) -> Vec<Segment> {
        let mut part = Vec::new();
        for segment in &self.segments {
            let row_at = |t: f64| ((t - segment.start_s) * self.rate_hz).max(0.0);
            // A row at the very bound belongs to the part, whatever the last bit of its time says.
            let first = (row_at(from_s) - 1e-6).ceil().max(0.0) as usize;
            let end = ((row_at(to_s) + 1e-6).floor() as usize + 1).min(segment.rows.len());
            if to_s >= segment.start_s && first < end {
                part.push(Segment {
                    start_s: segment.start_s + first as f64 / self.rate_hz,
                    rows: segment.rows.start + first..segment.rows.start + end,
                });
            }
        }
        part
    }
}

/// One channel over some segments, as the statistics take it.
pub fn stretches<'a>(values: &'a [f64], segments: &[Segment]) -> Vec<Stretch<'a>> {
    let stretch = |segment: &Segment| {
        Some(Stretch { start_s: segment.start_s, values: values.get(segment.rows.clone())? })
    };
    segments.iter().filter_map(stretch).collect()
}

/// The values of each segment.
pub fn slices<'a>(values: &'a [f64], segments: &[Segment]) -> Vec<&'a [f64]> {
    segments.iter().filter_map(|segment| values.get(segment.rows.clone())).collect()
}

/// Stretches of rows without a step longer than `gap_s`.
pub(super) fn pieces(t_s: &[f64], gap_s: f64) -> Vec<Range<usize>> {
    let mut end = 0;
    let piece = |times: &[f64]| {
        let start = end;
        end += times.len();
        start..end
    };
    t_s.chunk_by(|one, next| next - one <= gap_s).map(piece).collect()
}

/// The rows that are in both; each list is in order.
pub(super) fn common(one: &[Range<usize>], other: &[Range<usize>]) -> Vec<Range<usize>> {
    let (mut one, mut other) = (one.iter().peekable(), other.iter().peekable());
    let mut both = Vec::new();
    while let (Some(a), Some(b)) = (one.peek(), other.peek()) {
        let range = a.start.max(b.start)..a.end.min(b.end);
        let a_ends_first = a.end < b.end;
        if !range.is_empty() {
            both.push(range);
        }
        if a_ends_first {
            one.next()
        } else {
            other.next()
        };
    }
    both
}

#[cfg(test)]
mod tests {
    use super::*;

    fn table(t_s: &[f64]) -> Table {
        let pull = t_s.iter().map(|t| 100.0 * t).collect();
        Table { t_s: t_s.to_vec(), channels: [(ChannelRole::Pull, pull)].into(), ..Table::default() }
    }

    #[test]
    fn a_gap_ends_a_segment_and_is_never_bridged() {
        let t: Vec<f64> = (0..10).chain(15..20).map(|i| f64::from(i) * 0.1).collect();
        let signals = uniform(table(&t)).unwrap();
        assert!((signals.rate_hz - 10.0).abs() < 1e-9);
        assert_eq!(signals.segments.len(), 2);
        assert_eq!(signals.segments[1].rows, 10..15);
        assert!((signals.segments[1].start_s - 1.5).abs() < 1e-12);
        assert_eq!(signals.channels[&ChannelRole::Pull].len(), 15);
    }

    #[test]
    fn uneven_rows_are_put_on_an_even_grid_within_their_segment() {
        let t: Vec<f64> =
            (0..100).map(|i| f64::from(i) * 0.1 + if i % 2 == 0 { 0.0 } else { 0.03 }).collect();
        let signals = uniform(table(&t)).unwrap();
        let step = 1.0 / signals.rate_hz;
        for (index, value) in signals.channels[&ChannelRole::Pull].iter().enumerate() {
            assert!((value - 100.0 * step * index as f64).abs() < 1e-9, "{index}: {value}");
        }
        assert!(signals.end_s() <= t[99] + 1e-9);
    }

    #[test]
    fn one_row_is_refused_in_a_sentence() {
        assert_eq!(uniform(table(&[0.0])).unwrap_err(), SignalError::TooFewRows { rows: 1 });
    }

    #[test]
    fn a_part_keeps_only_rows_between_its_times() {
        let t: Vec<f64> = (0..100).map(|i| f64::from(i) * 0.1).collect();
        let signals = uniform(table(&t)).unwrap();
        let part = signals.part(2.0, 4.0);
        assert_eq!(part.len(), 1);
        assert_eq!(part[0].rows, 20..41);
        assert!(signals.part(20.0, 30.0).is_empty());
    }
}
