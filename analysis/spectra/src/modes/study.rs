//! How often the intervals hold what is true, on series made without anything of the analysis: oscillators driven
//! by white noise, discretised exactly (Q = P − Φ P Φᵀ of the stationary covariance P), on red or flat noise.

use super::{Bins, Delay, Modes, fit_modes};
use crate::bobbing::{SearchBand, find_peaks};
use crate::octave::octave_rms;
use crate::welch::{segment_len_for, welch};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};
use rayon::prelude::*;
use stats::Estimate;
use std::f64::consts::{PI, SQRT_2, TAU};

const RATE_HZ: f64 = 50.0;

#[derive(Clone, Copy, Debug)]
struct TrueMode {
    natural_hz: f64,
    damping: f64,
    rms: f64,
}

fn normal(rng: &mut ChaCha8Rng) -> f64 {
    StandardNormal.sample(rng)
}

/// Place of an oscillator under white noise, from its stationary law on.
fn oscillator(mode: TrueMode, n: usize, rng: &mut ChaCha8Rng) -> Vec<f64> {
    let (omega, t) = (TAU * mode.natural_hz, 1.0 / RATE_HZ);
    let damped = omega * (1.0 - mode.damping * mode.damping).sqrt();
    let (decay, angle) = ((-mode.damping * omega * t).exp(), damped * t);
    let (s, c) = (angle.sin() * decay, angle.cos() * decay);
    let k = mode.damping * omega / damped;
    let phi = [[c + k * s, s / damped], [-omega * omega * s / damped, c - k * s]];
    let stationary = [mode.rms.powi(2), (omega * mode.rms).powi(2)];
    let q = |i: usize, j: usize| {
        let kept: f64 = (0..2).map(|m| phi[i][m] * stationary[m] * phi[j][m]).sum();
        if i == j { stationary[i] - kept } else { -kept }
    };
    let l00 = q(0, 0).max(0.0).sqrt();
    let l10 = q(1, 0) / l00;
    let l11 = (q(1, 1) - l10 * l10).max(0.0).sqrt();
    let mut x = [mode.rms * normal(rng), omega * mode.rms * normal(rng)];
    (0..n)
        .map(|_| {
            let (a, b) = (normal(rng), normal(rng));
            x = [
                phi[0][0] * x[0] + phi[0][1] * x[1] + l00 * a,
                phi[1][0] * x[0] + phi[1][1] * x[1] + l10 * a + l11 * b,
            ];
            x[0]
        })
        .collect()
}

/// Noise with a corner at 0.3 Hz and unit variance, and a little of a sensor; or flat, as strong in the band.
fn background(red: bool, n: usize, rng: &mut ChaCha8Rng) -> Vec<f64> {
    let keep = (-TAU * 0.3 / RATE_HZ).exp();
    let mut slow = normal(rng);
    (0..n)
        .map(|_| {
            slow = keep * slow + (1.0 - keep * keep).sqrt() * normal(rng);
            if red { slow + 0.1 * normal(rng) } else { normal(rng) }
        })
        .collect()
}

/// One series drawn: its modes, and what was found in it.
struct Trial {
    truth: Vec<TrueMode>,
    minutes: usize,
    red: bool,
    found: Option<(Modes, Estimate)>,
}

impl Trial {
    /// RMS in the octave around a mode, by the formulas of the spectra that the series was made from.
    fn octave_rms(&self, around: &TrueMode) -> f64 {
        let (low, high) = (around.natural_hz / SQRT_2, around.natural_hz * SQRT_2);
        let steps = 4000;
        let step = (high - low) / f64::from(steps);
        let power: f64 = (0..steps).map(|i| self.density(low + (f64::from(i) + 0.5) * step) * step).sum();
        power.sqrt()
    }

