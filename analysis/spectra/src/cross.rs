//! Cross spectrum of two channels, their coherence, and the gain and phase from one to the other.

use super::SpectrumError;
use super::welch::{SegmentPlan, equivalent_dof};
use realfft::num_complex::Complex;
use stats::Estimate;

/// Spectra of an input channel x and an output channel y, averaged over the same segments.
#[derive(Clone, Debug, PartialEq)]
pub struct CrossSpectrum {
    /// Frequency of each bin, Hz, from 0 to half the rate.
    pub frequency_hz: Vec<f64>,
    /// One-sided density of x, unit_x²/Hz.
    pub input: Vec<f64>,
    /// One-sided density of y, unit_y²/Hz.
    pub output: Vec<f64>,
    /// One-sided cross density mean(conj(X)·Y), unit_x·unit_y/Hz; its phase is the lead of y.
    pub cross: Vec<Complex<f64>>,
    /// Segments averaged.
    pub segments: usize,
    /// Number of independent segments that scatter as much as the overlapping ones: half the equivalent
    /// degrees of freedom.
    pub independent_segments: f64,
}

/// Gain and phase from input to output in one bin.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Transfer {
    /// |H|, unit_y/unit_x.
    pub gain: Estimate,
    /// Lead of the output, degrees in (−180, 180] with interval ends that may run past; `None` when the
    /// circle of confidence holds 0, so that any phase is possible.
    pub phase_deg: Option<Estimate>,
}

impl CrossSpectrum {
    /// Magnitude-squared coherence |P_xy|²/(P_xx P_yy) of each bin, 0 to 1; 0 where a channel has no power.
    pub fn coherence(&self) -> Vec<f64> {
        let pairs = self.cross.iter().zip(&self.input).zip(&self.output);
        pairs.map(|((&c, &x), &y)| coherence_of(c, x, y)).collect()
    }

    /// The coherence that two unrelated channels exceed in one bin of twenty: 1 − 0.05^(1/(n − 1)).
    ///
    /// n is [`CrossSpectrum::independent_segments`]. Source: Carter, Knapp & Nuttall 1973, IEEE Trans. Audio
    /// Electroacoust. 21, 337–344. 1 when there is only one segment, whose coherence is 1 whatever the
    /// channels.
    pub fn coherence_level(&self) -> f64 {
        let n = self.independent_segments;
        if n > 1.0 { 1.0 - 0.05_f64.powf(1.0 / (n - 1.0)) } else { 1.0 }
    }

    /// Gain (H₁ = P_xy/P_xx) and phase of one bin with 95 % intervals; `None` for a bin that does not exist,
    /// has no input power, or when fewer than two independent segments were averaged.
    ///
    /// The intervals are those of the circle of confidence of the complex H₁: radius r with r² = 2/(n −
    /// 2)·F₀.₉₅(2, n − 2)·(1 − γ²)·P_yy/P_xx, n = 2·independent segments (Bendat & Piersol, Random Data,
    /// random errors of frequency response estimates). F with 2 and m degrees of freedom has the closed form
    /// m/2·(0.05^(−2/m) − 1). Being joint for gain and phase, each interval alone holds a little over 95 %;
    /// the gain's excludes 0 exactly when the coherence exceeds [`CrossSpectrum::coherence_level`]. H₁
    /// assumes a noise-free input: noise on x draws the gain towards 0.
    pub fn transfer(&self, bin: usize) -> Option<Transfer> {
        let (&cross, &x, &y) = (self.cross.get(bin)?, self.input.get(bin)?, self.output.get(bin)?);
        let n = self.independent_segments;
        if x <= 0.0 || n <= 1.0 {
            return None;
        }
        let response = cross / x;
        let rest = (1.0 - coherence_of(cross, x, y)).max(0.0) * y / x;
        let radius = ((0.05_f64.powf(-1.0 / (n - 1.0)) - 1.0) * rest).sqrt();
        let size = response.norm();
        let gain = Estimate::new(size, (size - radius).max(0.0), size + radius)?;
        let phase_deg = if radius < size {
            Estimate::around(response.arg().to_degrees(), (radius / size).asin().to_degrees())
        } else {
            None
        };
        Some(Transfer { gain, phase_deg })
    }
}

