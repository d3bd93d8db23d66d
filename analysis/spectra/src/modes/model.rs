//! The model spectrum: a smooth background and damped modes that one excitation drives, as a Hann window shows them; and
//! the bins that it is fitted to.

use std::f64::consts::{LN_2, PI, TAU};

/// What the modes are fitted to: bins of a Welch spectrum, and what the search for peaks made of them.
#[derive(Clone, Copy, Debug)]
pub struct Bins<'a> {
    /// Frequency of each bin, Hz, rising.
    pub frequency_hz: &'a [f64],
    /// Density, unit²/Hz.
    pub density: &'a [f64],
    /// Background, to start from, unit²/Hz.
    pub background: &'a [f64],
    /// Whether a bin counts; those at a line (a wheel's turn) do not.
    pub used: &'a [bool],
    /// Distance between bins, Hz.
    pub bin_hz: f64,
    /// Equivalent χ² degrees of freedom of a bin.
    pub dof: f64,
    /// Time from the front wheels to the tail wheel.
    pub delay: Delay,
}

/// What is known of the time from the front wheels to the tail wheel.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Delay {
    /// Nothing: one of the wheels is missing.
    Unknown,
    /// s, where speed and wheelbase are known.
    Known(f64),
    /// Shortest and longest, s, where the wheelbase is known and the speed is not.
    Within(f64, f64),
}

/// Parameters of one mode: ln of its power, of its natural frequency and of its damping ratio.
pub(super) const OF_A_MODE: usize = 3;
/// Parameters of the interference of two wheels, where the delay between them is known: its two parts in the middle of
/// the band, and how each changes with ln of frequency.
pub(super) const OF_INTERFERENCE: usize = 4;
/// Distance between knots of the background, ln of frequency; between them ln B is a straight line in ln f.
const KNOT_SPACING: f64 = 0.9 * LN_2;
/// The same of the excitation.
const EXCITATION_SPACING: f64 = 0.5 * LN_2;
/// Standard deviation of a bend at a knot, of background and of excitation: a tenfold bend within an octave is 2.3.
const BEND_SD: f64 = 0.7;
/// Standard deviation of the exponent of the excitation over frequency about 0: even, as 1/f² and as f² are all
/// within two of it.
const SLOPE_SD: f64 = 1.5;
/// The excitation's mean level is held at 1 (the powers of the modes say the rest) within this, ln.
const LEVEL_SD: f64 = 0.05;
/// Standard deviation of each part of the interference in the middle of the band, and of its change with ln of
/// frequency: wide, as land alone may leave next to nothing in its dips.
const INTERFERENCE_SD: f64 = 2.0;
const INTERFERENCE_SLOPE_SD: f64 = 4.0;
/// The interference never takes more than this share of the excitation away.
const DEEPEST: f64 = 0.995;
/// ln of the damping ratio: middle 0.1, standard deviation a factor of 3.3.
const LN_DAMPING: (f64, f64) = (-std::f64::consts::LN_10, 1.2);
/// Step of differences.
const STEP: f64 = 1e-4;

/// Straight lines between knots that lie evenly in ln f.
struct Lines {
    knots: Vec<f64>,
    /// For each bin the knot below it, and the part of the way to the next.
    places: Vec<(usize, f64)>,
}

impl Lines {
    fn new(ln_f: &[f64], spacing: f64, least: f64) -> Option<Self> {
        let (low, high) = (*ln_f.first()?, *ln_f.last()?);
        let steps = ((high - low) / spacing).ceil().max(least);
        let knots = (0..=steps as usize).map(|i| low + (high - low) * i as f64 / steps).collect();
        let place = |x: &f64| {
            let place = ((x - low) / (high - low) * steps).clamp(0.0, steps);
            let below = (place as usize).min(steps as usize - 1);
            (below, place - below as f64)
        };
        Some(Self { knots, places: ln_f.iter().map(place).collect() })
    }

