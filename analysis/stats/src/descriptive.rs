//! Mean, standard deviation, autocorrelation and percentiles of plain lists, exact to what `f64` allows.

use super::{StatsError, require};

/// Count, mean and sum of squared deviations of a list of values, computed in two passes with compensated
/// sums.
///
/// Two passes, because the one-pass sum of squares loses every digit on readings with a large offset (NIST
/// StRD NumAcc3 and NumAcc4 are in the tests for that). Merging follows Chan, Golub & LeVeque 1983, The
/// American Statistician 37(3), 242–247.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Moments {
    /// Number of values.
    pub count: usize,
    /// Arithmetic mean; 0 when there are no values.
    pub mean: f64,
    /// Σ(x − mean)², in the unit squared.
    pub sum_sq_dev: f64,
}

impl Moments {
    /// Moments of `values`.
    pub fn of(values: &[f64]) -> Self {
        let count = values.len();
        if count == 0 {
            return Self::default();
        }
        let n = count as f64;
        let rough = compensated_sum(values.iter().copied()) / n;
        // One refinement removes the rounding of the division; the same term corrects the squares.
        let rest = compensated_sum(values.iter().map(|x| x - rough));
        let squares = compensated_sum(values.iter().map(|x| (x - rough) * (x - rough)));
        Self { count, mean: rough + rest / n, sum_sq_dev: (squares - rest * rest / n).max(0.0) }
    }

    /// Moments of a published count, mean and standard deviation (divisor n − 1).
    pub fn from_summary(count: usize, mean: f64, sd: f64) -> Self {
        Self { count, mean, sum_sq_dev: sd * sd * count.saturating_sub(1) as f64 }
    }

    /// Moments of both lists together.
    pub fn merge(self, other: Self) -> Self {
        let count = self.count + other.count;
        if self.count == 0 || other.count == 0 {
            return if self.count == 0 { other } else { self };
        }
        let (n, gap) = (count as f64, other.mean - self.mean);
        let (n_a, n_b) = (self.count as f64, other.count as f64);
        Self {
            count,
            mean: self.mean + gap * n_b / n,
            sum_sq_dev: self.sum_sq_dev + other.sum_sq_dev + gap * gap * n_a * n_b / n,
        }
    }

    /// Sample variance, divisor n − 1, unit squared; `None` for fewer than two values.
    pub fn variance(self) -> Option<f64> {
        (self.count > 1).then(|| self.sum_sq_dev / (self.count - 1) as f64)
    }

    /// Sample standard deviation, divisor n − 1; `None` for fewer than two values.
    pub fn sd(self) -> Option<f64> {
        self.variance().map(f64::sqrt)
    }
}

/// Sum with Neumaier's compensation (1974, ZAMM 54, 39–51): the error does not grow with the number of terms.
fn compensated_sum(terms: impl Iterator<Item = f64>) -> f64 {
    let (mut sum, mut lost) = (0.0_f64, 0.0_f64);
    for x in terms {
        let total = sum + x;
        lost += if sum.abs() >= x.abs() { (sum - total) + x } else { (x - total) + sum };
        sum = total;
    }
    sum + lost
}

/// Autocorrelation at `lag`: Σ(xᵢ − x̄)(xᵢ₊ₗ − x̄) / Σ(xᵢ − x̄)², both with the mean of the whole series (the
/// definition of the NIST/SEMATECH e-Handbook, 1.3.5.12). A constant series gives 0: it says nothing about
/// lags.
///
/// # Errors
/// [`StatsError::TooFew`] when `values` has no pair at this lag; [`StatsError::NotFinite`].
pub fn autocorrelation(values: &[f64], lag: usize) -> Result<f64, StatsError> {
    require("autocorrelation", values, lag + 2)?;
    let moments = Moments::of(values);
    if moments.sum_sq_dev == 0.0 {
        return Ok(0.0);
    }
    let later = values.iter().skip(lag);
    let products = later.zip(values).map(|(a, b)| (a - moments.mean) * (b - moments.mean));
    Ok(compensated_sum(products) / moments.sum_sq_dev)
}

/// The percentiles `at_percent` (0 to 100) of `values`, in the order asked for.
///
/// Definition: linear interpolation at position p(n − 1) of the sorted list ("type 7" of Hyndman & Fan 1996,
/// The American Statistician 50(4), 361–365; the default of R and numpy). Selection, not sorting: linear in
/// n.
///
/// # Errors
/// [`StatsError::TooFew`] for an empty list; [`StatsError::NotFinite`].
pub fn percentiles(values: &[f64], at_percent: &[f64]) -> Result<Vec<f64>, StatsError> {
    require("a percentile", values, 1)?;
    let mut work = values.to_vec();
    Ok(at_percent.iter().map(|&p| select_percentile(&mut work, p)).collect())
}

/// One percentile of a list that is not empty; reorders it.
fn select_percentile(work: &mut [f64], percent: f64) -> f64 {
    let position = (percent / 100.0).clamp(0.0, 1.0) * (work.len() - 1) as f64;
    let below = position.floor() as usize;
    let (_, &mut low, above) = work.select_nth_unstable_by(below, f64::total_cmp);
    let next = above.iter().copied().fold(f64::INFINITY, f64::min);
    let part = position - below as f64;
    // At a whole position there may be no value above; interpolating with infinity would give NaN.
    if part == 0.0 { low } else { low + part * (next - low) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn merged_moments_equal_those_of_the_whole() {
        let values: Vec<f64> = (0..101).map(|i| 1.0e6 + f64::from(i * i % 17)).collect();
        let whole = Moments::of(&values);
        let (left, right) = values.split_at(13);
        let merged = Moments::of(left).merge(Moments::of(right));
        assert_eq!(merged.count, whole.count);
        assert!((merged.mean - whole.mean).abs() < 1e-9);
        assert!((merged.sum_sq_dev / whole.sum_sq_dev - 1.0).abs() < 1e-9);
        assert_eq!(Moments::default().merge(whole), whole);
        assert_eq!(whole.merge(Moments::default()), whole);
    }

    #[test]
    fn percentiles_interpolate_between_order_statistics() {
        // numpy.percentile([7, 1, 3, 10], [0, 5, 50, 95, 100]) from memory of its definition, by hand:
        // sorted 1 3 7 10; positions 0, 0.15, 1.5, 2.85, 3
        let got = percentiles(&[7.0, 1.0, 3.0, 10.0], &[0.0, 5.0, 50.0, 95.0, 100.0]).unwrap();
        for (g, want) in got.iter().zip([1.0, 1.3, 5.0, 9.55, 10.0]) {
            assert!((g - want).abs() < 1e-12, "{got:?}");
        }
        assert_eq!(percentiles(&[4.0], &[5.0, 95.0]).unwrap(), vec![4.0, 4.0]);
    }

    #[test]
    fn short_or_broken_lists_are_refused_by_name() {
        assert!(matches!(percentiles(&[], &[50.0]), Err(StatsError::TooFew { needed: 1, found: 0, .. })));
        assert!(matches!(autocorrelation(&[1.0, 2.0], 1), Err(StatsError::TooFew { needed: 3, .. })));
        let with_nan = [1.0, f64::NAN, 2.0];
        assert!(matches!(percentiles(&with_nan, &[50.0]), Err(StatsError::NotFinite { position: 1, .. })));
        assert_eq!(Moments::of(&[5.0]).sd(), None);
        assert_eq!(autocorrelation(&[5.0; 9], 1), Ok(0.0));
    }
}
