//! From independent standard normals and what was observed of a function of them to draws that agree with both:
//! a linear-Gaussian update about the most likely point, corrected to the exact distribution by importance
//! weights.
//!
//! The most likely point is found by Gauss-Newton steps; there the function is taken for linear, one
//! observation after the other is taken in (each a rank-one update of mean and covariance, so no matrix is
//! inverted), and the same steps turn unconditional draws into conditional ones. Each draw is then weighted by
//! the exact density over the density it was drawn from.

use crate::samples::Samples;
use rand::{Rng, RngExt};
use rand_distr::{Distribution, StandardNormal};

/// What was observed of one value of the function.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Observation {
    /// The reading.
    pub value: f64,
    /// Its standard deviation about what is true, above 0.
    pub sd: f64,
}

/// Draws, equal in weight, and how well they stand.
#[derive(Clone, Debug)]
pub struct Posterior {
    /// Coordinates of each draw.
    pub draws: Samples<Vec<f64>>,
    /// (Σw)²/Σw² of the weights that they were chosen by.
    pub effective_sample_size: f64,
    /// Squared distance of the most likely point from what was known and from what was observed, in standard
    /// deviations: χ² with one degree of freedom an observation, if all is as the model has it.
    pub chi_square: f64,
    /// What each observation adds to it.
    pub squared_residuals: Vec<f64>,
}

/// Draws that are tried for a place to start from.
const STARTS_MAX: usize = 1_000;
/// Steps to the most likely point.
const STEPS_MAX: usize = 40;
/// Shorter steps than this, in standard deviations, end the search.
const STEP_MIN: f64 = 1e-5;
/// Difference for derivatives, in standard deviations.
const DIFFERENCE: f64 = 0.01;
/// The proposals are wider than the linear update has them, so that no weight runs away: their variance.
const WIDENED: f64 = 1.1;
/// Proposals for each draw wanted.
const PROPOSALS_PER_DRAW: usize = 3;

/// One observation taken in: its gradient, its Kalman gain, its standard deviation.
struct Accepted {
    gradient: Vec<f64>,
    gain: Vec<f64>,
    sd: f64,
}