    fn at(&self, p: &[f64]) -> Vec<f64> {
        let value = |(below, part): &(usize, f64)| {
            let ends = p.get(*below).zip(p.get(below + 1));
            ends.map_or(0.0, |(a, b)| a * (1.0 - part) + b * part)
        };
        self.places.iter().map(value).collect()
    }
}

/// Takes a sum of parameters that something is assumed of: places and factors, its value, its standard deviation.
type Assumed<'a> = dyn FnMut(&[(usize, f64)], f64, f64) + 'a;

/// Where the model stands.
pub(super) struct Frame<'a> {
    pub frequency_hz: &'a [f64],
    pub density: &'a [f64],
    /// Bins that count; the others hold a line (a wheel's turn).
    pub used: &'a [bool],
    pub bin_hz: f64,
    /// Γ shape of a bin: half of the degrees of freedom over the correlation of neighbours.
    pub shape: f64,
    background: Lines,
    excitation: Lines,
    /// Cosine and sine of ωτ and ln f less its middle, in each bin, where the delay τ is known.
    interference: Vec<[f64; 3]>,
}

impl<'a> Frame<'a> {
    /// With the interference of two wheels where the delay between them is given.
    pub fn new(bins: &Bins<'a>, shape: f64, delay_s: Option<f64>) -> Option<Self> {
        let Bins { frequency_hz, density, used, bin_hz, .. } = *bins;
        let ln_f: Vec<f64> = frequency_hz.iter().map(|f| f.ln()).collect();
        let middle = 0.5 * (ln_f.first()? + ln_f.last()?);
        let waves = |delay_s: f64| {
            let rows = frequency_hz.iter().zip(&ln_f);
            rows.map(|(f, ln_f)| {
                let (sin, cos) = (TAU * f * delay_s).sin_cos();
                [cos, sin, ln_f - middle]
            })
            .collect()
        };
        Some(Self {
            frequency_hz,
            density,
            used,
            bin_hz,
            shape,
            background: Lines::new(&ln_f, KNOT_SPACING, 1.0)?,
            excitation: Lines::new(&ln_f, EXCITATION_SPACING, 2.0)?,
            interference: delay_s.map_or(Vec::new(), waves),
        })
    }

    /// ln f of each knot of the background, whose levels are the first parameters.
    pub fn knots(&self) -> &[f64] {
        &self.background.knots
    }

    /// How many parameters there are before those of the modes.
    pub fn before_modes(&self) -> usize {
        self.first_of_interference() + if self.interference.is_empty() { 0 } else { OF_INTERFERENCE }
    }

    fn first_of_interference(&self) -> usize {
        self.knots().len() + self.excitation.knots.len()
    }

    /// What the parameters of excitation and interference start from: even, with a little of either part, as at none
    /// of it the direction is not known.
    pub fn even_excitation(&self) -> Vec<f64> {
        let mut p = vec![0.0; self.excitation.knots.len()];
        p.resize(self.before_modes() - self.knots().len(), 0.1);
        p
    }

