//! A channel that fills a column of the user's own.

use super::observation::points_by;
use super::{Calibration, CalibrationCurve, CalibrationError, Fit, Observation};
use crate::own_column::OwnColumn;

/// One channel of the sensor box of which nothing is known here but name and unit.
#[derive(Clone, Debug, PartialEq)]
pub struct OwnSensor {
    /// Name in the box's channel table; of an imported column its own name.
    pub channel: String,
    /// The column that it fills.
    pub column: OwnColumn,
    /// How counts become readings; without it the counts are the readings.
    pub calibration: Option<Calibration>,
    /// As [`super::Sensor::count_limits`].
    pub count_limits: Option<(i32, i32)>,
}

impl OwnSensor {
    /// From counts to readings in the unit of the column.
    ///
    /// # Errors
    /// [`CalibrationError`] if a value is in another unit or the points give no curve.
    pub fn curve(&self) -> Result<CalibrationCurve, CalibrationError> {
        let unit = self.column.unit();
        let Some(calibration) = &self.calibration else {
            return CalibrationCurve::through_in(&[(0.0, 0.0), (1.0, 1.0)], Fit::Line, unit);
        };
        let points = points_by(&Observation::of(calibration), |text| value_in(text, unit))?;
        CalibrationCurve::through_in(&points, calibration.fit, unit)
    }
}

/// `"1200 1/min"` in the unit `1/min`.
fn value_in(text: &str, unit: &str) -> Result<f64, CalibrationError> {
    let number = text.trim().strip_suffix(unit).and_then(|number| number.trim_end().parse().ok());
    number.ok_or_else(|| CalibrationError::OwnValue { text: text.to_owned(), unit: unit.to_owned() })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::calibration::CalibrationPoint;

    fn sensor(points: Option<[(f64, &str); 2]>) -> OwnSensor {
        let calibration = points.map(|points| Calibration {
            date: "2027-03-01".to_owned(),
            fit: Fit::Line,
            reference: None,
            points: points.map(|(count, value)| CalibrationPoint(count, value.to_owned())).to_vec(),
        });
        let column = OwnColumn::new("engine speed", "1/min").unwrap();
        OwnSensor { channel: "rpm".to_owned(), column, calibration, count_limits: None }
    }

    #[test]
    fn counts_become_readings_in_the_unit_that_was_named_and_in_no_other() {
        let curve = sensor(Some([(100.0, "0 1/min"), (2100.0, "1000 1/min")])).curve().unwrap();
        assert!((curve.reading(3100.0) - 1500.0).abs() < 1e-9);
        let as_it_is = sensor(None).curve().unwrap();
        for count in [-3.0, 0.0, 1500.0, 8_388_607.0] {
            assert_eq!(as_it_is.reading(count), count);
        }
        for wrong in ["1000 rpm", "1000", "1,000 1/min", "1/min", "fast 1/min"] {
            let why = sensor(Some([(100.0, "0 1/min"), (2100.0, wrong)])).curve().unwrap_err().to_string();
            assert!(why.contains(wrong) && why.contains("\"100 1/min\""), "{why}");
        }
        let infinite = sensor(Some([(100.0, "0 1/min"), (2100.0, "inf 1/min")])).curve().unwrap_err();
        assert_eq!(infinite, CalibrationError::NotFinite);
    }
}
