//! The smooth background a peak must stand out of.
//!
//! ln S is a straight line in ln f over each window of three and a half octaves, fitted by an estimating
//! equation for χ² densities that is deaf to peaks. Three others were tried or considered. One cubic in ln f
//! over the whole band holds its level on red noise, but a plow that filters the soil's push (steep above its
//! resonance) bends it so far that both ends of the band stand out as peaks. An AR(1) + white spectrum has
//! the same fault. A running median follows every slope half a window late, and broad resonances upward.

use super::SpectrumError;
use statrs::function::gamma::gamma_lr;

/// Fewest bins a background is fitted to.
pub const MIN_BINS: usize = 12;
/// Power correlation summed over neighbouring bins under a Hann window: 1 + 2(4/9 + 1/36).
pub const BIN_CORRELATION: f64 = 1.0 + 2.0 * (4.0 / 9.0 + 1.0 / 36.0);
/// Ratios over the background are cut here before they can pull at it.
const CUT: f64 = 1.0;
const ROUNDS: usize = 60;
/// Half-width of the window of one local fit, as a natural logarithm of frequency: one and three quarters
/// octaves. With one and a quarter a resonance of ζ = 0.2 lifted its own background and went unfound in a
/// third of runs.
const REACH: f64 = 1.75 * std::f64::consts::LN_2;
/// A window is widened until it holds this many bins; at the low end of the band octaves hold few.
const WINDOW_BINS: usize = 12;
/// Distance between local fits, as a natural logarithm of frequency; between them ln S is interpolated.
const SPACING: f64 = 0.25 * std::f64::consts::LN_2;

/// A fitted background.
#[derive(Clone, Debug, PartialEq)]
pub struct Background {
    /// Density, unit²/Hz, in each bin it was fitted to.
    pub density: Vec<f64>,
    /// Degrees of freedom of the fit in each bin: how well the background itself is known.
    pub dof: Vec<f64>,
}

/// A χ² ratio r = S/μ, cut at `cut`, centred and scaled so that solving Σ score = 0 gives μ without bias.
///
/// score = (min(r, c) − E min(r, c)) / E(r; r < c) with r ~ Γ(a, 1/a), a = ν/2: Huber's one-sided score with
/// the consistency correction of Cantoni & Ronchetti 2001, JASA 96, 1022–1030; one step of it is one of
/// Fisher scoring.
pub(super) struct CutScore {
    cut: f64,
    expected: f64,
    slope: f64,
}

impl CutScore {
    pub fn new(dof: f64, cut: f64) -> Self {
        let a = dof / 2.0;
        let slope = gamma_lr(a + 1.0, a * cut);
        Self { cut, expected: slope + cut * (1.0 - gamma_lr(a, a * cut)), slope }
    }

    pub fn of(&self, ratio: f64) -> f64 {
        (ratio.min(self.cut) - self.expected) / self.slope
    }
}

/// Fits the background to the bins of a Welch spectrum with `dof` degrees of freedom each; frequencies rise.
///
/// # Errors
/// [`SpectrumError::TooFewBins`] under [`MIN_BINS`] bins with power.
pub fn fit_background(frequency_hz: &[f64], density: &[f64], dof: f64) -> Result<Background, SpectrumError> {
    let largest = density.iter().copied().fold(0.0, f64::max);
    let powered = density.iter().filter(|&&s| s > 0.0).count();
    if powered < MIN_BINS {
        return Err(SpectrumError::TooFewBins { needed: MIN_BINS, found: powered });
    }
    let log_frequency: Vec<f64> = frequency_hz.iter().map(|f| f.max(f64::MIN_POSITIVE).ln()).collect();
    let log_density: Vec<f64> = density.iter().map(|s| s.max(largest * 1e-30).ln()).collect();
    let (first, last) = match (log_frequency.first(), log_frequency.last()) {
        (Some(first), Some(last)) => (*first, *last),
        _ => return Err(SpectrumError::TooFewBins { needed: MIN_BINS, found: 0 }),
    };
    let score = CutScore::new(dof, CUT);
    let count = ((last - first) / SPACING).ceil().max(1.0);
    let nodes: Vec<Node> = (0..=count as usize)
        .map(|i| first + (last - first) * i as f64 / count)
        .map(|at| Node::fit(at, &log_frequency, &log_density, &score))
        .collect();
    let between = |x: f64, get: fn(&Node) -> f64| {
        let place = (x - first) / (last - first) * count;
        let below = (place as usize).min(nodes.len() - 2);
        let part = place - below as f64;
        nodes.iter().skip(below).take(2).zip([1.0 - part, part]).map(|(n, w)| w * get(n)).sum::<f64>()
    };
    Ok(Background {
        density: log_frequency.iter().map(|&x| between(x, |n| n.log_density).exp()).collect(),
        dof: log_frequency.iter().map(|&x| dof / (between(x, |n| n.leverage) * BIN_CORRELATION)).collect(),
    })
}

/// The local fit at one frequency.
struct Node {
    log_density: f64,
    /// Variance of `log_density` for independent bins of variance 1.
    leverage: f64,
}

