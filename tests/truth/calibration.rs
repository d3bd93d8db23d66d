//! The calibration's uncertainty against what the virtual plow knows to be true: a pull sensor that bends, with
//! hysteresis and noise, calibrated with loads that are off by as much as is stated.

#![allow(clippy::unwrap_used)] // a run that cannot be analysed must stop the test

use analysis::run::Run;
use analysis::statics::inputs::Input;
use analysis::summary::{Analysed, analyse};
use analysis::units_out::Units;
use hitchwright_tests::virtual_run::virtual_run;
use ingest::calibration::{CalibrationCurve, Fit};
use ingest::plow::{CalibrationPoint, ChannelRole};
use rand::{Rng, RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use sample_runs::plow::Case;

const FULL_SCALE_N: f64 = 10_000.0;

/// How bad a sensor and its calibration are.
#[derive(Clone, Copy)]
struct Quality {
    /// Bow in the middle of the range, share of full scale.
    bow: f64,
    /// Down over up in the middle of the range, share of full scale.
    hysteresis: f64,
    /// SD of a step's reading, N.
    noise_n: f64,
    /// Half of the 95 % interval of the loads, share of the load.
    reference: f64,
}

const GOOD: Quality = Quality { bow: 0.0005, hysteresis: 0.0005, noise_n: 5.0, reference: 0.002 };
const POOR: Quality = Quality { bow: 0.01, hysteresis: 0.01, noise_n: 40.0, reference: 0.02 };

impl Quality {
    /// What the sensor gives for a force, in N of a perfect one.
    fn bowed(&self, force_n: f64) -> f64 {
        let part = force_n / FULL_SCALE_N;
        force_n + 4.0 * self.bow * FULL_SCALE_N * part * (1.0 - part)
    }

    /// Gives the run's pull the sensor, and its description a calibration of it.
    fn put_into(&self, run: &mut Run, fit: Fit, rng: &mut impl Rng) {
        // Sum of twelve uniforms less 6 is near enough normal with SD 1 (Irwin-Hall).
        let mut normal = || (0..12).map(|_| rng.random::<f64>()).sum::<f64>() - 6.0;
        let off = 1.0 + self.reference / 1.96 * normal();
        let steps = (0..=5).map(|step| (step, false)).chain((0..5).rev().map(|step| (step, true)));
        let steps = steps.clone().chain(steps);
        let points: Vec<(f64, f64)> = steps
            .map(|(step, down)| {
                let stated_n = FULL_SCALE_N * f64::from(step) / 5.0;
                let part = stated_n / FULL_SCALE_N;
                let late =
                    if down { 4.0 * self.hysteresis * FULL_SCALE_N * part * (1.0 - part) } else { 0.0 };
                (self.bowed(stated_n * off) + late + self.noise_n * normal(), stated_n)
            })
            .collect();
        let curve = CalibrationCurve::through(&points, fit, ChannelRole::Pull).unwrap();
        let pull = run.table.channels.get_mut(&ChannelRole::Pull).unwrap();
        for reading in pull.iter_mut() {
            // In the field the load goes up and down: the sensor is half way between.
            let part = (*reading / FULL_SCALE_N).clamp(0.0, 1.0);
            let late = 2.0 * self.hysteresis * FULL_SCALE_N * part * (1.0 - part);
            *reading = curve.reading(self.bowed(*reading) + late);
        }
        let sensor =
            run.description.plow.sensors.iter_mut().find(|s| s.measures == ChannelRole::Pull).unwrap();
        sensor.calibration.fit = fit;
        sensor.calibration.reference = Some(format!("{} %", 100.0 * self.reference));
        sensor.calibration.points =
            points.iter().map(|(count, value)| CalibrationPoint(*count, format!("{value} N"))).collect();
    }
}

/// Ends of the central 95 % of the pull in the draws.
fn pull_interval(analysed: &Analysed) -> (f64, f64) {
    let mut pulls: Vec<f64> =
        analysed.identified.as_ref().unwrap().draws.iter().map(|draw| draw.inputs.get(Input::Pull)).collect();
    pulls.sort_by(f64::total_cmp);
    let at = |share: f64| pulls.get((share * pulls.len() as f64) as usize).copied().unwrap();
    (at(0.025), at(0.975))
}

/// How often the pull's and b's interval held the truth in 20 runs, and b's mean width.
fn held(quality: Quality, fit: Fit) -> (usize, usize, f64) {
    let (mut pull_held, mut b_held, mut widths) = (0, 0, 0.0);
    for seed in 1..=20 {
        let case = if seed % 2 == 0 { Case::Balanced } else { Case::TooFlat };
        let (mut run, truth) = virtual_run(case, seed, true);
        quality.put_into(&mut run, fit, &mut ChaCha8Rng::seed_from_u64(seed ^ 0xCA1));
        let analysed = analyse(run, Units::Si).unwrap();
        let (low, high) = pull_interval(&analysed);
        let b = analysed.summary.statics.as_ref().unwrap().balance_index;
        pull_held += usize::from(low <= truth.pull_n && truth.pull_n <= high);
        b_held += usize::from(b.holds(truth.balance_index));
        widths += (b.high - b.low) / 20.0;
    }
    println!("pull held in {pull_held}, b in {b_held} of 20, mean width of b {widths:.3}");
    (pull_held, b_held, widths)
}

#[test]
fn the_truth_is_held_with_a_good_and_with_a_poor_calibration_and_the_poor_one_says_less() {
    let mut widths = Vec::new();
    for (quality, fit) in [(GOOD, Fit::Line), (POOR, Fit::Line), (POOR, Fit::Table)] {
        let (pull, b, width) = held(quality, fit);
        // 17 of 20: fewer come by chance once in a hundred at 95 %.
        assert!(pull >= 17 && b >= 17, "pull {pull}, b {b} of 20");
        widths.push(width);
    }
    assert!(widths.iter().skip(1).all(|poor| *poor > widths[0]), "{widths:?}");
}
