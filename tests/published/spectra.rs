//! Spectra against published and independently computed values; the source stands beside each.

use hitchwright_tests::data::{self, ar1, close, number, numbers, reference, uniform};
use spectra::bobbing::{SearchBand, find_peaks, wheel_turn_hz};
use spectra::cross::cross_spectrum;
use spectra::modes::{Bins, Delay, fit_modes};
use spectra::welch::{PowerSpectrum, band_factors, welch};
use stats::Moments;
use std::f64::consts::PI;

fn sine(amplitude: f64, hz: f64, rate_hz: f64, n: usize) -> Vec<f64> {
    (0..n).map(|i| amplitude * (2.0 * PI * hz * i as f64 / rate_hz).sin()).collect()
}

/// A standard normal value from twelve uniform ones (Irwin–Hall), enough for second moments.
fn normal(n: usize, seed: u64) -> Vec<f64> {
    uniform(12 * n, seed).chunks(12).map(|c| c.iter().sum()).collect()
}

fn power(spectrum: &PowerSpectrum) -> f64 {
    spectrum.density.iter().sum::<f64>() * spectrum.bin_hz
}

/// AR(p) with these coefficients and unit-variance innovations.
fn autoregressive<const P: usize>(coefficients: [f64; P], seed: u64) -> Vec<f64> {
    let mut last = [0.0; P];
    let step = |u: f64| {
        let now = coefficients.iter().zip(last).map(|(c, x)| c * x).sum::<f64>() + u;
        last.rotate_right(1);
        last[0] = now;
        now
    };
    normal(100_000, seed).into_iter().map(step).collect()
}

/// Mean density of five bins.
fn around(spectrum: &PowerSpectrum, bin: usize) -> f64 {
    spectrum.density[bin - 2..=bin + 2].iter().sum::<f64>() / 5.0
}

fn top_bin(spectrum: &PowerSpectrum) -> usize {
    let bins = spectrum.density.iter().enumerate();
    bins.max_by(|a, b| a.1.total_cmp(b.1)).map_or(0, |(bin, _)| bin)
}

/// Parseval and the noise bandwidth of 1.5 bins of the periodic Hann window (Harris 1978).
#[test]
fn a_sine_on_a_bin_and_between_bins() {
    let on = welch(&[&sine(3.0, 20.0 * 100.0 / 512.0, 100.0, 5120)], 100.0, 512).unwrap();
    close(on.density[20], 15.36, 1e-10, "top");
    close(power(&on), 4.5, 1e-10, "power");
    for bin in [19, 21] {
        close(on.density[bin] / on.density[20], 0.25, 1e-10, "neighbour");
    }
    assert!(on.density[18] < 1e-12 && on.density[22] < 1e-12);
    let between = welch(&[&sine(3.0, 20.5 * 100.0 / 512.0, 100.0, 5120)], 100.0, 512).unwrap();
    // As a power spectrum (density times noise bandwidth): 3.24228, scalloping loss 1.42362 dB.
    let lost = between.density[20] * 1.5 * 100.0 / 512.0;
    close(lost, 3.24228, 1e-4, "between bins");
    close(10.0 * (lost / 4.5).log10(), -1.42362, 1e-4, "dB");
    close(between.density[21] / between.density[20], 1.0, 1e-5, "bins 20 and 21");
}

/// White noise of SD 2 at 100 Hz has a one-sided density of 2σ²/fs = 0.08.
#[test]
fn the_level_of_white_noise() {
    let noise: Vec<f64> = normal(60_000, 4321).iter().map(|x| 2.0 * x).collect();
    let spectrum = welch(&[&noise], 100.0, 500).unwrap();
    let inner = &spectrum.density[2..248];
    let mean = inner.iter().sum::<f64>() / inner.len() as f64;
    close(mean, 0.08, 0.02, "level");
    // Each bin scatters by √(2/ν), with Welch's ν.
    let sd = Moments::of(inner).sd().unwrap() / mean;
    close(sd, (2.0 / spectrum.dof).sqrt(), 0.15, "scatter");
}

/// AR(1) with φ = 0.5, theory (Box & Jenkins): two-sided 4.0, 2.267661, 0.8, 0.444444 at f = 0, .1, .25,
/// .5.
#[test]
fn the_spectrum_of_ar1() {
    let spectrum = welch(&[&autoregressive([0.5], 99)], 1.0, 200).unwrap();
    close(around(&spectrum, 20), 2.0 * 2.267661, 0.08, "f 0.1");
    close(around(&spectrum, 50), 2.0 * 0.8, 0.08, "f 0.25");
    close(around(&spectrum, 95), 2.0 * 0.45, 0.08, "f near 0.5");
    close(power(&spectrum), 4.0 / 3.0, 0.04, "variance");
}

