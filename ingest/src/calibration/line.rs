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
        // Not `<=`: with no point at all the sums are NaN-free but the means are not.
        if points.len() < 2 || sxx.is_nan() || sxx <= 0.0 {
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

    fn close(got: f64, wanted: f64, relative: f64) {
        assert!((got / wanted - 1.0).abs() < relative, "{got} is not {wanted}");
    }

    fn through(points: &[(f64, f64)]) -> CalibrationLine {
        CalibrationLine::through(points).unwrap()
    }

    /// JCGM 100:2008 (GUM) H.3, Table H.6: thermometer calibration about 20 °C (more digits recomputed
    /// in 30-digit arithmetic from the published data).
    #[test]
    fn gum_thermometer() {
        let points: Vec<(f64, f64)> = [
            (21.521, -0.171),
            (22.012, -0.169),
            (22.512, -0.166),
            (23.003, -0.159),
            (23.507, -0.164),
            (23.999, -0.165),
            (24.513, -0.156),
            (25.002, -0.157),
            (25.503, -0.159),
            (26.010, -0.161),
            (26.511, -0.160),
        ]
        .map(|(t, b)| (t - 20.0, b))
        .to_vec();
        let line = through(&points);
        close(line.intercept(), -0.171_203_790_1, 1e-7);
        close(line.standard_uncertainty(0.0).unwrap(), 0.002_877_597_8, 1e-7);
        close(line.slope(), 0.002_182_697_7, 1e-7);
        close(line.slope_uncertainty().unwrap(), 0.000_667_938_8, 1e-7);
        close(line.correlation(), -0.930_429_6, 1e-7);
        close(line.residual_sd().unwrap(), 0.003_497_564_0, 1e-7);
        // H.3.4, at 30 °C: -0.1494 with u 0.0041; without the covariance u would be 0.00727.
        close(line.reading(10.0), -0.149_376_8, 1e-6);
        close(line.standard_uncertainty(10.0).unwrap(), 0.004_138_595_8, 1e-6);
    }

    /// NIST/SEMATECH e-Handbook, data set LOADCELL (MPC 3.6.5); line recomputed exactly from the data.
    #[test]
    fn nist_load_cell() {
        let responses: [(f64, [f64; 3]); 11] = [
            (2.0, [0.20024, 0.20016, 0.20024]),
            (4.0, [0.40056, 0.40045, 0.40054]),
            (6.0, [0.60087, 0.60075, 0.60086]),
            (8.0, [0.80130, 0.80122, 0.80127]),
            (10.0, [1.00173, 1.00164, 1.00173]),
            (12.0, [1.20227, 1.20218, 1.20227]),
            (14.0, [1.40282, 1.40278, 1.40279]),
            (16.0, [1.60344, 1.60339, 1.60341]),
            (18.0, [1.80412, 1.80409, 1.80411]),
            (20.0, [2.00485, 2.00481, 2.00483]),
            (21.0, [2.10526, 2.10524, 2.10524]),
        ];
        let points: Vec<_> =
            responses.iter().flat_map(|(load, readings)| readings.map(|reading| (*load, reading))).collect();
        let line = through(&points);
        close(line.intercept(), -7.155_550_755_94e-4, 1e-8);
        close(line.standard_uncertainty(0.0).unwrap(), 9.024_746_0e-5, 1e-7);
        close(line.slope(), 0.100_267_362_131, 1e-8);
        close(line.slope_uncertainty().unwrap(), 6.724_950_5e-6, 1e-7);
        close(line.residual_sd().unwrap(), 2.389_702_686_3e-4, 1e-8);
    }

    /// NIST e-Handbook 4.6.1 (the load cell of StRD Pontius), straight line of deflection on load;
    /// recomputed exactly from the published data.
    #[test]
    fn nist_pontius_straight_line() {
        let runs = [
            [
                0.11019, 0.21956, 0.32949, 0.43899, 0.54803, 0.65694, 0.76562, 0.87487, 0.98292, 1.09146,
                1.20001, 1.30822, 1.41599, 1.52399, 1.63194, 1.73947, 1.84646, 1.95392, 2.06128, 2.16844,
            ],
            [
                0.11052, 0.22018, 0.32939, 0.43886, 0.54798, 0.65739, 0.76596, 0.87474, 0.98300, 1.09150,
                1.20004, 1.30818, 1.41613, 1.52408, 1.63159, 1.73965, 1.84696, 1.95445, 2.06177, 2.16829,
            ],
        ];
        let points: Vec<(f64, f64)> =
            runs.iter().flat_map(|run| (1..=20u32).map(|k| f64::from(150_000 * k)).zip(*run)).collect();
        let line = through(&points);
        close(line.intercept(), 6.149_684_210_526e-3, 1e-8);
        close(line.standard_uncertainty(0.0).unwrap(), 7.132_051_675e-4, 1e-8);
        close(line.slope(), 7.221_025_814_536e-7, 1e-8);
        close(line.slope_uncertainty().unwrap(), 3.969_147_804e-10, 1e-8);
        close(line.residual_sd().unwrap(), 2.171_272_596_06e-3, 1e-8);
    }

    /// NIST StRD, linear regression, Norris (certified values).
    #[test]
    fn nist_norris() {
        let x = [
            0.2, 337.4, 118.2, 884.6, 10.1, 226.5, 666.3, 996.3, 448.6, 777.0, 558.2, 0.4, 0.6, 775.5, 666.9,
            338.0, 447.5, 11.6, 556.0, 228.1, 995.8, 887.6, 120.2, 0.3, 0.3, 556.8, 339.1, 887.2, 999.0,
            779.0, 11.1, 118.3, 229.2, 669.1, 448.9, 0.5,
        ];
        let y = [
            0.1, 338.8, 118.1, 888.0, 9.2, 228.1, 668.5, 998.5, 449.1, 778.9, 559.2, 0.3, 0.1, 778.1, 668.8,
            339.3, 448.9, 10.8, 557.7, 228.3, 998.0, 888.8, 119.6, 0.3, 0.6, 557.6, 339.3, 888.0, 998.5,
            778.9, 10.2, 117.6, 228.9, 668.4, 449.2, 0.2,
        ];
        let line = through(&x.into_iter().zip(y).collect::<Vec<_>>());
        close(line.intercept(), -0.262_323_073_774_029, 1e-9);
        close(line.standard_uncertainty(0.0).unwrap(), 0.232_818_234_301_152, 1e-9);
        close(line.slope(), 1.002_116_818_020_45, 1e-9);
        close(line.slope_uncertainty().unwrap(), 0.429_796_848_199_937e-3, 1e-9);
        close(line.residual_sd().unwrap(), 0.884_796_396_144_373, 1e-9);
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
