//! The model spectrum: a smooth background and damped modes, as a Hann window shows them.

use std::f64::consts::{LN_2, PI, TAU};

/// Parameters of one mode: ln of its power, of its natural frequency and of its damping ratio, the slope of its
/// excitation, and the two parts of what land that passes under two wheels does.
pub(super) const OF_A_MODE: usize = 6;
/// Distance between knots of the background, ln of frequency; between them ln B is a straight line in ln f.
const KNOT_SPACING: f64 = 0.9 * LN_2;
/// Standard deviation of a background's bend at a knot: a tenfold bend within an octave is 2.3.
const BEND_SD: f64 = 0.7;
/// Standard deviation of the exponent of the excitation over frequency about 0: even, as 1/f² and as f² are all
/// within two of it.
const SLOPE_SD: f64 = 1.5;
/// Standard deviation of each part of the interference of two wheels; at 0.7 peaks of the excitation are four
/// times its dips.
const COMB_SD: f64 = 0.5;
/// Where nothing is known of the delay the parts are held at 0.
const HELD_SD: f64 = 1e-3;
/// ln of the damping ratio: middle 0.1, standard deviation a factor of 3.3.
const LN_DAMPING: (f64, f64) = (-std::f64::consts::LN_10, 1.2);

/// Where the model stands.
pub(super) struct Frame<'a> {
    pub frequency_hz: &'a [f64],
    pub density: &'a [f64],
    /// Bins that count; the others hold a line (a wheel's turn).
    pub used: &'a [bool],
    pub bin_hz: f64,
    /// Γ shape of a bin: half of the degrees of freedom over the correlation of neighbours.
    pub shape: f64,
    /// Time from the front wheels to the tail wheel, s, where it is known.
    pub delay_s: Option<f64>,
    /// ln f of each knot.
    knots: Vec<f64>,
}

