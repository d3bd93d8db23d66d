//! The virtual plow: a plane rigid body that heaves and pitches on a front and a tail wheel.
//!
//! Axes follow ISO 8855: x forward from the front wheel axle, z up from the land surface. A turn about
//! the y axis (to the left) is positive nose down and named so; the pitch that a sensor reads is the
//! same with the other sign, nose up positive. Inside, everything is SI.

mod body;
mod cases;
mod complex;
mod drawn;
mod field;
mod geometry;
mod modes;
mod parts;
mod pass;
mod settle;
mod travel;
mod truth;

pub use body::{Forces, Motion, Surroundings};
pub use cases::Case;
pub use drawn::DrawnPlow;
pub use field::{Field, FieldSpec};
pub use geometry::{Point, Pose};
pub use modes::{Linear, Mode};
pub use parts::{Plow, Setting, Share, Wheel};
pub use pass::{Pass, PassSpec, PassTimes, TrueState};
pub use settle::settle;
pub use travel::SpeedWander;
pub use truth::{Truth, TruthMeter};
