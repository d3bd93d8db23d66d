//! The plow as a plane rigid body in the side view, solved in closed form.
//!
//! Whatever its kind, a plow at work has three unknowns: the pull along a line of slope t, the load V_f of what
//! carries its front, and the load V_t of what carries its tail. Each *carrier* (wheel, heel, sole, lower
//! links) stands at a point, (x_f, z_f) or (x_t, z_t), and resists with ρ·load backwards: ρ is a rolling
//! resistance, a coefficient of friction, or nothing. [`super::plow_model`] says which kind has what. The other
//! forces: the weight W down at x_w and the soil force (−S, +σS) through (x_s, z_s).
//!
//! With V = V_f + V_t, P_x the draft part of the pull, L = x_f − x_t, the lines of pull and soil force
//! z_P(x) = z_h + t(x − x_h), z_S(x) = z_s + σ(x_s − x), and their heights over the front carrier
//! h_P = z_P(x_f) − z_f, h_S = z_S(x_f) − z_f:
//! - along x: P_x = S + ρ_f V_f + ρ_t V_t; upwards: V = W − tP_x − σS; so
//!   (1 + tρ_f) V_f + (1 + tρ_t) V_t = W − (t+σ)S, or from a known pull
//!   (1 − σρ_f) V_f + (1 − σρ_t) V_t = W − (t+σ)P_x.
//! - moments about the front carrier: h_P ρ_f V_f + [L + ρ_t(h_P − z_t + z_f)] V_t = W(x_f − x_w) − (h_P − h_S)S,
//!   or from a known pull the same with h_S for h_P on the left and P_x for S on the right. Two equations for
//!   two loads; at ρ = 0 they are V = W − (t+σ)P_x and V_t L = W(x_f − x_w) − P_x[z_P(x_f) − z_S(x_f)].
//! - soil force and carriers together act backwards with P_x along the *line of resistance*
//!   z_D(x) = (S·z_S(x) + ρ_f V_f z_f + ρ_t V_t z_t)/P_x, the mean of the heights weighted by force. It takes the
//!   place that the line of the soil force has without ρ, and is that line at ρ = 0. Moments about the weight
//!   line: x_V = x_w + P_x e/V with e = z_P(x_w) − z_D(x_w).
//! - both loads are linear in S, so with S growing along its line and the rest fixed dV_f/dS and dV_t/dS solve
//!   the same two equations with −(t+σ) and −(h_P − h_S) on the right; dP_x/dS = 1 + ρ_f dV_f/dS + ρ_t dV_t/dS;
//!   at ρ = 0 dV_t/dP_x is β = −[(t+σ)(x_f − x_w) + e]/L.
//!
//! Held by: `free_body` (the forces add up to nothing), a linear solver and the principle of virtual work over
//! random plows in the published checks.

pub use super::refusal::{StaticsError, StaticsErrorKind};
use ingest::quantity::{Force, Length, in_si};
use schemars::JsonSchema;
use serde::Serialize;

/// A point in the side view.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Point {
    /// Forward.
    #[serde(rename = "x_m", serialize_with = "in_si")]
    pub x: Length,
    /// Above the land surface.
    #[serde(rename = "z_m", serialize_with = "in_si")]
    pub z: Length,
}

/// What carries one end of the plow.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Carrier {
    /// Where it carries.
    pub at: Point,
    /// ρ: resistance backwards over load.
    pub resistance: f64,
}

/// Everything that decides the loads of the carriers.
///
/// ```
/// use ingest::quantity::{Force, Length};
/// use statics::side::{Carrier, Point, SideView};
///
/// let at = Point::from_m;
/// let standing = SideView {
///     weight: Force::from_n(3_000.0),
///     weight_x: Length::from_m(-0.5),
///     front: Carrier { at: at(0.0, 0.0), resistance: 0.0 },
///     tail: Carrier { at: at(-2.0, 0.0), resistance: 0.0 },
///     plow_hitch: at(0.3, 0.4),
///     tractor_hitch: at(1.3, 0.4),
///     soil_at: at(-0.5, -0.1),
///     soil_slope: 0.0,
///     soil_draft: Force::from_n(0.0),
/// };
/// assert_eq!(standing.loads()?.tail_load, Force::from_n(750.0));
///
/// // Half a meter between the level lines of pull and soil, under 6,000 N, takes 1,500 N off a tail 2 m behind: more
/// // than it has.
/// let pulled = standing.with_pull(Force::from_n(6_000.0))?.loads()?;
/// assert!((pulled.pull_line_offset.m() - 0.5).abs() < 1e-12);
/// assert_eq!(pulled.carried_loads(), (Force::from_n(3_000.0), Force::from_n(0.0)));
/// # Ok::<(), statics::side::StaticsError>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
pub struct SideView {
    /// W.
    #[serde(rename = "weight_n", serialize_with = "in_si")]
    pub weight: Force,
    /// x_w.
    #[serde(rename = "weight_x_m", serialize_with = "in_si")]
    pub weight_x: Length,
    /// What carries the front.
    pub front: Carrier,
    /// What carries the tail.
    pub tail: Carrier,
    /// A point on the line of pull: the pin at the plow, or where the links meet.
    pub plow_hitch: Point,
    /// A point of it further ahead: the pin at the tractor.
    pub tractor_hitch: Point,
    /// A point on the line of the soil force.
    pub soil_at: Point,
    /// σ.
    pub soil_slope: f64,
    /// S: draft part of the soil force.
    #[serde(rename = "soil_draft_n", serialize_with = "in_si")]
    pub soil_draft: Force,
}