/// AR(2) (0.75, −0.5), theory: two-sided 3.319736 and 1.230769 at f = 0.1 and 0.25, variance 1.777778.
#[test]
fn the_spectrum_of_ar2() {
    let spectrum = welch(&[&autoregressive([0.75, -0.5], 7)], 1.0, 200).unwrap();
    close(around(&spectrum, 20), 2.0 * 3.319736, 0.08, "f 0.1");
    close(around(&spectrum, 50), 2.0 * 1.230769, 0.08, "f 0.25");
    close(power(&spectrum), 1.777778, 0.04, "variance");
}

/// y = x + n has coherence SNR/(1 + SNR); without x it exceeds the 95 % level in one bin of twenty
/// (Bendat & Piersol; Carter, Knapp & Nuttall 1973).
#[test]
fn coherence_of_related_and_unrelated_channels() {
    let x = normal(64_000, 11);
    for (snr, want) in [(0.25, 0.2), (1.0, 0.5), (4.0, 0.8), (9.0, 0.9_f64)] {
        let y: Vec<f64> = x.iter().zip(normal(64_000, 222)).map(|(x, n)| x + n / f64::sqrt(snr)).collect();
        let cross = cross_spectrum(&[&x], &[&y], 100.0, 500).unwrap();
        let coherence = cross.coherence();
        let mean = coherence[2..248].iter().sum::<f64>() / 246.0;
        let bias = (1.0 - want).powi(2) / cross.independent_segments;
        assert!((mean - bias - want).abs() < 0.02, "SNR {snr}: {mean}");
    }
    // Stretches of one segment each are independent segments: n = 8 gives the level 0.348164.
    let (mut over, mut sum, mut bins) = (0_usize, 0.0, 0_usize);
    for seed in 0..20 {
        let (x, y) = (normal(1600, 1 + 2 * seed), normal(1600, 100_002 + 2 * seed));
        let (xs, ys): (Vec<&[f64]>, Vec<&[f64]>) = (x.chunks(200).collect(), y.chunks(200).collect());
        let cross = cross_spectrum(&xs, &ys, 100.0, 200).unwrap();
        close(cross.independent_segments, 8.0, 1e-12, "n");
        close(cross.coherence_level(), 0.348164, 1e-5, "level");
        let coherence = cross.coherence();
        over += coherence[2..98].iter().filter(|c| **c > cross.coherence_level()).count();
        sum += coherence[2..98].iter().sum::<f64>();
        bins += 96;
    }
    close(sum / bins as f64, 0.125, 0.05, "mean of zero coherence, 1/n");
    let share = over as f64 / bins as f64;
    assert!((0.03..0.07).contains(&share), "{share} of unrelated bins over the 95 % level");
}

/// The 95 % level of zero coherence for 4, 16, 32 and 64 independent segments.
#[test]
fn zero_coherence_levels() {
    for (n, level) in [(4, 0.631597), (16, 0.181036), (32, 0.092114), (64, 0.046438)] {
        let x = uniform(16 * n, 5);
        let stretches: Vec<&[f64]> = x.chunks(16).collect();
        let cross = cross_spectrum(&stretches, &stretches, 1.0, 16).unwrap();
        close(cross.coherence_level(), level, 1e-5, "level");
    }
}

/// Gain and phase of a known delay and factor, and how often their intervals hold it (Bendat & Piersol).
#[test]
fn gain_and_phase_intervals_hold_the_truth() {
    let (mut held_gain, mut held_phase, mut bins) = (0_usize, 0_usize, 0_usize);
    for seed in 0..40 {
        let x = normal(4000, 17 + 2 * seed);
        let noise = normal(4000, 900_001 + 2 * seed);
        // y follows x by 0.6 three readings later: phase −360·3·f/fs.
        let y: Vec<f64> =
            (0..4000).map(|i| if i < 3 { 0.0 } else { 0.6 * x[i - 3] } + 0.5 * noise[i]).collect();
        let cross = cross_spectrum(&[&x], &[&y], 100.0, 400).unwrap();
        for bin in (5..60).step_by(4) {
            let transfer = cross.transfer(bin).unwrap();
            let lag_deg = -360.0 * 3.0 * cross.frequency_hz[bin] / 100.0;
            let phase = transfer.phase_deg.unwrap();
            bins += 1;
            held_gain += usize::from(transfer.gain.holds(0.6));
            held_phase += usize::from([-360.0, 0.0, 360.0].iter().any(|turn| phase.holds(lag_deg + turn)));
        }
    }
    let (gain, phase) = (held_gain as f64 / bins as f64, held_phase as f64 / bins as f64);
    // Joint intervals: each alone holds more than 95 %.
    assert!((0.94..=1.0).contains(&gain) && (0.94..=1.0).contains(&phase), "gain {gain}, phase {phase}");
}