    /// One-sided density of the series at a frequency, below half of the rate.
    fn density(&self, f: f64) -> f64 {
        let modes: f64 = self
            .truth
            .iter()
            .map(|mode| {
                let (r, two_zeta) = (f / mode.natural_hz, 2.0 * mode.damping);
                let shape = two_zeta.powi(2) / ((1.0 - r * r).powi(2) + (two_zeta * r).powi(2));
                mode.rms.powi(2) / (PI * mode.damping * mode.natural_hz) * shape
            })
            .sum();
        let keep = (-TAU * 0.3 / RATE_HZ).exp();
        let red = (1.0 - keep * keep) / (1.0 - 2.0 * keep * (TAU * f / RATE_HZ).cos() + keep * keep);
        modes + 2.0 / RATE_HZ * if self.red { red + 0.01 } else { 1.0 }
    }
}

fn trial(modes: usize, seed: u64) -> Trial {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let uniform = |rng: &mut ChaCha8Rng, low: f64, high: f64| low + (high - low) * rng.random::<f64>();
    let damping = |rng: &mut ChaCha8Rng| uniform(rng, 0.03_f64.ln(), 0.3_f64.ln()).exp();
    let minutes = [1, 2, 4, 10][rng.random_range(0..4)];
    let red = rng.random::<bool>();
    let natural_hz = uniform(&mut rng, 1.2, 3.5);
    let rms = uniform(&mut rng, 0.7, 2.0);
    let mut truth = vec![TrueMode { natural_hz, damping: damping(&mut rng), rms }];
    if modes > 1 {
        let apart = uniform(&mut rng, 0.2, 3.0);
        let weaker = rms * uniform(&mut rng, 0.3, 0.9);
        let other_hz = if natural_hz - apart > 1.0 && rng.random::<bool>() {
            natural_hz - apart
        } else {
            natural_hz + apart
        };
        truth.push(TrueMode { natural_hz: other_hz, damping: damping(&mut rng), rms: weaker });
    }
    let n = minutes * 60 * RATE_HZ as usize;
    let mut values = background(red, n, &mut rng);
    for mode in &truth {
        values.iter_mut().zip(oscillator(*mode, n, &mut rng)).for_each(|(sum, x)| *sum += x);
    }
    Trial { found: analysed(&values), truth, minutes, red }
}

fn analysed(values: &[f64]) -> Option<(Modes, Estimate)> {
    let spectrum = welch(&[values], RATE_HZ, segment_len_for(&[values.len()], RATE_HZ)).ok()?;
    let search = find_peaks(&spectrum, SearchBand::usual(&spectrum)).ok()?;
    let peak = search.peaks.first()?;
    let skip = spectrum.frequency_hz.iter().position(|f| *f >= search.frequency_hz[0] - 1e-9)?;
    let density = spectrum.density.get(skip..skip + search.frequency_hz.len())?;
    let used = vec![true; density.len()];
    let bins = Bins {
        frequency_hz: &search.frequency_hz,
        density,
        background: &search.background,
        used: &used,
        bin_hz: spectrum.bin_hz,
        dof: spectrum.dof,
        delay: Delay::Unknown,
    };
    let modes =
        fit_modes(&bins, (peak.frequency_hz.value, peak.damping_ratio.map_or(0.03, |zeta| zeta.value)))?;
    let rms = octave_rms(&spectrum, (&[values], RATE_HZ), &modes.modes.first()?.natural_hz)?;
    Some((modes, rms))
}

#[derive(Default)]
struct Tally {
    all: usize,
    found: usize,
    counted: [usize; 4],
    held: [usize; 3],
    strongest: [usize; 3],
    poor: usize,
    width: f64,
}

fn tally(trials: &[&Trial]) -> Tally {
    let mut tally = Tally::default();
    for trial in trials {
        tally.all += 1;
        let Some((found, rms)) = &trial.found else { continue };
        tally.found += 1;
        tally.counted[found.modes.len()] += 1;
        tally.poor += usize::from(found.is_poor());
        let bobbing = &found.modes[0];
        tally.width += bobbing.natural_hz.high / bobbing.natural_hz.low - 1.0;
        let of = |mode: &TrueMode| {
            let held = |estimate: &Estimate, truth: f64| usize::from(estimate.holds(truth));
            [
                held(&bobbing.natural_hz, mode.natural_hz),
                held(&bobbing.damping_ratio, mode.damping),
                held(rms, trial.octave_rms(mode)),
            ]
        };
        // The mode that is meant, and the strongest of the truth (the first).
        let away = |mode: &&TrueMode| (mode.natural_hz / bobbing.natural_hz.value).ln().abs();
        let meant = trial.truth.iter().min_by(|a, b| away(a).total_cmp(&away(b))).unwrap();
        for (slots, mode) in [(&mut tally.held, meant), (&mut tally.strongest, &trial.truth[0])] {
            slots.iter_mut().zip(of(mode)).for_each(|(slot, held)| *slot += held);
        }
    }
    tally
}