/// What follows from a [`SideView`].
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Loads {
    /// V_f; below 0 the front is off its carrier and the figure says by what load.
    #[serde(rename = "front_load_n", serialize_with = "in_si")]
    pub front_load: Force,
    /// V_t; below 0 the tail is off its carrier.
    #[serde(rename = "tail_load_n", serialize_with = "in_si")]
    pub tail_load: Force,
    /// V, above 0.
    #[serde(rename = "ground_load_n", serialize_with = "in_si")]
    pub ground_load: Force,
    /// P_x, the draft part of the pull.
    #[serde(rename = "pull_x_n", serialize_with = "in_si")]
    pub pull_x: Force,
    /// Pull along the drawbar.
    #[serde(rename = "pull_n", serialize_with = "in_si")]
    pub pull: Force,
    /// t.
    pub drawbar_slope: f64,
    /// Where the resistance (soil and rolling) meets the weight line.
    pub steady_point: Point,
    /// e.
    #[serde(rename = "pull_line_offset_m", serialize_with = "in_si")]
    pub pull_line_offset: Length,
    /// x_V.
    #[serde(rename = "wheel_load_at_m", serialize_with = "in_si")]
    pub wheel_load_at: Length,
    /// b by the lines: beyond ±1 where a wheel is off the ground.
    pub balance_index: f64,
    /// β per newton of pull along the drawbar, as a pull sensor reads it.
    pub expected_gain_n_per_n: f64,
}

impl Loads {
    /// b within ±1: a wheel cannot be more than off the ground, and near the end where drawbar and soil leave
    /// little load the lines alone would give figures without meaning.
    pub fn bounded_balance_index(&self) -> f64 {
        self.balance_index.clamp(-1.0, 1.0)
    }

    /// Front and tail load as the wheels can carry them: if one is off the ground, the other has all.
    pub fn carried_loads(&self) -> (Force, Force) {
        let ground_n = self.ground_load.n();
        let tail_n = self.tail_load.n().clamp(0.0, ground_n);
        (Force::from_n(ground_n - tail_n), Force::from_n(tail_n))
    }
}

/// Which of the two forces along the plow is known.
#[derive(Clone, Copy)]
enum Known {
    SoilDraft,
    Pull,
}

/// Two linear equations for front and tail load; right sides grow with the known force.
struct Pair {
    /// Upwards: factors of front and tail load.
    up: (f64, f64),
    /// Moments about the front carrier: factors of front and tail load.
    turn_m: (f64, f64),
    /// Right sides without the known force.
    weight: (f64, f64),
    /// What each newton of it adds to them.
    per_force: (f64, f64),
}

impl Pair {
    fn solve(&self, right: (f64, f64)) -> (f64, f64) {
        let Self { up, turn_m, .. } = self;
        let determinant = up.0 * turn_m.1 - up.1 * turn_m.0;
        (
            (right.0 * turn_m.1 - up.1 * right.1) / determinant,
            (up.0 * right.1 - turn_m.0 * right.0) / determinant,
        )
    }

    fn loads(&self, force_n: f64) -> (f64, f64) {
        let right = |weight: f64, per_force: f64| weight + per_force * force_n;
        self.solve((right(self.weight.0, self.per_force.0), right(self.weight.1, self.per_force.1)))
    }
}

/// A drawbar steeper than this is refused: 10 up for 1 forward.
const STEEPEST: f64 = 10.0;