/// Equivalent degrees of freedom 36K²/(19K − 1), Welch 1967; χ² band factors.
#[test]
fn degrees_of_freedom_and_chi_square_band() {
    for (k, dof) in [(2, 3.891892), (7, 13.363636), (15, 28.521127), (31, 58.836735)] {
        let n = 32 * (k + 1);
        close(welch(&[&uniform(n, 3)], 1.0, 64).unwrap().dof, dof, 1e-6, "dof");
    }
    let dof = [2.0, 6.0, 10.0, 13.363636, 28.521127, 60.0];
    let low = [0.271085, 0.415243, 0.488206, 0.529455, 0.632134, 0.720308];
    let high = [39.49789, 4.849095, 3.079792, 2.553944, 1.817500, 1.482149];
    for ((dof, low), high) in dof.into_iter().zip(low).zip(high) {
        let factors = band_factors(dof).unwrap();
        close(factors.0, low, 2e-6, "low");
        close(factors.1, high, 2e-6, "high");
    }
}

/// Yearly sunspots 1700–2008 (statsmodels data set), Welch 128/64 Hann: top at 0.09375, 10.667 years.
#[test]
fn the_sunspot_cycle() {
    let moments = Moments::of(&data::series("sunspots"));
    close(moments.mean, 49.752104, 1e-7, "mean");
    // The list's SD; it does not say which divisor, and only n − 1 fits its digits.
    close(moments.sd().unwrap(), 40.452595, 1e-7, "SD");
    let spectrum = welch(&[&data::series("sunspots")], 1.0, 128).unwrap();
    assert_eq!(spectrum.frequency_hz[top_bin(&spectrum)], 0.09375);
}

/// Beam deflections (NIST/SEMATECH e-Handbook 1.4.2.5), scipy Welch with Hann 64/32: top bin and whole
/// power.
#[test]
fn beam_deflections_by_welch() {
    let spectrum = welch(&[&data::series("lew")], 1.0, 64).unwrap();
    assert_eq!(spectrum.segments, 5);
    assert_eq!(spectrum.frequency_hz[top_bin(&spectrum)], 0.296875);
    close(power(&spectrum), 77_611.806, 1e-7, "power");
}

/// The least-squares optimum of the beam deflections (not the handbook's printed fit, which is none): the beam's frequency is 0.3018070 per
/// observation; as a bobbing peak it must be found within the resolution, alone.
#[test]
fn the_beams_frequency_is_its_bobbing_peak() {
    for segment_len in [64, 100] {
        let spectrum = welch(&[&data::series("lew")], 1.0, segment_len).unwrap();
        let found = find_peaks(&spectrum, SearchBand::usual(&spectrum)).unwrap();
        let peak = found.peaks.first().unwrap();
        let error = (peak.frequency_hz.value - 0.3018070).abs();
        assert!(error < 0.25 * spectrum.bin_hz, "{segment_len}: {peak:?}");
        assert!(peak.frequency_hz.holds(0.3018070), "{segment_len}: {peak:?}");
        assert_eq!(peak.damping_ratio, None, "a sinusoid is a line");
        // Its amplitude is 343.288565, so an RMS of 242.74 within what 200 values say.
        assert!(peak.rms.holds(343.288565 / 2.0_f64.sqrt()), "{segment_len}: {peak:?}");
    }
}

/// The integral of the density is the variance: exactly for a series of whole periods, nearly for noise.
#[test]
fn the_integral_is_the_variance() {
    let z = ar1(0.8, 20_000, 12345);
    let moments = Moments::of(&z);
    let spectrum = welch(&[&z], 100.0, 2000).unwrap();
    close(power(&spectrum), moments.variance().unwrap(), 0.02, "AR(1)");
}

