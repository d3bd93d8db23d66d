//! Where a fit starts, the most likely parameters of the model, draws of what else they may be, and what gain a further
//! parameter needs.

use super::model::{Bins, Frame, OF_A_MODE};
use crate::resonance::{DAMPING_MAX, line_damping};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::StandardNormal;
use stats::student::chi_square_quantile;

/// Chance of a further mode in a spectrum that has none.
pub const FALSE_FURTHER_MODE: f64 = 0.01;
/// Natural frequencies from which a further mode is tried, in each octave of the band.
const STARTS_AN_OCTAVE: f64 = 3.0;

/// Twice the logarithm of the likelihood's gain that `parameters` more need where they were looked for in so many
/// places: the χ² quantile at [`FALSE_FURTHER_MODE`], shared among the places (Šidák).
pub(super) fn needed_gain(parameters: usize, places: f64) -> Option<f64> {
    let each = -((-FALSE_FURTHER_MODE).ln_1p() / places.max(1.0)).exp_m1();
    chi_square_quantile(1.0 - each, parameters as f64)
}

pub(super) fn starts(bins: &Bins<'_>) -> Vec<f64> {
    let Some((low, high)) = bins.frequency_hz.first().zip(bins.frequency_hz.last()) else {
        return Vec::new();
    };
    let (low, high) = (2.0 * low, 0.8 * high);
    let steps = (STARTS_AN_OCTAVE * (high / low).log2()).floor().max(0.0);
    (0..=steps as usize).map(|i| low * (i as f64 / STARTS_AN_OCTAVE).exp2()).collect()
}

/// Where the fit of one mode starts; `None` without bins.
pub(super) fn start(frame: &Frame<'_>, bins: &Bins<'_>, first: (f64, f64)) -> Option<Vec<f64>> {
    let mut start = start_background(frame, bins)?;
    start.extend(frame.even_excitation());
    start.extend(start_mode(frame, bins, &start, first));
    Some(start)
}

fn start_background(frame: &Frame<'_>, bins: &Bins<'_>) -> Option<Vec<f64>> {
    let at = |knot: &f64| {
        let bin = bins.frequency_hz.partition_point(|f| f.ln() < *knot).min(bins.background.len() - 1);
        Some(bins.background.get(bin)?.max(f64::MIN_POSITIVE).ln())
    };
    frame.knots().iter().map(at).collect()
}

/// A mode at a place, with half of the power that the model of `p` leaves there.
pub(super) fn start_mode(
    frame: &Frame<'_>,
    bins: &Bins<'_>,
    p: &[f64],
    (natural_hz, damping): (f64, f64),
) -> Vec<f64> {
    let whole = frame.whole(p);
    let half = (damping * natural_hz).max(bins.bin_hz);
    let (mut over, mut under) = (0.0, 0.0);
    for ((f, s), m) in bins.frequency_hz.iter().zip(bins.density).zip(&whole) {
        if (f - natural_hz).abs() <= half {
            over += s - m;
            under += m;
        }
    }
    let power = over.max(0.1 * under).max(f64::MIN_POSITIVE) * bins.bin_hz;
    vec![power.ln(), natural_hz.ln(), damping.ln()]
}

const ROUNDS: usize = 25;
/// Draws of the parameters.
const DRAWS: usize = 400;
/// Seed of the draws: the same spectrum gives the same intervals.
pub const DRAW_SEED: u64 = 0xB0B;

/// The parameters at which the model is most likely.
pub(super) struct Fitted {
    pub p: Vec<f64>,
    pub objective: f64,
    information: Cholesky,
}

