//! Readings beyond the values that a sensor was calibrated with.

use ingest::calibration::ValueRange;
use serde::Serialize;

/// Noise of readings at an end of the range is not told: this share of full scale beyond it counts as within.
const SLACK_SHARE: f64 = 0.01;

/// How far a channel left its calibrated range.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct OutsideRange {
    /// The calibrated range, in the column's unit.
    pub calibrated: ValueRange,
    /// Share of the readings below it, 0 to 1.
    pub share_below: f64,
    /// Share of the readings above it, 0 to 1.
    pub share_above: f64,
    /// The farthest that one was below its low end, in the column's unit.
    pub farthest_below: f64,
    /// The farthest that one was above its high end, in the column's unit.
    pub farthest_above: f64,
}

/// Sets readings against the range; `None` if not one is beyond it by more than 1 % of full scale.
#[must_use]
pub fn outside_range(pieces: &[&[f64]], calibrated: ValueRange) -> Option<OutsideRange> {
    let slack = SLACK_SHARE * calibrated.full_scale();
    let (low, high) = (calibrated.low - slack, calibrated.high + slack);
    let readings: usize = pieces.iter().map(|piece| piece.len()).sum();
    let (mut below, mut above) = (0usize, 0usize);
    let (mut lowest, mut highest) = (calibrated.low, calibrated.high);
    for reading in
        pieces.iter().flat_map(|piece| *piece).filter(|reading| **reading < low || **reading > high)
    {
        below += usize::from(*reading < low);
        above += usize::from(*reading > high);
        (lowest, highest) = (lowest.min(*reading), highest.max(*reading));
    }
    let share = |count: usize| count as f64 / readings.max(1) as f64;
    (below + above > 0).then_some(OutsideRange {
        calibrated,
        share_below: share(below),
        share_above: share(above),
        farthest_below: calibrated.low - lowest,
        farthest_above: highest - calibrated.high,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn readings_beyond_an_end_are_counted_and_noise_at_it_is_not() {
        let range = ValueRange { low: 0.0, high: 100.0 };
        assert_eq!(outside_range(&[&[0.0, 50.0, 100.9, -0.9]], range), None);
        let found = outside_range(&[&[0.0, 150.0, 103.0], &[-2.0]], range).unwrap();
        assert_eq!((found.share_below, found.share_above), (0.25, 0.5));
        assert_eq!((found.farthest_below, found.farthest_above), (2.0, 50.0));
        assert_eq!(outside_range(&[], range), None);
    }
}
