//! How wide an interval would be after one more measurement, expected over what that could read.

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

/// Outcomes of a measurement that are looked at.
const OUTCOMES: usize = 64;

/// Half of the central 95 % of `figures`, expected after a measurement of the quantity that has these `values`
/// in the same draws, with a standard uncertainty of `sd` above 0.
///
/// Each outcome is the value of one draw with an error; each draw is weighted by how likely it makes that outcome.
/// `None` without draws.
pub(super) fn expected_half_width(figures: &[f64], values: &[f64], sd: f64, seed: u64) -> Option<f64> {
    let mut pairs: Vec<(f64, f64)> = figures.iter().copied().zip(values.iter().copied()).collect();
    if pairs.is_empty() {
        return None;
    }
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let every = (values.len() / OUTCOMES).max(1);
    let outcomes: Vec<f64> = values
        .iter()
        .step_by(every)
        .map(|value| {
            let error: f64 = StandardNormal.sample(&mut rng);
            value + sd * error
        })
        .collect();
    pairs.sort_by(|a, b| a.0.total_cmp(&b.0));
    let half_widths = outcomes.iter().map(|outcome| weighted_half_width(&pairs, *outcome, sd));
    Some(half_widths.sum::<Option<f64>>()? / outcomes.len() as f64)
}

/// `pairs` of figure and value, sorted by the figure; `None` where a weight is no number.
fn weighted_half_width(pairs: &[(f64, f64)], outcome: f64, sd: f64) -> Option<f64> {
    let weight = |value: f64| (-0.5 * ((value - outcome) / sd).powi(2)).exp();
    let total: f64 = pairs.iter().map(|pair| weight(pair.1)).sum();
    let (mut reached, mut low) = (0.0, None);
    for (figure, value) in pairs {
        reached += weight(*value);
        if low.is_none() && reached >= 0.025 * total {
            low = Some(*figure);
        }
        if reached >= 0.975 * total {
            return low.map(|low| (figure - low) / 2.0);
        }
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A normal of SD 1, measured with SD 0.5: SD 1/√(1 + 4) after it; a measurement of something else changes
    /// nothing.
    #[test]
    fn normals_narrow_as_the_textbook_has_it() {
        let mut rng = ChaCha8Rng::seed_from_u64(1);
        let mut normals = || (0..20_000).map(|_| StandardNormal.sample(&mut rng)).collect::<Vec<f64>>();
        let (x, other) = (normals(), normals());
        let with = expected_half_width(&x, &x, 0.5, 2).unwrap();
        assert!((with - 1.96 / 5.0f64.sqrt()).abs() < 0.03, "{with}");
        let without = expected_half_width(&x, &other, 0.5, 2).unwrap();
        assert!((without - 1.96).abs() < 0.06, "{without}");
        assert_eq!(expected_half_width(&[], &[], 1.0, 1), None);
    }
}
