//! Narrow-band peaks of a spectrum, and which of them is bobbing rather than a wheel's turn.

use super::SpectrumError;
use super::background::{BIN_CORRELATION, Background, fit_background};
use super::resonance::{Resonance, Surroundings};
use super::welch::PowerSpectrum;
use statrs::distribution::{ContinuousCDF, FisherSnedecor};
use stats::Estimate;
use stats::student::Z_975;
use std::f64::consts::PI;

/// Chance of any peak at all, over all bins searched, in a channel that has none.
pub const FALSE_ALARM: f64 = 0.01;
/// A peak must at least double the background: below that it has no half-power points, and in hours of data
/// any departure of the true background from the fitted one would count as a peak.
pub const LEAST_RATIO: f64 = 2.0;
/// Above this damping ratio a hump is too broad to be called an oscillation.
pub const BROADEST_DAMPING: f64 = 0.35;
/// Bins beside zero frequency that are left out: the window smears the mean and slow drift into them.
const FIRST_BIN: usize = 4;
/// More peaks than this are not looked for.
const MOST_PEAKS: usize = 4;
/// A peak's band reaches this many half-power half-widths to both sides; no second peak is looked for in it.
const BAND_HALF_WIDTHS: f64 = 3.0;
/// A peak is fitted within this many of its half-power half-widths, where its shape hardly depends on what
/// excites it.
const WINDOW_HALF_WIDTHS: f64 = 4.0;
/// Peak and background are fitted in turn this often: after it neither moves by a tenth of its standard
/// error.
const REFITS: usize = 4;

/// Frequencies in which peaks are looked for, ends included, Hz.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SearchBand {
    /// Lower end, Hz.
    pub low_hz: f64,
    /// Upper end, Hz.
    pub high_hz: f64,
}

impl SearchBand {
    /// From the fourth bin to 15 Hz, or 0.45 of the rate if that is less: a plow bobs at 1 to 4 Hz (common
    /// practice, no source), and the rest of the band is what the background is known from.
    pub fn usual(spectrum: &PowerSpectrum) -> Self {
        let half_rate = spectrum.frequency_hz.last().copied().unwrap_or(0.0);
        Self { low_hz: FIRST_BIN as f64 * spectrum.bin_hz, high_hz: (0.9 * half_rate).min(15.0) }
    }
}

/// A narrow-band peak.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Peak {
    /// Frequency at which the power above the background is largest, Hz.
    pub frequency_hz: Estimate,
    /// Density over background in the bin that stands out most.
    pub ratio: f64,
    /// Chance of such a ratio in any of the bins searched, if there were no peak.
    pub probability: f64,
    /// Damping ratio ζ = half-power bandwidth / (2·frequency), freed of the window's width; `None` when the
    /// peak is no wider than the window makes a line.
    pub damping_ratio: Option<Estimate>,
    /// RMS of the oscillation: root of the power above the background within [`Peak::band_hz`], unit of the
    /// channel.
    pub rms: Estimate,
    /// Band the RMS is taken over, Hz: the top ± three half-power half-widths, at least ± two bins.
    pub band_hz: (f64, f64),
    /// Effective noise bandwidth of the spectrum, Hz: closer than that, two frequencies are one.
    pub resolution_hz: f64,
}

/// What a search for peaks found.
#[derive(Clone, Debug, PartialEq)]
pub struct PeakSearch {
    /// Frequency of each bin searched, Hz.
    pub frequency_hz: Vec<f64>,
    /// Background in each of them, unit²/Hz.
    pub background: Vec<f64>,
    /// Peaks, the most outstanding first; empty when nothing exceeds the false-alarm level. The level is that
    /// of the first peak: what the fit of a strong peak leaves on its shoulders shows as a second one in up
    /// to a tenth of runs, so a further peak is worth naming (a wheel's turn), not worth a verdict.
    pub peaks: Vec<Peak>,
}

/// Looks for narrow-band peaks of `spectrum` within `band`.
///
/// A bin counts as a peak when its density over the fitted background is larger than chance gives in all bins
/// together with probability [`FALSE_ALARM`] (F law with the degrees of freedom of the bin and of the
/// background, Šidák's correction over the bins, which is cautious because neighbours repeat each other). A
/// damped resonance is then fitted to the octaves on both sides by Whittle's likelihood; it gives frequency,
/// damping and their intervals. That replaces reading the top by a parabola through three bins: a resonance
/// covers many bins of unequal luck, and its highest bin is a poor guide to its middle. Peaks under twice the
/// background, or broader than ζ = 0.35, are not peaks.
///
/// # Errors
/// [`SpectrumError::TooFewBins`] when the band has too few bins for a background.
pub fn find_peaks(spectrum: &PowerSpectrum, band: SearchBand) -> Result<PeakSearch, SpectrumError> {
    let within = |f: f64| f >= band.low_hz - 1e-9 && f <= band.high_hz + 1e-9;
    let all = spectrum.frequency_hz.iter().zip(&spectrum.density);
    let (frequency_hz, density): (Vec<f64>, Vec<f64>) = all.filter(|(f, _)| within(**f)).unzip();
    let mut background = fit_background(&frequency_hz, &density, spectrum.dof)?;
    let whole = spectrum.density.iter().copied().fold(0.0, f64::max);
    let mut peaks = Vec::new();
    // A constant channel leaves rounding noise, 24 decades and more under its smeared mean: no peaks in that.
    if density.iter().copied().fold(0.0, f64::max) > 1e-24 * whole {
        let searched = Searched { frequency_hz: &frequency_hz, density: &density, spectrum };
        peaks = searched.peaks(&mut background)?;
    }
    peaks.sort_by(|a: &Peak, b: &Peak| b.ratio.total_cmp(&a.ratio));
    Ok(PeakSearch { frequency_hz, background: background.density, peaks })
}