fn print<'a>(name: &str, trials: impl Iterator<Item = &'a Trial>) {
    let t = tally(&trials.collect::<Vec<_>>());
    let share = |n: &usize| 100.0 * *n as f64 / t.found.max(1) as f64;
    print!("{name:<28} {:>4} {:>4}  ", t.all, t.found);
    t.counted[1..].iter().for_each(|count| print!("{count:>4} "));
    for held in [t.held, t.strongest] {
        held.iter().for_each(|held| print!(" {:>5.1}", share(held)));
        print!(" ");
    }
    println!(" {:>5.1} {:>6.3}", share(&t.poor), t.width / t.found.max(1) as f64);
}

fn study(seeds: std::ops::Range<u64>) -> (Vec<Trial>, Vec<Trial>) {
    let make =
        |modes: usize| seeds.clone().into_par_iter().map(|seed| trial(modes, seed)).collect::<Vec<_>>();
    let (one, two) = (make(1), make(2));
    println!(
        "{:<28} {:>4} {:>4}  {:>4} {:>4} {:>4}  {:>17}  {:>17}  {:>5} {:>6}",
        "series", "all", "seen", "1", "2", "3", "meant: f ζ RMS", "strongest: f ζ RMS", "poor", "width"
    );
    for (name, trials) in [("one mode", &one), ("two modes", &two)] {
        print(name, trials.iter());
        for minutes in [1, 2, 4, 10] {
            print(&format!("  {minutes} min"), trials.iter().filter(|t| t.minutes == minutes));
        }
        for (word, red) in [("red", true), ("flat", false)] {
            print(&format!("  {word}"), trials.iter().filter(|t| t.red == red));
        }
        for (low, high) in [(0.03, 0.1), (0.1, 0.3)] {
            let of = |t: &&Trial| (low..high).contains(&t.truth[0].damping);
            print(&format!("  damping {low} to {high}"), trials.iter().filter(of));
        }
    }
    for (low, high) in [(0.2, 0.5), (0.5, 1.0), (1.0, 3.0)] {
        let apart = |t: &&Trial| (low..high).contains(&(t.truth[0].natural_hz - t.truth[1].natural_hz).abs());
        print(&format!("  {low} to {high} Hz apart"), two.iter().filter(apart));
    }
    (one, two)
}

#[test]
#[ignore = "a study: some minutes"]
fn the_whole_table() {
    study(20_000..20_400);
}

#[test]
fn intervals_of_modes_hold_on_series_made_elsewhere() {
    let (one, two) = study(500..540);
    let single = tally(&one.iter().collect::<Vec<_>>());
    // 95 % of 40 is 38; a sound interval holds in fewer than 34 of 40 in one study of seventy.
    assert!(single.found >= 38 && single.held.iter().all(|held| held * 40 >= 34 * single.found));
    assert!(single.counted[1] + 1 >= single.found, "{:?} modes in one-mode series", single.counted);
    let apart = |t: &&Trial| (t.truth[0].natural_hz - t.truth[1].natural_hz).abs() >= 1.0;
    let apart = tally(&two.iter().filter(apart).collect::<Vec<_>>());
    assert!(apart.counted[2] * 10 >= apart.found * 8, "{:?} modes in two-mode series", apart.counted);
    assert!(
        apart.held.iter().all(|held| held * 10 >= apart.found * 8),
        "{:?} of {}",
        apart.held,
        apart.found
    );
}
