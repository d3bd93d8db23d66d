//! A deflection that stands still at one level after another while the plow works: a linkage or sensor that sticks.

use super::deflection::Deflection;
use serde::Serialize;
use stats::descriptive::percentiles;
use std::collections::VecDeque;

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
