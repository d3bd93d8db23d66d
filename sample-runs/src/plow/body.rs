//! Forces on the plow in a given pose, and one step of its motion.

use super::{Plow, Point, Pose, Setting, Share};

/// Pose and its rate of change.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Motion {
    /// Where the plow is.
    pub pose: Pose,
    /// Rate of heave in m/s.
    pub heave_rate_m_per_s: f64,
    /// Rate of turn, nose down positive, in rad/s.
    pub nose_down_rad_per_s: f64,
}

impl Motion {
    fn moved(&self, rate: &Rate, gap_s: f64) -> Self {
        Self {
            pose: Pose {
                heave_m: self.pose.heave_m + rate.heave_m_per_s * gap_s,
                nose_down_rad: self.pose.nose_down_rad + rate.nose_down_rate * gap_s,
            },
            heave_rate_m_per_s: self.heave_rate_m_per_s + rate.heave_m_per_s2 * gap_s,
            nose_down_rad_per_s: self.nose_down_rad_per_s + rate.nose_down_rad_per_s2 * gap_s,
        }
    }
}

/// What the plow meets at one moment.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Surroundings {
    /// Forward speed in m/s, above 0.
    pub speed_mps: f64,
    /// Height (m) and slope (m per m) of the land where the front wheels are.
    pub ground_front: (f64, f64),
    /// The same where the tail wheel is; the floor of its furrow lies below that by the depth set.
    pub ground_tail: (f64, f64),
    /// Height of the land over the bottoms, in m.
    pub ground_bottoms_m: f64,
    /// Hardness of the soil at the bottoms; 1 is the mean.
    pub hardness: f64,
    /// Height of the drawbar pin at the tractor above the land, in m.
    pub tractor_hitch_z_m: f64,
    /// How far the lift holds the frame above its working height on both wheels, in m.
    pub lift_m: f64,
    /// Rate of that, in m/s.
    pub lift_rate_m_per_s: f64,
}

impl Surroundings {
    /// Level land and even soil, plow lowered.
    #[must_use]
    pub fn level(setting: &Setting, speed_mps: f64, hardness: f64) -> Self {
        Self {
            speed_mps,
            ground_front: (0.0, 0.0),
            ground_tail: (0.0, 0.0),
            ground_bottoms_m: 0.0,
            hardness,
            tractor_hitch_z_m: setting.tractor_hitch_z_m,
            lift_m: 0.0,
            lift_rate_m_per_s: 0.0,
        }
    }
}

/// Forces on the plow and where they act.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Forces {
    /// Front load in N.
    pub front_load_n: f64,
    /// Tail load in N.
    pub tail_load_n: f64,
    /// Compression of the tail wheel's spring in m; below 0 the wheel hangs by that much.
    pub tail_compression_m: f64,
    /// Draft part of the soil force in N.
    pub soil_draft_n: f64,
    /// Vertical part of the soil force, up positive, in N.
    pub soil_up_n: f64,
    /// Where the soil force acts now.
    pub soil_at: Point,
    /// Depth of the bottoms below the land in m; below 0 they are in the air.
    pub depth_m: f64,
    /// Part of the pull in the direction of travel, in N: the draft.
    pub pull_x_n: f64,
    /// Rise of the drawbar per length forward.
    pub drawbar_slope: f64,
    /// Hitch pin at the plow now.
    pub hitch_at: Point,
    /// Height of the ground at the front wheels, where their rolling resistance acts, in m.
    pub front_ground_m: f64,
    /// The same at the tail wheel.
    pub tail_ground_m: f64,
}

impl Forces {
    /// Pull along the drawbar in N.
    #[must_use]
    pub fn pull_n(&self) -> f64 {
        self.pull_x_n * self.drawbar_slope.hypot(1.0)
    }
}

/// How stiff a hard stop is, in N/m: a load of the tail wheel presses it in by a tenth of a millimetre or two.
const STOP_STIFFNESS_N_PER_M: f64 = 1.0e7;
/// How much it takes out of a blow, in N·s/m: the wheel comes back with a third of its speed or so.
const STOP_DAMPING_N_S_PER_M: f64 = 2.0e4;