/// Where the tractor's pin is: ahead of the plow's pin by what the drawbar's length leaves.
///
/// # Errors
/// [`StaticsError::VerticalDrawbar`] if the length leaves nothing forward.
pub fn tractor_pin(plow_hitch: Point, tractor_z: Length, length: Length) -> Result<Point, StaticsError> {
    let (rise_m, length_m) = (tractor_z.m() - plow_hitch.z.m(), length.m());
    if !(rise_m.is_finite() && length_m.is_finite()) {
        return Err(StaticsError::NotFinite);
    }
    let level_m = (length_m * length_m - rise_m * rise_m).max(0.0).sqrt();
    if level_m * STEEPEST <= rise_m.abs() || level_m == 0.0 {
        return Err(StaticsError::VerticalDrawbar { rise: Length::from_m(rise_m), length });
    }
    Ok(Point { x: Length::from_m(plow_hitch.x.m() + level_m), z: tractor_z })
}

impl Point {
    /// The point at these coordinates, in m.
    pub const fn from_m(x_m: f64, z_m: f64) -> Self {
        Self { x: Length::from_m(x_m), z: Length::from_m(z_m) }
    }

    fn is_finite(self) -> bool {
        self.x.m().is_finite() && self.z.m().is_finite()
    }

    /// Rise per length forward of the line from here to `ahead`.
    pub(super) fn slope_to(self, ahead: Self) -> f64 {
        (ahead.z.m() - self.z.m()) / (ahead.x.m() - self.x.m())
    }
}

impl SideView {
    /// L.
    pub fn wheelbase(&self) -> Length {
        Length::from_m(self.front.at.x.m() - self.tail.at.x.m())
    }

    /// t, rise of the drawbar per length forward.
    pub fn drawbar_slope(&self) -> f64 {
        self.plow_hitch.slope_to(self.tractor_hitch)
    }

    /// z_P(x): height of the line of pull.
    pub fn pull_line_z(&self, x: Length) -> Length {
        Length::from_m(self.plow_hitch.z.m() + self.drawbar_slope() * (x.m() - self.plow_hitch.x.m()))
    }

    /// z_S(x): height of the line of the soil force.
    pub fn soil_line_z(&self, x: Length) -> Length {
        Length::from_m(self.soil_at.z.m() + self.soil_slope * (self.soil_at.x.m() - x.m()))
    }

    /// W(x_f − x_w)/L: load of the tail carrier of the standing plow.
    pub fn standing_tail_load(&self) -> Force {
        let arm_m = self.front.at.x.m() - self.weight_x.m();
        Force::from_n(self.weight.n() * arm_m / self.wheelbase().m())
    }

    /// The same plow with the soil draft that goes with a pull along its line.
    ///
    /// # Errors
    /// [`StaticsError::PullTooSmall`] if the carriers' resistance takes all of it;
    /// [`StaticsError::NoGroundLoad`] and the others as [`SideView::loads`].
    pub fn with_pull(self, pull: Force) -> Result<Self, StaticsError> {
        self.check()?;
        let pull_x_n = pull.n() / self.drawbar_slope().hypot(1.0);
        let (front_n, tail_n) = self.pair(Known::Pull).loads(pull_x_n);
        let ground_load_n = front_n + tail_n;
        let soil_draft_n = pull_x_n - self.resistance_n(front_n, tail_n);
        if ground_load_n.is_nan() || soil_draft_n.is_nan() {
            return Err(StaticsError::NotFinite);
        }
        if ground_load_n <= 0.0 {
            return Err(StaticsError::NoGroundLoad { ground_load: Force::from_n(ground_load_n) });
        }
        if soil_draft_n < 0.0 {
            return Err(StaticsError::PullTooSmall { pull });
        }
        Ok(Self { soil_draft: Force::from_n(soil_draft_n), ..self })
    }

