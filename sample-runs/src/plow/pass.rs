//! A test pass: the plow standing (if wanted) and then rolling in the air, let down, at work, and lifted out
//! again.

use std::sync::Arc;

use super::body::Body;
use super::travel::Travel;
use super::{Field, FieldSpec, Forces, Motion, Plow, Setting, Share, SpeedWander, Surroundings, settle};

/// Usual step of the integration in s. Half of it changes loads by less than 0.1 % (a test says so).
const STEP_S: f64 = 0.000_5;
/// Longest step that [`PassSpec::longest_step_s`] allows, in s: the land's stored points pass by in twice as
/// long or more.
const LONGEST_STEP_S: f64 = 0.004;
/// Part of a radian of the fastest motion that a step may take.
const STEP_RAD: f64 = 0.15;

/// When what happens in a pass.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PassTimes {
    /// Standing in the air with a slack drawbar before it moves, in s.
    pub standing_s: f64,
    /// Rolling in the air before it is let down, in s.
    pub raised_before_s: f64,
    /// From the air to working depth, and back, in s each.
    pub ramp_s: f64,
    /// At working depth, in s.
    pub working_s: f64,
    /// In the air afterwards, in s.
    pub raised_after_s: f64,
}

impl PassTimes {
    /// A pass with this long at working depth, in s; it moves from the start.
    #[must_use]
    pub fn working(working_s: f64) -> Self {
        Self { standing_s: 0.0, raised_before_s: 4.0, ramp_s: 1.5, working_s, raised_after_s: 3.0 }
    }

    /// From the first to the last moment, in s.
    #[must_use]
    pub fn total_s(&self) -> f64 {
        self.working_to_s() + self.ramp_s + self.raised_after_s
    }

    /// When working depth is reached, in s.
    #[must_use]
    pub fn working_from_s(&self) -> f64 {
        self.standing_s + self.raised_before_s + self.ramp_s
    }

    /// When the plow begins to be lifted out, in s.
    #[must_use]
    pub fn working_to_s(&self) -> f64 {
        self.working_from_s() + self.working_s
    }

    /// Lift (0 at work, 1 in the air) and its rate per s at a time.
    fn lift(&self, t_s: f64) -> (f64, f64) {
        let out = (t_s - self.working_to_s()) / self.ramp_s;
        let down = (self.working_from_s() - t_s) / self.ramp_s;
        let (place, sign) = if out > 0.0 { (out, 1.0) } else { (down, -1.0) };
        let place = place.clamp(0.0, 1.0);
        // Smooth at both ends, so that the wheels are not struck.
        (place * place * (3.0 - 2.0 * place), sign * 6.0 * place * (1.0 - place) / self.ramp_s)
    }
}

/// All that decides a pass.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PassSpec {
    /// The plow.
    pub plow: Plow,
    /// Its hitch.
    pub setting: Setting,
    /// Its shares.
    pub share: Share,
    /// How uneven the field is.
    pub field: FieldSpec,
    /// Which strip of the field: the same seed is the same ground, whatever else differs.
    pub field_seed: u64,
    /// Forward speed in m/s, above 0: its mean, if it wanders.
    pub speed_mps: f64,
    /// How it wanders about that.
    pub speed_wander: SpeedWander,
    /// When what happens.
    pub times: PassTimes,
}

impl PassSpec {
    /// Longest step in s by which the motion of this plow may be solved, for [`Pass::with_step`].
    ///
    /// A rigid body on springs k_i at distances x_i from its weight has ω₁² + ω₂² = Σ k_i (1/m + x_i²/J), the
    /// trace of M⁻¹K, and no mode faster than its root; its dampers alone let no motion die faster than
    /// Σ c_i (1/m + x_i²/J). The step is a fixed part of a radian of the larger of the two, and never longer
    /// than 4 ms. Stiffness is taken at twice the compression of the measured pose; a hard stop
    /// counts with its own.
    #[must_use]
    pub fn longest_step_s(&self) -> f64 {
        let plow = &self.plow;
        let (mut stiff, mut damped) = (0.0, 0.0);
        for wheel in [&plow.front, &plow.tail] {
            let arm_m = wheel.contact.x_m - plow.weight_at.x_m;
            let give = 1.0 / plow.mass_kg() + arm_m.powi(2) / plow.pitch_inertia_kg_m2;
            let (stop_n_per_m, stop_n_s_per_m) = super::body::stop_rates(wheel);
            stiff += give * (wheel.rate_n_per_m(2.0 * wheel.set_compression_m) + stop_n_per_m);
            damped += give * (wheel.damping_n_s_per_m + stop_n_s_per_m);
        }
        (STEP_RAD / stiff.sqrt().max(damped)).min(LONGEST_STEP_S)
    }
}

