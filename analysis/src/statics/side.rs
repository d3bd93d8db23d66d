//! The plow as a plane rigid body in the side view, solved in closed form.
//!
//! Forces on it: the weight W down at x_w; the soil force (−S, +σS) through (x_s, z_s); the pull along the
//! drawbar, a two-force member of slope t; front load V_f at x_f and tail load V_t at x_t, each with a
//! rolling resistance ρ·load backwards, taken at the land surface z_g where the wheels touch. (A wheel that
//! runs in the furrow touches lower; at ρ = 0.08 and 0.2 m that moves the pull-line offset by under
//! 0.02·V/P_x m.)
//!
//! With V = V_f + V_t, P_x the draft part of the pull, L = x_f − x_t, the lines of pull and soil force
//! z_P(x) = z_h + t(x − x_h), z_S(x) = z_s + σ(x_s − x):
//! - along x: P_x = S + ρV; upwards: V = W − tP_x − σS; so V = (W − (t+σ)S)/(1 + tρ), or from a known pull
//!   V = (W − (t+σ)P_x)/(1 − σρ).
//! - soil force and rolling resistance together act backwards with P_x along the *line of resistance*
//!   z_D(x) = (S·z_S(x) + ρV·z_g)/P_x, the mean of the two heights weighted by force. It takes the place that
//!   the line of the soil force has without rolling resistance, and is that line at ρ = 0.
//! - moments about the front wheels: V_t L = W(x_f − x_w) − P_x[z_P(x_f) − z_D(x_f)]; about the weight line:
//!   x_V = x_w + P_x e/V with e = z_P(x_w) − z_D(x_w).
//! - with S growing along its line and the rest fixed, v = dV/dS = −(t+σ)/(1+tρ) and
//!   dV_t/dS = [z_S(x_f) + ρv·z_g − (1+ρv)·z_P(x_f)]/L, dP_x/dS = 1 + ρv; at ρ = 0 their ratio is
//!   β = −[(t+σ)(x_f − x_w) + e]/L.
//!
//! Held by: `free_body` (the forces add up to nothing) and a linear solver over random plows in the
//! published checks.

use serde::Serialize;

/// A point in the side view: x forward, z up.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct PointM {
    /// Forward, in m.
    pub x_m: f64,
    /// Above the land surface, in m.
    pub z_m: f64,
}

/// Why the statics cannot be solved for these numbers.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum StaticsError {
    /// The drawbar has no, or next to no, length forward.
    #[error(
        "the drawbar would stand on end: its pins differ by {rise_m:.3} m in height and it is {length_m:.3} \
         m long; check both hole heights and the drawbar's length"
    )]
    VerticalDrawbar {
        /// Height of the tractor's pin above the plow's.
        rise_m: f64,
        /// Pin to pin.
        length_m: f64,
    },
    /// The weight line is not between the wheels.
    #[error(
        "the weight at x = {weight_x_m:.3} m is not between the tail wheel at {tail_x_m:.3} m and the front \
         wheels at {front_x_m:.3} m; check those three lengths"
    )]
    WeightOutsideWheels {
        /// Weight line.
        weight_x_m: f64,
        /// Tail wheel.
        tail_x_m: f64,
        /// Front wheels.
        front_x_m: f64,
    },
    /// Drawbar and soil lift the whole plow off its wheels.
    #[error(
        "drawbar and soil would lift the whole plow: {ground_load_n:.0} N left on the wheels; check weight, \
         pull and hole heights"
    )]
    NoGroundLoad {
        /// V, at or below 0.
        ground_load_n: f64,
    },
    /// The pull does not even overcome the rolling resistance.
    #[error(
        "a pull of {pull_n:.0} N is less than the rolling resistance of the wheels, so no soil is being \
         turned: check the pull sensor's calibration and zero"
    )]
    PullTooSmall {
        /// The pull along the drawbar.
        pull_n: f64,
    },
    /// A number that is NaN or infinite.
    #[error("a number of the plow or the run is not finite, so nothing follows from it")]
    NotFinite,
}

/// Everything that decides the loads of the wheels.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct SideView {
    /// W.
    pub weight_n: f64,
    /// x_w.
    pub weight_x_m: f64,
    /// x_f.
    pub front_x_m: f64,
    /// x_t.
    pub tail_x_m: f64,
    /// z_g: where the wheels touch.
    pub ground_z_m: f64,
    /// Drawbar pin at the plow.
    pub plow_hitch: PointM,
    /// Drawbar pin at the tractor.
    pub tractor_hitch: PointM,
    /// A point on the line of the soil force.
    pub soil_at: PointM,
    /// σ.
    pub soil_slope: f64,
    /// S: draft part of the soil force.
    pub soil_draft_n: f64,
    /// ρ.
    pub rolling: f64,
}