/// scipy.signal: welch, csd and coherence with the periodic Hann window, for even, short and odd segments.
#[test]
fn spectra_against_scipy() {
    let stored = reference();
    let n = number(&stored, "/spectra/readings") as usize;
    let tone = sine(0.4, 7.3, 100.0, n);
    let x: Vec<f64> = ar1(0.8, n, 12345).iter().zip(tone).map(|(z, s)| z + s).collect();
    let noise = ar1(0.5, n, 54321);
    let y: Vec<f64> = (0..n).map(|i| if i < 2 { 0.0 } else { 0.6 * x[i - 2] } + 0.5 * noise[i]).collect();
    let every = number(&stored, "/spectra/keep_every") as usize;
    for case in 0..3 {
        let at = |key: &str| format!("/spectra/cases/{case}/{key}");
        let segment_len = number(&stored, &at("segment_len")) as usize;
        let psd = welch(&[&x], 100.0, segment_len).unwrap();
        let cross = cross_spectrum(&[&x], &[&y], 100.0, segment_len).unwrap();
        assert_eq!(psd.density.len(), number(&stored, &at("bins")) as usize);
        close(psd.density.last().copied().unwrap(), number(&stored, &at("psd_last")), 1e-9, "last bin");
        let coherence = cross.coherence();
        let lists: [(&str, Vec<f64>, Vec<f64>); 4] = [
            ("psd", psd.density.iter().step_by(every).copied().collect(), psd.density.clone()),
            ("csd_re", cross.cross.iter().step_by(every).map(|c| c.re).collect(), cross.input.clone()),
            ("csd_im", cross.cross.iter().step_by(every).map(|c| c.im).collect(), cross.input.clone()),
            ("coherence", coherence.iter().skip(every).step_by(every).copied().collect(), vec![1.0]),
        ];
        for (key, got, scale) in lists {
            let want = numbers(&stored, &at(key));
            assert_eq!(got.len(), want.len(), "{key}");
            // 1e-9 relative away from zero; near zero, against the largest value of the spectrum.
            let floor = 1e-12 * scale.iter().copied().fold(0.0, f64::max);
            for (bin, (got, want)) in got.iter().zip(&want).enumerate() {
                let allowed = 1e-9 * want.abs() + floor;
                assert!((got - want).abs() <= allowed, "{key} {segment_len} [{bin}]: {got}, scipy {want}");
            }
        }
    }
}

/// Spectra that scipy made (`lfilter`, `welch`) of oscillators of known frequency, damping and RMS: as many modes as
/// there are, and each interval holds. Four series of 2 to 6 intervals are few: all of them must.
#[test]
fn modes_of_series_that_scipy_made() {
    for case in data::cases("/oscillators") {
        let at = |name: &str| number(&case, name);
        let (n, segment_len) = (at("/readings") as usize, at("/segment_len") as usize);
        let density = numbers(&case, "/psd");
        // Degrees of freedom are those of any series cut so; only the densities are scipy's.
        let mut spectrum = welch(&[&uniform(n, 1)], at("/rate_hz"), segment_len).unwrap();
        spectrum.frequency_hz.truncate(density.len());
        spectrum.density = density;
        let search = find_peaks(&spectrum, SearchBand { low_hz: 0.2, high_hz: 15.0 }).unwrap();
        let skip = spectrum.frequency_hz.iter().position(|f| *f >= search.frequency_hz[0]).unwrap();
        let used = vec![true; search.frequency_hz.len()];
        let bins = Bins {
            frequency_hz: &search.frequency_hz,
            density: &spectrum.density[skip..skip + used.len()],
            background: &search.background,
            used: &used,
            bin_hz: spectrum.bin_hz,
            dof: spectrum.dof,
            delay: Delay::Unknown,
        };
        let top = search.peaks.first().unwrap();
        let found = fit_modes(&bins, (top.frequency_hz.value, 0.1)).unwrap();
        let truth: Vec<Vec<f64>> =
            (0..).map(|i| numbers(&case, &format!("/modes/{i}"))).take_while(|m| m.len() == 3).collect();
        assert_eq!(found.modes.len(), truth.len(), "{found:?}");
        assert!(!found.is_poor(), "{found:?}");
        for (mode, truth) in found.modes.iter().zip(&truth) {
            // Its RMS by itself, the third, is not told: the octave's holds background and the other mode as well.
            for (told, truth) in [mode.natural_hz, mode.damping_ratio].into_iter().zip(truth) {
                assert!(told.holds(*truth), "{told:?}, made with {truth}");
            }
        }
    }
}

/// Once-per-turn frequency v/(πD) at 8 and 6 km/h (geometry, recomputed).
#[test]
fn wheel_turn_frequencies() {
    let diameter_m = [0.40, 0.46, 0.50, 0.60, 0.66, 0.75];
    let at_8 = [1.7684, 1.5377, 1.4147, 1.1789, 1.0718, 0.9431];
    let at_6 = [1.3263, 1.1533, 1.0610, 0.8842, 0.8038, 0.7074];
    for ((diameter_m, at_8), at_6) in diameter_m.into_iter().zip(at_8).zip(at_6) {
        close(wheel_turn_hz(8.0 / 3.6, diameter_m), at_8, 1e-4, "8 km/h");
        close(wheel_turn_hz(6.0 / 3.6, diameter_m), at_6, 1e-4, "6 km/h");
    }
}
