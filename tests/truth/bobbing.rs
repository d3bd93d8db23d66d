//! Bobbing against plows drawn at random: whether the intervals of frequency and damping hold the mode that the tail
//! load swings in most, and that of the RMS what the same plow swings with over a long strip. The drawn plows are
//! invented.

use crate::drawn_plows::{line_of, show};
use analysis::summary::analyse;
use hitchwright_tests::coverage::Coverage;
use hitchwright_tests::drawn_run::{DrawnRun, drawn_plow, driven};
use ingest::plow::ChannelRole;
use sample_runs::plow::{DrawnPlow, Mode};
use stats::Estimate;
use std::f64::consts::{SQRT_2, TAU};

/// Rows per second of the long strip: its octaves lie below half of them.
const STRIP_RATE_HZ: f64 = 100.0;

/// Counts an interval with the ln of its ends' ratio as its width.
fn hold(coverage: &mut Coverage, what: &'static str, told: &Estimate, truth: f64) {
    coverage.count(what, told.holds(truth), (told.high / told.low).ln());
}

/// RMS of the tail load in the octave around a frequency, over another strip of the same field `strip_s` long, by one
/// Fourier sum a frequency under one Hann window over all of it (Goertzel's recursion).
fn octave_rms_n(drawn: &DrawnPlow, strip_s: f64, middle_hz: f64) -> f64 {
    let mut long = drawn.clone();
    long.pass.times.working_s = strip_s;
    long.pass.field_seed = drawn.pass.field_seed.wrapping_add(0x5EED);
    let load = driven(&long, STRIP_RATE_HZ, |_| ()).1.tail_load_n;
    let n = load.len();
    let mean = load.iter().sum::<f64>() / n as f64;
    let turn = TAU / n as f64;
    let windowed: Vec<f64> =
        load.iter().enumerate().map(|(i, x)| (x - mean) * (1.0 - (turn * i as f64).cos())).collect();
    let bin_hz = STRIP_RATE_HZ / n as f64;
    let (first, last) = (middle_hz / SQRT_2 / bin_hz, middle_hz * SQRT_2 / bin_hz);
    let power: f64 = (first.round() as usize..=last.round() as usize)
        .map(|k| {
            let twice_cos = 2.0 * (turn * k as f64).cos();
            let (mut one, mut two) = (0.0, 0.0);
            for x in &windowed {
                (one, two) = (x + twice_cos * one - two, one);
            }
            one * one + two * two - twice_cos * one * two
        })
        .sum();
    // The mean square of 1 − cos is 3/2.
    (power * 2.0 / 1.5).sqrt() / n as f64
}