/// The bins searched.
struct Searched<'a> {
    frequency_hz: &'a [f64],
    density: &'a [f64],
    spectrum: &'a PowerSpectrum,
}

impl Searched<'_> {
    /// Takes one peak after the other, each against the background with the peaks before it.
    fn peaks(&self, background: &mut Background) -> Result<Vec<Peak>, SpectrumError> {
        let mut peaks = Vec::new();
        let mut lifted = vec![1.0; self.density.len()];
        let mut closed = vec![false; self.density.len()];
        for _ in 0..MOST_PEAKS {
            let Some((bin, ratio, probability)) = self.outstanding(background, &lifted, &closed) else {
                break;
            };
            let Some(top_hz) = self.frequency_hz.get(bin).copied() else { break };
            // Fit, lower the spectrum by the peak, fit the background anew without it, fit the peak again.
            let mut fitted = None;
            let mut reach_hz = top_hz;
            for _ in 0..REFITS {
                fitted = self.fit_at(bin, reach_hz, background, &lifted);
                let Some((resonance, model)) = &fitted else { break };
                if !self.is_peak(resonance, &closed) {
                    break;
                }
                reach_hz = WINDOW_HALF_WIDTHS * resonance.damping * resonance.natural_hz;
                let lowered: Vec<f64> =
                    self.density.iter().zip(&lifted).zip(model).map(|((s, l), m)| s / (l * m)).collect();
                *background = fit_background(self.frequency_hz, &lowered, self.spectrum.dof)?;
            }
            let reach = 3.0 * self.spectrum.bin_hz;
            match fitted {
                Some((resonance, model)) if self.is_peak(&resonance, &closed) => {
                    peaks.push(self.describe(&resonance, ratio, probability, background, &lifted)?);
                    lifted.iter_mut().zip(&model).for_each(|(l, m)| *l *= m);
                    let half_width_hz = resonance.damping * resonance.natural_hz;
                    self.close(
                        &mut closed,
                        resonance.natural_hz,
                        reach.max(BAND_HALF_WIDTHS * half_width_hz),
                    );
                }
                _ => {}
            }
            // Whatever became of it, this bin is not looked at again.
            self.close(&mut closed, top_hz, reach);
        }
        Ok(peaks)
    }

    /// The open bin whose ratio is least likely by probability, if it passes the false-alarm level.
    fn outstanding(
        &self,
        background: &Background,
        lifted: &[f64],
        closed: &[bool],
    ) -> Option<(usize, f64, f64)> {
        let bins = self.density.len() as f64;
        let expected = background.density.iter().zip(lifted).zip(&background.dof);
        let ratios = self.density.iter().zip(expected).map(|(s, ((b, l), dof))| (s / (b * l), *dof));
        let open = ratios.enumerate().zip(closed).filter(|(_, closed)| !**closed);
        let (bin, ratio, dof) = open
            .map(|((bin, (ratio, dof)), _)| (bin, ratio, dof))
            .filter(|(_, ratio, _)| *ratio >= LEAST_RATIO)
            .max_by(|a, b| a.1.total_cmp(&b.1))?;
        let single = FisherSnedecor::new(self.spectrum.dof, dof).ok()?.sf(ratio);
        let probability = -(bins * (-single).ln_1p()).exp_m1();
        (probability < FALSE_ALARM).then_some((bin, ratio, probability))
    }

    /// A resonance around `bin`, and its factor over the background in every bin searched.
    fn fit_at(
        &self,
        bin: usize,
        reach_hz: f64,
        background: &Background,
        lifted: &[f64],
    ) -> Option<(Resonance, Vec<f64>)> {
        let top_hz = *self.frequency_hz.get(bin)?;
        let reach_hz = reach_hz.max(6.0 * self.spectrum.bin_hz);
        let from = self.frequency_hz.partition_point(|f| *f < (top_hz / 2.0).max(top_hz - reach_hz));
        let to = self.frequency_hz.partition_point(|f| *f <= top_hz + reach_hz);
        let below: Vec<f64> = background.density.iter().zip(lifted).map(|(b, l)| b * l).collect();
        let whole = Surroundings {
            frequency_hz: self.frequency_hz,
            density: self.density,
            background: &below,
            background_at_peak: *below.get(bin)?,
            bin_hz: self.spectrum.bin_hz,
            dof: self.spectrum.dof,
        };
        let near = Surroundings {
            frequency_hz: self.frequency_hz.get(from..to)?,
            density: self.density.get(from..to)?,
            background: below.get(from..to)?,
            ..whole
        };
        let resonance = near.fit(top_hz)?;
        let model = whole.model(&[resonance.height.ln(), resonance.natural_hz.ln(), resonance.damping.ln()]);
        Some((resonance, model))
    }

    /// Whether a fit is a peak of its own: narrow, tall enough to have half-power points, both of them inside
    /// the band (else it is an edge), and its top not within a peak found before.
    fn is_peak(&self, resonance: &Resonance, closed: &[bool]) -> bool {
        let (natural_hz, bin_hz) = (resonance.natural_hz, self.spectrum.bin_hz);
        let half_width_hz = resonance.damping * natural_hz + bin_hz;
        let ends = self.frequency_hz.first().zip(self.frequency_hz.last());
        let inside = ends.is_some_and(|(low, high)| {
            natural_hz - half_width_hz > *low && natural_hz + half_width_hz < *high
        });
        let bin = self.frequency_hz.partition_point(|f| *f < natural_hz - 0.5 * bin_hz);
        let taken = closed.get(bin).copied().unwrap_or(true);
        inside && !taken && resonance.damping <= BROADEST_DAMPING && resonance.height >= LEAST_RATIO - 1.0
    }

    fn close(&self, closed: &mut [bool], middle_hz: f64, reach_hz: f64) {
        let near = |f: &f64| (f - middle_hz).abs() <= reach_hz * (1.0 + 1e-9);
        closed.iter_mut().zip(self.frequency_hz).filter(|(_, f)| near(f)).for_each(|(c, _)| *c = true);
    }

    fn describe(
        &self,
        resonance: &Resonance,
        ratio: f64,
        probability: f64,
        background: &Background,
        lifted: &[f64],
    ) -> Result<Peak, SpectrumError> {
        let bin_hz = self.spectrum.bin_hz;
        let top_hz = resonance.peak_hz();
        let spread = (Z_975 * resonance.ln_frequency_se).exp();
        let damping_ratio = resonance.ln_damping_se.and_then(|se| {
            let factor = (Z_975 * se).exp();
            Estimate::new(resonance.damping, resonance.damping / factor, resonance.damping * factor)
        });
        let half = (BAND_HALF_WIDTHS * resonance.damping * top_hz).max(2.0 * bin_hz);
        let band_hz = (top_hz - half, top_hz + half);
        let (mut power, mut variance) = (0.0, 0.0);
        let below = background.density.iter().zip(lifted);
        for ((f, s), (b, l)) in self.frequency_hz.iter().zip(self.density).zip(below) {
            if *f >= band_hz.0 && *f <= band_hz.1 {
                power += (s - b * l) * bin_hz;
                variance += (s * bin_hz).powi(2) * 2.0 / self.spectrum.dof * BIN_CORRELATION;
            }
        }
        let rms_of = |power: f64| power.max(0.0).sqrt();
        let half_width = Z_975 * variance.sqrt();
        let rms = Estimate::new(rms_of(power), rms_of(power - half_width), rms_of(power + half_width));
        let frequency_hz = Estimate::new(top_hz, top_hz / spread, top_hz * spread);
        let (Some(rms), Some(frequency_hz)) = (rms, frequency_hz) else {
            return Err(SpectrumError::NotFinite);
        };
        let resolution_hz = self.spectrum.resolution_hz();
        Ok(Peak { frequency_hz, ratio, probability, damping_ratio, rms, band_hz, resolution_hz })
    }
}

