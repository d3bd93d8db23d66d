//! The spectrum behind what is said of bobbing, with what it takes to work it out again from the readings.

use schemars::JsonSchema;
use serde::Serialize;
use signals::{Segment, Signals, slices};
use spectra::bobbing::{FALSE_ALARM, Peak, PeakSearch, SearchBand, find_peaks};
use spectra::modes::{Mode, Modes};
use spectra::welch::{OVERLAP_SHARE, PowerSpectrum, WINDOW, segment_len_for, welch};
use stats::Estimate;

/// Spectrum of the load that the pass is judged by.
#[derive(Clone, Debug)]
pub struct LoadSpectrum {
    /// Power spectral density, N²/Hz.
    pub spectrum: PowerSpectrum,
    /// Background and peaks.
    pub search: PeakSearch,
}

impl LoadSpectrum {
    /// `None` where the working part is too short or too torn for a spectrum, which the page then says.
    pub(super) fn of(load_n: &[f64], signals: &Signals, segments: &[Segment]) -> Option<Self> {
        let stretches: Vec<usize> = segments.iter().map(|segment| segment.rows.len()).collect();
        let length = segment_len_for(&stretches, signals.rate_hz);
        let spectrum = welch(&slices(load_n, segments), signals.rate_hz, length).ok()?;
        let search = find_peaks(&spectrum, SearchBand::usual(&spectrum)).ok()?;
        Some(Self { spectrum, search })
    }

    /// Densities of the bins searched.
    pub fn searched(&self) -> Option<&[f64]> {
        searched(&self.spectrum, &self.search)
    }
}

/// Modes, and the bins that they were fitted to.
pub(super) struct ModesFit {
    pub frequency_hz: Vec<f64>,
    pub modes: Modes,
}

impl ModesFit {
    pub fn is_poor(&self) -> bool {
        self.modes.is_poor()
    }
}

/// Densities of the bins searched.
pub(super) fn searched<'a>(spectrum: &'a PowerSpectrum, search: &PeakSearch) -> Option<&'a [f64]> {
    let first = search.frequency_hz.first()? - 1e-9;
    let skip = spectrum.frequency_hz.iter().position(|f| *f >= first)?;
    spectrum.density.get(skip..skip + search.frequency_hz.len())
}

/// Power spectral density of the load that the pass is judged by, its background, and what was fitted to it.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct SpectrumFigures {
    /// How the density is estimated.
    pub method: &'static str,
    /// Window over each block.
    pub window: &'static str,
    /// Readings of the load per second.
    pub rate_hz: f64,
    /// Readings in a block.
    pub block_readings: usize,
    /// Length of a block, s.
    pub block_s: f64,
    /// Part of a block that the next one has too.
    pub overlap_share: f64,
    /// Blocks that were averaged, the mean taken out of each; none reaches over a gap.
    pub blocks: usize,
    /// Equivalent χ² degrees of freedom of a bin.
    pub dof: f64,
    /// From a density to the lower end of its 95 % interval.
    pub low_factor: f64,
    /// From a density to the upper end.
    pub high_factor: f64,
    /// Distance from bin to bin, Hz.
    pub bin_hz: f64,
    /// Effective noise bandwidth, Hz: closer than that, two frequencies are one.
    pub resolution_hz: f64,
    /// First and last frequency at which peaks were looked for, Hz: the lists are of the bins from there to there.
    pub band_hz: (f64, f64),
    /// Each bin, Hz.
    pub frequency_hz: Vec<f64>,
    /// One-sided density in it, N²/Hz.
    pub density_n2_per_hz: Vec<f64>,
    /// Smooth background in it, peaks left out, N²/Hz.
    pub background_n2_per_hz: Vec<f64>,
    /// Chance of any peak at all in a load that has none.
    pub false_alarm_chance: f64,
    /// Peaks that stand out of the background, the most outstanding first; wheels that turn are among them.
    pub peaks: Vec<PeakFigures>,
    /// Modes fitted to all of it, or to what is near the strongest peak; null without a peak, or where no fit settles.
    pub fit: Option<FitFigures>,
}