impl<'a> Frame<'a> {
    pub fn new(
        (frequency_hz, density, used): (&'a [f64], &'a [f64], &'a [bool]),
        bin_hz: f64,
        shape: f64,
        delay_s: Option<f64>,
    ) -> Option<Self> {
        let (low, high) = (frequency_hz.first()?.ln(), frequency_hz.last()?.ln());
        let steps = ((high - low) / KNOT_SPACING).ceil().max(1.0);
        let knots = (0..=steps as usize).map(|i| low + (high - low) * i as f64 / steps).collect();
        Some(Self { frequency_hz, density, used, bin_hz, shape, delay_s, knots })
    }

    pub fn knots(&self) -> &[f64] {
        &self.knots
    }

    /// Knot below `ln_f`, and the part of the way to the next.
    fn between(&self, ln_f: f64) -> (usize, f64) {
        let low = self.knots.first().copied().unwrap_or(0.0);
        let high = self.knots.last().copied().unwrap_or(1.0);
        let steps = (self.knots.len() - 1) as f64;
        let place = ((ln_f - low) / (high - low) * steps).clamp(0.0, steps);
        let below = (place as usize).min(self.knots.len().saturating_sub(2));
        (below, place - below as f64)
    }

    /// Density of a mode in each bin. With r = f/f₀ it is H r^q e^(g cos ωτ + h sin ωτ) L(r), where
    /// L = (2ζ)²/((1 − r²)² + (2ζr)²) is the response of a damped oscillator over that at its natural frequency
    /// and P = π ζ f₀ H the power under H·L, the whole of it (∫L df = π ζ f₀).
    pub fn mode(&self, p: &[f64]) -> Vec<f64> {
        let [power, natural, damping, slope, even, odd] = p else { return Vec::new() };
        let (natural_hz, damping) = (natural.exp(), damping.exp());
        let height = power.exp() / (PI * damping * natural_hz);
        let scale = 4.0 * damping * damping;
        let density = |f: f64| {
            let r = f / natural_hz;
            let oscillator = scale / ((1.0 - r * r).powi(2) + scale * r * r);
            let mut excited = slope * r.max(1e-3).ln();
            if let Some(delay_s) = self.delay_s {
                let angle = TAU * f * delay_s;
                excited += even * angle.cos() + odd * angle.sin();
            }
            height * excited.clamp(-20.0, 20.0).exp() * oscillator
        };
        // The lobe is followed finely only near a peak that is narrow for it; far from one it changes nothing.
        let narrow = damping * natural_hz < 3.0 * self.bin_hz;
        let near_hz = 10.0 * self.bin_hz;
        let smeared = |f: &f64| {
            let lobe: &[(f64, f64)] = match (narrow, (f - natural_hz).abs() < near_hz) {
                (true, true) => &FINE_LOBE,
                (false, true) => &BROAD_LOBE,
                (_, false) => return density(*f),
            };
            lobe.iter().map(|(x, w)| w * density(f + x * self.bin_hz)).sum()
        };
        self.frequency_hz.iter().map(smeared).collect()
    }

    fn background(&self, p: &[f64]) -> Vec<f64> {
        let at = |f: &f64| {
            let (below, part) = self.between(f.ln());
            let (a, b) = (p.get(below), p.get(below + 1));
            a.zip(b).map_or(0.0, |(a, b)| (a * (1.0 - part) + b * part).exp())
        };
        self.frequency_hz.iter().map(at).collect()
    }

    /// The whole model, bin by bin.
    pub fn whole(&self, p: &[f64]) -> Vec<f64> {
        let (background, modes) = p.split_at(self.knots.len());
        let mut whole = self.background(background);
        for mode in modes.chunks(OF_A_MODE) {
            whole.iter_mut().zip(self.mode(mode)).for_each(|(sum, m)| *sum += m);
        }
        whole
    }

    /// Derivatives of ln(model) by each parameter, one list of bins a parameter.
    pub fn slopes(&self, p: &[f64], whole: &[f64]) -> Vec<Vec<f64>> {
        let (knots, modes) = p.split_at(self.knots.len());
        let background = self.background(knots);
        let mut slopes = vec![vec![0.0; whole.len()]; self.knots.len()];
        for (bin, (f, (b, m))) in self.frequency_hz.iter().zip(background.iter().zip(whole)).enumerate() {
            let (below, part) = self.between(f.ln());
            for (knot, weight) in [(below, 1.0 - part), (below + 1, part)] {
                if let Some(slot) = slopes.get_mut(knot).and_then(|list| list.get_mut(bin)) {
                    *slot = weight * b / m;
                }
            }
        }
        let step = 1e-4;
        for mode in modes.chunks(OF_A_MODE) {
            let still = self.mode(mode);
            let natural_hz = mode.get(1).copied().unwrap_or(0.0).exp();
            let delay_s = self.delay_s.unwrap_or(0.0);
            for i in 0..OF_A_MODE {
                let factor = |f: &f64| match i {
                    0 => 1.0,
                    3 => (f / natural_hz).max(1e-3).ln(),
                    4 => (TAU * f * delay_s).cos(),
                    _ => (TAU * f * delay_s).sin(),
                };
                let rows = still.iter().zip(whole);
                slopes.push(if i == 1 || i == 2 {
                    let mut moved = mode.to_vec();
                    moved.iter_mut().skip(i).take(1).for_each(|slot| *slot += step);
                    self.mode(&moved).iter().zip(rows).map(|(a, (b, m))| (a - b) / step / m).collect()
                } else {
                    self.frequency_hz.iter().zip(rows).map(|(f, (a, m))| factor(f) * a / m).collect()
                });
            }
        }
        slopes
    }

    /// Minus the logarithm of Whittle's likelihood and of what is assumed of parameters.
    pub fn objective(&self, p: &[f64], whole: &[f64]) -> f64 {
        let rows = self.density.iter().zip(whole).zip(self.used).filter(|(_, used)| **used);
        let misfit: f64 = rows.map(|((s, m), _)| s / m + m.ln()).sum();
        let bends = p.get(..self.knots.len()).unwrap_or(&[]).windows(3);
        let bent: f64 = bends.map(|w| ((w[0] - 2.0 * w[1] + w[2]) / BEND_SD).powi(2)).sum();
        let of_modes = p.iter().skip(self.knots.len()).enumerate();
        let assumed: f64 = of_modes
            .filter_map(|(i, x)| self.assumed(i).map(|(middle, sd)| ((x - middle) / sd).powi(2)))
            .sum();
        self.shape * misfit + 0.5 * (bent + assumed)
    }

    /// Middle and standard deviation of what is assumed of a mode's parameter.
    fn assumed(&self, of_mode: usize) -> Option<(f64, f64)> {
        match of_mode % OF_A_MODE {
            2 => Some(LN_DAMPING),
            3 => Some((0.0, SLOPE_SD)),
            4 | 5 => Some((0.0, if self.delay_s.is_some() { COMB_SD } else { HELD_SD })),
            _ => None,
        }
    }

    /// Adds the curvature of what is assumed to `matrix`, and its pull to `right`.
    pub fn add_assumed(&self, p: &[f64], matrix: &mut [Vec<f64>], right: &mut [f64]) {
        let weight = 1.0 / (BEND_SD * BEND_SD);
        for first in 0..self.knots.len().saturating_sub(2) {
            let pattern = [1.0, -2.0, 1.0];
            let bend: f64 = pattern.iter().zip(&p[first..]).map(|(c, x)| c * x).sum();
            for (i, a) in pattern.iter().enumerate() {
                right[first + i] -= weight * a * bend;
                for (j, b) in pattern.iter().enumerate() {
                    matrix[first + i][first + j] += weight * a * b;
                }
            }
        }
        for i in self.knots.len()..p.len() {
            if let Some((middle, sd)) = self.assumed(i - self.knots.len()) {
                matrix[i][i] += 1.0 / (sd * sd);
                right[i] -= (p[i] - middle) / (sd * sd);
            }
        }
    }
}

/// Lobe of the periodic Hann window over a spectrum that is smooth over bins: its power at −1, 0 and 1 bin
/// (Harris 1978, Proc. IEEE 66, 51–83).
const BROAD_LOBE: [(f64, f64); 3] = [(-1.0, 1.0 / 6.0), (0.0, 2.0 / 3.0), (1.0, 1.0 / 6.0)];
/// The same at quarters of a bin.
const FINE_LOBE: [(f64, f64); 15] = fine_lobe();

const fn fine_lobe() -> [(f64, f64); 15] {
    // |sinc(x)/(1 − x²)|² at 0, ¼, …, 1¾ bins.
    let half = [1.0, 0.922_248, 0.720_506, 0.470_535, 0.25, 0.102_472, 0.028_820, 0.003_889];
    let mut total = half[0];
    let mut i = 1;
    while i < 8 {
        total += 2.0 * half[i];
        i += 1;
    }
    let mut lobe = [(0.0, 0.0); 15];
    let mut i = 0;
    while i < 15 {
        let x = i as f64 - 7.0;
        let away = usize::abs_diff(i, 7);
        lobe[i] = (x / 4.0, half[away] / total);
        i += 1;
    }
    lobe
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_stored_lobe_is_that_of_the_window() {
        let total: f64 = FINE_LOBE.iter().map(|(_, w)| w).sum();
        assert!((total - 1.0).abs() < 1e-12);
        for (x, w) in FINE_LOBE {
            let amplitude = match x.abs() {
                0.0 => 1.0,
                1.0 => 0.5,
                _ => (PI * x).sin() / (PI * x) / (1.0 - x * x),
            };
            assert!((w / FINE_LOBE[7].1 - amplitude * amplitude).abs() < 1e-5, "{x}: {}", w / FINE_LOBE[7].1);
        }
    }

    #[test]
    fn the_power_of_a_mode_is_its_integral() {
        let frequency: Vec<f64> = (1..8000).map(|i| f64::from(i) * 0.01).collect();
        let used = vec![true; frequency.len()];
        let frame = Frame::new((&frequency, &frequency, &used), 0.01, 1.0, None).unwrap();
        let mode = frame.mode(&[5.0_f64.ln(), 2.0_f64.ln(), 0.1_f64.ln(), 0.0, 0.0, 0.0]);
        let power = mode.iter().sum::<f64>() * 0.01;
        assert!((power / 5.0 - 1.0).abs() < 2e-3, "{power}");
    }
}
