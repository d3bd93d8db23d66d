//! Rising and falling series, recognised from the order in which the values were taken.

use serde::Serialize;

/// Which way the value was reached.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
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

/// Whether two true values are one: "1 kN" and "1000 N" may differ in the last bit.
pub(super) fn same_value(a: f64, b: f64) -> bool {
    (a - b).abs() <= 1e-9 * a.abs().max(b.abs())
}

/// The direction of each `(count, true value)` point, in the order taken.
///
/// A value is reached the way its predecessor lies. The first one, and one that repeats its predecessor, goes
/// with what comes after it (a repeat at the top begins the way down); a repeat at the very end with what came
/// before.
pub(super) fn steps_of(points: &[(f64, f64)]) -> Vec<Step> {
    let way = |from: f64, to: f64| match same_value(from, to) {
        true => None,
        false if to > from => Some(Direction::Up),
        false => Some(Direction::Down),
    };
    let ways: Vec<Option<Direction>> = std::iter::once(None)
        .chain(points.windows(2).map(|pair| match pair {
            [from, to] => way(from.1, to.1),
            _ => None,
        }))
        .collect();
    let mut steps: Vec<Step> = Vec::with_capacity(points.len());
    for (place, (count, value)) in points.iter().enumerate() {
        let before = steps.last().map(|step| (step.direction, step.series));
        let after = || ways.iter().skip(place + 1).find_map(|way| *way);
        let direction = ways
            .get(place)
            .copied()
            .flatten()
            .or_else(after)
            .or(before.map(|(direction, _)| direction))
            .unwrap_or(Direction::Up);
        let series = match before {
            None => 0,
            Some((last, series)) => series + usize::from(last != direction),
        };
        steps.push(Step { count: *count, value: *value, direction, series });
    }
    steps
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
        assert_eq!(ways(&[0.0, 5.0, 10.0, 0.0, 5.0, 10.0]), "u0u0u0d1u2u2");
        assert_eq!(ways(&[0.0, 0.0, 5.0, 5.0, 10.0, 10.0]), "u0u0u0u0u0u0");
        assert_eq!(ways(&[10.0, 5.0, 0.0, -5.0]), "d0d0d0d0");
        assert_eq!(ways(&[3.0]), "u0");
        assert_eq!(ways(&[]), "");
    }
}
