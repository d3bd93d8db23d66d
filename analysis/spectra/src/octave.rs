//! RMS of a channel in the octave around a frequency.

use super::background::BIN_CORRELATION;
use super::thinned::thinned;
use super::welch::PowerSpectrum;
use stats::Estimate;
use stats::bins::Stretch;
use stats::series_figures::{Wanted, series_figures};
use stats::student::Z_975;
use std::f64::consts::{SQRT_2, TAU};

/// Readings a period that the filter is given at least, and at most twice as many where a box sends them.
const READINGS_A_SWING: f64 = 50.0;
/// Steps in which the interval of the frequency is gone through.
const STEPS: usize = 8;

/// RMS of the channel in the octave around `middle_hz`: root of the integral of its density from f/√2 to f√2 (cut at
/// half of the rate), whatever makes it swing there. Unit of the channel.
///
/// The interval is of the process: soil and speed that change slowly change the level of the swing, so it is that of
/// the SD of the channel's gap-free `stretches` at `rate_hz` behind a filter of about that octave
/// ([`series_figures`]), and at least that of a swing whose level stays: a bin's density scatters by 2/ν of its square,
/// and neighbors repeat each other under the window. That the frequency is known within an interval adds what
/// the octave's power changes by over it.
///
/// `None` where the octave lies outside of the spectrum, or the stretches are too short for an interval.
pub fn octave_rms(
    spectrum: &PowerSpectrum,
    (stretches, rate_hz): (&[&[f64]], f64),
    middle_hz: &Estimate,
) -> Option<Estimate> {
    let (power, variance) = octave_power(spectrum, middle_hz.value)?;
    let at_step = |i: usize| middle_hz.low + (middle_hz.high - middle_hz.low) * i as f64 / STEPS as f64;
    let (mut least, mut most) = (power, power);
    for (power, _) in (0..=STEPS).filter_map(|i| octave_power(spectrum, at_step(i))) {
        (least, most) = (least.min(power), most.max(power));
    }
    // ln of the RMS: its scatter is the more even.
    let stationary = 0.5 * Z_975 * variance.sqrt() / power;
    let (kept, rate_hz) = thinned(stretches, rate_hz, READINGS_A_SWING * middle_hz.value);
    let passed: Vec<Vec<f64>> =
        kept.iter().map(|values| band_passed(values, rate_hz, middle_hz.value)).collect();
    let passed: Vec<Stretch<'_>> = passed.iter().map(|values| Stretch { start_s: 0.0, values }).collect();
    let sd = series_figures(&passed, rate_hz, Wanted::default()).ok()?.sd;
    let (below, above) =
        ((sd.value / sd.low).ln().max(stationary), (sd.high / sd.value).ln().max(stationary));
    let (down, up) = (below.hypot(0.5 * (power / least).ln()), above.hypot(0.5 * (most / power).ln()));
    let rms = power.sqrt();
    Estimate::new(rms, rms * (-down).exp(), rms * up.exp())
}

/// `values` less their mean behind a resonator of the second order whose half-power points are about an octave apart
/// (analog s/Q/(s² + s/Q + 1) with Q = √2, by the bilinear transform with the middle kept; Oppenheim & Schafer,
/// Discrete-Time Signal Processing, from memory).
fn band_passed(values: &[f64], rate_hz: f64, middle_hz: f64) -> Vec<f64> {
    let mean = values.iter().sum::<f64>() / values.len().max(1) as f64;
    let angle = TAU * (middle_hz / rate_hz).min(0.49);
    let alpha = angle.sin() / (2.0 * SQRT_2);
    let (a1, a2, gain) =
        (-2.0 * angle.cos() / (1.0 + alpha), (1.0 - alpha) / (1.0 + alpha), alpha / (1.0 + alpha));
    let (mut x1, mut x2, mut y1, mut y2) = (0.0, 0.0, 0.0, 0.0);
    let step = |value: &f64| {
        let x = value - mean;
        let y = gain * (x - x2) - a1 * y1 - a2 * y2;
        (x1, x2, y1, y2) = (x, x1, y, y1);
        y
    };
    values.iter().map(step).collect()
}

