//! Mean of one set of runs against the mean of another: Welch's and the paired t test, the margin within
//! which two means are shown to be equal, and Holm's adjustment when several figures are tested at once.

use super::student::{t_quantile, t_two_sided_p};
use super::{Estimate, Moments, StatsError, require};

/// Outcome of a t test on a difference of means.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DifferenceTest {
    /// First mean − second mean, unit of the figure.
    pub difference: Estimate,
    /// Standard error of the difference, same unit.
    pub standard_error: f64,
    /// Degrees of freedom; not whole for Welch's test.
    pub dof: f64,
    /// difference / standard error; `None` when neither set has any spread.
    pub t: Option<f64>,
    /// Two-sided p value. Without any spread: 1 for equal means, 0 for different ones.
    pub p: f64,
}

impl DifferenceTest {
    fn new(difference: f64, standard_error: f64, dof: f64) -> Self {
        if standard_error == 0.0 {
            let p = if difference == 0.0 { 1.0 } else { 0.0 };
            let exact = Estimate { value: difference, low: difference, high: difference };
            return Self { difference: exact, standard_error, dof, t: None, p };
        }
        let half_width = t_quantile(0.975, dof) * standard_error;
        let difference =
            Estimate { value: difference, low: difference - half_width, high: difference + half_width };
        let t = difference.value / standard_error;
        Self { difference, standard_error, dof, t: Some(t), p: t_two_sided_p(t, dof) }
    }

    /// The smallest margin D for which |true difference| < D is shown at 95 %: |difference| + t₀.₉₅·SE.
    ///
    /// That is two one-sided tests at 5 % each (TOST, Schuirmann 1987, J. Pharmacokinetics and
    /// Biopharmaceutics 15(6), 657–680): equivalence within ±D is shown for every D above this one and for
    /// none below.
    pub fn smallest_margin(&self) -> f64 {
        if self.standard_error == 0.0 {
            return self.difference.value.abs();
        }
        self.difference.value.abs() + t_quantile(0.95, self.dof) * self.standard_error
    }
}

/// Welch's t test: two independent sets whose variances need not be equal.
///
/// Sources: Welch 1947, Biometrika 34, 28–35; degrees of freedom after Satterthwaite 1946, Biometrics
/// Bulletin 2, 110–114.
///
/// # Errors
/// [`StatsError::TooFew`] under two values a side.
pub fn welch_t(a: Moments, b: Moments) -> Result<DifferenceTest, StatsError> {
    let what = "Welch's t test";
    let (Some(var_a), Some(var_b)) = (a.variance(), b.variance()) else {
        return Err(StatsError::TooFew { what, needed: 2, found: a.count.min(b.count) });
    };
    let (n_a, n_b) = (a.count as f64, b.count as f64);
    let (part_a, part_b) = (var_a / n_a, var_b / n_b);
    let both = part_a + part_b;
    let spread = part_a * part_a / (n_a - 1.0) + part_b * part_b / (n_b - 1.0);
    let dof = if both > 0.0 { both * both / spread } else { n_a + n_b - 2.0 };
    Ok(DifferenceTest::new(a.mean - b.mean, both.sqrt(), dof))
}

/// Student's t test on paired values `a[i] − b[i]`.
///
/// # Errors
/// [`StatsError::UnequalPairs`], [`StatsError::TooFew`] under two pairs, [`StatsError::NotFinite`].
pub fn paired_t(a: &[f64], b: &[f64]) -> Result<DifferenceTest, StatsError> {
    let what = "the paired t test";
    let differences = paired_differences(what, a, b)?;
    require(what, &differences, 2)?;
    let moments = Moments::of(&differences);
    let n = moments.count as f64;
    let standard_error = (moments.sum_sq_dev / (n - 1.0) / n).sqrt();
    Ok(DifferenceTest::new(moments.mean, standard_error, n - 1.0))
}

/// `a[i] − b[i]` for every pair.
///
/// # Errors
/// [`StatsError::UnequalPairs`] when the lists differ in length.
pub fn paired_differences(what: &'static str, a: &[f64], b: &[f64]) -> Result<Vec<f64>, StatsError> {
    if a.len() != b.len() {
        return Err(StatsError::UnequalPairs { what, left: a.len(), right: b.len() });
    }
    Ok(a.iter().zip(b).map(|(x, y)| x - y).collect())
}

/// Holm's step-down adjustment of p values, in the order given (Holm 1979, Scandinavian Journal of Statistics
/// 6, 65–70): comparing the results with 5 % keeps the chance of any false "shown" among them under 5 %.
pub fn holm(p_values: &[f64]) -> Vec<f64> {
    let mut order: Vec<(usize, f64)> = p_values.iter().copied().enumerate().collect();
    order.sort_by(|a, b| a.1.total_cmp(&b.1));
    let mut adjusted = vec![0.0; p_values.len()];
    let mut reached = 0.0_f64;
    for (rank, (place, p)) in order.into_iter().enumerate() {
        reached = reached.max(((p_values.len() - rank) as f64 * p).min(1.0));
        if let Some(slot) = adjusted.get_mut(place) {
            *slot = reached;
        }
    }
    adjusted
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn equal_sets_without_spread_differ_by_nothing_and_never_by_nan() {
        let same = welch_t(Moments::of(&[2.0; 3]), Moments::of(&[2.0; 4])).unwrap();
        assert_eq!((same.difference, same.p), (Estimate { value: 0.0, low: 0.0, high: 0.0 }, 1.0));
        assert_eq!(same.smallest_margin(), 0.0);
        let apart = welch_t(Moments::of(&[2.0; 3]), Moments::of(&[5.0; 4])).unwrap();
        assert_eq!((apart.difference.value, apart.t, apart.p), (-3.0, None, 0.0));
        let one_sided = welch_t(Moments::of(&[2.0; 3]), Moments::of(&[1.0, 2.0, 3.0])).unwrap();
        assert_eq!(one_sided.dof, 2.0);
    }

    #[test]
    fn a_set_of_one_is_refused() {
        let one = Moments::of(&[2.0]);
        assert!(matches!(welch_t(one, Moments::of(&[1.0, 2.0])), Err(StatsError::TooFew { found: 1, .. })));
        assert!(matches!(paired_t(&[1.0], &[2.0]), Err(StatsError::TooFew { found: 1, .. })));
        assert!(matches!(paired_t(&[1.0], &[2.0, 3.0]), Err(StatsError::UnequalPairs { .. })));
    }

    #[test]
    fn just_beyond_the_smallest_margin_both_one_sided_tests_reject() {
        let test = welch_t(Moments::of(&[10.2, 9.8, 10.1, 10.4]), Moments::of(&[10.0, 9.9, 10.3])).unwrap();
        let one_sided_p = |margin: f64| {
            let t = (test.difference.value.abs() - margin) / test.standard_error;
            t_two_sided_p(t, test.dof) / 2.0
        };
        assert!(one_sided_p(test.smallest_margin() * 1.001) < 0.05);
        assert!(one_sided_p(test.smallest_margin() * 0.999) > 0.05);
    }

    #[test]
    fn holm_of_nothing_and_of_large_values_stays_in_bounds() {
        assert!(holm(&[]).is_empty());
        assert_eq!(holm(&[0.9, 0.8]), vec![1.0, 1.0]);
    }
}
