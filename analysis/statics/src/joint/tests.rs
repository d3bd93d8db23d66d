use super::*;
use crate::from_priors::{KINDS, Plan, Sensed, example, runs};
use crate::identify::identify;
use crate::inputs::MeanForce;
use crate::invented_plow::{rewritten, setting_of};
use crate::value_of_information::Measurement;
use ingest::quantity::Force;
use rand_chacha::ChaCha8Rng;

fn width(figure: Estimate) -> f64 {
    figure.high - figure.low
}

fn drawn(passes: usize, seed: u64) -> (Plow, Vec<RunReadings>) {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let plan = Plan { sensed: Sensed::Tail, passes, varies: true, richly: false, slope_off: (0.0, 1.0) };
    loop {
        let mut plow = example(KINDS[0].1);
        if let Some((_, evidence)) = runs(&mut plow, plan, &mut rng) {
            return (plow, evidence);
        }
    }
}

/// One run by the joint estimate and by rejection: two ways to the same distribution, but for the pass-to-pass
/// part of the slope, which the joint one adds.
#[test]
fn one_run_gives_what_rejection_gives() {
    for seed in 1..6 {
        let (plow, evidence) = drawn(1, seed);
        let run = &evidence[0];
        let joint = estimate_jointly(&plow, &evidence, 4_000, 1).unwrap();
        let alone = identify(&plow, &run.setting, &run.figures, 8_000, 1).unwrap();
        let (ours, theirs) = (joint.runs[0].together.balance_index, alone.balance_index);
        let tolerance = 0.08 * width(theirs);
        for (a, b) in [(ours.value, theirs.value), (ours.low, theirs.low), (ours.high, theirs.high)] {
            assert!((a - b).abs() < tolerance, "seed {seed}: {ours:?} {theirs:?}");
        }
    }
}

/// Five runs in other holes show the soil slope better than one.
#[test]
fn more_settings_show_the_soil_better() {
    let slope = |evidence: &[RunReadings], plow: &Plow| {
        width(estimate_jointly(plow, evidence, 1_000, 1).unwrap().soil_slope)
    };
    let (mut narrower, mut studies) = (0, 0);
    for seed in 10..20 {
        let (plow, evidence) = drawn(5, seed);
        studies += 1;
        narrower += usize::from(slope(&evidence, &plow) < slope(&evidence[..1], &plow));
    }
    assert!(narrower >= 9, "{narrower} of {studies}");
}

/// A run filed under the wrong setting contradicts the others, and is named.
#[test]
fn a_run_under_the_wrong_setting_is_named() {
    let (plow, mut evidence) = drawn(4, 77);
    let wrong = &mut evidence[2];
    let load = wrong.figures.tail_load.unwrap().mean.value.n();
    wrong.figures.tail_load = Some(MeanForce::tail(
        Estimate::from_si(Estimate::around(load + 2_500.0, 15.0).unwrap()),
        Force::from_n(load),
    ));
    let refused = estimate_jointly(&plow, &evidence, 1_000, 1).unwrap_err();
    let JointError::Contradiction { run, probability } = refused else { panic!("{refused:?}") };
    assert_eq!(run, "run 3");
    assert!(probability < 1e-3);
}

#[test]
fn no_run_and_a_run_without_a_load_are_refused() {
    let (plow, mut evidence) = drawn(1, 3);
    let refused = |evidence: &[RunReadings]| estimate_jointly(&plow, evidence, 500, 1).unwrap_err();
    assert_eq!(refused(&[]), JointError::NoRun);
    evidence[0].figures.tail_load = None;
    assert!(refused(&evidence).to_string().starts_with("run 1: nothing of what the plow is carried by"));
}

/// A drawbar angle pins the line of pull: it narrows what a loosely measured hole leaves open.
#[test]
fn a_drawbar_angle_replaces_a_loose_hole_height() {
    let (mut plow, mut evidence) = drawn(1, 5);
    plow = rewritten(&plow, |said| {
        for hole in said.plow_hitch.holes.iter_mut().chain(&mut said.tractor_hitch.holes) {
            hole.z.half_width = Some(ingest::quantity::Quantity::from_si(0.06));
        }
    });
    let holes = &evidence[0].setting;
    evidence[0].setting = setting_of(&plow, &holes.plow_hole.name, &holes.tractor_hole.name);
    let before = estimate_jointly(&plow, &evidence, 2_000, 1).unwrap();
    let angle = before.runs[0].draws[0].loads.drawbar_slope.atan().to_degrees();
    evidence[0].figures.drawbar_angle = Estimate::around(angle, 0.1).map(Estimate::from_si);
    let after = estimate_jointly(&plow, &evidence, 2_000, 1).unwrap();
    let spread = |joint: &Joint| width(joint.runs[0].draws.estimate(|d| d.loads.drawbar_slope).unwrap());
    assert!(spread(&after) < 0.5 * spread(&before), "{} {}", spread(&after), spread(&before));
}

/// The measurement that is told first does what is foretold: a front-load sensor, put in.
#[test]
fn the_next_measurement_narrows_as_foretold() {
    let (plow, evidence) = drawn(1, 21);
    let joint = estimate_jointly(&plow, &evidence, 4_000, 1).unwrap();
    let told = &joint.next_measurements;
    assert!(!told.is_empty() && told.len() <= 3, "{told:?}");
    assert!(told.windows(2).all(|pair| pair[0].half_width_then <= pair[1].half_width_then));
    let front = told.iter().find(|one| one.what == Measurement::AddFrontLoad).unwrap();
    let (mut sum, mut count) = (0.0, 0);
    for draw in joint.runs[0].draws.iter().step_by(250) {
        let mut with = evidence.clone();
        let front_n = draw.loads.front_load.n();
        with[0].figures.front_load =
            Some(MeanForce::front(Estimate::from_si(Estimate::around(front_n, 1.0).unwrap())));
        let Ok(then) = estimate_jointly(&plow, &with, 1_000, 1) else { continue };
        sum += width(then.runs[0].together.balance_index) / 2.0;
        count += 1;
    }
    let mean = sum / f64::from(count);
    assert!((mean / front.half_width_then - 1.0).abs() < 0.25, "{mean} {front:?}");
}
