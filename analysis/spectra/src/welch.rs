//! Power spectral density of one channel by Welch's method.

use super::SpectrumError;
use super::segments::{SegmentPlan, equivalent_dof};
use realfft::num_complex::Complex;
use stats::student::chi_square_quantile;

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

/// A segment length for gap-free stretches of these numbers of readings: the longest up to 20 s of which five
/// half-overlapping segments fit into all stretches together, among the even products of 2, 3 and 5, which
/// the transform is fastest with. 0 if there is none. (One stretch: a third of it at most. Many short ones,
/// from a run with gaps: nearly as long as they are, so that slow bobbing is still seen.)
pub fn segment_len_for(stretches: &[usize], rate_hz: f64) -> usize {
    let longest = stretches.iter().copied().max().unwrap_or(0);
    let wanted = ((20.0 * rate_hz) as usize).min(longest);
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
