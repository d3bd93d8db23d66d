//! RMS of a channel in the octave around a frequency.

use super::background::BIN_CORRELATION;
use super::welch::PowerSpectrum;
use crate::stats::Estimate;
use crate::stats::student::{Z_975, t_quantile};
use std::f64::consts::SQRT_2;

/// Steps in which the interval of the frequency is gone through.
const STEPS: usize = 8;

/// RMS of the channel in the octave around `middle_hz`: root of the integral of its density from f/√2 to f√2 (cut at
/// half of the rate), whatever makes it swing there. Unit of the channel.
///
/// The interval is of the process. A bin's density scatters by 2/ν of its square, and neighbours repeat each other under
/// the window; but soil and speed that change slowly change the level of the swing as well, so the scatter of the parts
/// of the record is taken where it is larger (batch means with Student's t). That the frequency is known within an
/// interval only adds what the octave's power changes by over it.
///
/// `None` where the octave lies outside of the spectrum.
pub fn octave_rms(spectrum: &PowerSpectrum, middle_hz: &Estimate) -> Option<Estimate> {
    let (power, variance) = octave_power(spectrum, &spectrum.density, middle_hz.value)?;
    let at_step = |i: usize| middle_hz.low + (middle_hz.high - middle_hz.low) * i as f64 / STEPS as f64;
    let (mut least, mut most) = (power, power);
    for (power, _) in (0..=STEPS).filter_map(|i| octave_power(spectrum, &spectrum.density, at_step(i))) {
        (least, most) = (least.min(power), most.max(power));
    }
    // ln of the power: its scatter is the more even.
    let stationary = Z_975 * variance.sqrt() / power;
    let sampling = stationary.max(of_parts(spectrum, middle_hz.value, power));
    let (down, up) = (sampling.hypot((power / least).ln()), sampling.hypot((most / power).ln()));
    let rms = power.sqrt();
    Estimate::new(rms, rms * (-0.5 * down).exp(), rms * (0.5 * up).exp())
}

/// Half-width of the 95 % interval of the octave's mean power, over that, from the scatter of the parts of the record; 0
/// where there are no two.
fn of_parts(spectrum: &PowerSpectrum, middle_hz: f64, power: f64) -> f64 {
    let parts = spectrum.parts.iter().filter_map(|part| octave_power(spectrum, part, middle_hz));
    let powers: Vec<f64> = parts.map(|(power, _)| power).collect();
    let n = powers.len() as f64;
    if n < 2.0 {
        return 0.0;
    }
    let mean = powers.iter().sum::<f64>() / n;
    let variance = powers.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / (n - 1.0);
    t_quantile(0.975, n - 1.0) * (variance / n).sqrt() / power
}

/// Power from f/√2 to f√2, and the variance of its estimate; bins at the ends count by their share.
fn octave_power(spectrum: &PowerSpectrum, density: &[f64], middle_hz: f64) -> Option<(f64, f64)> {
    let (low, high) = (middle_hz / SQRT_2, middle_hz * SQRT_2);
    let half = 0.5 * spectrum.bin_hz;
    let (mut power, mut variance) = (0.0, 0.0);
    for (f, density) in spectrum.frequency_hz.iter().zip(density) {
        let covered = ((f + half).min(high) - (f - half).max(low)).max(0.0);
        power += density * covered;
        variance += (density * covered).powi(2) * 2.0 / spectrum.dof * BIN_CORRELATION;
    }
    (power > 0.0).then_some((power, variance))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::spectra::welch::welch;
    use rand::{RngExt, SeedableRng};
    use rand_chacha::ChaCha8Rng;

    /// Uniform noise of variance 1/12 at 100 Hz has the density 1/600 in every Hz: an octave around 4 Hz holds
    /// 4 (√2 − 1/√2)/600.
    #[test]
    fn the_octave_of_white_noise_is_its_width() {
        let mut rng = ChaCha8Rng::seed_from_u64(4);
        let noise: Vec<f64> = (0..60_000).map(|_| rng.random::<f64>()).collect();
        let rms = |values: &[f64]| {
            octave_rms(&welch(&[values], 100.0, 2000).unwrap(), &Estimate::new(4.0, 4.0, 4.0).unwrap())
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
        assert_eq!(octave_rms(&welch(&[&noise], 100.0, 2000).unwrap(), &beyond), None);
    }
}
