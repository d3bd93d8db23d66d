//! What decides a test pass: the plow, its setting, the field, and when what happens.

use super::body::stop_rates;
use super::{FieldSpec, Plow, Setting, Share, SpeedWander};

/// Longest step that [`PassSpec::longest_step_s`] allows, in s: the land's stored points pass by in twice as
/// long or more.
pub(super) const LONGEST_STEP_S: f64 = 0.004;
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
    pub(super) fn lift(&self, t_s: f64) -> (f64, f64) {
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
    /// Longest step in s by which the motion of this plow may be solved, for [`Pass::with_step`](super::Pass::with_step).
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
            let (stop_n_per_m, stop_n_s_per_m) = stop_rates(wheel);
            stiff += give * (wheel.rate_n_per_m(2.0 * wheel.set_compression_m) + stop_n_per_m);
            damped += give * (wheel.damping_n_s_per_m + stop_n_s_per_m);
        }
        (STEP_RAD / stiff.sqrt().max(damped)).min(LONGEST_STEP_S)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

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
