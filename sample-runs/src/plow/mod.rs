//! The virtual plow: a plane rigid body that heaves and pitches on a front and a tail wheel.
//!
//! Axes follow ISO 8855: x forward from the front wheel axle, z up from the land surface. A turn about
//! the y axis (to the left) is positive nose down and named so; the pitch that a sensor reads is the
//! same with the other sign, nose up positive. Inside, everything is SI.
//!
//! Its equations are worked out here from mechanics and looked up nowhere else in the workspace: the analysis is
//! held against them. With m the mass, J the moment of inertia about the weight's place (x_w, z_w), h the heave
//! of that place and θ the turn, nose down:
//!
//! - A point measured at (x_w + a, z_w + c) is now at (x_w + a cos θ + c sin θ, z_w + h − a sin θ + c cos θ), and
//!   rises at h′ − θ′ (x − x_w).
//! - A wheel is pressed in by c = set + ground + lift − rise of its contact, at the rate c′, and carries
//!   F = k c (1 + c/c₂) + d c′ + stop(c, c′) where c > 0, never below 0; k is the first stiffness, c₂ where it has
//!   doubled (infinite: a straight spring), d the damper, and the stop a stiff spring and damper beyond its place.
//!   Ground is the land's unevenness at its place. The front wheels run on the land, the tail wheel on the floor of
//!   the furrow, which is taken to lie below the land by the depth set. Left out: that the floor follows what the
//!   bottoms cut (they swing by some millimeters), and that the wheel comes onto it only a plow's length after the
//!   plow is let down.
//! - The soil's draft is S = specific draft × width × depth × hardness at the bottoms, depth being the land's height
//!   there less that of the bottoms. Its vertical part is σ′ S, with σ′ = σ + (slope per rad) × (θ + rise of its
//!   place / speed): what a share feels is the angle to its path.
//! - Forward speed is the tractor's: the pull has the part P_x = S + ρ (F_front + F_tail) along x, ρ the rolling
//!   resistance of the wheels, and t P_x up, t the slope of the drawbar, a bar between two pins.
//! - m h″ = F_front + F_tail + σ′ S + t P_x − W, and J θ″ = Σ (z − z_now) X − (x − x_w) Z over all forces (X, Z) at
//!   (x, z), z_now = z_w + h; rolling resistances act at the ground.
//! - Distance is the integral of the speed, which is steady or wanders slowly; land, hardness and the nodding of the
//!   tractor's pin are functions of distance.
//! - A sensor of the tail's deflection sees c, or, where the linkage has play p, follows it only at the ends of a
//!   gap: it is held between c − p/2 and c + p/2.
//!
//! [`Pass`] solves them by the classical Runge–Kutta method; [`Linear`] is the same plow for small motions, with its
//! two modes; [`DrawnPlow`] draws another plow, hitch and field each time.

mod body;
mod cases;
mod drawn;
mod field;
mod geometry;
mod modes;
mod parts;
mod pass;
mod pass_spec;
mod quartic;
mod settle;
mod travel;
mod truth;

pub use body::{Forces, Motion, Surroundings};
pub use cases::Case;
pub use drawn::DrawnPlow;
pub use field::{Field, FieldSpec};
pub use geometry::{Point, Pose};
pub use modes::{Linear, Mode};
pub use parts::{Plow, Setting, Share, ShareBearing, Wheel};
pub use pass::{Pass, TrueState};
pub use pass_spec::{PassSpec, PassTimes};
pub use settle::settle;
pub use travel::SpeedWander;
pub use truth::{Truth, TruthMeter};
