//! A resonance on a background, seen through a Hann window: fitted for its frequency, damping and height.

use super::background::{BIN_CORRELATION, CutScore};
use std::f64::consts::PI;

/// A single bin more than this many times the model is taken for something else (another line).
const CUT: f64 = 4.0;
const ROUNDS: usize = 60;
/// Half-width under which a resonance cannot be told from a line, bins.
const LINE_BINS: f64 = 0.3;
/// Largest damping ratio tried; beyond about 0.7 there is no peak at all.
pub(crate) const DAMPING_MAX: f64 = 0.6;

/// Least damping ratio that differs from a line at `natural_hz`.
pub(crate) fn line_damping(bin_hz: f64, natural_hz: f64) -> f64 {
    (LINE_BINS * bin_hz / natural_hz).min(0.5 * DAMPING_MAX)
}

/// A fitted resonance; logarithms because their scatter is the more even.
#[derive(Clone, Copy, Debug)]
pub(super) struct Resonance {
    /// Power at the top over the background, before the window smears it.
    pub height: f64,
    /// Undamped natural frequency, Hz.
    pub natural_hz: f64,
    /// Damping ratio.
    pub damping: f64,
    /// Standard error of ln `natural_hz`.
    pub ln_frequency_se: f64,
    /// Standard error of ln `damping`; `None` when the peak is no wider than the window makes a line.
    pub ln_damping_se: Option<f64>,
}

impl Resonance {
    /// Frequency at which the response is largest: f₀√(1 − 2ζ²), Hz.
    pub fn peak_hz(&self) -> f64 {
        self.natural_hz * (1.0 - 2.0 * self.damping * self.damping).max(0.0).sqrt()
    }
}

/// Bins around a peak with their background.
pub(super) struct Surroundings<'a> {
    pub frequency_hz: &'a [f64],
    pub density: &'a [f64],
    pub background: &'a [f64],
    /// Background under the peak; the height is told in multiples of it.
    pub background_at_peak: f64,
    pub bin_hz: f64,
    pub dof: f64,
}

/// ln(height), ln(natural frequency), ln(damping).
type Parameters = [f64; 3];

impl Surroundings<'_> {
    /// S/B of the model: the background plus a damped oscillator's response to even excitation, h·B(peak)·L
    /// with L = (2ζ)²/((1 − r²)² + (2ζr)²), r = f/f₀, averaged over the window's lobe.
    ///
    /// Were the excitation as red as the background, L would stand on B(f) instead. Tried on both kinds of
    /// series, this form erred less on the other kind.
    pub fn model(&self, p: &Parameters) -> Vec<f64> {
        let (height, natural, damping) = (p[0].exp(), p[1].exp(), p[2].exp());
        let lobe = hann_lobe();
        let scale = 4.0 * damping * damping;
        let response = |f: f64| {
            let square = (f / natural) * (f / natural);
            scale / ((1.0 - square).powi(2) + scale * square)
        };
        let smeared = |f: &f64| lobe.iter().map(|(x, w)| w * response(f + x * self.bin_hz)).sum::<f64>();
        let top = height * self.background_at_peak;
        self.frequency_hz.iter().zip(self.background).map(|(f, b)| 1.0 + top * smeared(f) / b).collect()
    }

    fn ratios<'a>(&'a self, model: &'a [f64]) -> impl Iterator<Item = f64> + 'a {
        self.density.iter().zip(self.background).zip(model).map(|((s, b), m)| s / (b * m))
    }

    /// Gamma deviance (Whittle's likelihood) with ratios cut, for choosing where to start.
    fn deviance(&self, model: &[f64]) -> f64 {
        self.ratios(model).map(|r| r.clamp(1e-12, CUT)).map(|r| r - r.ln()).sum()
    }

    /// The best of a grid of dampings and of frequencies around `near_hz`.
    fn start(&self, near_hz: f64) -> Parameters {
        let least = line_damping(self.bin_hz, near_hz);
        let mut best = (f64::INFINITY, [0.0, near_hz.ln(), least.ln()]);
        for step in 0..10 {
            let damping = least * (DAMPING_MAX / least).powf(f64::from(step) / 10.0);
            for shift in -2..=2 {
                let natural = near_hz + f64::from(shift) * (0.4 * damping * near_hz).max(0.2 * self.bin_hz);
                let shape = self.model(&[0.0, natural.ln(), damping.ln()]);
                let excess = self.density.iter().zip(self.background).map(|(s, b)| s / b - 1.0);
                let (top, bottom) = excess.zip(&shape).fold((0.0, 0.0), |(top, bottom), (e, m)| {
                    (top + e * (m - 1.0), bottom + (m - 1.0) * (m - 1.0))
                });
                let parameters = [(top / bottom).max(0.1).ln(), natural.ln(), damping.ln()];
                let deviance = self.deviance(&self.model(&parameters));
                if deviance < best.0 {
                    best = (deviance, parameters);
                }
            }
        }
        best.1
    }

    /// Derivatives of ln(model) by each parameter, bin by bin.
    fn slopes(&self, p: &Parameters, model: &[f64]) -> Vec<[f64; 3]> {
        let step = 1e-4;
        let mut slopes = vec![[0.0; 3]; model.len()];
        for i in 0..3 {
            let mut moved = *p;
            moved[i] += step;
            for ((row, m), m0) in slopes.iter_mut().zip(self.model(&moved)).zip(model) {
                row[i] = (m / m0).ln() / step;
            }
        }
        slopes
    }

    /// Fits the resonance near `near_hz`; `None` when the fit does not settle on a peak.
    pub fn fit(&self, near_hz: f64) -> Option<Resonance> {
        let mut p = self.start(near_hz);
        let score = CutScore::new(self.dof, CUT);
        let mut inverse = [[0.0; 3]; 3];
        for _ in 0..ROUNDS {
            let model = self.model(&p);
            let slopes = self.slopes(&p, &model);
            let mut normal = [[0.0; 3]; 3];
            let mut right = [0.0; 3];
            for (row, r) in slopes.iter().zip(self.ratios(&model)) {
                let s = score.of(r);
                for i in 0..3 {
                    right[i] += row[i] * s;
                    for j in 0..3 {
                        normal[i][j] += row[i] * row[j];
                    }
                }
            }
            // A little ridge keeps the step finite where damping has no say (a line).
            for (i, row) in normal.iter_mut().enumerate() {
                row[i] += 1e-9 + 1e-6 * row[i];
            }
            inverse = invert(&normal)?;
            let limits = [0.7, 0.3 * p[2].exp() + 0.2 * self.bin_hz / p[1].exp(), 0.4];
            let mut longest = 0.0_f64;
            for i in 0..3 {
                let step: f64 = inverse[i].iter().zip(&right).map(|(a, b)| a * b).sum();
                let step = step.clamp(-limits[i], limits[i]);
                p[i] += step;
                longest = longest.max(step.abs());
            }
            let ends = self.frequency_hz.first().zip(self.frequency_hz.last());
            p[1] = ends.map_or(p[1], |(low, high)| p[1].clamp(low.ln(), high.ln()));
            p[2] = p[2].clamp(line_damping(self.bin_hz, p[1].exp()).ln(), DAMPING_MAX.ln());
            if longest < 1e-6 {
                break;
            }
        }
        self.finish(p, inverse)
    }

    fn finish(&self, p: Parameters, inverse: [[f64; 3]; 3]) -> Option<Resonance> {
        if !p.iter().all(|x| x.is_finite()) {
            return None;
        }
        // ln S has variance 2/ν a bin; neighbouring bins repeat each other under the window.
        let per_bin = 2.0 / self.dof * BIN_CORRELATION;
        let se = |i: usize| (inverse[i][i] * per_bin).sqrt();
        let natural_hz = p[1].exp();
        // Unresolved unless even the lower end of the damping's interval is wider than a line.
        let resolved = p[2] - 1.96 * se(2) > line_damping(self.bin_hz, natural_hz).ln();
        Some(Resonance {
            height: p[0].exp(),
            natural_hz,
            damping: p[2].exp(),
            ln_frequency_se: se(1),
            ln_damping_se: resolved.then(|| se(2)),
        })
    }
}