/// What a peak is taken for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PeakKind {
    /// Bobbing of the plow.
    Bobbing,
    /// The turn of an out-of-round wheel, by its index in the list given.
    WheelTurn(usize),
}

/// Once-per-turn frequency of a wheel of `diameter_m` rolling at `speed_mps`: v/(πD), Hz.
pub fn wheel_turn_hz(speed_mps: f64, diameter_m: f64) -> f64 {
    speed_mps / (PI * diameter_m)
}

/// Tells a wheel's turn from bobbing: the peak is the turn of the first wheel whose v/(πD) lies within the
/// spectrum's resolution plus 3 % of it. A rolling wheel's circumference is up to 5 % under πD (tyre
/// deflection, sinkage), and speed is known to about 1 %.
pub fn classify(peak: &Peak, wheel_diameters_m: &[f64], speed_mps: f64) -> PeakKind {
    let is_turn = |diameter_m: &f64| {
        let turn_hz = wheel_turn_hz(speed_mps, *diameter_m);
        (peak.frequency_hz.value - turn_hz).abs() <= peak.resolution_hz + 0.03 * turn_hz
    };
    wheel_diameters_m.iter().position(is_turn).map_or(PeakKind::Bobbing, PeakKind::WheelTurn)
}

#[cfg(test)]
mod tests;
