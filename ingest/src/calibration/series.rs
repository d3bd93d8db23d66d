//! Rising and falling series, recognised from the order in which the values were taken.

use schemars::JsonSchema;
use serde::Serialize;

/// Which way the value was reached.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Direction {
    /// From a smaller one.
    Up,
    /// From a larger one.
    Down,
}

/// One step with its place in the order.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Step {
    /// Mean raw count.
    pub count: f64,
    /// True value in the column's unit.
    pub value: f64,
    /// Which way it was reached.
    pub direction: Direction,
    /// Number of its series, from 0: a new one begins where the direction turns.
    pub series: usize,
}

/// The true values that were applied, in the column's unit.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(extend("unit" = "that of the channel's column"))]
pub struct ValueRange {
    /// The lowest.
    pub low: f64,
    /// The highest.
    pub high: f64,
}

impl ValueRange {
    /// That of some values.
    pub(super) fn of(values: impl Iterator<Item = f64>) -> Self {
        values.fold(Self { low: f64::INFINITY, high: f64::NEG_INFINITY }, |range, value| Self {
            low: range.low.min(value),
            high: range.high.max(value),
        })
    }

    /// Whether a reading lies within it.
    #[must_use]
    pub fn holds(&self, reading: f64) -> bool {
        self.low <= reading && reading <= self.high
    }

    /// From the lowest value, or from 0 if that is below it, to the highest, or to 0.
    #[must_use]
    pub fn full_scale(&self) -> f64 {
        self.high.max(0.0) - self.low.min(0.0)
    }
}

/// Whether two true values are one: "1 kN" and "1000 N" may differ in the last bit.
pub(super) fn same_value(a: f64, b: f64) -> bool {
    (a - b).abs() <= 1e-9 * a.abs().max(b.abs())
}

/// The direction of each `(count, true value)` point, in the order taken.
///
/// A value is reached the way its predecessor lies. The first one, and one that repeats its predecessor, goes
/// with what comes after it (a repeat at the top begins the way down); a repeat at the very end with what came
/// before. Where the sensor was unloaded in one step and loaded anew, the lowest value begins the next series
/// up, and the highest one the next series down.
pub(super) fn steps_of(points: &[(f64, f64)]) -> Vec<Step> {
    let ways: Vec<Option<Direction>> = std::iter::once(None)
        .chain(points.windows(2).map(|pair| match pair {
            [from, to] => way(from.1, to.1),
            _ => None,
        }))
        .collect();
    let range = ValueRange::of(points.iter().map(|(_, value)| *value));
    let mut steps: Vec<Step> = Vec::with_capacity(points.len());
    for (place, (count, value)) in points.iter().enumerate() {
        let before = steps.last().map(|step| (step.direction, step.series));
        let here = ways.get(place).copied().flatten();
        let after = ways.iter().skip(place + 1).find_map(|way| *way);
        let turns = after.is_some() && after != here && before.is_some_and(|(way, _)| Some(way) == after);
        let begins = turns
            && match here {
                Some(Direction::Down) => same_value(*value, range.low),
                Some(Direction::Up) => same_value(*value, range.high),
                None => false,
            };
        let reached = if begins { after } else { here.or(after) };
        // Steps that are all of one value make no calibration, and have no direction either.
        let direction = reached.or(before.map(|(way, _)| way)).unwrap_or(Direction::Up);
        let series = match before {
            None => 0,
            Some((last, series)) => series + usize::from(last != direction || begins),
        };
        steps.push(Step { count: *count, value: *value, direction, series });
    }
    steps
}

fn way(from: f64, to: f64) -> Option<Direction> {
    let direction = if to > from { Direction::Up } else { Direction::Down };
    (!same_value(from, to)).then_some(direction)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ways(values: &[f64]) -> String {
        let steps = steps_of(&values.iter().map(|value| (0.0, *value)).collect::<Vec<_>>());
        let letter = |direction| if direction == Direction::Up { 'u' } else { 'd' };
        steps.iter().map(|step| format!("{}{}", letter(step.direction), step.series)).collect()
    }

    #[test]
    fn series_are_recognised_from_the_order() {
        assert_eq!(ways(&[0.0, 5.0, 10.0, 5.0, 0.0]), "u0u0u0d1d1");
        assert_eq!(ways(&[0.0, 5.0, 10.0, 10.0, 5.0, 0.0]), "u0u0u0d1d1d1");
        assert_eq!(ways(&[0.0, 5.0, 10.0, 0.0, 5.0, 10.0]), "u0u0u0u1u1u1");
        assert_eq!(ways(&[0.0, 5.0, 10.0, 0.0, 0.0, 5.0, 10.0, 0.0]), "u0u0u0u1u1u1u1d2");
        assert_eq!(ways(&[0.0, 10.0, 0.0, 10.0, 0.0]), "u0u0u1u1d2");
        assert_eq!(ways(&[10.0, 5.0, 0.0, 10.0, 5.0, 0.0]), "d0d0d0d1d1d1");
        assert_eq!(ways(&[0.0, 5.0, 10.0, 8.0, 12.0]), "u0u0u0d1u2");
        assert_eq!(ways(&[0.0, 0.0, 5.0, 5.0, 10.0, 10.0]), "u0u0u0u0u0u0");
        assert_eq!(ways(&[10.0, 5.0, 0.0, -5.0]), "d0d0d0d0");
        assert_eq!(ways(&[3.0]), "u0");
        assert_eq!(ways(&[]), "");
    }
}