    /// Density of a mode under even excitation in each bin: with r = f/f₀ it is H L(r), where
    /// L = (2ζ)²/((1 − r²)² + (2ζr)²) is the response of a damped oscillator over that at its natural frequency
    /// and P = π ζ f₀ H the power under it, the whole of it (∫L df = π ζ f₀).
    fn mode(&self, p: &[f64]) -> Vec<f64> {
        let [power, natural, damping] = p else { return Vec::new() };
        let (natural_hz, damping) = (natural.exp(), damping.exp());
        let height = power.exp() / (PI * damping * natural_hz);
        let scale = 4.0 * damping * damping;
        let density = |f: f64| {
            let r = f / natural_hz;
            height * scale / ((1.0 - r * r).powi(2) + scale * r * r)
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

    /// What land that passes under two wheels makes of the excitation: 1 + ρ cos(ωτ − φ), where ρ ≤ 1 and φ change
    /// slowly with frequency. With one denominator Δ(f) of all modes the load's response to such land is
    /// (n(f) + m(f) e^(−iωτ))/Δ(f), and n and m are polynomials: their interference does not turn at a resonance.
    fn interference(&self, p: &[f64]) -> Vec<f64> {
        let [x0, x1, y0, y1] = p else { return vec![1.0; self.frequency_hz.len()] };
        let factor = |[cos, sin, ln_f]: &[f64; 3]| {
            let (x, y) = (x0 + x1 * ln_f, y0 + y1 * ln_f);
            let size = x.hypot(y).max(1e-9);
            1.0 + DEEPEST * size.tanh() / size * (x * cos + y * sin)
        };
        self.interference.iter().map(factor).collect()
    }

    fn excitation(&self, p: &[f64]) -> Vec<f64> {
        let smooth = p.get(self.knots().len()..self.first_of_interference()).unwrap_or(&[]);
        let both = p.get(self.first_of_interference()..self.before_modes()).unwrap_or(&[]);
        let rows = self.excitation.at(smooth).into_iter().zip(self.interference(both));
        rows.map(|(ln, factor)| ln.clamp(-20.0, 20.0).exp() * factor).collect()
    }

    pub fn background_at(&self, p: &[f64]) -> Vec<f64> {
        self.background.at(p).into_iter().map(f64::exp).collect()
    }

    /// Density of one mode of `p`, by the place of its first parameter.
    pub fn mode_at(&self, p: &[f64], first: usize) -> Vec<f64> {
        let mut mode = p.get(first..first + OF_A_MODE).map_or(Vec::new(), |mode| self.mode(mode));
        mode.iter_mut().zip(self.excitation(p)).for_each(|(m, e)| *m *= e);
        mode
    }

    /// The whole model, bin by bin.
    pub fn whole(&self, p: &[f64]) -> Vec<f64> {
        let mut whole = vec![0.0; self.frequency_hz.len()];
        for mode in p.get(self.before_modes()..).unwrap_or(&[]).chunks(OF_A_MODE) {
            whole.iter_mut().zip(self.mode(mode)).for_each(|(sum, m)| *sum += m);
        }
        let rows = whole.iter_mut().zip(self.excitation(p)).zip(self.background.at(p));
        rows.for_each(|((sum, e), b)| *sum = *sum * e + b.exp());
        whole
    }

    /// Derivatives of ln(model) by each parameter, one list of bins a parameter.
    pub fn slopes(&self, p: &[f64], whole: &[f64]) -> Vec<Vec<f64>> {
        let background = self.background_at(p);
        let excitation = self.excitation(p);
        let driven: Vec<f64> = whole.iter().zip(&background).map(|(m, b)| m - b).collect();
        let mut slopes = Vec::with_capacity(p.len());
        for (lines, part) in [(&self.background, &background), (&self.excitation, &driven)] {
            let first = slopes.len();
            slopes.resize(first + lines.knots.len(), vec![0.0; whole.len()]);
            for (bin, ((below, way), (b, m))) in lines.places.iter().zip(part.iter().zip(whole)).enumerate() {
                for (knot, weight) in [(*below, 1.0 - way), (below + 1, *way)] {
                    if let Some(slot) = slopes.get_mut(first + knot).and_then(|list| list.get_mut(bin)) {
                        *slot = weight * b / m;
                    }
                }
            }
        }
        let both = p.get(self.first_of_interference()..self.before_modes()).unwrap_or(&[]);
        let still = self.interference(both);
        for i in 0..both.len() {
            let mut moved = both.to_vec();
            moved.iter_mut().skip(i).take(1).for_each(|slot| *slot += STEP);
            let rows = self.interference(&moved).into_iter().zip(&still).zip(driven.iter().zip(whole));
            slopes.push(rows.map(|((a, b), (d, m))| (a / b - 1.0) / STEP * d / m).collect());
        }
        for mode in p.get(self.before_modes()..).unwrap_or(&[]).chunks(OF_A_MODE) {
            let still = self.mode(mode);
            let rows = || excitation.iter().zip(whole).map(|(e, m)| e / m);
            slopes.push(still.iter().zip(rows()).map(|(a, share)| a * share).collect());
            for i in 1..OF_A_MODE {
                let mut moved = mode.to_vec();
                moved.iter_mut().skip(i).take(1).for_each(|slot| *slot += STEP);
                let pairs = self.mode(&moved).into_iter().zip(&still).zip(rows());
                slopes.push(pairs.map(|((a, b), share)| (a - b) / STEP * share).collect());
            }
        }
        slopes
    }

    /// Minus the logarithm of Whittle's likelihood and of what is assumed of parameters.
    pub fn objective(&self, p: &[f64], whole: &[f64]) -> f64 {
        let rows = self.density.iter().zip(whole).zip(self.used).filter(|(_, used)| **used);
        let misfit: f64 = rows.map(|((s, m), _)| s / m + m.ln()).sum();
        let mut assumed = 0.0;
        self.each_assumed(p, &mut |terms, off, sd| {
            let sum: f64 = terms.iter().map(|(i, c)| c * p.get(*i).copied().unwrap_or(0.0)).sum();
            assumed += ((sum - off) / sd).powi(2);
        });
        self.shape * misfit + 0.5 * assumed
    }

    /// Shows `take` what is assumed of parameters: a sum of some of them, each by its place and its factor, is about
    /// a value within a standard deviation.
    fn each_assumed(&self, p: &[f64], take: &mut Assumed<'_>) {
        let (knots, steps) = (self.knots().len(), self.excitation.knots.len());
        for (first, count) in [(0, knots), (knots, steps)] {
            for i in first..(first + count).saturating_sub(2) {
                take(&[(i, 1.0), (i + 1, -2.0), (i + 2, 1.0)], 0.0, BEND_SD);
            }
        }
        let level: Vec<(usize, f64)> = (knots..knots + steps).map(|i| (i, 1.0 / steps as f64)).collect();
        take(&level, 0.0, LEVEL_SD);
        let ends = self.excitation.knots.first().zip(self.excitation.knots.last());
        let octaves = ends.map_or(1.0, |(low, high)| high - low);
        take(&[(knots, -1.0 / octaves), (knots + steps - 1, 1.0 / octaves)], 0.0, SLOPE_SD);
        let sds = [INTERFERENCE_SD, INTERFERENCE_SLOPE_SD, INTERFERENCE_SD, INTERFERENCE_SLOPE_SD];
        for (i, sd) in (self.first_of_interference()..self.before_modes()).zip(sds) {
            take(&[(i, 1.0)], 0.0, sd);
        }
        for mode in (self.before_modes()..p.len()).step_by(OF_A_MODE) {
            take(&[(mode + 2, 1.0)], LN_DAMPING.0, LN_DAMPING.1);
        }
    }

    /// Adds the curvature of what is assumed to `matrix`, and its pull to `right`.
    pub fn add_assumed(&self, p: &[f64], matrix: &mut [Vec<f64>], right: &mut [f64]) {
        self.each_assumed(p, &mut |terms, off, sd| {
            let weight = 1.0 / (sd * sd);
            let sum: f64 = terms.iter().map(|(i, c)| c * p[*i]).sum();
            for (i, a) in terms {
                right[*i] -= weight * a * (sum - off);
                for (j, b) in terms {
                    matrix[*i][*j] += weight * a * b;
                }
            }
        });
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
        let bins = Bins {
            frequency_hz: &frequency,
            density: &frequency,
            background: &frequency,
            used: &used,
            bin_hz: 0.01,
            dof: 2.0,
            delay: Delay::Unknown,
        };
        let frame = Frame::new(&bins, 1.0, None).unwrap();
        let mode = frame.mode(&[5.0_f64.ln(), 2.0_f64.ln(), 0.1_f64.ln()]);
        let power = mode.iter().sum::<f64>() * 0.01;
        assert!((power / 5.0 - 1.0).abs() < 2e-3, "{power}");
    }
}