impl Frame<'_> {
    fn clamp(&self, p: &mut [f64]) {
        let ends = self.frequency_hz.first().zip(self.frequency_hz.last());
        let (low, high) = ends.map_or((f64::MIN, f64::MAX), |(low, high)| (low.ln(), high.ln()));
        for mode in p.iter_mut().skip(self.before_modes()).collect::<Vec<_>>().chunks_mut(OF_A_MODE) {
            if let [_, natural, damping] = mode {
                **natural = natural.clamp(low, high);
                let least = line_damping(self.bin_hz, natural.exp()).ln();
                **damping = damping.clamp(least, DAMPING_MAX.ln());
            }
        }
    }

    /// Fisher scoring with Levenberg's and Marquardt's damping, from `start`; `None` where it does not settle.
    pub fn fit(&self, start: &[f64]) -> Option<Fitted> {
        let mut p = start.to_vec();
        self.clamp(&mut p);
        let mut whole = self.whole(&p);
        let mut objective = self.objective(&p, &whole);
        let mut ridge = 1e-3;
        for _ in 0..ROUNDS {
            let (matrix, right) = self.scoring(&p, &whole);
            let mut better = false;
            let mut gained = 0.0;
            for _ in 0..6 {
                let mut ridged = matrix.clone();
                ridged.iter_mut().enumerate().for_each(|(i, row)| row[i] *= 1.0 + ridge);
                let Some(steps) = Cholesky::of(&ridged).map(|factor| factor.solve(&right)) else {
                    ridge *= 10.0;
                    continue;
                };
                let mut tried: Vec<f64> =
                    p.iter().zip(&steps).map(|(x, step)| x + step.clamp(-0.7, 0.7)).collect();
                self.clamp(&mut tried);
                let tried_whole = self.whole(&tried);
                let tried_objective = self.objective(&tried, &tried_whole);
                if tried_objective < objective {
                    gained = objective - tried_objective;
                    (p, whole, objective) = (tried, tried_whole, tried_objective);
                    ridge = (ridge * 0.2).max(1e-7);
                    better = true;
                    break;
                }
                ridge *= 6.0;
            }
            if !better || gained < 1e-3 {
                break;
            }
        }
        let (matrix, _) = self.scoring(&p, &whole);
        let information = Cholesky::of(&matrix)?;
        (objective.is_finite() && p.iter().all(|x| x.is_finite())).then_some(Fitted {
            p,
            objective,
            information,
        })
    }

    fn scoring(&self, p: &[f64], whole: &[f64]) -> (Vec<Vec<f64>>, Vec<f64>) {
        let slopes = self.slopes(p, whole);
        let weights: Vec<f64> =
            self.used.iter().map(|used| f64::from(u8::from(*used)) * self.shape).collect();
        let scores: Vec<f64> =
            self.density.iter().zip(whole).zip(&weights).map(|((s, m), w)| w * (s / m - 1.0)).collect();
        let mut right: Vec<f64> =
            slopes.iter().map(|list| list.iter().zip(&scores).map(|(g, s)| g * s).sum()).collect();
        let n = slopes.len();
        let mut matrix = vec![vec![0.0; n]; n];
        for i in 0..n {
            for j in 0..=i {
                let pairs = slopes[i].iter().zip(&slopes[j]).zip(&weights);
                let sum: f64 = pairs.map(|((a, b), w)| a * b * w).sum();
                matrix[i][j] = sum;
                matrix[j][i] = sum;
            }
        }
        self.add_assumed(p, &mut matrix, &mut right);
        matrix.iter_mut().enumerate().for_each(|(i, row)| row[i] += 1e-9);
        (matrix, right)
    }

    /// Draws of the parameters from the normal law about the most likely ones, whose covariance is `stretch`² times the
    /// inverse of the information. (Weights by importance were tried: with some thirty parameters a handful of draws
    /// held all the weight, and intervals came out too narrow.)
    pub fn draws(&self, fitted: &Fitted, stretch: f64) -> Vec<Vec<f64>> {
        let mut rng = ChaCha8Rng::seed_from_u64(DRAW_SEED);
        let n = fitted.p.len();
        (0..DRAWS)
            .map(|_| {
                let z: Vec<f64> = (0..n).map(|_| stretch * rng.sample::<f64, _>(StandardNormal)).collect();
                let away = fitted.information.back(z);
                let mut p: Vec<f64> = fitted.p.iter().zip(&away).map(|(x, d)| x + d).collect();
                // The most likely damping may lie at its least; draws beyond are drawn back to it.
                self.clamp(&mut p);
                p
            })
            .collect()
    }
}

/// Lower triangular factor of a positive definite matrix.
pub(super) struct Cholesky(Vec<Vec<f64>>);

impl Cholesky {
    /// `None` where the matrix is not positive definite.
    pub fn of(matrix: &[Vec<f64>]) -> Option<Self> {
        let n = matrix.len();
        let mut lower = vec![vec![0.0; n]; n];
        for i in 0..n {
            for j in 0..=i {
                let done: f64 = (0..j).map(|k| lower[i][k] * lower[j][k]).sum();
                let rest = matrix[i][j] - done;
                if i == j {
                    if !(rest.is_finite() && rest > 0.0) {
                        return None;
                    }
                    lower[i][j] = rest.sqrt();
                } else {
                    lower[i][j] = rest / lower[j][j];
                }
            }
        }
        Some(Self(lower))
    }

    /// x with A x = `right`.
    pub fn solve(&self, right: &[f64]) -> Vec<f64> {
        let mut x = right.to_vec();
        for i in 0..x.len() {
            let done: f64 = (0..i).map(|k| self.0[i][k] * x[k]).sum();
            x[i] = (x[i] - done) / self.0[i][i];
        }
        self.back(x)
    }

    /// x with Lᵀ x = `y`: of independent unit normal `y`, x has the covariance A⁻¹.
    pub fn back(&self, y: Vec<f64>) -> Vec<f64> {
        let mut x = y;
        for i in (0..x.len()).rev() {
            let done: f64 = (i + 1..x.len()).map(|k| self.0[k][i] * x[k]).sum();
            x[i] = (x[i] - done) / self.0[i][i];
        }
        x
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_solution_solves_and_an_indefinite_matrix_is_refused() {
        let matrix = vec![vec![4.0, 1.0, 0.5], vec![1.0, 3.0, -0.2], vec![0.5, -0.2, 2.0]];
        let x = Cholesky::of(&matrix).unwrap().solve(&[1.0, 2.0, 3.0]);
        for (row, right) in matrix.iter().zip([1.0, 2.0, 3.0]) {
            let left: f64 = row.iter().zip(&x).map(|(a, x)| a * x).sum();
            assert!((left - right).abs() < 1e-12);
        }
        assert!(Cholesky::of(&[vec![1.0, 2.0], vec![2.0, 1.0]]).is_none());
    }
}
