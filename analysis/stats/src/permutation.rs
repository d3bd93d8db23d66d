//! Tests that ask nothing of the distribution: how many of the ways the labels could have fallen give a
//! difference at least as large as the one seen.

use super::two_samples::paired_differences;
use super::{StatsError, require};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// Up to this many splits all are tried; beyond it, random ones.
pub const EXACT_LIMIT: u64 = 200_000;
/// Number of random splits when there are too many to try all.
pub const RANDOM_SPLITS: u64 = 19_999;

/// Outcome of a permutation test, two-sided.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PermutationTest {
    /// First mean − second mean (or mean of the paired differences), unit of the figure.
    pub difference: f64,
    /// p value. Exact: extreme / tried. Random: (extreme + 1) / (tried + 1), as Phipson & Smyth 2010 (Stat.
    /// Appl. Genet. Mol. Biol. 9, 39) show it must be for a valid test.
    pub p: f64,
    /// Splits whose |difference| is at least the one seen.
    pub extreme: u64,
    /// Splits tried.
    pub tried: u64,
    /// Whether every split was tried.
    pub exact: bool,
}

impl PermutationTest {
    fn new(difference: f64, extreme: u64, tried: u64, exact: bool) -> Self {
        let extra = if exact { 0.0 } else { 1.0 };
        Self { difference, p: (extreme as f64 + extra) / (tried as f64 + extra), extreme, tried, exact }
    }

    fn of_random(difference: f64, limit: f64, mut sum: impl FnMut() -> f64) -> Self {
        let extreme = (0..RANDOM_SPLITS).filter(|_| sum().abs() >= limit).count() as u64;
        Self::new(difference, extreme, RANDOM_SPLITS, false)
    }
}

/// Permutation test on the difference of two means, two-sided: the labels are dealt anew over the pooled
/// values.
///
/// All C(n, n_a) splits if they are at most [`EXACT_LIMIT`], else [`RANDOM_SPLITS`] random ones from `seed`.
/// Ties with the difference seen count as extreme (|difference| counts; scipy's two-sided p doubles the
/// smaller tail instead); sums that differ only by rounding are ties.
///
/// # Errors
/// [`StatsError::TooFew`] for an empty side, [`StatsError::NotFinite`].
pub fn permutation_test(a: &[f64], b: &[f64], seed: u64) -> Result<PermutationTest, StatsError> {
    let what = "the permutation test";
    require(what, a, 1)?;
    require(what, b, 1)?;
    let pooled_mean = (a.iter().sum::<f64>() + b.iter().sum::<f64>()) / (a.len() + b.len()) as f64;
    // With deviations from the pooled mean the difference of means is proportional to the first group's sum.
    let deviations: Vec<f64> = a.iter().chain(b).map(|x| x - pooled_mean).collect();
    let to_difference = 1.0 / a.len() as f64 + 1.0 / b.len() as f64;
    let seen: f64 = deviations.iter().take(a.len()).sum();
    let limit = seen.abs() - tie_width(&deviations);
    if let Some(tried) = binomial_up_to(deviations.len(), a.len(), EXACT_LIMIT) {
        let extreme = count_extreme_splits(&deviations, a.len(), 0.0, limit);
        return Ok(PermutationTest::new(seen * to_difference, extreme, tried, true));
    }
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let mut work = deviations;
    Ok(PermutationTest::of_random(seen * to_difference, limit, || {
        // A partial Fisher-Yates shuffle: the first n_a places are a random subset.
        for i in 0..a.len() {
            let j = rng.random_range(i..work.len());
            work.swap(i, j);
        }
        work.iter().take(a.len()).sum()
    }))
}

/// Sign-flip permutation test on the mean of paired differences `a[i] − b[i]`, two-sided.
///
/// All 2ⁿ sign patterns if they are at most [`EXACT_LIMIT`] (up to 17 pairs), else [`RANDOM_SPLITS`] random
/// ones.
///
/// # Errors
/// [`StatsError::UnequalPairs`], [`StatsError::TooFew`] without a pair, [`StatsError::NotFinite`].
pub fn sign_flip_test(a: &[f64], b: &[f64], seed: u64) -> Result<PermutationTest, StatsError> {
    let what = "the sign-flip test";
    let differences = paired_differences(what, a, b)?;
    require(what, &differences, 1)?;
    let n = differences.len();
    let seen: f64 = differences.iter().sum();
    let limit = seen.abs() - tie_width(&differences);
    let signed_sum = |pattern: u64| -> f64 {
        let signed = differences.iter().enumerate().map(|(i, d)| if pattern >> i & 1 == 1 { -d } else { *d });
        signed.sum()
    };
    if n < 64 && 1 << n <= EXACT_LIMIT {
        let tried = 1 << n;
        let extreme = (0..tried).filter(|&pattern| signed_sum(pattern).abs() >= limit).count() as u64;
        return Ok(PermutationTest::new(seen / n as f64, extreme, tried, true));
    }
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    Ok(PermutationTest::of_random(seen / n as f64, limit, || {
        differences.iter().map(|d| if rng.random::<bool>() { -d } else { *d }).sum()
    }))
}