impl Node {
    /// Fits ln S = a + b·(ln f − `at`) around `at`; weights fall off by distance (tricube) and as f^(−1/2),
    /// between equal weight by bin, which would let the upper octave rule, and by octave, which would hang
    /// the fit on the few lowest bins.
    fn fit(at: f64, log_frequency: &[f64], log_density: &[f64], score: &CutScore) -> Self {
        let mut distances: Vec<f64> = log_frequency.iter().map(|x| (x - at).abs()).collect();
        distances.sort_unstable_by(f64::total_cmp);
        let widened = distances.get(WINDOW_BINS.min(distances.len() - 1)).copied().unwrap_or(0.0);
        let reach = REACH.max(1.001 * widened);
        let rows: Vec<(f64, f64, f64)> = log_frequency
            .iter()
            .zip(log_density)
            .map(|(x, y)| (x - at, *y))
            .filter(|(x, _)| x.abs() < reach)
            .map(|(x, y)| (x, y, (1.0 - (x.abs() / reach).powi(3)).powi(3) * (-0.5 * x).exp()))
            .collect();
        let line = WeightedLine::new(&rows);
        // Start from the logarithms: convex, so the scoring starts close whatever the slope.
        let (mut a, mut b) = line.solve(rows.iter().map(|row| row.1));
        for _ in 0..ROUNDS {
            let ratios = rows.iter().map(|(x, y, _)| (y - a - b * x).exp());
            let (step_a, step_b) = line.solve(ratios.map(|r| score.of(r).clamp(-2.0, 2.0)));
            a += step_a;
            b += step_b;
            if step_a.abs() < 1e-6 && (step_b * reach).abs() < 1e-6 {
                break;
            }
        }
        Self { log_density: a, leverage: line.leverage() }
    }
}

/// Weighted least squares of a line on fixed places: what does not change from one scoring step to the next.
struct WeightedLine<'a> {
    rows: &'a [(f64, f64, f64)],
    /// Σw, Σwx, Σwx², and their determinant.
    sums: [f64; 3],
    determinant: f64,
}

impl<'a> WeightedLine<'a> {
    fn new(rows: &'a [(f64, f64, f64)]) -> Self {
        let sums = rows.iter().fold([0.0; 3], |[s, sx, sxx], (x, _, w)| [s + w, sx + w * x, sxx + w * x * x]);
        Self { rows, sums, determinant: sums[0] * sums[2] - sums[1] * sums[1] }
    }

    /// Weight each row has in the fitted value at x = 0.
    fn pull(&self, x: f64, w: f64) -> f64 {
        w * (self.sums[2] - self.sums[1] * x) / self.determinant
    }

    fn solve(&self, values: impl Iterator<Item = f64>) -> (f64, f64) {
        self.rows.iter().zip(values).fold((0.0, 0.0), |(a, b), ((x, _, w), v)| {
            let slope_pull = w * (self.sums[0] * x - self.sums[1]) / self.determinant;
            (a + self.pull(*x, *w) * v, b + slope_pull * v)
        })
    }

    fn leverage(&self) -> f64 {
        self.rows.iter().map(|(x, _, w)| self.pull(*x, *w).powi(2)).sum()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::SeedableRng;
    use rand_chacha::ChaCha8Rng;
    use rand_distr::{ChiSquared, Distribution};

    /// A red spectrum with χ² scatter; bins independent.
    fn scattered(dof: f64, seed: u64) -> (Vec<f64>, Vec<f64>, Vec<f64>) {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        let law = ChiSquared::new(dof).unwrap();
        let frequency: Vec<f64> = (4..300).map(|k| f64::from(k) * 0.05).collect();
        let truth: Vec<f64> = frequency.iter().map(|f| 50.0 / (1.0 + f * f) + 0.1).collect();
        let density = truth.iter().map(|s| s * law.sample(&mut rng) / dof).collect();
        (frequency, truth, density)
    }

    #[test]
    fn the_fit_is_unbiased_for_few_and_many_degrees_of_freedom() {
        for dof in [4.0, 9.5, 60.0] {
            let mut mean_ratio = 0.0;
            for seed in 0..50 {
                let (frequency, truth, density) = scattered(dof, seed);
                let fit = fit_background(&frequency, &density, dof).unwrap();
                let logs = fit.density.iter().zip(&truth).map(|(a, b)| (a / b).ln());
                mean_ratio += logs.sum::<f64>() / truth.len() as f64 / 50.0;
            }
            assert!(mean_ratio.abs() < 0.06, "dof {dof}: mean log ratio {mean_ratio}");
        }
    }

    #[test]
    fn a_tall_peak_hardly_lifts_the_background_under_it() {
        let (frequency, truth, mut density) = scattered(9.5, 3);
        for (s, f) in density.iter_mut().zip(&frequency) {
            *s *= 1.0 + 30.0 / (1.0 + ((f - 2.2) / 0.15).powi(2));
        }
        let fit = fit_background(&frequency, &density, 9.5).unwrap();
        let at = frequency.iter().position(|&f| f > 2.2).unwrap();
        let lifted = fit.density[at] / truth[at];
        assert!(lifted < 2.0, "lifted {lifted}-fold under a 30-fold peak");
    }

    #[test]
    fn too_few_bins_or_no_power_is_an_error() {
        let (frequency, _, density) = scattered(9.5, 1);
        assert!(fit_background(&frequency[..11], &density[..11], 9.5).is_err());
        assert!(fit_background(&frequency, &vec![0.0; density.len()], 9.5).is_err());
    }
}
