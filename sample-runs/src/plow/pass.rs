//! A test pass: the plow standing (if wanted) and then rolling in the air, let down, at work, and lifted out
//! again.

use std::sync::Arc;

use super::body::Body;
use super::travel::Travel;
use super::{Field, Forces, Motion, PassSpec, Surroundings, settle};

/// Usual step of the integration in s. Half of it changes loads by less than 0.1 % (a test says so).
const STEP_S: f64 = 0.000_5;
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
mod tests;
