//! Mean of one set of runs against the mean of another: Welch's and the paired t test, the margin within
//! which two means are shown to be equal, effect sizes, and Holm's adjustment when several figures are tested at once.

use super::student::{t_quantile, t_two_sided_p};
use super::{Estimate, Moments, StatsError, require};
use statrs::function::erf::erfc;
use statrs::function::gamma::ln_gamma;

/// Runs of each setting needed to see how much runs of one setting differ among themselves; with fewer no difference
/// can be shown.
pub const RUNS_MIN: usize = 3;

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

    /// The smallest margin within which the true difference is shown to lie by two one-sided tests at 5 % each (TOST,
    /// Schuirmann 1987, J. Pharmacokinetics and Biopharmaceutics 15(6), 657–680): |difference| + t₀.₉₅·SE, the end of
    /// the 90 % interval that is farther from 0. Equivalence is shown for every margin above it and for none below.
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

/// Hedges' g of two independent sets: (mean a − mean b) / pooled SD, freed of small-sample bias, with its 95 %
/// interval; it goes with the t test of independent sets. Above 0 where the mean of a is.
///
/// Hedges 1981, Journal of Educational Statistics 6(2), 107–128: g = J(ν)·d, ν = n_a + n_b − 2, J(ν) =
/// Γ(ν/2)/(√(ν/2)·Γ((ν−1)/2)). The interval inverts the noncentral t law (Steiger & Fouladi 1997) rather than
/// using the large-sample variance, which is too narrow for three or four runs a side. It assumes equal
/// spread. `Ok(None)` when neither side has spread, or the effect is beyond the reach of the law (|t| over
/// 1000).
///
/// # Errors
/// [`StatsError::TooFew`] under two values a side.
pub fn hedges_g(a: Moments, b: Moments) -> Result<Option<Estimate>, StatsError> {
    if a.count < 2 || b.count < 2 {
        return Err(StatsError::TooFew { what: "Hedges' g", needed: 2, found: a.count.min(b.count) });
    }
    let (n_a, n_b) = (a.count as f64, b.count as f64);
    let dof = n_a + n_b - 2.0;
    let pooled_sd = ((a.sum_sq_dev + b.sum_sq_dev) / dof).sqrt();
    Ok(standardised((a.mean - b.mean) / pooled_sd, (n_a * n_b / (n_a + n_b)).sqrt(), dof))
}

/// Hedges' g_z of paired values `a[i] − b[i]`: their mean over their SD (Cohen's d_z), freed of small-sample bias,
/// with its 95 % interval; it goes with the paired t test, whose p is under 5 % just where the interval leaves 0 out.
/// Above 0 where the mean of a is.
///
/// d_z: Lakens 2013, Frontiers in Psychology 4, 863; J(ν) and interval as for [`hedges_g`], with
/// ν = n − 1 and t = √n·d_z. `Ok(None)` as there.
///
/// # Errors
/// [`StatsError::UnequalPairs`], [`StatsError::TooFew`] under two pairs, [`StatsError::NotFinite`].
pub fn hedges_g_z(a: &[f64], b: &[f64]) -> Result<Option<Estimate>, StatsError> {
    let what = "Hedges' g_z";
    let differences = paired_differences(what, a, b)?;
    require(what, &differences, 2)?;
    let Moments { count, mean, sum_sq_dev } = Moments::of(&differences);
    let (n, dof) = (count as f64, count as f64 - 1.0);
    Ok(standardised(mean / (sum_sq_dev / dof).sqrt(), n.sqrt(), dof))
}

/// A mean over a spread with `dof` degrees of freedom, of which `to_t` makes Student's t: freed of bias by J(ν), the
/// ends by the noncentral t law.
fn standardised(effect: f64, to_t: f64, dof: f64) -> Option<Estimate> {
    let t = effect * to_t;
    if !t.is_finite() || t.abs() > 1000.0 {
        return None;
    }
    let unbiased = (ln_gamma(dof / 2.0) - ln_gamma((dof - 1.0) / 2.0)).exp() / (dof / 2.0).sqrt();
    let scaled = unbiased / to_t;
    let (low, high) = (noncentrality_at(t, dof, 0.975), noncentrality_at(t, dof, 0.025));
    Estimate::new(t * scaled, low * scaled, high * scaled)
}

/// The noncentrality at which P(T ≤ t) = `p`; P falls as it grows, so bisection finds it.
fn noncentrality_at(t: f64, dof: f64, p: f64) -> f64 {
    // Wide enough at 1 degree of freedom too, where the scatter of t is of the order of t itself.
    let reach = 10.0 + 4.0 * t.abs();
    let (mut low, mut high) = (t - reach, t + reach);
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if noncentral_t_cdf(t, dof, middle) > p { low = middle } else { high = middle }
    }
    0.5 * (low + high)
}

/// P(T ≤ t) for noncentral t: ∫ Φ(t·u − δ) f(u) du over u = √(χ²_ν/ν), by Simpson's rule.
fn noncentral_t_cdf(t: f64, dof: f64, noncentrality: f64) -> f64 {
    // u is close to 1 with SD 1/√(2ν); ten SDs hold all that matters, from 0 for few degrees of freedom.
    let reach = 10.0 / (2.0 * dof).sqrt();
    let (from, to) = ((1.0 - reach).max(0.0), 1.0 + reach);
    let steps = 400;
    let width = (to - from) / f64::from(steps);
    let log_scale = std::f64::consts::LN_2 + dof / 2.0 * (dof / 2.0).ln() - ln_gamma(dof / 2.0);
    let density = |u: f64| match dof {
        // u^(ν−1) at 0: a limit for one degree of freedom, 0 for more.
        _ if u == 0.0 && dof > 1.0 => 0.0,
        _ if u == 0.0 => log_scale.exp(),
        _ => (log_scale + (dof - 1.0) * u.ln() - dof * u * u / 2.0).exp(),
    };
    let normal_cdf = |z: f64| 0.5 * erfc(-z / std::f64::consts::SQRT_2);
    let integrand = |u: f64| normal_cdf(t * u - noncentrality) * density(u);
    let inner: f64 =
        (1..steps).map(|i| f64::from(2 + 2 * (i % 2)) * integrand(from + f64::from(i) * width)).sum();
    (integrand(from) + inner + integrand(to)) * width / 3.0
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

    #[test]
    fn no_spread_has_no_effect_size_and_small_sets_are_refused() {
        assert_eq!(hedges_g(Moments::of(&[1.0; 3]), Moments::of(&[1.0; 3])), Ok(None));
        assert_eq!(hedges_g(Moments::of(&[1.0; 3]), Moments::of(&[2.0; 3])), Ok(None));
        let one = Moments::of(&[1.0]);
        assert!(matches!(hedges_g(one, Moments::of(&[1.0, 2.0])), Err(StatsError::TooFew { found: 1, .. })));
    }

    #[test]
    fn swapping_the_sets_mirrors_the_interval() {
        let (a, b) = (Moments::of(&[1.0, 2.0, 4.0]), Moments::of(&[2.0, 5.0, 5.5, 6.0]));
        let (one, other) = (hedges_g(a, b).unwrap().unwrap(), hedges_g(b, a).unwrap().unwrap());
        assert!((one.low + other.high).abs() < 1e-9 && (one.high + other.low).abs() < 1e-9);
        assert!(one.low < one.value && one.value < one.high);
    }
}