/// How much of the bin around `frequency_hz` lies in a band, Hz.
pub(super) fn covered_hz(frequency_hz: f64, bin_hz: f64, (low_hz, high_hz): (f64, f64)) -> f64 {
    let half_hz = 0.5 * bin_hz;
    ((frequency_hz + half_hz).min(high_hz) - (frequency_hz - half_hz).max(low_hz)).max(0.0)
}

/// Power from f/√2 to f√2, and the variance of its estimate; bins at the ends count by their share.
fn octave_power(spectrum: &PowerSpectrum, middle_hz: f64) -> Option<(f64, f64)> {
    let octave_hz = (middle_hz / SQRT_2, middle_hz * SQRT_2);
    let (mut power, mut variance) = (0.0, 0.0);
    for (f, density) in spectrum.frequency_hz.iter().zip(&spectrum.density) {
        let covered = covered_hz(*f, spectrum.bin_hz, octave_hz);
        power += density * covered;
        variance += (density * covered).powi(2) * 2.0 / spectrum.dof * BIN_CORRELATION;
    }
    (power > 0.0).then_some((power, variance))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::welch::welch;
    use rand::{RngExt, SeedableRng};
    use rand_chacha::ChaCha8Rng;

    /// Uniform noise of variance 1/12 at 100 Hz has the density 1/600 in every Hz: an octave around 4 Hz holds
    /// 4 (√2 − 1/√2)/600.
    #[test]
    fn the_octave_of_white_noise_is_its_width() {
        let mut rng = ChaCha8Rng::seed_from_u64(4);
        let noise: Vec<f64> = (0..60_000).map(|_| rng.random::<f64>()).collect();
        let rms = |values: &[f64]| {
            let middle_hz = Estimate::new(4.0, 4.0, 4.0).unwrap();
            octave_rms(&welch(&[values], 100.0, 2000).unwrap(), (&[values], 100.0), &middle_hz)
        };
        let even = rms(&noise).unwrap();
        let truth = (4.0 * (SQRT_2 - 1.0 / SQRT_2) / 600.0).sqrt();
        assert!(even.holds(truth) && even.high / even.low < 1.3, "{even:?} {truth}");
        // A swing that doubles half way is known less well.
        let grown: Vec<f64> =
            noise.iter().enumerate().map(|(i, x)| if i < 30_000 { *x } else { 2.0 * x }).collect();
        let grown = rms(&grown).unwrap();
        assert!(grown.high / grown.low > 1.2 * even.high / even.low, "{grown:?} {even:?}");
        let beyond = Estimate::new(90.0, 90.0, 90.0).unwrap();
        assert_eq!(octave_rms(&welch(&[&noise], 100.0, 2000).unwrap(), (&[&noise], 100.0), &beyond), None);
    }

    /// A swing at the middle passes whole, one an octave away by |H| = 1/√(1 + Q²(r − 1/r)²).
    #[test]
    fn the_filter_passes_its_octave() {
        let passed = |hz: f64| {
            let swing: Vec<f64> = (0..20_000).map(|i| (TAU * hz * f64::from(i) / 1000.0).sin()).collect();
            let passed = band_passed(&swing, 1000.0, 4.0);
            (passed[10_000..].iter().map(|y| y * y).sum::<f64>() / 5_000.0).sqrt()
        };
        assert!((passed(4.0) - 1.0).abs() < 1e-3, "{}", passed(4.0));
        for hz in [2.0, 8.0] {
            assert!((passed(hz) - (1.0 + 2.0 * 2.25_f64).sqrt().recip()).abs() < 5e-3, "{}", passed(hz));
        }
    }
}