/// One plow, its rows at most `rows`; what is told of its bobbing, beside its modes.
fn judge(seed: u64, rows: f64, strip_s: f64, further: &[ChannelRole], held: &mut Coverage) {
    let mut drawn: DrawnPlow = drawn_plow(seed);
    drawn.pass.times.working_s = drawn.pass.times.working_s.min(rows / drawn.rate_hz);
    let DrawnRun { run, truth, .. } = DrawnRun::of(&drawn, further, seed);
    let Ok(analysed) = analyse(run) else { return held.count("told at all", false, 0.0) };
    let said = analysed.summary;
    held.count("told at all", true, 0.0);
    let modes: Vec<(Mode, f64)> = truth.modes.iter().flatten().copied().collect();
    let mut text = line_of(seed, &drawn, &truth);
    let Some(bobbing) = &said.bobbing else {
        println!("{text} -> none: {:?}", said.bobbing_notes);
        return held.count("bobbing told", false, 0.0);
    };
    held.count("bobbing told", true, 0.0);
    let further = bobbing.further_modes.iter().map(|m| format!(", {} Hz", show(&m.frequency_hz)));
    let damping = bobbing.damping_ratio.as_ref().map(show).unwrap_or_default();
    let (frequency, rms) = (show(&bobbing.frequency_hz), show(&bobbing.rms_n));
    text += &format!(" -> {frequency} Hz, {damping} {rms} N{}", further.collect::<String>());
    text += if bobbing.poor_fit { " POOR" } else { "" };
    let Some(strongest) = truth.strongest_mode() else {
        println!("{text}");
        return held.count("(a wheel off the ground at the mean: no modes)", false, 0.0);
    };
    let hz = &bobbing.frequency_hz;
    if strongest.frequency_hz > (0.45 * drawn.rate_hz).min(15.0) {
        println!("{text}");
        return hold(held, "strongest mode above the search", hz, strongest.frequency_hz);
    }
    if modes.iter().any(|(mode, _)| mode.frequency_hz > 0.5 * drawn.rate_hz) {
        // It shows at another frequency, which the summary says where it can know.
        hold(held, "frequency: strongest mode, the other one folded", hz, strongest.frequency_hz);
    }
    hold(held, "frequency: strongest mode", hz, strongest.frequency_hz);
    if truth.lifted_share < 0.05 {
        hold(held, "frequency: strongest mode, lifted < 5 %", hz, strongest.frequency_hz);
    }
    if !bobbing.poor_fit {
        hold(held, "frequency: strongest mode, fit not poor", hz, strongest.frequency_hz);
    }
    let away = |mode: &Mode| (mode.frequency_hz / hz.value).ln().abs();
    let nearest = modes.iter().min_by(|a, b| away(&a.0).total_cmp(&away(&b.0)));
    let (nearest, _) = nearest.unwrap();
    hold(held, "frequency: nearest mode", hz, nearest.frequency_hz);
    if let Some(damping) = &bobbing.damping_ratio {
        hold(held, "damping: strongest mode", damping, strongest.damping_ratio);
        hold(held, "damping: nearest mode", damping, nearest.damping_ratio);
    }
    let rms_n = octave_rms_n(&drawn, strip_s, hz.value);
    hold(held, "RMS: octave of what is told", &bobbing.rms_n, rms_n);
    println!("{text} octave {rms_n:.1} N{}", if nearest == &strongest { "" } else { " OTHER" });
}

/// Two threads, each with every other seed.
fn study(seeds: &[u64], rows: f64, strip_s: f64, further: &[ChannelRole]) -> Coverage {
    std::thread::scope(|scope| {
        let halves = [0, 1].map(|half| {
            scope.spawn(move || {
                let mut held = Coverage::default();
                for seed in seeds.iter().skip(half).step_by(2) {
                    judge(*seed, rows, strip_s, further, &mut held);
                }
                held
            })
        });
        halves.map(|half| half.join().unwrap()).into_iter().fold(Coverage::default(), Coverage::and)
    })
}

/// The strip that the RMS is held against is itself a sample, of ten minutes. The fit was made on seeds 3001 to 3160.
fn held_of_drawn_plows(seeds: std::ops::RangeInclusive<u64>, further: &[ChannelRole]) {
    let seeds: Vec<u64> = seeds.collect();
    let held = study(&seeds, 60_000.0, 600.0, further);
    held.print();
    for (what, least) in [
        ("frequency: strongest mode", 86),
        ("frequency: nearest mode", 93),
        ("damping: nearest mode", 92),
        ("RMS: octave of what is told", 80),
    ] {
        let (good, all) = held.of(what);
        assert!(2 * all >= seeds.len() && 100 * good >= least * all, "{what}: {good} of {all}");
    }
}

/// The bounds lie a little under what was reached.
#[test]
#[ignore = "160 drawn plows take some minutes"]
fn of_drawn_plows() {
    held_of_drawn_plows(1001..=1160, &[ChannelRole::Speed]);
}

/// The time between the wheels has to be found from the spectrum.
#[test]
#[ignore = "80 drawn plows take some minutes"]
fn of_drawn_plows_without_a_speed() {
    held_of_drawn_plows(1161..=1240, &[]);
}

/// A smoke test: few plows, of those that the fit was made on, a minute each at no more than 100 rows a second.
#[test]
fn a_few_drawn_plows_of_those_it_was_made_on() {
    let held = study(&[3002, 3004, 3010, 3021, 3034, 3043], 6_000.0, 120.0, &[ChannelRole::Speed]);
    held.print();
    for what in ["frequency: strongest mode", "frequency: nearest mode", "damping: nearest mode"] {
        let (good, all) = held.of(what);
        assert!(all >= 4 && good + 1 >= all, "{what}: {good} of {all}");
    }
}
