//! The steps of a calibration as they were taken.

use super::Calibration;
use super::CalibrationError;
use crate::channel_role::ChannelRole;
use serde::Serialize;

/// One step: a known value was on the sensor, and the box gave these counts.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Observation {
    /// Mean of the raw counts.
    pub count_mean: f64,
    /// SD of the raw counts about it, if they were taken from a live box.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub count_sd: Option<f64>,
    /// How many rows that mean is of, if they were taken from a live box.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub rows: Option<usize>,
    /// The true value with its unit, as it was typed: `"500 lbf"`.
    pub true_value: String,
}

impl Observation {
    /// A step of which only count and true value are known.
    #[must_use]
    pub fn pair(count_mean: f64, true_value: impl Into<String>) -> Self {
        Self { count_mean, count_sd: None, rows: None, true_value: true_value.into() }
    }

    /// The steps of a calibration in a description, in their order.
    #[must_use]
    pub fn of(calibration: &Calibration) -> Vec<Self> {
        calibration.points.iter().map(|point| Self::pair(point.0, point.1.clone())).collect()
    }
}

/// `(count, true value in the column's unit)` of each step, in the order taken.
///
/// # Errors
/// [`CalibrationError`] if a value has no usable unit, anything is not finite, or all counts or all values are
/// the same.
pub(super) fn points_of(
    taken: &[Observation],
    role: ChannelRole,
) -> Result<Vec<(f64, f64)>, CalibrationError> {
    let points = taken
        .iter()
        .map(|step| match role.in_column_unit(&step.true_value) {
            Ok(value) if value.is_finite() && step.count_mean.is_finite() => Ok((step.count_mean, value)),
            Ok(_) => Err(CalibrationError::NotFinite),
            Err(error) => Err(CalibrationError::Value(Box::new(error))),
        })
        .collect::<Result<Vec<_>, _>>()?;
    let differ = |of: fn(&(f64, f64)) -> f64| {
        points.first().is_some_and(|first| points.iter().any(|point| of(point) != of(first)))
    };
    if !differ(|point| point.0) {
        return Err(CalibrationError::OneCount);
    }
    if !differ(|point| point.1) {
        return Err(CalibrationError::OneValue);
    }
    Ok(points)
}
