//! The pose in which a plow comes to rest.

use super::body::Body;
use super::{Forces, Motion, Plow, Pose, Setting, Share, Surroundings};

/// Time step of the settling in s; the rest it comes to does not depend on it.
const STEP_S: f64 = 0.000_5;
/// Steps after which settling stops even if it still moves.
const STEPS_MAX: usize = 80_000;

/// Where a plow comes to rest in steady surroundings, and the forces on it then.
///
/// Settles by motion with extra damping rather than by Newton's method: a wheel that leaves the ground
/// is a kink at which Newton's method can jump back and forth for ever.
#[must_use]
pub fn settle(plow: &Plow, setting: &Setting, share: Share, around: &Surroundings) -> (Pose, Forces) {
    let body = Body { plow: *plow, setting: *setting, share, extra_damping_per_s: 8.0 };
    let heave_m = around.lift_m;
    let mut motion = Motion { pose: Pose { heave_m, nose_down_rad: 0.0 }, ..Motion::default() };
    for _ in 0..STEPS_MAX {
        let next = body.step(&motion, &[*around; 3], STEP_S);
        let still = (next.heave_rate_m_per_s.abs() + next.nose_down_rad_per_s.abs()) < 1e-12
            && (next.pose.heave_m - motion.pose.heave_m).abs() < 1e-15;
        motion = next;
        if still {
            break;
        }
    }
    // At rest: the rates that are left are rounding, and would only show in the dampers.
    let pose = motion.pose;
    let at_rest = Motion { pose, ..Motion::default() };
    (pose, body.forces(&at_rest, around))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The statics in closed form: P_x = S, V = W − tP_x − σS and
    /// V_t L = W(x_f − x_w) − P_x[z_P(x_f) − z_S(x_f)], with the geometry as it is at rest.
    #[test]
    fn rest_agrees_with_the_closed_form_of_the_statics() {
        let plow = Plow { rolling_resistance: 0.0, ..Plow::TWO_BOTTOM };
        let mut compared = 0;
        for share in [Share::Sharp, Share::Blunt, Share::Worn] {
            for (plow_hole, tractor_hole) in [(3, 3), (4, 4), (5, 2), (4, 5), (2, 4)] {
                let setting = Setting::by_holes(plow_hole, tractor_hole).unwrap();
                let around = Surroundings::level(&setting, 1.6, 1.0);
                let (pose, f) = settle(&plow, &setting, share, &around);
                if f.tail_load_n <= 0.0 || f.front_load_n <= 0.0 {
                    continue; // the closed form is for a plow on both wheels
                }
                compared += 1;
                let (s, t) = (f.soil_draft_n, f.drawbar_slope);
                let sigma = share.soil_slope() + share.soil_slope_per_rad() * pose.nose_down_rad;
                let x_of = |p| pose.place(plow.weight_at, p).x_m;
                let (x_f, x_t) = (x_of(plow.front.contact), x_of(plow.tail.contact));
                let z_pull = f.hitch_at.z_m + t * (x_f - f.hitch_at.x_m);
                let z_soil = f.soil_at.z_m + sigma * (f.soil_at.x_m - x_f);
                let both = plow.weight_n - t * s - sigma * s;
                let tail = (plow.weight_n * (x_f - plow.weight_at.x_m) - s * (z_pull - z_soil)) / (x_f - x_t);
                assert!((f.tail_load_n / tail - 1.0).abs() < 1e-6, "{share:?} {plow_hole} {tractor_hole}");
                let front = both - tail;
                assert!((f.front_load_n / front - 1.0).abs() < 1e-6, "{share:?} {plow_hole} {tractor_hole}");
            }
        }
        assert!(compared >= 10, "{compared}");
    }
}