/// A damped resonance on the background.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct PeakFigures {
    /// Frequency at which the power above the background is largest, Hz.
    pub frequency_hz: Estimate,
    /// Density over background in the bin that stands out most.
    pub density_ratio: f64,
    /// Chance of such a ratio in any of the bins, if there were no peak.
    pub chance: f64,
    /// Damping ratio; null for a peak no wider than the window makes a line.
    pub damping_ratio: Option<Estimate>,
    /// RMS above the background within `band_hz`, N.
    pub rms_n: Estimate,
    /// Ends of the band that the RMS is of, Hz.
    pub band_hz: (f64, f64),
}

/// Modes fitted together: damped oscillators on a background of their own.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct FitFigures {
    /// Each bin that was fitted, Hz.
    pub frequency_hz: Vec<f64>,
    /// The fitted density in it, N²/Hz.
    pub fitted_n2_per_hz: Vec<f64>,
    /// The background of the fit in it, N²/Hz.
    pub background_n2_per_hz: Vec<f64>,
    /// Chance of a fit as bad as this or worse, if the modes describe the spectrum.
    pub fit_chance: f64,
    /// Time from the front wheels to the tail wheel whose dips are in the fit, s; null without any.
    pub wheel_to_wheel_s: Option<f64>,
    /// The modes; the first is reported as bobbing unless the fit is poor.
    pub modes: Vec<ModeFigures>,
}

/// A damped oscillator.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct ModeFigures {
    /// Undamped natural frequency, Hz.
    pub natural_hz: Estimate,
    /// Damping ratio.
    pub damping_ratio: Estimate,
    /// Power of all of the fit within the half-power band of the mode, N².
    pub band_power_n2: f64,
    /// Whether the mode is wider than the window makes a line; if not, its damping is not known from below.
    pub resolved: bool,
}

impl SpectrumFigures {
    /// `None` where nothing was searched.
    pub(super) fn of(found: &LoadSpectrum, fit: Option<&ModesFit>, rate_hz: f64) -> Option<Self> {
        let LoadSpectrum { spectrum, search } = found;
        let (low_factor, high_factor) = spectrum.band_factors()?;
        let block_readings = (rate_hz / spectrum.bin_hz).round();
        Some(Self {
            method: "Welch",
            window: WINDOW,
            rate_hz,
            block_readings: block_readings as usize,
            block_s: block_readings / rate_hz,
            overlap_share: OVERLAP_SHARE,
            blocks: spectrum.segments,
            dof: spectrum.dof,
            low_factor,
            high_factor,
            bin_hz: spectrum.bin_hz,
            resolution_hz: spectrum.resolution_hz(),
            band_hz: (*search.frequency_hz.first()?, *search.frequency_hz.last()?),
            frequency_hz: search.frequency_hz.clone(),
            density_n2_per_hz: found.searched()?.to_vec(),
            background_n2_per_hz: search.background.clone(),
            false_alarm_chance: FALSE_ALARM,
            peaks: search.peaks.iter().map(peak_figures).collect(),
            fit: fit.map(fit_figures),
        })
    }
}

fn peak_figures(peak: &Peak) -> PeakFigures {
    let Peak { frequency_hz, ratio, probability, damping_ratio, rms, band_hz, .. } = *peak;
    PeakFigures {
        frequency_hz,
        density_ratio: ratio,
        chance: probability,
        damping_ratio,
        rms_n: rms,
        band_hz,
    }
}

fn fit_figures(fit: &ModesFit) -> FitFigures {
    let ModesFit { frequency_hz, modes } = fit;
    let mode = |mode: &Mode| ModeFigures {
        natural_hz: mode.natural_hz,
        damping_ratio: mode.damping_ratio,
        band_power_n2: mode.band_power,
        resolved: mode.resolved,
    };
    FitFigures {
        frequency_hz: frequency_hz.clone(),
        fitted_n2_per_hz: modes.fitted.clone(),
        background_n2_per_hz: modes.background.clone(),
        fit_chance: modes.fit_probability,
        wheel_to_wheel_s: modes.delay_s,
        modes: modes.modes.iter().map(mode).collect(),
    }
}
