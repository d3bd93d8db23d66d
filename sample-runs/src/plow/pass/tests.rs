use super::super::pass_spec::LONGEST_STEP_S;
use super::*;
use crate::plow::{Case, DrawnPlow, SpeedWander, Truth};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;

fn truth(spec: &PassSpec, step_s: f64) -> Truth {
    Truth::of(Pass::with_step(spec, step_s), 0.005).unwrap()
}

/// Halves the step: no mean load may change by more than a thousandth of what `of` gives for it.
fn assert_step_is_short_enough(spec: &PassSpec, step_s: f64, of: impl Fn(f64) -> f64, what: &str) {
    let (whole, half) = (truth(spec, step_s), truth(spec, step_s / 2.0));
    for (name, a, b) in [
        ("pull", whole.pull_n, half.pull_n),
        ("tail", whole.tail_load_n, half.tail_load_n),
        ("front", whole.front_load_n, half.front_load_n),
        ("tail sd", whole.tail_load_sd_n, half.tail_load_sd_n),
    ] {
        assert!((a - b).abs() < 1e-3 * of(b), "{what} {name}: {a} {b}");
    }
}

#[test]
fn half_the_step_changes_loads_by_less_than_a_thousandth() {
    for case in Case::ALL {
        assert_step_is_short_enough(&case.pass(5, 20.0), STEP_S, f64::abs, case.name());
    }
}

#[test]
fn the_longest_step_of_drawn_plows_may_be_halved_or_not() {
    for seed in 0..16 {
        let mut spec = DrawnPlow::draw(&mut ChaCha8Rng::seed_from_u64(seed)).pass;
        spec.times.working_s = 20.0;
        let step_s = spec.longest_step_s();
        assert!((0.000_2..=LONGEST_STEP_S).contains(&step_s), "{step_s}");
        assert_step_is_short_enough(&spec, step_s, |_| spec.plow.weight_n, &seed.to_string());
    }
}

#[test]
fn play_keeps_the_sensor_still_until_the_wheel_has_moved_by_it() {
    // A wheel that goes up, down and up again: the sensor stands half the play behind, whichever way.
    let mut sensor_mm = 0.0;
    let seen: Vec<f64> = [1.0, 4.0, 3.0, 2.0, 0.0, 1.5, 3.0]
        .iter()
        .map(|wheel_mm| {
            sensor_mm = dragged(sensor_mm, *wheel_mm, 2.0);
            sensor_mm
        })
        .collect();
    assert_eq!(seen, [0.0, 3.0, 3.0, 3.0, 1.0, 1.0, 2.0]);
}

#[test]
fn play_changes_what_the_sensor_sees_and_nothing_else() {
    let spec = Case::Balanced.pass(2, 10.0);
    let mut loose = spec;
    loose.plow.tail_play_m = 0.004;
    let (mut tight, mut loose) = (Pass::new(&spec), Pass::new(&loose));
    let (mut still, mut differs) = (0, 0);
    let mut before = f64::NAN;
    for _ in 0..400 {
        tight.advance(0.02);
        loose.advance(0.02);
        let (a, b) = (tight.state(), loose.state());
        assert_eq!((a.forces, a.depth_mm, a.pull_n), (b.forces, b.depth_mm, b.pull_n));
        assert!((a.tail_mm - b.tail_mm).abs() <= 2.0 + 1e-9, "{} {}", a.tail_mm, b.tail_mm);
        differs += u32::from((a.tail_mm - b.tail_mm).abs() > 0.1);
        still += u32::from(b.tail_mm == before);
        before = b.tail_mm;
    }
    assert!(differs > 300 && still > 50, "{differs} {still}");
}

#[test]
fn a_wandering_speed_is_met_by_the_distance() {
    let mut spec = Case::Balanced.pass(2, 60.0);
    spec.speed_wander = SpeedWander { sd_share: 0.06, time_s: 4.0 };
    let mut pass = Pass::with_step(&spec, spec.longest_step_s());
    let (mut distance_m, mut slowest, mut fastest) = (0.0, f64::INFINITY, 0.0f64);
    while !pass.is_over() {
        let before = pass.state();
        pass.advance(0.05);
        let after = pass.state();
        distance_m += 0.05 * (before.speed_mps + after.speed_mps) / 2.0;
        assert!(
            (after.distance_m - distance_m).abs() < 1e-6 * (1.0 + distance_m),
            "{} {distance_m}",
            after.distance_m
        );
        (slowest, fastest) = (slowest.min(after.speed_mps), fastest.max(after.speed_mps));
    }
    assert!(slowest < 0.95 * 1.6 && fastest > 1.05 * 1.6, "{slowest} {fastest}");
}