pub(super) fn coherence_of(cross: Complex<f64>, input: f64, output: f64) -> f64 {
    let power = input * output;
    if power > 0.0 { (cross.norm_sqr() / power).min(1.0) } else { 0.0 }
}

/// Cross spectrum of input `x` and output `y`, given as the same gap-free stretches at `rate_hz`.
///
/// Conventions as [`super::welch::welch`]; the cross density is conj(X)·Y, as scipy.signal.csd(x, y) has it.
///
/// # Errors
/// As `welch`; [`SpectrumError::UnequalStretches`].
pub fn cross_spectrum(
    x: &[&[f64]],
    y: &[&[f64]],
    rate_hz: f64,
    segment_len: usize,
) -> Result<CrossSpectrum, SpectrumError> {
    let mut plan = SegmentPlan::new(segment_len, rate_hz)?;
    let bins = plan.bins();
    let (mut input, mut output) = (vec![0.0; bins], vec![0.0; bins]);
    let mut cross = vec![Complex::default(); bins];
    let counts = for_each_segment_pair(&mut plan, x, y, |spectrum_x, spectrum_y| {
        let sums = input.iter_mut().zip(output.iter_mut()).zip(cross.iter_mut());
        for (((xx, yy), xy), (sx, sy)) in sums.zip(spectrum_x.iter().zip(spectrum_y)) {
            *xx += sx.norm_sqr();
            *yy += sy.norm_sqr();
            *xy += sx.conj() * sy;
        }
    })?;
    if counts.segments == 0 {
        return Err(SpectrumError::TooShort { what: "a cross spectrum", needed: 1, found: 0, segment_len });
    }
    for (bin, ((xx, yy), xy)) in input.iter_mut().zip(&mut output).zip(&mut cross).enumerate() {
        let factor = plan.to_density(bin) / counts.segments as f64;
        *xx *= factor;
        *yy *= factor;
        *xy *= factor;
    }
    Ok(CrossSpectrum {
        frequency_hz: plan.frequencies_hz(),
        input,
        output,
        cross,
        segments: counts.segments,
        independent_segments: equivalent_dof(counts.segments, counts.overlapping) / 2.0,
    })
}

/// How many segments were used, and how many pairs of them overlap.
pub(super) struct SegmentCounts {
    pub segments: usize,
    pub overlapping: usize,
}

/// Calls `visit` with the transforms of x and y for every segment.
pub(super) fn for_each_segment_pair(
    plan: &mut SegmentPlan,
    x: &[&[f64]],
    y: &[&[f64]],
    mut visit: impl FnMut(&[Complex<f64>], &[Complex<f64>]),
) -> Result<SegmentCounts, SpectrumError> {
    if x.len() != y.len() {
        let stretch = x.len().min(y.len());
        let len = |side: &[&[f64]]| side.get(stretch).map_or(0, |s| s.len());
        return Err(SpectrumError::UnequalStretches { stretch, left: len(x), right: len(y) });
    }
    let mut spectrum_x = vec![Complex::default(); plan.bins()];
    let mut spectrum_y = spectrum_x.clone();
    let mut counts = SegmentCounts { segments: 0, overlapping: 0 };
    for (stretch, (x, y)) in x.iter().zip(y).enumerate() {
        if x.len() != y.len() {
            return Err(SpectrumError::UnequalStretches { stretch, left: x.len(), right: y.len() });
        }
        let here = plan.segments_in(x.len());
        counts.segments += here;
        counts.overlapping += here.saturating_sub(1);
        for (segment_x, segment_y) in plan.segments_of(x).zip(plan.segments_of(y)) {
            plan.transform(segment_x, &mut spectrum_x)?;
            plan.transform(segment_y, &mut spectrum_y)?;
            visit(&spectrum_x, &spectrum_y);
        }
    }
    Ok(counts)
}
