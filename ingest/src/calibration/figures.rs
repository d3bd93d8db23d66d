//! What the steps of a calibration show of the sensor: non-linearity, hysteresis, repeatability, zero return.
//!
//! All are differences of readings, in the column's unit and in % of full scale. A figure that the steps cannot
//! show is `None`.

use super::curve::{Knot, knots_of};
use super::series::{Direction, Step, ValueRange, same_value};
use super::{CalibrationCurve, CalibrationLine};
use schemars::JsonSchema;
use serde::Serialize;

/// A difference of readings.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(extend("unit" = "that of the channel's column"))]
pub struct OfScale {
    /// Its size in the column's unit, never below 0.
    pub size: f64,
    /// The same in % of full scale.
    pub percent: f64,
    /// The true value at which it was found, in the column's unit.
    pub at: f64,
}

/// The figures of a calibration.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(extend("unit" = "that of the channel's column"))]
pub struct Figures {
    /// The true values applied.
    pub range: ValueRange,
    /// What "% of full scale" is of: from the lowest value, or 0 if that is lower, to the highest.
    pub full_scale: f64,
    /// How many different true values.
    pub values: usize,
    /// How many rising series.
    pub series_up: usize,
    /// How many falling series.
    pub series_down: usize,
    /// Largest distance of a single step from the curve.
    pub largest_residual: Option<OfScale>,
    /// Largest distance of the mean of all steps at one value from the best-fit (least-squares) straight line;
    /// needs three values.
    pub non_linearity: Option<OfScale>,
    /// Of a table: most that its straight lines can be off between two values, if the curve bends there as it
    /// does from value to value; needs three values.
    pub interpolation: Option<OfScale>,
    /// Largest difference between the way up and the way down of one cycle at the same value; the lowest and
    /// the highest value, where the way turns, do not count.
    pub hysteresis: Option<OfScale>,
    /// Largest spread (range) of steps at the same value reached the same way.
    pub repeatability: Option<OfScale>,
    /// SD of such steps, pooled over all values, in the column's unit.
    pub repeat_sd: Option<f64>,
    /// Degrees of freedom of that SD; 0 without one.
    pub repeat_freedom: usize,
    /// Difference of the last and the first reading at 0, if a load lay between them.
    pub zero_return: Option<OfScale>,
}

/// Works out the figures of `steps`; `line` is the best-fit line through them, `curve` what gives readings.
pub(super) fn figures_of(
    points: &[(f64, f64)],
    steps: &[Step],
    line: &CalibrationLine,
    curve: &CalibrationCurve,
) -> Figures {
    let range = ValueRange::of(steps.iter().map(|step| step.value));
    let full_scale = range.full_scale();
    let knots = knots_of(points);
    let residual = steps.iter().map(|step| (curve.reading(step.count) - step.value, step.value));
    let off_line = knots.iter().map(|knot| (line.reading(knot.count) - knot.value, knot.value));
    let groups = groups_of(steps, curve);
    let (repeat_sd, repeat_freedom) = pooled_sd(&groups);
    let bends = matches!(curve, CalibrationCurve::Table(_));
    let series = |wanted| {
        let mut of: Vec<usize> =
            steps.iter().filter(|step| step.direction == wanted).map(|step| step.series).collect();
        of.dedup();
        of.len()
    };
    Figures {
        range,
        full_scale,
        values: knots.len(),
        series_up: series(Direction::Up),
        series_down: series(Direction::Down),
        largest_residual: largest(full_scale, residual),
        non_linearity: largest(full_scale, off_line).filter(|_| knots.len() > 2),
        interpolation: largest(full_scale, between(&knots)).filter(|_| bends),
        hysteresis: largest(full_scale, up_against_down(steps, range, curve).into_iter()),
        repeatability: largest(full_scale, groups.iter().filter_map(Group::spread)),
        repeat_sd,
        repeat_freedom,
        zero_return: largest(full_scale, zero_return(steps, curve).into_iter()),
    }
}

/// The largest of some `(difference, true value)`.
fn largest(full_scale: f64, found: impl Iterator<Item = (f64, f64)>) -> Option<OfScale> {
    let (off, at) = found.max_by(|a, b| a.0.abs().total_cmp(&b.0.abs()))?;
    Some(OfScale { size: off.abs(), percent: 100.0 * off.abs() / full_scale, at })
}

