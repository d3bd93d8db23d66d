//! A band of deflections that the wheel crosses in a jump and in which it hardly ever is: free play.
//!
//! Two things must come together. There are far fewer readings in the band than in the bands beside it, on either
//! side; and the deflection goes across it much faster than it moves beside it. The first alone is also what two
//! kinds of soil in one pass look like; the second alone is a plow that swings.

use super::deflection::Deflection;
use serde::Serialize;

/// Widths of the bands that are tried, over the spread.
const WIDTHS: [f64; 6] = [0.06, 0.09, 0.13, 0.18, 0.25, 0.33];
/// Readings in the band over those in the emptier of the two beside it, at most.
const RATIO_MAX: f64 = 0.2;
/// Readings in each band beside it, at least.
const BESIDE_MIN: usize = 40;
/// Crossings, at least.
const CROSSINGS_MIN: usize = 12;
/// Speed across the band over the speed beside it, at least: a sine in its middle has 1.3.
const SPEED_RATIO_MIN: f64 = 2.0;
/// Noise and rounding smear the ends of the gap: this share of the band at either end is not counted.
const SMEARED_SHARE: f64 = 0.1;

/// A dead band.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct DeadBand {
    /// Lower end, mm.
    pub low_mm: f64,
    /// Upper end, mm.
    pub high_mm: f64,
    /// Readings in it over those in the emptier of the two bands beside it.
    pub ratio: f64,
    /// Times that it was crossed.
    pub crossings: usize,
    /// Speed across it over the speed beside it.
    pub speed_ratio: f64,
}

/// The emptiest band that passes both tests.
#[must_use]
pub fn dead_band(deflection: &Deflection<'_>) -> Option<DeadBand> {
    let spread_mm = deflection.spread_mm();
    let (first_mm, last_mm) = (deflection.quantile_mm(0.02), deflection.quantile_mm(0.98));
    let mut best: Option<DeadBand> = None;
    for width_mm in WIDTHS.map(|width| width * spread_mm) {
        let mut low_mm = first_mm + width_mm / 2.0;
        while low_mm + 1.5 * width_mm <= last_mm {
            let found = band(deflection, low_mm, width_mm);
            // Of bands as empty as each other the widest is the play.
            if let Some(found) = found
                && best.is_none_or(|best| found.high_mm - found.low_mm >= best.high_mm - best.low_mm)
            {
                best = Some(found);
            }
            low_mm += width_mm / 8.0;
        }
    }
    best
}

fn band(deflection: &Deflection<'_>, low_mm: f64, width_mm: f64) -> Option<DeadBand> {
    let high_mm = low_mm + width_mm;
    let smeared_mm = SMEARED_SHARE * width_mm;
    let inside =
        deflection.count(low_mm + smeared_mm, high_mm - smeared_mm) as f64 / (1.0 - 2.0 * SMEARED_SHARE);
    let below = deflection.count(low_mm - width_mm, low_mm);
    let above = deflection.count(high_mm, high_mm + width_mm);
    let beside = below.min(above);
    let ratio = inside / beside.max(1) as f64;
    if beside < BESIDE_MIN || ratio > RATIO_MAX {
        return None;
    }
    let (crossings, speed_ratio) = crossing_speed(deflection, low_mm, high_mm)?;
    let enough = crossings >= CROSSINGS_MIN && speed_ratio >= SPEED_RATIO_MIN;
    enough.then_some(DeadBand { low_mm, high_mm, ratio, crossings, speed_ratio })
}

/// How often the band was crossed from side to side, and its median speed over the mean speed in the bands beside
/// it, both in mm from reading to reading.
fn crossing_speed(deflection: &Deflection<'_>, low_mm: f64, high_mm: f64) -> Option<(usize, f64)> {
    let width_mm = high_mm - low_mm;
    let (mut across, mut beside_mm, mut beside) = (Vec::new(), 0.0, 0usize);
    for piece in &deflection.pieces {
        // Side of the last reading outside, and how many readings ago that was.
        let mut outside: Option<(bool, usize)> = None;
        for pair in piece.windows(2) {
            let (before, now) = (pair[0], pair[1]);
            let side = |mm: f64| if mm <= low_mm { Some(false) } else { (mm >= high_mm).then_some(true) };
            if let Some(above) = side(before) {
                outside = Some((above, 0));
            }
            outside = outside.map(|(above, ago)| (above, ago + 1));
            match (outside, side(now)) {
                (Some((was_above, ago)), Some(above)) if was_above != above => {
                    across.push(width_mm / ago as f64);
                }
                (_, Some(above)) if side(before) == Some(above) => {
                    let off_mm = if above { now - high_mm } else { low_mm - now };
                    if off_mm <= width_mm {
                        beside_mm += (now - before).abs();
                        beside += 1;
                    }
                }
                _ => {}
            }
        }
    }
    let middle = across.len() / 2;
    if across.is_empty() || beside == 0 || beside_mm <= 0.0 {
        return None;
    }
    let (_, median, _) = across.select_nth_unstable_by(middle, f64::total_cmp);
    let speed_ratio = *median / (beside_mm / beside as f64);
    Some((across.len(), speed_ratio))
}