/// Squared distance of each reading from what is predicted, in its standard deviations.
fn squared_residuals(observed: &[Observation], predicted: &[f64]) -> impl Iterator<Item = f64> {
    observed.iter().zip(predicted).map(|(o, p)| ((o.value - p) / o.sd).powi(2))
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

/// Adds `by` times `direction`.
fn shift(x: &mut [f64], by: f64, direction: &[f64]) {
    x.iter_mut().zip(direction).for_each(|(x, d)| *x += by * d);
}

/// Draws of `dimension` standard normals, given what was observed of `predict`; `None` where `predict` has no
/// value at the middle, or nowhere among the draws.
pub fn sample_posterior(
    dimension: usize,
    predict: impl Fn(&[f64]) -> Option<Vec<f64>>,
    possible: impl Fn(&[f64]) -> bool,
    observed: &[Observation],
    wanted: usize,
    rng: &mut impl Rng,
) -> Option<Posterior> {
    let start = start(dimension, &predict, rng)?;
    let (mode, taken) = most_likely(start, &predict, observed)?;
    let cost = |x: &[f64]| cost(x, &predict, observed);
    let chi_square = cost(&mode)?;
    let proposals = wanted * PROPOSALS_PER_DRAW;
    let mut weighted = Vec::with_capacity(proposals);
    for _ in 0..proposals {
        let off = conditional(dimension, &taken, rng);
        let squared_distance = dot(&off, &off)
            + taken.iter().map(|one| (dot(&one.gradient, &off) / one.sd).powi(2)).sum::<f64>();
        let mut x = mode.clone();
        shift(&mut x, WIDENED.sqrt(), &off);
        let exact = possible(&x).then(|| cost(&x)).flatten();
        // `squared_distance` is of the draw before it was widened, so its density falls by half of it all the same.
        let log_weight =
            exact.map_or(f64::NEG_INFINITY, |exact| 0.5 * (squared_distance - (exact - chi_square)));
        weighted.push((log_weight, x));
    }
    let (draws, effective_sample_size) = resampled(weighted, wanted, rng.random::<f64>())?;
    let draws = Samples::new(draws, proposals);
    let squared_residuals = squared_residuals(observed, &predict(&mode)?).collect();
    Some(Posterior { draws, effective_sample_size, chi_square, squared_residuals })
}

/// The middle, or if that cannot be the first unconditional draw that can.
fn start(
    dimension: usize,
    predict: &impl Fn(&[f64]) -> Option<Vec<f64>>,
    rng: &mut impl Rng,
) -> Option<Vec<f64>> {
    let middle = std::iter::once(vec![0.0; dimension]);
    let mut draws = middle.chain(std::iter::repeat_with(|| normals(dimension, rng))).take(STARTS_MAX);
    draws.find(|x| predict(x).is_some())
}

fn normals(dimension: usize, rng: &mut impl Rng) -> Vec<f64> {
    (0..dimension).map(|_| StandardNormal.sample(rng)).collect()
}

/// Squared distance of a point from what was known and from what was observed.
fn cost(x: &[f64], predict: &impl Fn(&[f64]) -> Option<Vec<f64>>, observed: &[Observation]) -> Option<f64> {
    Some(dot(x, x) + squared_residuals(observed, &predict(x)?).sum::<f64>())
}

/// Gauss-Newton with halved steps, and the observations taken in at its end.
fn most_likely(
    start: Vec<f64>,
    predict: &impl Fn(&[f64]) -> Option<Vec<f64>>,
    observed: &[Observation],
) -> Option<(Vec<f64>, Vec<Accepted>)> {
    let cost = |x: &[f64]| cost(x, predict, observed);
    let mut x = start;
    for _ in 0..STEPS_MAX {
        let (target, _) = linear_update(&x, predict, observed)?;
        let step: Vec<f64> = target.iter().zip(&x).map(|(to, from)| to - from).collect();
        let now = cost(&x)?;
        let mut by = 1.0;
        let next = loop {
            let mut next = x.clone();
            shift(&mut next, by, &step);
            if cost(&next).is_some_and(|cost| cost <= now) {
                break Some(next);
            }
            by /= 2.0;
            if by < 1e-3 {
                break None;
            }
        };
        let Some(next) = next else { break };
        x = next;
        if by * dot(&step, &step).sqrt() < STEP_MIN {
            break;
        }
    }
    let (_, taken) = linear_update(&x, predict, observed)?;
    Some((x, taken))
}

/// Mean of the normals given the observations, with the function linear about `x`.
fn linear_update(
    x: &[f64],
    predict: &impl Fn(&[f64]) -> Option<Vec<f64>>,
    observed: &[Observation],
) -> Option<(Vec<f64>, Vec<Accepted>)> {
    let here = predict(x)?;
    let gradients = gradients(x, predict, &here);
    let mut mean = vec![0.0; x.len()];
    let mut covariance: Vec<Vec<f64>> = (0..x.len())
        .map(|row| (0..x.len()).map(|column| f64::from(u8::from(row == column))).collect())
        .collect();
    let mut taken = Vec::with_capacity(observed.len());
    for ((observation, predicted), gradient) in observed.iter().zip(&here).zip(gradients) {
        let along: Vec<f64> = covariance.iter().map(|row| dot(row, &gradient)).collect();
        let variance = dot(&gradient, &along) + observation.sd.powi(2);
        let gain: Vec<f64> = along.iter().map(|a| a / variance).collect();
        let linear = predicted + dot(&gradient, &mean) - dot(&gradient, x);
        shift(&mut mean, observation.value - linear, &gain);
        for (row, gain) in covariance.iter_mut().zip(&gain) {
            shift(row, -gain, &along);
        }
        taken.push(Accepted { gradient, gain, sd: observation.sd });
    }
    Some((mean, taken))
}

/// Gradient of each predicted value, by differences to both sides.
fn gradients(x: &[f64], predict: &impl Fn(&[f64]) -> Option<Vec<f64>>, here: &[f64]) -> Vec<Vec<f64>> {
    let mut gradients = vec![Vec::with_capacity(x.len()); here.len()];
    for coordinate in 0..x.len() {
        let beside = |by: f64| {
            let mut beside = x.to_vec();
            beside.iter_mut().skip(coordinate).take(1).for_each(|x| *x += by);
            predict(&beside)
        };
        let (up, down) = (beside(DIFFERENCE), beside(-DIFFERENCE));
        // At an edge of what can be, the difference to one side has to do.
        let sides = if up.is_some() && down.is_some() { 2.0 } else { 1.0 };
        let (up, down) = (up.as_deref().unwrap_or(here), down.as_deref().unwrap_or(here));
        for (gradient, (up, down)) in gradients.iter_mut().zip(up.iter().zip(down)) {
            gradient.push((up - down) / (sides * DIFFERENCE));
        }
    }
    gradients
}

/// A draw about the most likely point: an unconditional one, moved by what each observation of it, with an error
/// of its own, would have moved the mean.
fn conditional(dimension: usize, taken: &[Accepted], rng: &mut impl Rng) -> Vec<f64> {
    let mut off = normals(dimension, rng);
    for one in taken {
        let error: f64 = StandardNormal.sample(rng);
        let innovation = dot(&one.gradient, &off) + one.sd * error;
        shift(&mut off, -innovation, &one.gain);
    }
    off
}

/// `wanted` draws of equal weight by systematic resampling, and the effective number before.
fn resampled(weighted: Vec<(f64, Vec<f64>)>, wanted: usize, start: f64) -> Option<(Vec<Vec<f64>>, f64)> {
    let largest = weighted.iter().map(|one| one.0).fold(f64::NEG_INFINITY, f64::max);
    if !largest.is_finite() {
        return None;
    }
    let weights: Vec<f64> = weighted.iter().map(|one| (one.0 - largest).exp()).collect();
    let total: f64 = weights.iter().sum();
    let effective = total.powi(2) / weights.iter().map(|w| w * w).sum::<f64>();
    let mut draws = Vec::with_capacity(wanted);
    let mut reached = 0.0;
    for (weight, (_, x)) in weights.iter().zip(&weighted) {
        reached += weight;
        while draws.len() < wanted && (draws.len() as f64 + start) / wanted as f64 * total < reached {
            draws.push(x.clone());
        }
    }
    Some((draws, effective))
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::SeedableRng;
    use rand_chacha::ChaCha8Rng;

    fn moments(values: &[f64]) -> (f64, f64) {
        let n = values.len() as f64;
        let mean = values.iter().sum::<f64>() / n;
        (mean, (values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / n).sqrt())
    }

    /// Two normals, their sum observed as 3 with SD 1: mean 1 each, variance 2/3, covariance −1/3; and no
    /// weight differs from another but for the widening.
    #[test]
    fn a_linear_function_gives_the_textbook_update() {
        let mut rng = ChaCha8Rng::seed_from_u64(1);
        let sum = |x: &[f64]| Some(vec![x[0] + x[1]]);
        let observed = [Observation { value: 3.0, sd: 1.0 }];
        let posterior = sample_posterior(2, sum, |_| true, &observed, 8_000, &mut rng).unwrap();
        let of = |f: fn(&[f64]) -> f64| moments(&posterior.draws.iter().map(|x| f(x)).collect::<Vec<_>>());
        let (one, total) = (of(|x| x[0]), of(|x| x[0] + x[1]));
        assert!((one.0 - 1.0).abs() < 0.03 && (one.1 - (2.0f64 / 3.0).sqrt()).abs() < 0.03, "{one:?}");
        assert!((total.0 - 2.0).abs() < 0.03 && (total.1 - (2.0f64 / 3.0).sqrt()).abs() < 0.03, "{total:?}");
        assert!((posterior.chi_square - 3.0).abs() < 1e-6, "{}", posterior.chi_square);
        assert!(posterior.effective_sample_size > 0.9 * 24_000.0, "{}", posterior.effective_sample_size);
    }

    /// x ≥ 0 and x² observed: against the moments by a fine sum over the line.
    #[test]
    fn a_bent_function_with_a_bound_is_followed_by_the_weights() {
        let mut rng = ChaCha8Rng::seed_from_u64(2);
        let bent = |x: &[f64]| Some(vec![x[0] + 0.5 * x[0] * x[0]]);
        let observed = [Observation { value: 0.4, sd: 0.8 }];
        let posterior = sample_posterior(1, bent, |x| x[0] >= -0.2, &observed, 20_000, &mut rng).unwrap();
        let ours = moments(&posterior.draws.iter().map(|x| x[0]).collect::<Vec<_>>());
        let line: Vec<(f64, f64)> = (0..60_000)
            .map(|i| -0.2 + f64::from(i) * 1e-4)
            .map(|x| (x, (-0.5 * (x * x + ((0.4 - x - 0.5 * x * x) / 0.8).powi(2))).exp()))
            .collect();
        let total: f64 = line.iter().map(|p| p.1).sum();
        let mean = line.iter().map(|p| p.0 * p.1).sum::<f64>() / total;
        let sd = (line.iter().map(|p| (p.0 - mean).powi(2) * p.1).sum::<f64>() / total).sqrt();
        assert!((ours.0 - mean).abs() < 0.01 && (ours.1 - sd).abs() < 0.01, "{ours:?} {mean} {sd}");
    }

    #[test]
    fn nothing_possible_gives_nothing() {
        let mut rng = ChaCha8Rng::seed_from_u64(3);
        let observed = [Observation { value: 0.0, sd: 1.0 }];
        assert!(sample_posterior(1, |x| Some(x.to_vec()), |_| false, &observed, 100, &mut rng).is_none());
        assert!(sample_posterior(1, |_| None, |_| true, &observed, 100, &mut rng).is_none());
    }
}