/// How far straight lines between knots can be from a curve that bends as the knots do: a knot that stands
/// `d` off the straight line through its neighbours, `a` and `b` counts away, means a second derivative of
/// 2d/(ab), and that bends the curve by d·h²/(4ab) in the middle of a piece of length `h`.
fn between(knots: &[Knot]) -> impl Iterator<Item = (f64, f64)> {
    knots.windows(3).filter_map(|three| {
        let [low, middle, high] = three else { return None };
        let (a, b) = (middle.count - low.count, high.count - middle.count);
        let chord = low.value + (high.value - low.value) * a / (a + b);
        let longer = a.abs().max(b.abs());
        Some(((middle.value - chord) * longer * longer / (4.0 * a * b), middle.value))
    })
}

/// Readings at one value that was reached the same way.
struct Group {
    value: f64,
    readings: Vec<f64>,
}

impl Group {
    fn spread(&self) -> Option<(f64, f64)> {
        let ValueRange { low, high } = ValueRange::of(self.readings.iter().copied());
        (self.readings.len() > 1).then_some((high - low, self.value))
    }
}

fn groups_of(steps: &[Step], curve: &CalibrationCurve) -> Vec<Group> {
    let mut sorted: Vec<&Step> = steps.iter().collect();
    sorted.sort_by(|a, b| a.direction.cmp(&b.direction).then(a.value.total_cmp(&b.value)));
    let mut groups: Vec<(Direction, Group)> = Vec::new();
    for step in sorted {
        let reading = curve.reading(step.count);
        match groups.last_mut() {
            Some((direction, group))
                if *direction == step.direction && same_value(group.value, step.value) =>
            {
                group.readings.push(reading);
            }
            _ => groups.push((step.direction, Group { value: step.value, readings: vec![reading] })),
        }
    }
    groups.into_iter().map(|(_, group)| group).collect()
}

/// SD within groups and its degrees of freedom: √(Σ squares about the group means / Σ (size − 1)).
fn pooled_sd(groups: &[Group]) -> (Option<f64>, usize) {
    let freedom: usize = groups.iter().map(|group| group.readings.len() - 1).sum();
    let squares: f64 = groups
        .iter()
        .map(|group| {
            let mean = group.readings.iter().sum::<f64>() / group.readings.len() as f64;
            group.readings.iter().map(|reading| (reading - mean).powi(2)).sum::<f64>()
        })
        .sum();
    ((freedom > 0).then(|| (squares / freedom as f64).sqrt()), freedom)
}

/// Each step on the way back against those of the series before it at the same value. Within one cycle only:
/// what the next cycle reads there is repeatability as well.
fn up_against_down(steps: &[Step], range: ValueRange, curve: &CalibrationCurve) -> Vec<(f64, f64)> {
    let Some(out) = steps.first().map(|step| step.direction) else { return Vec::new() };
    let inner = |step: &&Step| !same_value(step.value, range.low) && !same_value(step.value, range.high);
    let mut found = Vec::new();
    for step in steps.iter().filter(inner).filter(|step| step.direction != out) {
        let before: Vec<f64> = steps
            .iter()
            .filter(|other| other.direction == out && other.series + 1 == step.series)
            .filter(|other| same_value(other.value, step.value))
            .map(|other| curve.reading(other.count))
            .collect();
        if !before.is_empty() {
            let mean = before.iter().sum::<f64>() / before.len() as f64;
            found.push((curve.reading(step.count) - mean, step.value));
        }
    }
    found
}

fn zero_return(steps: &[Step], curve: &CalibrationCurve) -> Option<(f64, f64)> {
    let is_zero = |step: &Step| step.value == 0.0;
    let (first, last) = (steps.iter().position(is_zero)?, steps.iter().rposition(is_zero)?);
    let loaded = steps.get(first..last)?.iter().any(|step| !is_zero(step));
    let reading = |place: usize| steps.get(place).map(|step| curve.reading(step.count));
    loaded.then_some((reading(last)? - reading(first)?, 0.0))
}