/// What a stop adds to the load: it pushes, and never pulls.
fn stop_n(beyond_m: f64, rate_m_per_s: f64) -> f64 {
    if beyond_m > 0.0 {
        (STOP_STIFFNESS_N_PER_M * beyond_m + STOP_DAMPING_N_S_PER_M * rate_m_per_s).max(0.0)
    } else {
        0.0
    }
}

/// Stiffness (N/m) and damping (N·s/m) of a wheel's hard stop; 0 without one.
pub(super) fn stop_rates(wheel: &super::Wheel) -> (f64, f64) {
    if wheel.stop_compression_m.is_finite() {
        (STOP_STIFFNESS_N_PER_M, STOP_DAMPING_N_S_PER_M)
    } else {
        (0.0, 0.0)
    }
}

struct Rate {
    heave_m_per_s: f64,
    nose_down_rate: f64,
    heave_m_per_s2: f64,
    nose_down_rad_per_s2: f64,
}

/// A plow with its shares and its hitch: all that does not change during a pass.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Body {
    pub(crate) plow: Plow,
    pub(crate) setting: Setting,
    pub(crate) share: Share,
    /// Damping that no plow has, on heave and pitch alike, as a rate in 1/s: only to settle.
    pub(crate) extra_damping_per_s: f64,
}

impl Body {
    pub(crate) fn forces(&self, motion: &Motion, around: &Surroundings) -> Forces {
        let plow = &self.plow;
        let place = motion.pose.placed(plow.weight_at);
        // Rate at which a point rises: heave less the turn, times its distance ahead of the centre.
        let rise = |now: Point| {
            motion.heave_rate_m_per_s - motion.nose_down_rad_per_s * (now.x_m - plow.weight_at.x_m)
        };
        let wheel = |wheel: &super::Wheel, (ground_m, slope): (f64, f64)| {
            let now = place(wheel.contact);
            let compression_m =
                wheel.set_compression_m + ground_m + around.lift_m - (now.z_m - wheel.contact.z_m);
            let rate = around.speed_mps * slope + around.lift_rate_m_per_s - rise(now);
            let load = if compression_m > 0.0 {
                let spring_n = wheel.spring_n(compression_m) + wheel.damping_n_s_per_m * rate;
                (spring_n + stop_n(compression_m - wheel.stop_compression_m, rate)).max(0.0)
            } else {
                0.0
            };
            (load, compression_m)
        };
        let (front_load_n, _) = wheel(&plow.front, around.ground_front);
        let (tail_load_n, tail_compression_m) = wheel(&plow.tail, around.ground_tail);

        let bottoms = place(Point { x_m: plow.soil_at.x_m, z_m: -plow.set_depth_m });
        let soil_at = place(plow.soil_at);
        let depth_m = around.ground_bottoms_m - bottoms.z_m;
        let soil_draft_n = plow.specific_draft_pa * plow.cut_width_m * depth_m.max(0.0) * around.hardness;
        // What the soil feels is the angle between the share and its path, so a rising share points down.
        let nose_down_to_path = motion.pose.nose_down_rad + rise(soil_at) / around.speed_mps;
        let slope = self.share.soil_slope()
            + plow.soil_slope_shift
            + self.share.soil_slope_per_rad() * nose_down_to_path;

        let hitch_at = place(Point { x_m: plow.hitch_x_m, z_m: self.setting.plow_hitch_z_m });
        let rise_m = around.tractor_hitch_z_m - hitch_at.z_m;
        // A drawbar steeper than 45° is no drawbar; the bound keeps a wild pose from a root of a negative.
        let level_m2 = (plow.drawbar_length_m.powi(2) - rise_m.powi(2)).max(rise_m.powi(2)).max(1e-6);
        Forces {
            front_load_n,
            tail_load_n,
            tail_compression_m,
            soil_draft_n,
            soil_up_n: slope * soil_draft_n
                + plow.share_bearing.map_or(0.0, |bearing| bearing.force_n(depth_m, around.hardness)),
            soil_at,
            depth_m,
            pull_x_n: soil_draft_n + plow.rolling_resistance * (front_load_n + tail_load_n),
            drawbar_slope: rise_m / level_m2.sqrt(),
            hitch_at,
            front_ground_m: around.ground_front.0 + plow.front.contact.z_m,
            tail_ground_m: around.ground_tail.0 + plow.tail.contact.z_m,
        }
    }