/// Power of the Hann window's lobe at quarter bins from −2 to 2, scaled to sum to 1.
fn hann_lobe() -> [(f64, f64); 15] {
    let mut lobe = [(0.0, 0.0); 15];
    for (i, slot) in lobe.iter_mut().enumerate() {
        let x = (i as f64 - 7.0) / 4.0;
        let amplitude = match x.abs() {
            0.0 => 1.0,
            1.0 => 0.5,
            _ => (PI * x).sin() / (PI * x) / (1.0 - x * x),
        };
        *slot = (x, amplitude * amplitude);
    }
    let total: f64 = lobe.iter().map(|(_, w)| w).sum();
    lobe.map(|(x, w)| (x, w / total))
}

/// Inverse of a symmetric 3 × 3 matrix by cofactors; `None` when it is singular.
fn invert(m: &[[f64; 3]; 3]) -> Option<[[f64; 3]; 3]> {
    let cofactor = |i: usize, j: usize| {
        let (r0, r1, c0, c1) = ((i + 1) % 3, (i + 2) % 3, (j + 1) % 3, (j + 2) % 3);
        m[r0][c0] * m[r1][c1] - m[r0][c1] * m[r1][c0]
    };
    let determinant: f64 = (0..3).map(|j| m[0][j] * cofactor(0, j)).sum();
    let usable = determinant.is_finite() && determinant != 0.0;
    usable.then(|| std::array::from_fn(|i| std::array::from_fn(|j| cofactor(j, i) / determinant)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_inverse_times_its_matrix_is_one() {
        let m = [[4.0, 1.0, 0.5], [1.0, 3.0, -0.2], [0.5, -0.2, 2.0]];
        let inverse = invert(&m).unwrap();
        for (i, row) in m.iter().enumerate() {
            for j in 0..3 {
                let product: f64 = row.iter().zip(&inverse).map(|(a, other)| a * other[j]).sum();
                assert!((product - f64::from(u8::from(i == j))).abs() < 1e-12);
            }
        }
        assert_eq!(invert(&[[0.0; 3]; 3]), None);
    }

    #[test]
    fn a_spectrum_without_scatter_gives_its_own_resonance_back() {
        let frequency: Vec<f64> = (10..120).map(|k| f64::from(k) * 0.05).collect();
        let background = vec![2.0; frequency.len()];
        let truth = [30.0_f64.ln(), 2.1_f64.ln(), 0.08_f64.ln()];
        let blank = Surroundings {
            frequency_hz: &frequency,
            density: &[],
            background: &background,
            background_at_peak: 2.0,
            bin_hz: 0.05,
            dof: 400.0,
        };
        let density: Vec<f64> = blank.model(&truth).iter().map(|m| 2.0 * m).collect();
        let found = Surroundings { density: &density, ..blank }.fit(2.2).unwrap();
        assert!((found.natural_hz - 2.1).abs() < 2e-3, "{found:?}");
        assert!(
            (found.damping / 0.08 - 1.0).abs() < 0.05 && (found.height / 30.0 - 1.0).abs() < 0.05,
            "{found:?}"
        );
    }
}