/// How far two equal sums may differ by rounding.
fn tie_width(values: &[f64]) -> f64 {
    1e-12 * values.iter().map(|x| x.abs()).sum::<f64>()
}

/// C(n, k) if it is at most `limit`.
fn binomial_up_to(n: usize, k: usize, limit: u64) -> Option<u64> {
    let k = k.min(n - k) as u64;
    let mut result = 1_u64;
    for i in 0..k {
        result = result.checked_mul(n as u64 - i)? / (i + 1);
        // The partial products C(n, i + 1) only grow for i < k ≤ n/2.
        if result > limit {
            return None;
        }
    }
    Some(result)
}

/// How many ways of adding `left` more of `values` to `sum` end at an absolute sum of at least `limit`.
fn count_extreme_splits(values: &[f64], left: usize, sum: f64, limit: f64) -> u64 {
    if left == 0 {
        return u64::from(sum.abs() >= limit);
    }
    match values.split_first() {
        Some((first, rest)) if rest.len() + 1 > left => {
            count_extreme_splits(rest, left - 1, sum + first, limit)
                + count_extreme_splits(rest, left, sum, limit)
        }
        // Exactly as many values as are still needed: all of them go in.
        _ => u64::from((sum + values.iter().sum::<f64>()).abs() >= limit),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn random_splits_agree_with_all_splits() {
        let a: Vec<f64> = (0..12).map(|i| f64::from(i * i % 13)).collect();
        let b: Vec<f64> = (0..12).map(|i| f64::from(i * i % 13) + 3.0 + 0.1 * f64::from(i)).collect();
        // C(24, 12) = 2 704 156 is over the limit; the reference is the same recursion without one.
        let random = permutation_test(&a, &b, 7).unwrap();
        assert!(!random.exact);
        let mean = a.iter().chain(&b).sum::<f64>() / 24.0;
        let deviations: Vec<f64> = a.iter().chain(&b).map(|x| x - mean).collect();
        let seen: f64 = deviations.iter().take(12).sum::<f64>().abs();
        let all = count_extreme_splits(&deviations, 12, 0.0, seen - 1e-9) as f64 / 2_704_156.0;
        let spread = (all * (1.0 - all) / RANDOM_SPLITS as f64).sqrt();
        assert!((random.p - all).abs() < 4.0 * spread, "random {} all {all}", random.p);
    }

    #[test]
    fn random_signs_agree_with_all_signs() {
        let long: Vec<f64> = (0..20).map(|i| f64::from(i * 5 % 11) - 3.5).collect();
        let zeros = [0.0; 20];
        let random = sign_flip_test(&long, &zeros, 11).unwrap();
        assert!(!random.exact);
        let seen = long.iter().sum::<f64>().abs();
        let all = (0..1_u64 << 20)
            .filter(|p| {
                let sum: f64 =
                    long.iter().enumerate().map(|(i, d)| if p >> i & 1 == 1 { -d } else { *d }).sum();
                sum.abs() >= seen - 1e-9
            })
            .count() as f64
            / f64::from(1 << 20);
        let spread = (all * (1.0 - all) / RANDOM_SPLITS as f64).sqrt();
        assert!((random.p - all).abs() < 4.0 * spread, "random {} all {all}", random.p);
    }

    #[test]
    fn equal_values_are_all_ties() {
        let test = permutation_test(&[0.1; 4], &[0.1; 5], 1).unwrap();
        assert_eq!((test.p, test.extreme, test.tried), (1.0, 126, 126));
        let pairs = sign_flip_test(&[0.3; 5], &[0.3; 5], 1).unwrap();
        assert_eq!((pairs.p, pairs.tried), (1.0, 32));
        assert!(matches!(permutation_test(&[], &[1.0], 1), Err(StatsError::TooFew { .. })));
    }
}
