//! A deflection that stands still at one level after another while the plow works: a linkage or sensor that sticks.

use super::deflection::Deflection;
use crate::stats::descriptive::percentiles;
use serde::Serialize;

/// A hold lasts this long at least.
const HOLD_S: f64 = 0.4;
/// And at least this many readings.
const HOLD_READINGS: usize = 10;
/// The deflection moves by no more than this share of the spread in a hold.
const STILL_SHARE: f64 = 0.06;
/// Share of the time in holds.
const SHARE_MIN: f64 = 0.05;
/// Holds, at least.
const HOLDS_MIN: usize = 6;
/// From the lowest quarter of the holds to the highest, over the spread: holds at one level are a stop.
const LEVELS_SHARE_MIN: f64 = 0.15;

/// What was found.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Holds {
    /// How many.
    pub holds: usize,
    /// Share of the time.
    pub share: f64,
    /// The longest, s.
    pub longest_s: f64,
}

/// Holds at different levels above `lifted_mm`, under which a wheel in the air holds still for a reason already
/// told.
#[must_use]
pub fn holds(deflection: &Deflection<'_>, lifted_mm: f64) -> Option<Holds> {
    let still_mm = STILL_SHARE * deflection.spread_mm();
    let readings_min = ((HOLD_S * deflection.rate_hz) as usize).max(HOLD_READINGS);
    let (mut levels_mm, mut held, mut longest) = (Vec::new(), 0usize, 0usize);
    for piece in &deflection.pieces {
        let mut from = 0;
        while from < piece.len() {
            let (readings, level_mm) = still_for(piece.get(from..).unwrap_or(&[]), still_mm);
            if readings < readings_min {
                // A hold may begin anywhere: after one that was too short the next reading is tried.
                from += 1;
                continue;
            }
            if level_mm > lifted_mm {
                levels_mm.push(level_mm);
                held += readings;
                longest = longest.max(readings);
            }
            from += readings;
        }
    }
    let share = held as f64 / deflection.readings() as f64;
    let quarters = percentiles(&levels_mm, &[25.0, 75.0]).ok()?;
    let apart_mm = quarters.last()? - quarters.first()?;
    let enough = levels_mm.len() >= HOLDS_MIN
        && share >= SHARE_MIN
        && apart_mm >= LEVELS_SHARE_MIN * deflection.spread_mm();
    enough.then_some(Holds { holds: levels_mm.len(), share, longest_s: longest as f64 / deflection.rate_hz })
}

/// How many readings from the first on lie within `still_mm` of each other, and the middle of them.
fn still_for(readings: &[f64], still_mm: f64) -> (usize, f64) {
    let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
    for (count, mm) in readings.iter().enumerate() {
        let (lower, higher) = (low.min(*mm), high.max(*mm));
        if higher - lower > still_mm {
            return (count, (low + high) / 2.0);
        }
        (low, high) = (lower, higher);
    }
    (readings.len(), (low + high) / 2.0)
}
