//! Power spectral density of one channel by Welch's method: gap-free stretches cut into overlapping windowed segments, and
//! these transformed.

use super::SpectrumError;
use realfft::num_complex::Complex;
use realfft::{RealFftPlanner, RealToComplex};
use stats::student::chi_square_quantile;
use std::f64::consts::PI;
use std::sync::Arc;

/// A one-sided power spectral density.
#[derive(Clone, Debug, PartialEq)]
pub struct PowerSpectrum {
    /// Frequency of each bin, Hz, from 0 to half the rate.
    pub frequency_hz: Vec<f64>,
    /// Density of each bin, unit²/Hz. Its sum times the bin width is the variance (mean removed by segment).
    pub density: Vec<f64>,
    /// Distance between bins, Hz.
    pub bin_hz: f64,
    /// Segments averaged.
    pub segments: usize,
    /// Equivalent χ² degrees of freedom of a bin (bin 0 and the one at half the rate have half as many).
    pub dof: f64,
}

impl PowerSpectrum {
    /// Factors from a density to the ends of its 95 % interval: ν/χ²₀.₉₇₅ and ν/χ²₀.₀₂₅.
    pub fn band_factors(&self) -> Option<(f64, f64)> {
        band_factors(self.dof)
    }

    /// Effective noise bandwidth, Hz: 1.5 bins for the Hann window (Harris 1978, Proc. IEEE 66, 51–83).
    pub fn resolution_hz(&self) -> f64 {
        1.5 * self.bin_hz
    }
}

/// Factors from a density with `dof` degrees of freedom to the ends of its 95 % interval; `None` unless `dof` > 0.
pub fn band_factors(dof: f64) -> Option<(f64, f64)> {
    Some((dof / chi_square_quantile(0.975, dof)?, dof / chi_square_quantile(0.025, dof)?))
}

/// Welch's power spectral density of a channel given as gap-free `stretches` at `rate_hz`.
///
/// Periodic Hann window over `segment_len` readings, 50 % overlap, mean removed from each segment, one-sided,
/// in unit²/Hz. All segments of all stretches are averaged with equal weight; stretches shorter than a
/// segment are left out. Source: Welch 1967, IEEE Trans. Audio Electroacoust. 15, 70–73; the conventions are
/// those of scipy.signal.
///
/// # Errors
/// [`SpectrumError::TooShort`] when no segment fits, [`SpectrumError::Setting`],
/// [`SpectrumError::NotFinite`].
pub fn welch(stretches: &[&[f64]], rate_hz: f64, segment_len: usize) -> Result<PowerSpectrum, SpectrumError> {
    let mut plan = SegmentPlan::new(segment_len, rate_hz)?;
    let mut spectrum = vec![Complex::default(); plan.bins()];
    let mut density = vec![0.0; plan.bins()];
    let (mut segments, mut overlapping) = (0, 0);
    for stretch in stretches {
        let here = plan.segments_in(stretch.len());
        segments += here;
        overlapping += here.saturating_sub(1);
        for segment in plan.segments_of(stretch) {
            plan.transform(segment, &mut spectrum)?;
            density.iter_mut().zip(&spectrum).for_each(|(sum, x)| *sum += x.norm_sqr());
        }
    }
    if segments == 0 {
        return Err(SpectrumError::TooShort { what: "a spectrum", needed: 1, found: 0, segment_len });
    }
    for (bin, d) in density.iter_mut().enumerate() {
        *d *= plan.to_density(bin) / segments as f64;
    }
    Ok(PowerSpectrum {
        frequency_hz: plan.frequencies_hz(),
        density,
        bin_hz: rate_hz / segment_len as f64,
        segments,
        dof: equivalent_dof(segments, overlapping),
    })
}

/// Fewest segments that [`segment_len_for`] leaves room for: with fewer the scatter of a bin (ν under 10) hides
/// all but the strongest peaks.
const SEGMENTS_WANTED: usize = 5;

/// Longest segment, s.
pub const SEGMENT_S_MAX: f64 = 20.0;

