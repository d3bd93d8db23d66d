//! The pose in which a plow comes to rest, and how it bobs about it.

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

/// How a plow bobs about its rest.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bobbing {
    /// Natural frequency |s|/2π of the slower mode, in Hz.
    pub frequency_hz: f64,
    /// Damping ratio −Re(s)/|s| of that mode.
    pub damping_ratio: f64,
}

/// The slower of the plow's modes by its linearised equations of motion about its rest; `None` where
/// that mode does not swing, or where no rest with the tail wheel on the ground exists.
///
/// Small motions q = (heave, pitch) obey M q″ + C q′ + K q = 0, with K and C by central differences of
/// the very forces that the simulation uses; the modes are the roots s of det(M s² + C s + K) = 0.
#[must_use]
pub fn linear_bobbing(
    plow: &Plow,
    setting: &Setting,
    share: Share,
    around: &Surroundings,
) -> Option<Bobbing> {
    let (pose, forces) = settle(plow, setting, share, around);
    if forces.tail_load_n <= 0.0 || forces.front_load_n <= 0.0 {
        return None;
    }
    let body = Body { plow: *plow, setting: *setting, share, extra_damping_per_s: 0.0 };
    let small = 1e-6;
    let push = |dq: [f64; 4]| {
        let [heave_m, nose_down_rad, heave_rate_m_per_s, nose_down_rad_per_s] = dq;
        let pose =
            Pose { heave_m: pose.heave_m + heave_m, nose_down_rad: pose.nose_down_rad + nose_down_rad };
        let motion = Motion { pose, heave_rate_m_per_s, nose_down_rad_per_s };
        body.resultant(&body.forces(&motion, around), &pose)
    };
    // Minus the derivative of (up force, moment) by one coordinate.
    let against = |plus: [f64; 4]| {
        let (a, b) = (push(plus), push(plus.map(|d| -d)));
        ((b.0 - a.0) / (2.0 * small), (b.1 - a.1) / (2.0 * small))
    };
    let (k11, k21) = against([small, 0.0, 0.0, 0.0]);
    let (k12, k22) = against([0.0, small, 0.0, 0.0]);
    let (c11, c21) = against([0.0, 0.0, small, 0.0]);
    let (c12, c22) = against([0.0, 0.0, 0.0, small]);
    let (m, j) = (plow.mass_kg(), plow.pitch_inertia_kg_m2);
    // det = (m s² + c11 s + k11)(j s² + c22 s + k22) − (c12 s + k12)(c21 s + k21), made monic.
    let scale = m * j;
    let coefficients = [
        (k11 * k22 - k12 * k21) / scale,
        (c11 * k22 + c22 * k11 - c12 * k21 - c21 * k12) / scale,
        (m * k22 + j * k11 + c11 * c22 - c12 * c21) / scale,
        (m * c22 + j * c11) / scale,
    ];
    let swings = quartic_roots(coefficients).into_iter().filter(|s| s.1 > 1e-3);
    let slowest = swings.min_by(|a, b| a.0.hypot(a.1).total_cmp(&b.0.hypot(b.1)))?;
    let size = slowest.0.hypot(slowest.1);
    Some(Bobbing { frequency_hz: size / std::f64::consts::TAU, damping_ratio: -slowest.0 / size })
}

type Complex = (f64, f64);

fn times(a: Complex, b: Complex) -> Complex {
    (a.0 * b.0 - a.1 * b.1, a.0 * b.1 + a.1 * b.0)
}

fn over(a: Complex, b: Complex) -> Complex {
    let size = b.0 * b.0 + b.1 * b.1;
    let top = times(a, (b.0, -b.1));
    (top.0 / size, top.1 / size)
}

/// Roots of s⁴ + c3 s³ + c2 s² + c1 s + c0 by the Durand–Kerner iteration.
fn quartic_roots([c0, c1, c2, c3]: [f64; 4]) -> [Complex; 4] {
    // The roots are tens of 1/s large; the start circle is of the size of their geometric mean.
    let size = c0.abs().powf(0.25).max(1.0);
    let start = |angle: f64| (size * angle.cos(), size * angle.sin());
    let mut roots = [start(0.4), start(2.0), start(3.5), start(5.1)];
    for _ in 0..500 {
        for i in 0..4 {
            let s = roots[i];
            let mut value = (1.0, 0.0);
            for c in [c3, c2, c1, c0] {
                value = times(value, s);
                value.0 += c;
            }
            for other in (0..4).filter(|k| *k != i).map(|k| roots[k]) {
                value = over(value, (s.0 - other.0, s.1 - other.1));
            }
            roots[i] = (s.0 - value.0, s.1 - value.1);
        }
    }
    roots
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn roots_of_a_product_of_known_factors() {
        // (s² + 2s + 101)(s² + 20s + 500): roots −1±10i and −10±20i.
        let roots = quartic_roots([50_500.0, 1_000.0 + 2_020.0, 500.0 + 40.0 + 101.0, 22.0]);
        for wanted in [(-1.0, 10.0), (-1.0, -10.0), (-10.0, 20.0), (-10.0, -20.0)] {
            let near = roots.iter().any(|r| (r.0 - wanted.0).hypot(r.1 - wanted.1) < 1e-9);
            assert!(near, "{wanted:?} in {roots:?}");
        }
    }

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

    #[test]
    fn linear_bobbing_is_what_a_small_knock_shows() {
        let (plow, share) = (Plow::TWO_BOTTOM, Share::Sharp);
        let setting = Setting::by_holes(4, 4).unwrap();
        let around = Surroundings::level(&setting, 1.6, 1.0);
        let wanted = linear_bobbing(&plow, &setting, share, &around).unwrap();
        let (rest, _) = settle(&plow, &setting, share, &around);
        let body = Body { plow, setting, share, extra_damping_per_s: 0.0 };
        let nose_down_rad = rest.nose_down_rad + 2e-4;
        let mut motion = Motion { pose: Pose { nose_down_rad, ..rest }, ..Motion::default() };
        // Times at which pitch goes up through its rest, after the faster mode has died away.
        let (mut crossings, mut peaks, mut peak) = (Vec::new(), Vec::new(), 0.0f64);
        let step_s = 0.000_5;
        for i in 0..10_000 {
            let before = motion.pose.nose_down_rad - rest.nose_down_rad;
            motion = body.step(&motion, &[around; 3], step_s);
            let after = motion.pose.nose_down_rad - rest.nose_down_rad;
            peak = peak.max(after);
            if before < 0.0 && after >= 0.0 {
                crossings.push((f64::from(i) - before / (after - before)) * step_s);
                peaks.push(peak);
                peak = 0.0;
            }
        }
        let periods = (crossings.len() - 6) as f64;
        let damped_hz = periods / (crossings.last().unwrap() - crossings[5]);
        let expected_hz = wanted.frequency_hz * (1.0 - wanted.damping_ratio.powi(2)).sqrt();
        assert!((damped_hz / expected_hz - 1.0).abs() < 5e-3, "{damped_hz} {wanted:?}");
        // Logarithmic decrement: ln of the ratio of peaks a period apart is 2πζ/√(1−ζ²).
        let decrement = (peaks[6] / peaks[10]).ln() / 4.0;
        let damping = decrement / std::f64::consts::TAU.hypot(decrement);
        assert!((damping / wanted.damping_ratio - 1.0).abs() < 0.05, "{damping} {wanted:?}");
    }
}