#[test]
fn standing_first_pulls_nothing_and_is_the_same_pass_later() {
    let spec = Case::Balanced.pass(2, 10.0);
    let mut stands = spec;
    stands.times.standing_s = 5.0;
    let (mut now, mut later) = (Pass::new(&spec), Pass::new(&stands));
    let resting = later.state();
    later.advance(4.9);
    let still = later.state();
    assert_eq!((still.pull_n, still.tail_mm, still.depth_mm), (0.0, resting.tail_mm, resting.depth_mm));
    assert!(still.depth_mm < 0.0 && !still.working);
    later.advance(0.1);
    for _ in 0..150 {
        now.advance(0.1);
        later.advance(0.1);
        let (a, b) = (now.state(), later.state());
        // Times that are added up differently may end a step of the solution sooner or later.
        assert!((a.pull_n - b.pull_n).abs() < 1e-2 * (1.0 + a.pull_n), "{a:?} {b:?}");
        assert_eq!(a.working, b.working, "{} s", a.t_s);
    }
}

#[test]
fn same_spec_same_pass_to_the_last_bit() {
    let run = || {
        let mut pass = Pass::new(&Case::TooFlat.pass(9, 5.0));
        let mut seen = Vec::new();
        while !pass.is_over() {
            pass.advance(0.01);
            let s = pass.state();
            seen.push((s.pull_n.to_bits(), s.tail_mm.to_bits(), s.depth_mm.to_bits()));
        }
        seen
    };
    assert_eq!(run(), run());
}

#[test]
fn two_settings_meet_the_same_soil_at_the_same_metre() {
    let (mut a, mut b) = (Pass::new(&Case::TooFlat.pass(3, 10.0)), Pass::new(&Case::TooSteep.pass(3, 10.0)));
    let mut other = Pass::new(&Case::TooFlat.pass(4, 10.0));
    let mut differs = 0;
    for _ in 0..100 {
        // Another rate must not change the field either.
        a.advance(0.1);
        (0..10).for_each(|_| b.advance(0.01));
        other.advance(0.1);
        assert!((a.state().hardness - b.state().hardness).abs() < 1e-9);
        differs += u32::from((a.state().hardness - other.state().hardness).abs() > 1e-6);
    }
    assert!(differs > 90, "{differs}");
}

#[test]
fn in_the_air_only_the_wheels_resist_and_at_work_the_soil_does() {
    let spec = Case::Balanced.pass(2, 10.0);
    let mut pass = Pass::new(&spec);
    pass.advance(2.0);
    let air = pass.state();
    assert!(air.depth_mm < 0.0 && !air.working, "{air:?}");
    // Rolling resistance of the whole weight, give or take the drawbar's lift and the bumps.
    let rolling_n = spec.plow.rolling_resistance * spec.plow.weight_n;
    assert!((air.pull_n / rolling_n - 1.0).abs() < 0.5, "{} {rolling_n}", air.pull_n);
    pass.advance(8.0);
    let work = pass.state();
    assert!(work.working && (150.0..210.0).contains(&work.depth_mm), "{work:?}");
    assert!(work.pull_n > 20.0 * air.pull_n);
    pass.advance(spec.times.total_s() - 11.0);
    let out = pass.state();
    assert!(out.depth_mm < 0.0 && !out.working && !pass.is_over(), "{out:?}");
}

#[test]
fn a_mean_over_time_obeys_the_balance_of_forces_and_moments() {
    // Over a long time the plow goes nowhere, so the means must balance: V = W − mean(tP_x) −
    // mean(σS). Means of products differ from products of means, hence the tolerance.
    for case in Case::ALL {
        let spec = case.pass(6, 40.0);
        let t = truth(&spec, STEP_S);
        let both = spec.plow.weight_n - t.drawbar_slope * t.pull_x_n - t.soil_slope * t.soil_draft_n;
        assert!((t.tail_load_n + t.front_load_n - both).abs() < 0.01 * spec.plow.weight_n);
    }
}

#[test]
fn absurd_gaps_end() {
    let mut pass = Pass::new(&Case::Balanced.pass(1, 1.0));
    for gap_s in [0.0, -1.0, f64::NAN] {
        pass.advance(gap_s);
    }
    assert_eq!(pass.t_s(), 0.0);
}
