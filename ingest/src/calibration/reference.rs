//! How well the loads or lengths of a calibration are themselves known.

use super::CalibrationError;
use crate::channel_role::ChannelRole;
use serde::Serialize;

/// Share of the value to which a load or length is taken to be known if nothing was stated: by choice.
const NOT_STATED_SHARE: f64 = 0.005;

/// Accuracy of the reference: half of a 95 % interval.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Reference {
    /// Nothing was stated: 0.5 % of the value is assumed.
    NotStated,
    /// A share of the value, 0 to 1.
    Share(f64),
    /// The same at every value, in the column's unit.
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
