//! Cuts gap-free stretches into overlapping windowed segments and transforms them.

use super::SpectrumError;
use realfft::num_complex::Complex;
use realfft::{RealFftPlanner, RealToComplex};
use std::f64::consts::PI;
use std::sync::Arc;

/// Shortest segment: below this a Hann window has no bin clear of zero frequency.
const MIN_SEGMENT: usize = 8;

/// A segment length at a rate, with window and transform ready.
pub(super) struct SegmentPlan {
    segment_len: usize,
    rate_hz: f64,
    window: Vec<f64>,
    /// Sum of the squared window, summed once: a spectrum asks for it in every bin.
    energy: f64,
    transform: Arc<dyn RealToComplex<f64>>,
    buffer: Vec<f64>,
    scratch: Vec<Complex<f64>>,
}

impl SegmentPlan {
    /// Plan for segments of `segment_len` readings at `rate_hz`, under a periodic Hann window.
    pub fn new(segment_len: usize, rate_hz: f64) -> Result<Self, SpectrumError> {
        if segment_len < MIN_SEGMENT {
            let given = segment_len as f64;
            return Err(SpectrumError::Setting {
                what: "the segment length",
                must: "at least 8 readings",
                given,
            });
        }
        if !(rate_hz > 0.0 && rate_hz.is_finite()) {
            return Err(SpectrumError::Setting { what: "the rate in Hz", must: "above 0", given: rate_hz });
        }
        let transform = RealFftPlanner::new().plan_fft_forward(segment_len);
        let step = 2.0 * PI / segment_len as f64;
        // Periodic (DFT-even) form: only that one has a noise bandwidth of exactly 1.5 bins.
        let window: Vec<f64> = (0..segment_len).map(|i| 0.5 - 0.5 * (step * i as f64).cos()).collect();
        let energy = window.iter().map(|w| w * w).sum();
        let scratch = transform.make_scratch_vec();
        Ok(Self { segment_len, rate_hz, window, energy, buffer: vec![0.0; segment_len], scratch, transform })
    }

    /// Number of bins of a one-sided spectrum.
    pub fn bins(&self) -> usize {
        self.segment_len / 2 + 1
    }

    /// Frequencies of the bins, Hz.
    pub fn frequencies_hz(&self) -> Vec<f64> {
        (0..self.bins()).map(|k| k as f64 * self.rate_hz / self.segment_len as f64).collect()
    }

    /// Readings from the start of one segment to the next: half a segment, rounded up as scipy does by
    /// overlapping ⌊n/2⌋.
    fn hop(&self) -> usize {
        self.segment_len - self.segment_len / 2
    }

    /// Number of segments in a stretch of `len` readings.
    pub fn segments_in(&self, len: usize) -> usize {
        if len < self.segment_len { 0 } else { (len - self.segment_len) / self.hop() + 1 }
    }

    /// The segments of a stretch.
    pub fn segments_of<'a>(&self, stretch: &'a [f64]) -> impl Iterator<Item = &'a [f64]> + use<'a> {
        stretch.windows(self.segment_len).step_by(self.hop())
    }

    /// Transform of one segment with its mean removed and the window applied, into `spectrum`.
    ///
    /// # Errors
    /// [`SpectrumError::NotFinite`], so that one NaN is an error and not a spectrum of NaN.
    pub fn transform(&mut self, segment: &[f64], spectrum: &mut [Complex<f64>]) -> Result<(), SpectrumError> {
        let mean = segment.iter().sum::<f64>() / segment.len() as f64;
        if !mean.is_finite() {
            return Err(SpectrumError::NotFinite);
        }
        for ((slot, x), w) in self.buffer.iter_mut().zip(segment).zip(&self.window) {
            *slot = (x - mean) * w;
        }
        // The only failure is a buffer of the wrong length, which `new` rules out; it must still not pass
        // silently.
        self.transform.process_with_scratch(&mut self.buffer, spectrum, &mut self.scratch).map_err(|_| {
            let given = segment.len() as f64;
            SpectrumError::Setting { what: "a segment's length", must: "as planned", given }
        })
    }

    /// Factor from |X|² of a bin, averaged over segments, to a one-sided density in unit²/Hz.
    pub fn to_density(&self, bin: usize) -> f64 {
        let mirrored = bin != 0 && !(self.segment_len.is_multiple_of(2) && bin == self.segment_len / 2);
        (if mirrored { 2.0 } else { 1.0 }) / (self.rate_hz * self.energy)
    }
}

/// Equivalent degrees of freedom of an average over `segments`, of which `overlapping` pairs overlap by half:
/// ν = 2K/(1 + 2(P/K)ρ²), ρ² = 1/36 for Hann at 50 %.
///
/// Welch 1967, IEEE Trans. Audio Electroacoust. 15, 70–73. With one stretch P = K − 1 and ν = 36K²/(19K − 1).
pub(super) fn equivalent_dof(segments: usize, overlapping: usize) -> f64 {
    let k = segments as f64;
    36.0 * k * k / (18.0 * k + overlapping as f64)
}