/// What is true at one moment, as perfect sensors would read it, and more.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TrueState {
    /// Time since the start of the pass in s.
    pub t_s: f64,
    /// Whether the plow is at working depth (neither in the air nor on its way).
    pub working: bool,
    /// Pull along the drawbar in N.
    pub pull_n: f64,
    /// Distance along the strip in m.
    pub distance_m: f64,
    /// Forward speed in m/s.
    pub speed_mps: f64,
    /// Deflection of the tail wheel's spring in mm as its sensor is moved, behind the play of the linkage if it
    /// has some; 0 while the wheel hangs.
    pub tail_mm: f64,
    /// Depth of the bottoms below the land in mm; below 0 in the air.
    pub depth_mm: f64,
    /// Pitch of the frame, nose up positive, in deg.
    pub pitch_deg: f64,
    /// Hardness of the soil.
    pub hardness: f64,
    /// The forces.
    pub forces: Forces,
}

/// A pass under way.
#[derive(Clone, Debug)]
pub struct Pass {
    spec: PassSpec,
    field: Arc<Field>,
    travel: Arc<Travel>,
    body: Body,
    motion: Motion,
    /// Compression of the tail wheel's spring as the sensor is moved, in m.
    sensed_tail_m: f64,
    t_s: f64,
    step_s: f64,
}

impl Pass {
    /// At rest in the air at the start of the strip.
    #[must_use]
    pub fn new(spec: &PassSpec) -> Self {
        Self::with_step(spec, STEP_S)
    }

    /// The same, solved in steps of this many seconds at most instead of half a millisecond.
    #[must_use]
    pub fn with_step(spec: &PassSpec, step_s: f64) -> Self {
        let moving_s = spec.times.total_s() - spec.times.standing_s;
        let travel = Travel::new(spec.speed_mps, &spec.speed_wander, spec.field_seed, moving_s);
        let field = Arc::new(Field::new(&spec.field, spec.field_seed, travel.at(moving_s).0));
        let body =
            Body { plow: spec.plow, setting: spec.setting, share: spec.share, extra_damping_per_s: 0.0 };
        let mut pass = Self {
            spec: *spec,
            field,
            travel: Arc::new(travel),
            body,
            motion: Motion::default(),
            sensed_tail_m: 0.0,
            t_s: 0.0,
            step_s,
        };
        let mut around = pass.around(0.0);
        // Standing: slopes of the land do not yet act.
        (around.ground_front.1, around.ground_tail.1) = (0.0, 0.0);
        let (pose, forces) = settle(&spec.plow, &spec.setting, spec.share, &around);
        pass.motion.pose = pose;
        pass.sensed_tail_m = forces.tail_compression_m;
        pass
    }

    /// What decided the pass.
    #[must_use]
    pub fn spec(&self) -> &PassSpec {
        &self.spec
    }

    /// Time since the start in s.
    #[must_use]
    pub fn t_s(&self) -> f64 {
        self.t_s
    }

    /// Whether the pass is over.
    #[must_use]
    pub fn is_over(&self) -> bool {
        self.t_s >= self.spec.times.total_s()
    }

    /// Goes on by `gap_s` (nothing happens if it is not above 0).
    pub fn advance(&mut self, gap_s: f64) {
        // A gap of more than an hour is a caller's mistake, and would hang for as long.
        let gap_s = if gap_s > 0.0 { gap_s.min(3600.0) } else { return };
        let steps = (gap_s / self.step_s - 1e-9).ceil().max(1.0);
        let step_s = gap_s / steps;
        let from_s = self.t_s;
        for i in 0..(steps as u64) {
            let t_s = from_s + i as f64 * step_s;
            if t_s < self.spec.times.standing_s {
                continue;
            }
            let around = [self.around(t_s), self.around(t_s + step_s / 2.0), self.around(t_s + step_s)];
            self.motion = self.body.step(&self.motion, &around, step_s);
            if self.spec.plow.tail_play_m > 0.0 {
                let wheel_m = self.body.forces(&self.motion, &around[2]).tail_compression_m;
                self.sensed_tail_m = dragged(self.sensed_tail_m, wheel_m, self.spec.plow.tail_play_m);
            }
        }
        self.t_s = from_s + gap_s;
    }

    /// What is true now.
    #[must_use]
    pub fn state(&self) -> TrueState {
        let around = self.around(self.t_s);
        let mut forces = self.body.forces(&self.motion, &around);
        let times = &self.spec.times;
        let play = self.spec.plow.tail_play_m > 0.0;
        let tail_m = if play { self.sensed_tail_m } else { forces.tail_compression_m };
        if self.t_s < times.standing_s {
            forces.pull_x_n = 0.0;
        }
        TrueState {
            t_s: self.t_s,
            working: self.t_s >= times.working_from_s() && self.t_s <= times.working_to_s(),
            pull_n: forces.pull_n(),
            distance_m: self.travel.at(self.t_s - times.standing_s).0,
            speed_mps: if self.t_s < times.standing_s { 0.0 } else { around.speed_mps },
            tail_mm: tail_m.max(0.0) * 1000.0,
            depth_mm: forces.depth_m * 1000.0,
            pitch_deg: -self.motion.pose.nose_down_rad.to_degrees(),
            hardness: around.hardness,
            forces,
        }
    }

