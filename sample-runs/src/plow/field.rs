//! The ground as a function of distance, from a seed alone.
//!
//! Nothing here knows of a plow, a setting or a time step: two passes with the same seed meet the same
//! soil at the same metre, which is what makes their comparison honest.

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

/// Distance between stored points in m.
const STEP_M: f64 = 0.02;
/// Stored ground behind the start, in m: the tail wheel begins there.
const BEHIND_M: f64 = 4.0;

/// How uneven a field is. Each pair is (SD, correlation length in m) of one length scale.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FieldSpec {
    /// Hardness of the soil about its mean of 1, long scale.
    pub hardness_long: (f64, f64),
    /// Hardness, short scale.
    pub hardness_short: (f64, f64),
    /// Height of the land surface in m, long scale.
    pub ground_long_m: (f64, f64),
    /// Height of the land surface in m, short scale.
    pub ground_short_m: (f64, f64),
    /// Rise and fall of the tractor's drawbar pin in m.
    pub tractor_bounce_m: (f64, f64),
}

impl FieldSpec {
    /// The invented field of the demo.
    pub const DEMO: Self = Self {
        hardness_long: (0.09, 25.0),
        hardness_short: (0.07, 2.0),
        ground_long_m: (0.008, 6.0),
        ground_short_m: (0.004, 0.35),
        tractor_bounce_m: (0.003, 1.5),
    };

    /// Level land, even soil: for checks.
    pub const FLAT: Self = Self {
        hardness_long: (0.0, 25.0),
        hardness_short: (0.0, 2.0),
        ground_long_m: (0.0, 6.0),
        ground_short_m: (0.0, 0.35),
        tractor_bounce_m: (0.0, 1.5),
    };
}

/// One strip of a field.
#[derive(Clone, Debug, PartialEq)]
pub struct Field {
    hardness: Vec<f64>,
    ground_m: Vec<f64>,
    tractor_bounce_m: Vec<f64>,
}

impl Field {
    /// A strip `length_m` long (and a little more at both ends), from `seed`.
    ///
    /// A longer strip of the same seed begins with the same ground.
    #[must_use]
    pub fn new(spec: &FieldSpec, seed: u64, length_m: f64) -> Self {
        // The cast is of a length in steps: a negative or absurd one becomes 0 or is cut by `as`.
        let points = ((length_m.clamp(0.0, 1e5) + 2.0 * BEHIND_M) / STEP_M).ceil() as usize + 2;
        // Soil at one point is crushed within a short way: one pole. Land, and what a tyre feels of it,
        // has no corners: two poles.
        let one = |scale, purpose| noise(seed, purpose, points, scale, STEP_M, 1);
        let two = |scale, purpose| noise(seed, purpose, points, scale, STEP_M, 2);
        let sum = |a: Vec<f64>, b: Vec<f64>| a.iter().zip(&b).map(|(a, b)| a + b).collect::<Vec<_>>();
        let hardness = sum(one(spec.hardness_long, 1), one(spec.hardness_short, 2));
        Self {
            // A soil that pushes the plow forward does not exist, however the noise falls.
            hardness: hardness.iter().map(|h| (1.0 + h).max(0.05)).collect(),
            ground_m: sum(two(spec.ground_long_m, 3), two(spec.ground_short_m, 4)),
            tractor_bounce_m: two(spec.tractor_bounce_m, 5),
        }
    }

    /// Hardness of the soil at a distance in m; its mean over all fields is 1.
    #[must_use]
    pub fn hardness(&self, distance_m: f64) -> f64 {
        at(&self.hardness, distance_m).0
    }

    /// Height of the land surface in m, and its slope (m per m).
    #[must_use]
    pub fn ground(&self, distance_m: f64) -> (f64, f64) {
        at(&self.ground_m, distance_m)
    }

    /// How far the drawbar pin of the tractor is above its usual height, in m.
    #[must_use]
    pub fn tractor_bounce_m(&self, distance_m: f64) -> f64 {
        at(&self.tractor_bounce_m, distance_m).0
    }
}

/// Value and slope by straight lines between stored points; beyond the ends it stays level.
fn at(values: &[f64], distance_m: f64) -> (f64, f64) {
    let last = values.len().saturating_sub(1);
    let place = ((distance_m + BEHIND_M) / STEP_M).clamp(0.0, last as f64);
    let left = (place.floor() as usize).min(last.saturating_sub(1));
    let (Some(a), Some(b)) = (values.get(left), values.get(left + 1)) else { return (0.0, 0.0) };
    (a + (b - a) * (place - left as f64), (b - a) / STEP_M)
}