    /// The loads and all that follows from them, by the closed forms at the head of this file.
    ///
    /// # Errors
    /// [`StaticsError`] for a drawbar on end, a weight that is not between the carriers, a plow that is lifted
    /// off them all, and numbers that are not finite.
    pub fn loads(&self) -> Result<Loads, StaticsError> {
        self.check()?;
        let (s_n, t) = (self.soil_draft.n(), self.drawbar_slope());
        let (x_f, x_w) = (self.front.at.x.m(), self.weight_x.m());
        let pair = self.pair(Known::SoilDraft);
        let (front_load_n, tail_load_n) = pair.loads(s_n);
        let v_n = front_load_n + tail_load_n;
        if v_n.is_nan() {
            return Err(StaticsError::NotFinite);
        }
        if v_n <= 0.0 {
            return Err(StaticsError::NoGroundLoad { ground_load: Force::from_n(v_n) });
        }
        let pull_x_n = s_n + self.resistance_n(front_load_n, tail_load_n);
        // Moment of all that resists about the land under the weight: P_x·z_D(x_w).
        let (pull_line_m, soil_line_m) =
            (self.pull_line_z(self.weight_x).m(), self.soil_line_z(self.weight_x).m());
        let resisting_n_m = s_n * soil_line_m
            + self.front.resistance * front_load_n * self.front.at.z.m()
            + self.tail.resistance * tail_load_n * self.tail.at.z.m();
        // A standing plow (no draft, no resistance) has no line of resistance; its limit is the soil's line.
        let resistance_z_m = if pull_x_n == 0.0 { soil_line_m } else { resisting_n_m / pull_x_n };
        let arm_m = (pull_x_n * pull_line_m - resisting_n_m) / v_n;
        let end_m = if arm_m >= 0.0 { x_f - x_w } else { x_w - self.tail.at.x.m() };
        let (front_per_s, tail_per_s) = pair.solve(pair.per_force);
        let pull_x_per_s = 1.0 + self.resistance_n(front_per_s, tail_per_s);
        Ok(Loads {
            front_load: Force::from_n(front_load_n),
            tail_load: Force::from_n(tail_load_n),
            ground_load: Force::from_n(v_n),
            pull_x: Force::from_n(pull_x_n),
            pull: Force::from_n(pull_x_n * t.hypot(1.0)),
            drawbar_slope: t,
            steady_point: Point::from_m(x_w, resistance_z_m),
            pull_line_offset: Length::from_m(pull_line_m - resistance_z_m),
            wheel_load_at: Length::from_m(x_w + arm_m),
            balance_index: arm_m / end_m,
            expected_gain_n_per_n: tail_per_s / pull_x_per_s / t.hypot(1.0),
        })
    }

    /// What the carriers resist with at these loads.
    fn resistance_n(&self, front_n: f64, tail_n: f64) -> f64 {
        self.front.resistance * front_n + self.tail.resistance * tail_n
    }

    /// The two equations for the loads, with soil draft or pull known.
    fn pair(&self, known: Known) -> Pair {
        let (front, tail) = (self.front, self.tail);
        let (t, sigma) = (self.drawbar_slope(), self.soil_slope);
        let pull_over_m = self.pull_line_z(front.at.x).m() - front.at.z.m();
        let soil_over_m = self.soil_line_z(front.at.x).m() - front.at.z.m();
        let (slope, over_m) = match known {
            Known::SoilDraft => (t, pull_over_m),
            Known::Pull => (-sigma, soil_over_m),
        };
        let lever_m = self.wheelbase().m() + tail.resistance * (over_m - tail.at.z.m() + front.at.z.m());
        Pair {
            up: (1.0 + slope * front.resistance, 1.0 + slope * tail.resistance),
            turn_m: (over_m * front.resistance, lever_m),
            weight: (self.weight.n(), self.weight.n() * (front.at.x.m() - self.weight_x.m())),
            per_force: (-(t + sigma), soil_over_m - pull_over_m),
        }
    }

    fn check(self) -> Result<(), StaticsError> {
        let Self {
            weight,
            weight_x,
            front,
            tail,
            plow_hitch,
            tractor_hitch,
            soil_at,
            soil_slope,
            soil_draft,
        } = self;
        let points = [front.at, tail.at, soil_at, plow_hitch, tractor_hitch];
        let (weight_n, draft_n) = (weight.n(), soil_draft.n());
        let numbers = [weight_n, weight_x.m(), front.resistance, tail.resistance, soil_slope, draft_n];
        if !(points.into_iter().all(Point::is_finite) && numbers.into_iter().all(f64::is_finite)) {
            return Err(StaticsError::NotFinite);
        }
        let forward_m = tractor_hitch.x.m() - plow_hitch.x.m();
        let rise_m = tractor_hitch.z.m() - plow_hitch.z.m();
        if forward_m <= 0.0 || rise_m.abs() >= forward_m * STEEPEST {
            let length = Length::from_m(forward_m.hypot(rise_m));
            return Err(StaticsError::VerticalDrawbar { rise: Length::from_m(rise_m), length });
        }
        let (tail_x, front_x) = (tail.at.x, front.at.x);
        if tail_x < weight_x && weight_x < front_x {
            Ok(())
        } else {
            Err(StaticsError::WeightOutsideWheels { weight_x, tail_x, front_x })
        }
    }
}
