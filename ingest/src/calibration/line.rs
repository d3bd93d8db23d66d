//! The straight line of a calibration, and how well it is known.
//!
//! Two points give the line through them; more give the ordinary least-squares line of reading on count.
//! Formulas: JCGM 100:2008 (GUM) H.3 (least-squares line, its uncertainties and their correlation).

use super::CalibrationError;

/// The line `reading = intercept + slope · count`, readings in the column's unit.
///
/// Kept about the mean count, where offset and slope are not correlated: a 24-bit count times a slope
/// taken from count 0 would lose digits that are still there.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CalibrationLine {
    mean_count: f64,
    mean_reading: f64,
    slope: f64,
    points: usize,
    count_square_sum: f64,
    residual_sd: Option<f64>,
}

impl CalibrationLine {
    /// The least-squares line of reading on count through `(count, reading)` points.
    ///
    /// # Errors
    /// [`CalibrationError`] if all counts are the same or anything is not finite.
    pub fn through(points: &[(f64, f64)]) -> Result<Self, CalibrationError> {
        if points.iter().any(|(x, y)| !(x.is_finite() && y.is_finite())) {
            return Err(CalibrationError::NotFinite);
        }
        let n = points.len() as f64;
        let mean_count = points.iter().map(|(x, _)| x).sum::<f64>() / n;
        let mean_reading = points.iter().map(|(_, y)| y).sum::<f64>() / n;
        let sum = |f: fn(f64, f64) -> f64| -> f64 {
            points.iter().map(|(x, y)| f(x - mean_count, y - mean_reading)).sum()
        };
        let (sxx, sxy) = (sum(|x, _| x * x), sum(|x, y| x * y));
        if points.len() < 2 || sxx <= 0.0 {
            return Err(CalibrationError::OneCount);
        }
        let slope = sxy / sxx;
        let freedom = points.len() - 2;
        let residual_sd = (freedom > 0).then(|| {
            let squares: f64 =
                points.iter().map(|(x, y)| ((y - mean_reading) - slope * (x - mean_count)).powi(2)).sum();
            (squares / freedom as f64).sqrt()
        });
        let line = Self {
            mean_count,
            mean_reading,
            slope,
            points: points.len(),
            count_square_sum: sxx,
            residual_sd,
        };
        let finite = slope.is_finite() && line.intercept().is_finite() && sxx.is_finite();
        if finite { Ok(line) } else { Err(CalibrationError::NotFinite) }
    }

    /// The reading at a raw count, in the column's unit.
    #[must_use]
    pub fn reading(&self, count: f64) -> f64 {
        self.mean_reading + self.slope * (count - self.mean_count)
    }

    /// The count at a reading; not finite for a line without slope.
    #[must_use]
    pub fn count_at(&self, reading: f64) -> f64 {
        self.mean_count + (reading - self.mean_reading) / self.slope
    }

    /// The reading at count 0, in the column's unit.
    #[must_use]
    pub fn intercept(&self) -> f64 {
        self.reading(0.0)
    }

    /// Column unit per count.
    #[must_use]
    pub fn slope(&self) -> f64 {
        self.slope
    }

    /// How many points the line rests on.
    #[must_use]
    pub fn points(&self) -> usize {
        self.points
    }

    /// SD of the points about the line (divisor: points − 2), in the column's unit; `None` with two
    /// points, which cannot show how well they fit.
    #[must_use]
    pub fn residual_sd(&self) -> Option<f64> {
        self.residual_sd
    }

    /// Standard uncertainty of the line at a raw count, in the column's unit, the covariance of
    /// intercept and slope included; `None` with two points.
    ///
    /// A single point scatters about the line by [`Self::residual_sd`] besides.
    #[must_use]
    pub fn standard_uncertainty(&self, count: f64) -> Option<f64> {
        let share = 1.0 / self.points as f64 + (count - self.mean_count).powi(2) / self.count_square_sum;
        self.residual_sd.map(|sd| sd * share.sqrt())
    }

    /// Standard uncertainty of the slope; `None` with two points.
    #[must_use]
    pub fn slope_uncertainty(&self) -> Option<f64> {
        self.residual_sd.map(|sd| sd / self.count_square_sum.sqrt())
    }

    /// Correlation of intercept and slope, −1 to 1.
    #[must_use]
    pub fn correlation(&self) -> f64 {
        let square_sum_about_zero = self.count_square_sum + self.points as f64 * self.mean_count.powi(2);
        -self.mean_count / (square_sum_about_zero / self.points as f64).sqrt()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn through(points: &[(f64, f64)]) -> CalibrationLine {
        CalibrationLine::through(points).unwrap()
    }

    #[test]
    fn two_points_give_the_line_through_them_and_claim_no_more() {
        let line = through(&[(1000.0, 0.0), (3000.0, 50.0)]);
        assert_eq!((line.reading(1000.0), line.reading(3000.0), line.reading(2000.0)), (0.0, 50.0, 25.0));
        assert_eq!((line.residual_sd(), line.standard_uncertainty(2000.0)), (None, None));
    }

    #[test]
    fn points_that_give_no_line_are_refused() {
        assert_eq!(CalibrationLine::through(&[]), Err(CalibrationError::OneCount));
        assert_eq!(CalibrationLine::through(&[(5.0, 1.0), (5.0, 2.0)]), Err(CalibrationError::OneCount));
        let infinite = CalibrationLine::through(&[(f64::INFINITY, 1.0), (5.0, 2.0)]);
        assert_eq!(infinite, Err(CalibrationError::NotFinite));
        let huge = CalibrationLine::through(&[(-1e300, -1e300), (1e300, 1e300)]);
        assert_eq!(huge, Err(CalibrationError::NotFinite));
    }
}