/// Gaussian noise of a spread and a correlation length, through `poles` equal first-order low-passes, at
/// points `step` apart (in the unit of the length).
pub(super) fn noise(
    seed: u64,
    purpose: u64,
    points: usize,
    (sd, length): (f64, f64),
    step: f64,
    poles: u8,
) -> Vec<f64> {
    let mut rng = ChaCha8Rng::seed_from_u64(crate::seed_for(seed, purpose));
    let a = (-step / length).exp();
    // Variance of the filtered noise at unit input: 1/(1-a²) for one pole, (1+a²)/(1-a²)³ for two.
    let one_pole = 1.0 / (1.0 - a * a);
    let variance = if poles == 1 { one_pole } else { (1.0 + a * a) * one_pole.powi(3) };
    let gain = sd / variance.sqrt();
    let (mut first, mut second) = (0.0, 0.0);
    let mut next = || {
        let white: f64 = StandardNormal.sample(&mut rng);
        first = a * first + white;
        second = a * second + first;
        gain * if poles == 1 { first } else { second }
    };
    // From rest the filter needs some lengths until its output has the wanted spread.
    for _ in 0..((12.0 * length / step) as usize) {
        next();
    }
    (0..points).map(|_| next()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn same_seed_same_field_and_a_longer_one_begins_alike() {
        let short = Field::new(&FieldSpec::DEMO, 7, 50.0);
        assert_eq!(short, Field::new(&FieldSpec::DEMO, 7, 50.0));
        let long = Field::new(&FieldSpec::DEMO, 7, 90.0);
        for d in [-3.0, 0.0, 12.34, 49.9] {
            assert_eq!(short.hardness(d).to_bits(), long.hardness(d).to_bits());
            assert_eq!(short.ground(d), long.ground(d));
            assert_eq!(short.tractor_bounce_m(d).to_bits(), long.tractor_bounce_m(d).to_bits());
        }
        assert_ne!(short, Field::new(&FieldSpec::DEMO, 8, 50.0));
    }

    #[test]
    fn spread_is_what_was_asked_for() {
        // Over a strip of many correlation lengths the sample SD comes near the one asked for.
        let spec = FieldSpec {
            hardness_long: (0.0, 25.0),
            hardness_short: (0.05, 2.0),
            ground_short_m: (0.003, 0.35),
            ..FieldSpec::FLAT
        };
        let field = Field::new(&spec, 3, 4000.0);
        let sd = |v: Vec<f64>| {
            let n = v.len() as f64;
            let mean = v.iter().sum::<f64>() / n;
            (v.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / n).sqrt()
        };
        let steps = (0..40_000).map(|i| f64::from(i) * 0.1);
        let hardness = sd(steps.clone().map(|d| field.hardness(d)).collect());
        let ground = sd(steps.map(|d| field.ground(d).0).collect());
        assert!((hardness / 0.05 - 1.0).abs() < 0.1, "{hardness}");
        assert!((ground / 0.003 - 1.0).abs() < 0.1, "{ground}");
    }

    #[test]
    fn correlation_length_is_what_was_asked_for() {
        // One pole: the autocorrelation falls to 1/e at the correlation length.
        let spec = FieldSpec { hardness_short: (0.05, 2.0), ..FieldSpec::FLAT };
        let field = Field::new(&spec, 11, 8000.0);
        let (mut own, mut lagged) = (0.0, 0.0);
        for i in 0..39_000 {
            let d = f64::from(i) * 0.2;
            let h = field.hardness(d) - 1.0;
            own += h * h;
            lagged += h * (field.hardness(d + 2.0) - 1.0);
        }
        assert!((lagged / own - (-1.0f64).exp()).abs() < 0.05, "{}", lagged / own);
    }

    /// One pole leaves s² e^(−d/ℓ) of the variance at a lag d, two poles s² (1 + d/ℓ) e^(−d/ℓ); two scales add.
    #[test]
    fn two_scales_have_the_covariance_of_their_formula() {
        let spec = FieldSpec {
            hardness_long: (0.08, 25.0),
            hardness_short: (0.1, 2.5),
            ground_long_m: (0.008, 8.0),
            ground_short_m: (0.004, 0.5),
            tractor_bounce_m: (0.0, 1.5),
        };
        // 90 km: 3,600 of the longest lengths, after which a variance is known to 3 %.
        let field = Field::new(&spec, 17, 90_000.0);
        let one = |(sd, length_m): (f64, f64), d: f64| sd * sd * (-d / length_m).exp();
        let two = |(sd, length_m): (f64, f64), d: f64| sd * sd * (1.0 + d / length_m) * (-d / length_m).exp();
        for lag_m in [0.0, 0.5, 2.5, 10.0, 25.0] {
            let (mut hard, mut land, n) = (0.0, 0.0, 400_000);
            for i in 0..n {
                let d = f64::from(i) * 0.22;
                hard += (field.hardness(d) - 1.0) * (field.hardness(d + lag_m) - 1.0);
                land += field.ground(d).0 * field.ground(d + lag_m).0;
            }
            let (hard, land) = (hard / f64::from(n), land / f64::from(n));
            let told_hard = one(spec.hardness_long, lag_m) + one(spec.hardness_short, lag_m);
            let told_land = two(spec.ground_long_m, lag_m) + two(spec.ground_short_m, lag_m);
            assert!((hard - told_hard).abs() < 0.04 * 0.0164, "{lag_m} m: {hard} {told_hard}");
            assert!((land - told_land).abs() < 0.04 * 80e-6, "{lag_m} m: {land} {told_land}");
        }
    }

    #[test]
    fn beyond_the_ends_and_nan_do_no_harm() {
        let field = Field::new(&FieldSpec::DEMO, 1, -5.0);
        for d in [-1e9, 1e9, f64::NAN] {
            let _ = field.hardness(d);
        }
        assert!(field.hardness(1e9).is_finite());
    }
}