    /// Resultant up (N) and moment about the weight, nose down positive (N·m).
    ///
    /// Forward speed is held by the tractor, so the forces along x are in balance by
    /// [`Forces::pull_x_n`]; a force (F_x, F_z) at (x, z) has the moment z·F_x − x·F_z about the y axis.
    pub(crate) fn resultant(&self, forces: &Forces, pose: &Pose) -> (f64, f64) {
        let plow = &self.plow;
        let centre = Point { x_m: plow.weight_at.x_m, z_m: plow.weight_at.z_m + pose.heave_m };
        let moment =
            |at: Point, x_n: f64, z_n: f64| (at.z_m - centre.z_m) * x_n - (at.x_m - centre.x_m) * z_n;
        let place = pose.placed(plow.weight_at);
        let contact =
            |wheel: &super::Wheel, ground_m: f64| Point { x_m: place(wheel.contact).x_m, z_m: ground_m };
        let pull_z_n = forces.drawbar_slope * forces.pull_x_n;
        let drag = -plow.rolling_resistance;
        let up_n = forces.front_load_n + forces.tail_load_n + forces.soil_up_n + pull_z_n - plow.weight_n;
        let front_at = contact(&plow.front, forces.front_ground_m);
        let tail_at = contact(&plow.tail, forces.tail_ground_m);
        let nose_down_n_m = moment(front_at, drag * forces.front_load_n, forces.front_load_n)
            + moment(tail_at, drag * forces.tail_load_n, forces.tail_load_n)
            + moment(forces.soil_at, -forces.soil_draft_n, forces.soil_up_n)
            + moment(forces.hitch_at, forces.pull_x_n, pull_z_n);
        (up_n, nose_down_n_m)
    }

    fn rate(&self, motion: &Motion, around: &Surroundings) -> Rate {
        let (up_n, nose_down_n_m) = self.resultant(&self.forces(motion, around), &motion.pose);
        Rate {
            heave_m_per_s: motion.heave_rate_m_per_s,
            nose_down_rate: motion.nose_down_rad_per_s,
            heave_m_per_s2: up_n / self.plow.mass_kg() - self.extra_damping_per_s * motion.heave_rate_m_per_s,
            nose_down_rad_per_s2: nose_down_n_m / self.plow.pitch_inertia_kg_m2
                - self.extra_damping_per_s * motion.nose_down_rad_per_s,
        }
    }

