//! The steps of a calibration as they were taken, and how well their loads or lengths are themselves known.

use super::Calibration;
use super::CalibrationError;
use crate::channel_role::ChannelRole;
use schemars::JsonSchema;
use serde::Serialize;

/// One step: a known value was on the sensor, and the box gave these counts.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Observation {
    /// Mean of the raw counts.
    pub count_mean: f64,
    /// SD of the raw counts about it, if they were taken from a live box.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub count_sd: Option<f64>,
    /// Mean of the second half of the counts less that of the first, if they were taken from a live box.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub count_drift: Option<f64>,
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
        Self { count_mean, count_sd: None, count_drift: None, rows: None, true_value: true_value.into() }
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
    points_by(taken, |text| {
        role.in_column_unit(text).map_err(|error| CalibrationError::Value(Box::new(error)))
    })
}

/// The same with true values that are read by `value`.
pub(super) fn points_by(
    taken: &[Observation],
    value: impl Fn(&str) -> Result<f64, CalibrationError>,
) -> Result<Vec<(f64, f64)>, CalibrationError> {
    let points = taken
        .iter()
        .map(|step| {
            let value = value(&step.true_value)?;
            let finite = value.is_finite() && step.count_mean.is_finite();
            if finite { Ok((step.count_mean, value)) } else { Err(CalibrationError::NotFinite) }
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

/// Share of the value to which a load or length is taken to be known if nothing was stated: by choice.
const NOT_STATED_SHARE: f64 = 0.005;

/// Accuracy of the reference: half of a 95 % interval.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Reference {
    /// Nothing was stated: 0.5 % of the value is assumed.
    NotStated,
    /// A share of the value, 0 to 1.
    Share(f64),
    /// The same at every value, in the column's unit.
    #[serde(rename = "in_unit")]
    Fixed(f64),
}

impl Reference {
    /// Reads `"0.2 %"` (of the value) or a quantity such as `"1 lbf"`.
    ///
    /// # Errors
    /// [`CalibrationError::Reference`] if it is neither, or negative.
    pub fn parse(text: Option<&str>, role: ChannelRole) -> Result<Self, CalibrationError> {
        let Some(text) = text else { return Ok(Self::NotStated) };
        let wrong = || CalibrationError::Reference { text: text.to_owned(), unit: role.column_unit().symbol };
        let parsed = match text.trim().strip_suffix('%') {
            Some(number) => Self::Share(number.trim().parse::<f64>().map_err(|_| wrong())? / 100.0),
            None => Self::Fixed(role.in_column_unit(text).map_err(|_| wrong())?),
        };
        match parsed {
            Self::Share(share) if (0.0..1.0).contains(&share) => Ok(parsed),
            Self::Fixed(half_width) if half_width.is_finite() && half_width >= 0.0 => Ok(parsed),
            _ => Err(wrong()),
        }
    }

    /// Half of its 95 % interval at a value, in the column's unit.
    #[must_use]
    pub fn half_width(self, value: f64) -> f64 {
        match self {
            Self::NotStated => NOT_STATED_SHARE * value.abs(),
            Self::Share(share) => share * value.abs(),
            Self::Fixed(half_width) => half_width,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_reference_is_a_percentage_or_a_quantity() {
        let parse = |text| Reference::parse(Some(text), ChannelRole::Pull);
        assert_eq!(parse("0.2 %"), Ok(Reference::Share(0.002)));
        assert_eq!(parse("0.2%"), Ok(Reference::Share(0.002)));
        assert_eq!(parse("1 lbf").map(|r| r.half_width(5000.0).round()), Ok(4.0));
        assert_eq!(Reference::parse(None, ChannelRole::Pull).map(|r| r.half_width(-2000.0)), Ok(10.0));
        for wrong in ["", "%", "0.2", "-1 %", "100 %", "1 mm", "NaN %", "-3 N"] {
            let error = parse(wrong).unwrap_err().to_string();
            assert!(error.contains("0.2 %") && error.contains(wrong), "{error}");
        }
    }
}