/// What follows from a [`SideView`].
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Loads {
    /// V_f; below 0 the front wheels are off the ground and the figure says by what load.
    pub front_load_n: f64,
    /// V_t; below 0 the tail wheel is off the ground.
    pub tail_load_n: f64,
    /// V, above 0.
    pub ground_load_n: f64,
    /// P_x, the draft part of the pull.
    pub pull_x_n: f64,
    /// Pull along the drawbar.
    pub pull_n: f64,
    /// t.
    pub drawbar_slope: f64,
    /// Where the resistance (soil and rolling) meets the weight line.
    pub steady_point: PointM,
    /// e.
    pub pull_line_offset_m: f64,
    /// x_V.
    pub wheel_load_at_m: f64,
    /// b by the lines: beyond ±1 where a wheel is off the ground.
    pub balance_index: f64,
    /// β per newton of pull along the drawbar, as a pull sensor reads it.
    pub expected_gain_n_per_n: f64,
}

impl Loads {
    /// b within ±1: a wheel cannot be more than off the ground, and near the end where drawbar and soil leave
    /// little load the lines alone would give figures without meaning.
    #[must_use]
    pub fn bounded_balance_index(&self) -> f64 {
        self.balance_index.clamp(-1.0, 1.0)
    }

    /// Front and tail load as the wheels can carry them, in N: if one is off the ground, the other has all.
    #[must_use]
    pub fn carried_loads_n(&self) -> (f64, f64) {
        let tail_n = self.tail_load_n.clamp(0.0, self.ground_load_n);
        (self.ground_load_n - tail_n, tail_n)
    }
}

/// A drawbar steeper than this is refused: 10 up for 1 forward.
const STEEPEST: f64 = 10.0;

/// Where the tractor's pin is: ahead of the plow's pin by what the drawbar's length leaves.
///
/// # Errors
/// [`StaticsError::VerticalDrawbar`] if the length leaves nothing forward.
pub fn tractor_pin(plow_hitch: PointM, tractor_z_m: f64, length_m: f64) -> Result<PointM, StaticsError> {
    let rise_m = tractor_z_m - plow_hitch.z_m;
    if !(rise_m.is_finite() && length_m.is_finite()) {
        return Err(StaticsError::NotFinite);
    }
    let level_m = (length_m * length_m - rise_m * rise_m).max(0.0).sqrt();
    if level_m * STEEPEST <= rise_m.abs() || level_m == 0.0 {
        return Err(StaticsError::VerticalDrawbar { rise_m, length_m });
    }
    Ok(PointM { x_m: plow_hitch.x_m + level_m, z_m: tractor_z_m })
}

impl SideView {
    /// L, in m.
    #[must_use]
    pub fn wheelbase_m(&self) -> f64 {
        self.front_x_m - self.tail_x_m
    }

    /// t, rise of the drawbar per length forward.
    #[must_use]
    pub fn drawbar_slope(&self) -> f64 {
        (self.tractor_hitch.z_m - self.plow_hitch.z_m) / (self.tractor_hitch.x_m - self.plow_hitch.x_m)
    }

    /// z_P(x): height of the line of pull, in m.
    #[must_use]
    pub fn pull_line_z_m(&self, x_m: f64) -> f64 {
        self.plow_hitch.z_m + self.drawbar_slope() * (x_m - self.plow_hitch.x_m)
    }

    /// z_S(x): height of the line of the soil force, in m.
    #[must_use]
    pub fn soil_line_z_m(&self, x_m: f64) -> f64 {
        self.soil_at.z_m + self.soil_slope * (self.soil_at.x_m - x_m)
    }

    /// ∂e/∂z of the tractor's pin and of the plow's pin, both places along x and the soil draft held, without
    /// rolling resistance: (x_w − x_h)/(x_T − x_h), and 1 less that.
    #[must_use]
    pub fn offset_per_pin_height(&self) -> (f64, f64) {
        let at_tractor =
            (self.weight_x_m - self.plow_hitch.x_m) / (self.tractor_hitch.x_m - self.plow_hitch.x_m);
        (at_tractor, 1.0 - at_tractor)
    }

    /// The same plow with the soil draft that goes with a pull along the drawbar.
    ///
    /// # Errors
    /// [`StaticsError::PullTooSmall`] if rolling resistance takes all of it; [`StaticsError::NoGroundLoad`]
    /// and the others as [`SideView::loads`].
    pub fn with_pull(self, pull_n: f64) -> Result<Self, StaticsError> {
        self.check()?;
        let t = self.drawbar_slope();
        let pull_x_n = pull_n / t.hypot(1.0);
        let ground_load_n =
            (self.weight_n - (t + self.soil_slope) * pull_x_n) / (1.0 - self.soil_slope * self.rolling);
        let soil_draft_n = pull_x_n - self.rolling * ground_load_n;
        if ground_load_n.is_nan() || soil_draft_n.is_nan() {
            return Err(StaticsError::NotFinite);
        }
        if ground_load_n <= 0.0 {
            return Err(StaticsError::NoGroundLoad { ground_load_n });
        }
        if soil_draft_n < 0.0 {
            return Err(StaticsError::PullTooSmall { pull_n });
        }
        Ok(Self { soil_draft_n, ..self })
    }

