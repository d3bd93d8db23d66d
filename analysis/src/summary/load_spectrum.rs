//! The spectrum of the load that a pass is judged by.

use signals::{Segment, Signals};
use spectra::bobbing::{PeakSearch, SearchBand, find_peaks};
use spectra::welch::{PowerSpectrum, segment_len_for, welch};

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
        let length = segment_len(segments, signals.rate_hz);
        let spectrum = welch(&slices(load_n, segments), signals.rate_hz, length).ok()?;
        let search = find_peaks(&spectrum, SearchBand::usual(&spectrum)).ok()?;
        Some(Self { spectrum, search })
    }
}

/// The values of each segment.
pub(super) fn slices<'a>(values: &'a [f64], segments: &[Segment]) -> Vec<&'a [f64]> {
    segments.iter().filter_map(|segment| values.get(segment.rows.clone())).collect()
}

/// Readings in a segment of a spectrum over the working part's segments.
pub(super) fn segment_len(segments: &[Segment], rate_hz: f64) -> usize {
    let stretches: Vec<usize> = segments.iter().map(|segment| segment.rows.len()).collect();
    segment_len_for(&stretches, rate_hz)
}