    fn around(&self, t_s: f64) -> Surroundings {
        let plow = &self.spec.plow;
        let moving_s = t_s - self.spec.times.standing_s;
        let (front_m, speed_mps) = self.travel.at(moving_s);
        let (lift, lift_rate_per_s) = self.spec.times.lift(t_s);
        let at_bottoms_m = front_m + plow.soil_at.x_m;
        // A slope lifts the wheels of a plow that moves.
        let ground = |x_m: f64| match self.field.ground(x_m) {
            (height_m, _) if moving_s < 0.0 => (height_m, 0.0),
            moving => moving,
        };
        Surroundings {
            speed_mps,
            ground_front: ground(front_m),
            ground_tail: ground(front_m + plow.tail.contact.x_m),
            ground_bottoms_m: self.field.ground(at_bottoms_m).0,
            hardness: self.field.hardness(at_bottoms_m),
            tractor_hitch_z_m: self.spec.setting.tractor_hitch_z_m + self.field.tractor_bounce_m(front_m),
            lift_m: lift * plow.lift_m(),
            lift_rate_m_per_s: lift_rate_per_s * plow.lift_m(),
        }
    }
}

/// Where a sensor stands that the wheel drags along by a linkage with play: it follows only where the wheel
/// reaches the end of the play.
fn dragged(sensor_m: f64, wheel_m: f64, play_m: f64) -> f64 {
    sensor_m.clamp(wheel_m - play_m / 2.0, wheel_m + play_m / 2.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    use crate::plow::{Case, DrawnPlow, Truth, TruthMeter};
    use rand::SeedableRng;
    use rand_chacha::ChaCha8Rng;

    fn truth(mut pass: Pass) -> Truth {
        let mut meter = TruthMeter::new(pass.spec());
        while !pass.is_over() {
            meter.take(&pass.state());
            pass.advance(0.005);
        }
        meter.truth().unwrap()
    }

    #[test]
    fn half_the_step_changes_loads_by_less_than_a_thousandth() {
        for case in Case::ALL {
            let spec = case.pass(5, 20.0);
            let (whole, half) = (truth(Pass::new(&spec)), truth(Pass::with_step(&spec, STEP_S / 2.0)));
            let both = whole.tail_load_n + whole.front_load_n;
            for (name, a, b) in [
                ("pull", whole.pull_n, half.pull_n),
                ("tail", whole.tail_load_n, half.tail_load_n),
                ("front", whole.front_load_n, half.front_load_n),
                ("tail sd", whole.tail_load_sd_n, half.tail_load_sd_n),
            ] {
                assert!((a - b).abs() < 1e-3 * b.abs(), "{} {name}: {a} {b} of {both}", case.name());
            }
        }
    }

    #[test]
    fn the_longest_step_of_drawn_plows_may_be_halved_or_not() {
        for seed in 0..16 {
            let mut spec = DrawnPlow::draw(&mut ChaCha8Rng::seed_from_u64(seed)).pass;
            spec.times.working_s = 20.0;
            let step_s = spec.longest_step_s();
            assert!((0.000_2..=LONGEST_STEP_S).contains(&step_s), "{step_s}");
            let (whole, half) =
                (truth(Pass::with_step(&spec, step_s)), truth(Pass::with_step(&spec, step_s / 2.0)));
            let weight_n = spec.plow.weight_n;
            for (name, a, b) in [
                ("pull", whole.pull_n, half.pull_n),
                ("tail", whole.tail_load_n, half.tail_load_n),
                ("front", whole.front_load_n, half.front_load_n),
                ("tail sd", whole.tail_load_sd_n, half.tail_load_sd_n),
            ] {
                assert!((a - b).abs() < 1e-3 * weight_n, "{seed} {name}: {a} {b} of {weight_n}");
            }
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
        let (mut way_m, mut slowest, mut fastest) = (0.0, f64::INFINITY, 0.0f64);
        while !pass.is_over() {
            let before = pass.state();
            pass.advance(0.05);
            let after = pass.state();
            way_m += 0.05 * (before.speed_mps + after.speed_mps) / 2.0;
            assert!((after.distance_m - way_m).abs() < 1e-6 * (1.0 + way_m), "{} {way_m}", after.distance_m);
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
        let (mut a, mut b) =
            (Pass::new(&Case::TooFlat.pass(3, 10.0)), Pass::new(&Case::TooSteep.pass(3, 10.0)));
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
            let t = truth(Pass::new(&spec));
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

    proptest! {
        #[test]
        fn the_lift_goes_from_air_to_ground_and_back_at_the_rate_it_says(t_s in 0.0..25.0f64) {
            let times = PassTimes::working(12.0);
            let (lift, rate_per_s) = times.lift(t_s);
            prop_assert!((0.0..=1.0).contains(&lift));
            let working = t_s >= times.working_from_s() && t_s <= times.working_to_s();
            prop_assert!(!working || (lift == 0.0 && rate_per_s == 0.0));
            let small_s = 1e-6;
            let measured = (times.lift(t_s + small_s).0 - times.lift(t_s - small_s).0) / (2.0 * small_s);
            prop_assert!((measured - rate_per_s).abs() < 1e-4, "{measured} {rate_per_s}");
        }
    }
}