/// A segment length for gap-free stretches of these numbers of readings: the longest up to 20 s of which five
/// half-overlapping segments fit into all stretches together, among the even products of 2, 3 and 5, which
/// the transform is fastest with. 0 if there is none. (One stretch: a third of it at most. Many short ones,
/// from a run with gaps: nearly as long as they are, so that slow bobbing is still seen.)
pub fn segment_len_for(stretches: &[usize], rate_hz: f64) -> usize {
    let longest = stretches.iter().copied().max().unwrap_or(0);
    let wanted = ((SEGMENT_S_MAX * rate_hz) as usize).min(longest);
    let segments =
        |n: usize| stretches.iter().filter(|len| **len >= n).map(|len| 2 * (len - n) / n + 1).sum::<usize>();
    let even = (1..=wanted / 2).rev().map(|half| 2 * half);
    even.filter(|n| is_smooth(*n)).find(|n| segments(*n) >= SEGMENTS_WANTED).unwrap_or(0)
}

/// Whether `n` has no prime factor above 5.
fn is_smooth(mut n: usize) -> bool {
    for prime in [2, 3, 5] {
        while n > 0 && n.is_multiple_of(prime) {
            n /= prime;
        }
    }
    n == 1
}

/// The window over each segment.
pub const WINDOW: &str = "Hann, periodic";
/// Part of a segment that the next one has too.
pub const OVERLAP_SHARE: f64 = 0.5;

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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_gap_leaves_out_only_segments_that_would_span_it() {
        let values: Vec<f64> = (0..512).map(|i| f64::from(i * i % 101)).collect();
        let (one, two) = values.split_at(200);
        let split = welch(&[one, two], 10.0, 64).unwrap();
        // (200-64)/32+1 = 5 and (312-64)/32+1 = 8
        assert_eq!(split.segments, 13);
        assert!((split.dof - 36.0 * 169.0 / (18.0 * 13.0 + 11.0)).abs() < 1e-12);
        let (first, second) = (welch(&[one], 10.0, 64).unwrap(), welch(&[two], 10.0, 64).unwrap());
        for ((d, a), b) in split.density.iter().zip(&first.density).zip(&second.density) {
            assert!((d - (5.0 * a + 8.0 * b) / 13.0).abs() <= 1e-12 * d);
        }
        let stub = welch(&[&one[..40], two], 10.0, 64).unwrap();
        assert_eq!(stub.segments, 8);
    }

    #[test]
    fn what_cannot_work_is_an_error() {
        let values = [1.0; 100];
        assert!(matches!(welch(&[&values], 10.0, 101), Err(SpectrumError::TooShort { found: 0, .. })));
        assert!(matches!(welch(&[&values], 10.0, 4), Err(SpectrumError::Setting { .. })));
        assert!(matches!(welch(&[&values], f64::NAN, 16), Err(SpectrumError::Setting { .. })));
        assert!(matches!(welch(&[&[f64::NAN; 32]], 10.0, 16), Err(SpectrumError::NotFinite)));
        assert!(welch(&[&values], 10.0, 16).unwrap().density.iter().all(|&d| d == 0.0));
    }

    #[test]
    fn segments_are_about_20_s_or_a_third_of_a_short_run() {
        assert_eq!(segment_len_for(&[1_000_000], 200.0), 4000);
        assert_eq!(segment_len_for(&[12_000], 200.0), 4000);
        assert_eq!(segment_len_for(&[3_000], 100.0), 1000);
        let uneven = segment_len_for(&[1_000_000], 199.87);
        assert!(is_smooth(uneven) && (3700..=3997).contains(&uneven), "{uneven}");
        assert!(segment_len_for(&[7], 100.0) < MIN_USEFUL && segment_len_for(&[], 100.0) < MIN_USEFUL);
    }

    /// Twenty gaps in a minute: segments as long as what is between them, not a third of it.
    #[test]
    fn many_short_stretches_are_used_whole() {
        assert_eq!(segment_len_for(&[200; 20], 100.0), 200);
        assert_eq!(segment_len_for(&[200, 200, 1500], 100.0), 500);
    }

    const MIN_USEFUL: usize = 8;
}
