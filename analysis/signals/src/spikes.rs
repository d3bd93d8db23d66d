//! Single readings that jump away and straight back: a loose plug, a disturbed line. They are taken out before
//! anything is looked for in the readings.
//!
//! A reading is held against the median of itself and its two neighbors to each side, as Hampel's identifier does (Davies &
//! Gather 1993, Journal of the American Statistical Association 88, 782–792); but the scale is not the window's median
//! absolute deviation. It grows with what the channel does there: the larger of the usual change from one reading to the
//! next over the whole channel and over some blocks around. So the peaks of a tail load that bobs at a
//! seventh of the row rate stand, and so does a stop that is struck, which holds for more than two readings.
//!
//! In the place of what was taken out stands the straight line between the readings before and after it: a gap
//! there would tear every spectrum for one reading in hundreds. How many were is counted for each channel, and told.

use super::time_base::GAP_STEPS;
use super::time_base::pieces;
use crate::run::{Table, usual_step};
use ingest::plow::ChannelRole;
use rayon::prelude::*;
use std::collections::BTreeMap;

/// Standard deviation of normal changes over their median size: 1 / 0.6745.
pub const SD_PER_MEDIAN: f64 = 1.4826;
/// A difference of so many standard deviations of the changes is a spike's (by choice).
pub const BOUND_SD: f64 = 5.0;
/// Most readings side by side that are a spike: what is longer is a movement.
pub const WIDTH_MAX: usize = 2;
/// Readings whose changes give the scale at a place.
pub const BLOCK: usize = 64;
/// The reading before a spike and the one after it differ by less than this share of it.
pub const BACK_SHARE: f64 = 0.5;
/// Fewer changes than this say nothing of what is usual.
const CHANGES_MIN: usize = 16;

/// Run time of each reading that was taken out, by channel; channels without any are not in it.
pub type Spikes = BTreeMap<ChannelRole, Vec<f64>>;

/// Takes the spikes out of every channel of a run's boxes. Linear in the number of readings.
pub fn take_out_spikes(tables: &mut [Table]) -> Spikes {
    let mut all = Spikes::new();
    for Table { t_s, channels, .. } in tables {
        let Some(step_s) = usual_step(t_s) else { continue };
        let pieces = pieces(t_s, GAP_STEPS * step_s);
        let found: Vec<(ChannelRole, Vec<usize>)> = channels
            .par_iter_mut()
            .map(|(role, values)| (*role, take_out(values, &pieces)))
            .filter(|(_, rows)| !rows.is_empty())
            .collect();
        for (role, rows) in found {
            all.insert(role, rows.iter().filter_map(|row| t_s.get(*row).copied()).collect());
        }
    }
    all
}

/// Rows that were taken out of one channel.
fn take_out(values: &mut [f64], pieces: &[std::ops::Range<usize>]) -> Vec<usize> {
    let mut differences = vec![0.0; values.len()];
    for rows in pieces {
        let (Some(piece), Some(out)) = (values.get(rows.clone()), differences.get_mut(rows.clone())) else {
            continue;
        };
        for (difference, five) in out.iter_mut().skip(2).zip(piece.windows(5)) {
            if let [a, b, c, d, e] = *five {
                *difference = (c - median_of_five(a, b, c, d, e)).abs();
            }
        }
    }
    let changes = changes(values, pieces);
    let Some(usual) = usual(&changes) else { return Vec::new() };
    let blocks: Vec<f64> = changes.chunks(BLOCK).map(|block| median(block.to_vec())).collect();
    let bounds: Vec<f64> = (0..blocks.len())
        .map(|at| {
            let near = blocks.get(at.saturating_sub(1)..(at + 2).min(blocks.len())).unwrap_or(&[]);
            BOUND_SD * SD_PER_MEDIAN * near.iter().fold(usual, |most, scale| most.max(*scale))
        })
        .collect();
    let bound = |row: usize| bounds.get(row / BLOCK).copied().unwrap_or(f64::INFINITY);
    let stands_out = |row: usize| differences.get(row).is_some_and(|difference| *difference > bound(row));
    let mut taken = Vec::new();
    for rows in pieces {
        let mut row = rows.start + 2;
        while row + 2 < rows.end {
            if !stands_out(row) {
                row += 1;
                continue;
            }
            let mut end = row + 1;
            while end < rows.end && stands_out(end) {
                end += 1;
            }
            if end - row <= WIDTH_MAX && end < rows.end && bridge(values, row, end, bound(row)) {
                taken.extend(row..end);
            }
            row = end;
        }
    }
    taken
}

/// Puts the straight line between the reading before `from` and the one at `to` in the place of those between,
/// if they all lie off it, to one side and farther than the ends differ.
fn bridge(values: &mut [f64], from: usize, to: usize, bound: f64) -> bool {
    let (Some(before), Some(after)) = (from.checked_sub(1).and_then(|at| values.get(at)), values.get(to))
    else {
        return false;
    };
    let (before, after) = (*before, *after);
    let steps = (to - from + 1) as f64;
    let line = |at: usize| before + (after - before) * ((at - from + 1) as f64 / steps);
    let Some(spike) = values.get_mut(from..to) else { return false };
    let off = |(at, value): (usize, &f64)| value - line(from + at);
    let Some(first) = spike.first() else { return false };
    let side = (first - before).signum();
    let away = spike
        .iter()
        .enumerate()
        .map(off)
        .all(|off| off * side > bound && (after - before).abs() < BACK_SHARE * off.abs());
    if away {
        spike.iter_mut().enumerate().for_each(|(at, value)| *value = line(from + at));
    }
    away
}

/// Size of the change to each reading from the one before it; 0 at the first of each piece.
fn changes(values: &[f64], pieces: &[std::ops::Range<usize>]) -> Vec<f64> {
    let mut changes = vec![0.0; values.len()];
    for rows in pieces {
        let (Some(piece), Some(out)) = (values.get(rows.clone()), changes.get_mut(rows.clone())) else {
            continue;
        };
        for (change, pair) in out.iter_mut().skip(1).zip(piece.windows(2)) {
            *change = (pair[1] - pair[0]).abs();
        }
    }
    changes
}

/// The usual change: the median of those above 0, for a coarse converter repeats itself.
fn usual(changes: &[f64]) -> Option<f64> {
    let moving: Vec<f64> = changes.iter().copied().filter(|change| *change > 0.0).collect();
    (moving.len() >= CHANGES_MIN).then(|| median(moving))
}

/// The upper median; 0 of nothing.
fn median(mut values: Vec<f64>) -> f64 {
    let middle = values.len() / 2;
    if values.is_empty() {
        return 0.0;
    }
    *values.select_nth_unstable_by(middle, f64::total_cmp).1
}

fn median_of_five(a: f64, b: f64, c: f64, d: f64, e: f64) -> f64 {
    // The lowest and the highest of four are not the median of five, so three are left.
    let (low_ab, high_ab) = (a.min(b), a.max(b));
    let (low_cd, high_cd) = (c.min(d), c.max(d));
    let (x, y) = (low_ab.max(low_cd), high_ab.min(high_cd));
    x.min(y).max(e.min(x.max(y)))
}

#[cfg(test)]
mod tests;
