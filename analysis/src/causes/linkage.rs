//! The tail wheel's deflection as a heap of readings, and what it shows of its linkage: free play and sticking.
//! (What its ends show stands in `ends.rs`.)

use rayon::slice::ParallelSliceMut;
use schemars::JsonSchema;
use serde::Serialize;
use stats::descriptive::percentiles;
use std::collections::VecDeque;

/// Fewer readings say nothing of a histogram.
const READINGS_MIN: usize = 500;

/// Deflection over the working part.
#[derive(Clone, Debug)]
pub struct Deflection<'a> {
    /// Gap-free stretches, mm.
    pub pieces: Vec<&'a [f64]>,
    /// Readings per second.
    pub rate_hz: f64,
    sorted: Vec<f64>,
}

impl<'a> Deflection<'a> {
    /// `None` with too few readings, or none that differ.
    pub fn of(pieces: Vec<&'a [f64]>, rate_hz: f64) -> Option<Self> {
        let mut sorted: Vec<f64> = pieces.iter().flat_map(|piece| *piece).copied().collect();
        sorted.par_sort_unstable_by(f64::total_cmp);
        if sorted.len() < READINGS_MIN {
            return None;
        }
        Some(Self { pieces, rate_hz, sorted }).filter(|found| found.spread_mm() > 0.0)
    }

    /// How many readings there are.
    pub fn readings(&self) -> usize {
        self.sorted.len()
    }

    /// The value under which this share of the readings lies, from 0 to 1, mm.
    pub fn quantile_mm(&self, share: f64) -> f64 {
        // There are readings, and so a last one.
        self.sorted[(share.clamp(0.0, 1.0) * (self.sorted.len() - 1) as f64).round() as usize]
    }

    /// From the 5th to the 95th percentile, mm.
    pub fn spread_mm(&self) -> f64 {
        self.quantile_mm(0.95) - self.quantile_mm(0.05)
    }

    /// Readings above `low_mm` and up to `high_mm`.
    pub fn count(&self, low_mm: f64, high_mm: f64) -> usize {
        let up_to = |mm: f64| self.sorted.partition_point(|value| *value <= mm);
        up_to(high_mm).saturating_sub(up_to(low_mm))
    }
}

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
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
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

/// A band of deflections that the wheel crosses in a jump and in which it hardly ever is: the emptiest that passes both
/// tests.
///
/// Two things must come together. There are far fewer readings in the band than in the bands beside it, on either
/// side; and the deflection goes across it much faster than it moves beside it. The first alone is also what two
/// kinds of soil in one pass look like; the second alone is a plow that swings.
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
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Holds {
    /// How many.
    pub holds: usize,
    /// Share of the time.
    pub share: f64,
    /// The longest, s.
    pub longest_s: f64,
}

/// A deflection that stands still at one level after another while the plow works: holds at different levels above
/// `lifted_mm`, under which a wheel in the air holds still for a reason already told.
pub fn holds(deflection: &Deflection<'_>, lifted_mm: f64) -> Option<Holds> {
    let still_mm = STILL_SHARE * deflection.spread_mm();
    let readings_min = ((HOLD_S * deflection.rate_hz) as usize).max(HOLD_READINGS);
    let (mut levels_mm, mut held, mut longest) = (Vec::new(), 0usize, 0usize);
    for piece in &deflection.pieces {
        let mut window = Window::over(piece);
        while let Some(level_mm) = window.grown_within(still_mm) {
            let readings = window.len();
            if readings < readings_min {
                // A hold may begin anywhere: after one that was too short the next reading is tried.
                window.leave_first();
                continue;
            }
            if level_mm > lifted_mm {
                levels_mm.push(level_mm);
                held += readings;
                longest = longest.max(readings);
            }
            window.leave_all();
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

/// Readings side by side, with the lowest and the highest of them: each reading comes and goes once, however often a
/// beginning is tried (queues of the readings that may yet be the lowest or the highest).
struct Window<'a> {
    values: &'a [f64],
    from: usize,
    end: usize,
    lowest: VecDeque<usize>,
    highest: VecDeque<usize>,
}

impl<'a> Window<'a> {
    fn over(values: &'a [f64]) -> Self {
        Self { values, from: 0, end: 0, lowest: VecDeque::new(), highest: VecDeque::new() }
    }

    fn len(&self) -> usize {
        self.end - self.from
    }

    fn value(&self, at: Option<&usize>) -> Option<f64> {
        self.values.get(*at?).copied()
    }

    /// Takes readings in as long as all lie within `still_mm` of each other; their middle, mm. `None` past the last.
    fn grown_within(&mut self, still_mm: f64) -> Option<f64> {
        while let Some(mm) = self.values.get(self.end) {
            let low = self.value(self.lowest.front()).map_or(*mm, |low| low.min(*mm));
            let high = self.value(self.highest.front()).map_or(*mm, |high| high.max(*mm));
            if high - low > still_mm {
                break;
            }
            while self.value(self.lowest.back()).is_some_and(|last| last >= *mm) {
                self.lowest.pop_back();
            }
            while self.value(self.highest.back()).is_some_and(|last| last <= *mm) {
                self.highest.pop_back();
            }
            self.lowest.push_back(self.end);
            self.highest.push_back(self.end);
            self.end += 1;
        }
        Some((self.value(self.lowest.front())? + self.value(self.highest.front())?) / 2.0)
    }

    fn leave_first(&mut self) {
        for queue in [&mut self.lowest, &mut self.highest] {
            if queue.front() == Some(&self.from) {
                queue.pop_front();
            }
        }
        self.from += 1;
    }

    fn leave_all(&mut self) {
        self.from = self.end;
        self.lowest.clear();
        self.highest.clear();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The window from each beginning on is what counting from there gives.
    #[test]
    fn a_window_holds_what_lies_within_and_no_reading_more() {
        let values: Vec<f64> = (0..200).map(|i| f64::from(i * i % 37) * f64::from(i % 11)).collect();
        for still_mm in [0.0, 3.0, 40.0, 1000.0] {
            let mut window = Window::over(&values);
            for from in 0..values.len() {
                let (mut low, mut high, mut count) = (f64::INFINITY, f64::NEG_INFINITY, 0);
                for mm in &values[from..] {
                    if high.max(*mm) - low.min(*mm) > still_mm {
                        break;
                    }
                    (low, high, count) = (low.min(*mm), high.max(*mm), count + 1);
                }
                let middle = window.grown_within(still_mm);
                assert_eq!((window.len(), middle), (count, Some((low + high) / 2.0)), "from {from}");
                window.leave_first();
            }
            assert_eq!(window.grown_within(still_mm), None);
        }
    }
}