    /// The loads and all that follows from them, by the closed forms at the head of this file.
    ///
    /// # Errors
    /// [`StaticsError`] for a drawbar on end, a weight that is not between the wheels, a plow that is lifted
    /// off all its wheels, and numbers that are not finite.
    pub fn loads(&self) -> Result<Loads, StaticsError> {
        self.check()?;
        let (w_n, s_n, rho) = (self.weight_n, self.soil_draft_n, self.rolling);
        let (t, sigma) = (self.drawbar_slope(), self.soil_slope);
        let (x_f, x_w, l_m) = (self.front_x_m, self.weight_x_m, self.wheelbase_m());
        let v_n = (w_n - (t + sigma) * s_n) / (1.0 + t * rho);
        if v_n.is_nan() {
            return Err(StaticsError::NotFinite);
        }
        if v_n <= 0.0 {
            return Err(StaticsError::NoGroundLoad { ground_load_n: v_n });
        }
        let roll_n = rho * v_n;
        let pull_x_n = s_n + roll_n;
        // Moment of pull against resistance about a point of the land at x: P_x·[z_P(x) − z_D(x)].
        let against_n_m = |x_m: f64| {
            pull_x_n * self.pull_line_z_m(x_m) - s_n * self.soil_line_z_m(x_m) - roll_n * self.ground_z_m
        };
        let tail_load_n = (w_n * (x_f - x_w) - against_n_m(x_f)) / l_m;
        // A standing plow (no draft, no rolling) has no line of resistance; its limit is the soil's line.
        let resistance_z_m = if pull_x_n == 0.0 {
            self.soil_line_z_m(x_w)
        } else {
            (s_n * self.soil_line_z_m(x_w) + roll_n * self.ground_z_m) / pull_x_n
        };
        let arm_m = against_n_m(x_w) / v_n;
        let end_m = if arm_m >= 0.0 { x_f - x_w } else { x_w - self.tail_x_m };
        let v_per_s = -(t + sigma) / (1.0 + t * rho);
        let pull_x_per_s = 1.0 + rho * v_per_s;
        let tail_per_s = (self.soil_line_z_m(x_f) + rho * v_per_s * self.ground_z_m
            - pull_x_per_s * self.pull_line_z_m(x_f))
            / l_m;
        Ok(Loads {
            front_load_n: v_n - tail_load_n,
            tail_load_n,
            ground_load_n: v_n,
            pull_x_n,
            pull_n: pull_x_n * t.hypot(1.0),
            drawbar_slope: t,
            steady_point: PointM { x_m: x_w, z_m: resistance_z_m },
            pull_line_offset_m: self.pull_line_z_m(x_w) - resistance_z_m,
            wheel_load_at_m: x_w + arm_m,
            balance_index: arm_m / end_m,
            expected_gain_n_per_n: tail_per_s / pull_x_per_s / t.hypot(1.0),
        })
    }

    fn check(&self) -> Result<(), StaticsError> {
        let numbers = [
            self.weight_n,
            self.weight_x_m,
            self.front_x_m,
            self.tail_x_m,
            self.ground_z_m,
            self.soil_at.x_m,
            self.soil_at.z_m,
            self.soil_slope,
            self.soil_draft_n,
            self.rolling,
            self.plow_hitch.x_m,
            self.plow_hitch.z_m,
            self.tractor_hitch.x_m,
            self.tractor_hitch.z_m,
        ];
        if numbers.iter().any(|number| !number.is_finite()) {
            return Err(StaticsError::NotFinite);
        }
        let (forward_m, rise_m) =
            (self.tractor_hitch.x_m - self.plow_hitch.x_m, self.tractor_hitch.z_m - self.plow_hitch.z_m);
        if forward_m <= 0.0 || rise_m.abs() >= forward_m * STEEPEST {
            return Err(StaticsError::VerticalDrawbar { rise_m, length_m: forward_m.hypot(rise_m) });
        }
        let (weight_x_m, tail_x_m, front_x_m) = (self.weight_x_m, self.tail_x_m, self.front_x_m);
        if tail_x_m < weight_x_m && weight_x_m < front_x_m {
            Ok(())
        } else {
            Err(StaticsError::WeightOutsideWheels { weight_x_m, tail_x_m, front_x_m })
        }
    }
}