    /// The motion `gap_s` later, by the classical fourth-order Runge–Kutta method.
    ///
    /// `around` gives the surroundings at the start, the middle and the end of the step.
    pub(crate) fn step(&self, motion: &Motion, around: &[Surroundings; 3], gap_s: f64) -> Motion {
        let [start, middle, end] = around;
        let a = self.rate(motion, start);
        let b = self.rate(&motion.moved(&a, gap_s / 2.0), middle);
        let c = self.rate(&motion.moved(&b, gap_s / 2.0), middle);
        let d = self.rate(&motion.moved(&c, gap_s), end);
        let mean = |f: fn(&Rate) -> f64| (f(&a) + 2.0 * f(&b) + 2.0 * f(&c) + f(&d)) / 6.0;
        let rate = Rate {
            heave_m_per_s: mean(|r| r.heave_m_per_s),
            nose_down_rate: mean(|r| r.nose_down_rate),
            heave_m_per_s2: mean(|r| r.heave_m_per_s2),
            nose_down_rad_per_s2: mean(|r| r.nose_down_rad_per_s2),
        };
        motion.moved(&rate, gap_s)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// With rigid-body motion only in the springs' field (no damping, no draft, no ground), the sum of
    /// kinetic, spring and height energy stays: a check of the signs of every force against each other.
    #[test]
    fn energy_stays_without_losses() {
        energy_stays(f64::INFINITY);
        energy_stays(0.03);
    }

    fn energy_stays(stiffening_m: f64) {
        let mut plow = Plow::TWO_BOTTOM;
        (plow.front.stiffening_m, plow.tail.stiffening_m) = (stiffening_m, stiffening_m);
        plow.front.damping_n_s_per_m = 0.0;
        plow.tail.damping_n_s_per_m = 0.0;
        plow.rolling_resistance = 0.0;
        plow.specific_draft_pa = 0.0;
        let setting = Setting { plow_hitch_z_m: 0.1, tractor_hitch_z_m: 0.3 };
        let body = Body { plow, setting, share: Share::Sharp, extra_damping_per_s: 0.0 };
        let around = Surroundings::level(&setting, 1.6, 1.0);
        let energy = |m: &Motion| {
            let spring = |wheel: &crate::plow::Wheel| {
                let now = m.pose.place(plow.weight_at, wheel.contact);
                let c = (wheel.set_compression_m - (now.z_m - wheel.contact.z_m)).max(0.0);
                // The integral of k·c·(1 + c/c₂).
                wheel.stiffness_n_per_m * c.powi(2) * (0.5 + c / (3.0 * stiffening_m))
            };
            0.5 * plow.mass_kg() * m.heave_rate_m_per_s.powi(2)
                + 0.5 * plow.pitch_inertia_kg_m2 * m.nose_down_rad_per_s.powi(2)
                + plow.weight_n * m.pose.heave_m
                + spring(&plow.front)
                + spring(&plow.tail)
        };
        // Dropped from a height at which both wheels leave the ground again and again.
        let pose = Pose { heave_m: 0.06, nose_down_rad: 0.02 };
        let mut motion = Motion { pose, ..Motion::default() };
        let before = energy(&motion);
        let mut kinetic_seen = 0.0f64;
        for _ in 0..20_000 {
            motion = body.step(&motion, &[around; 3], 0.000_5);
            kinetic_seen = kinetic_seen.max(motion.heave_rate_m_per_s.abs());
        }
        assert!(kinetic_seen > 0.5, "it must move for the check to mean anything: {kinetic_seen}");
        let drift = (energy(&motion) - before).abs() / before.abs();
        assert!(drift < 2e-3, "{drift}");
    }

    proptest! {
        /// Whatever the pose, however wild: wheels and soil only push, the drawbar is no steeper than 45°,
        /// and every force is a number.
        #[test]
        fn forces_are_finite_and_wheels_never_pull(
            heave_m in -1.0..1.0f64,
            nose_down_rad in -1.5..1.5f64,
            heave_rate_m_per_s in -5.0..5.0f64,
            nose_down_rad_per_s in -5.0..5.0f64,
            hardness in 0.05..3.0f64,
            plow_hole in 1usize..=9,
            tractor_hole in 1usize..=7,
        ) {
            let setting = Setting::by_holes(plow_hole, tractor_hole).unwrap();
            let body =
                Body { plow: Plow::TWO_BOTTOM, setting, share: Share::Sharp, extra_damping_per_s: 0.0 };
            let pose = Pose { heave_m, nose_down_rad };
            let f = body.forces(
                &Motion { pose, heave_rate_m_per_s, nose_down_rad_per_s },
                &Surroundings::level(&setting, 1.6, hardness),
            );
            prop_assert!(f.front_load_n >= 0.0 && f.tail_load_n >= 0.0 && f.soil_draft_n >= 0.0);
            prop_assert!(f.tail_compression_m > 0.0 || f.tail_load_n == 0.0, "a wheel hangs and carries");
            prop_assert!(f.depth_m > 0.0 || f.soil_draft_n == 0.0, "there is no soil in the air");
            prop_assert!(f.drawbar_slope.abs() <= 1.0 + 1e-12);
            let (up_n, nose_down_n_m) = body.resultant(&f, &pose);
            prop_assert!(up_n.is_finite() && nose_down_n_m.is_finite() && f.pull_n() >= 0.0);
        }
    }
}
