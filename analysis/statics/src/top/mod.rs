//! Statics of plow and tractor in the top view: which way the pull turns the tractor, where the pin would have
//! to be, and what that costs at the landside.
//!
//! x forward of the front wheel axle of the plow, y left of the middle of the cut, z up (ISO 8855 axes). Bottoms
//! throw to the right, so the wall that the landsides press on is on the left, and the open furrow, with its own
//! wall, on the right. [`resistance`] places the centre of resistance, [`plow`] and [`tractor`] are the two
//! bodies, joined at the pin, [`draws`] gives every input its distribution and [`report`] its outcome.

pub mod draws;
pub mod plow;
pub mod report;
pub mod resistance;
pub mod tractor;

#[cfg(test)]
mod equations;
#[cfg(test)]
mod worked_examples;

use super::side::StaticsError;
use ingest::quantity::{Angle, Force, Length, SaidIn, UnitSystem, in_si};
use schemars::JsonSchema;
use serde::Serialize;

/// A point of the top view.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
pub struct TopPoint {
    /// Forward.
    #[serde(rename = "x_m", serialize_with = "in_si")]
    pub x: Length,
    /// Left.
    #[serde(rename = "y_m", serialize_with = "in_si")]
    pub y: Length,
}

impl TopPoint {
    /// The point at these coordinates, in m.
    pub const fn from_m(x_m: f64, y_m: f64) -> Self {
        Self { x: Length::from_m(x_m), y: Length::from_m(y_m) }
    }
}

/// Which force of the top view.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum TopForceKind {
    /// Soil on all bottoms: draft, and push toward the land.
    Soil,
    /// The furrow wall on the landsides.
    Landside,
    /// Friction of the landsides on the furrow wall.
    LandsideFriction,
    /// The pull at the pin: on the plow, or back on the tractor.
    Pull,
    /// The ground on the left drive wheel, forward.
    LeftDrive,
    /// The ground on the right drive wheel, forward.
    RightDrive,
    /// The ground on the front wheels, sideways.
    FrontAxle,
    /// The ground on the rear wheels, sideways.
    RearAxle,
}

/// One horizontal force on a body of the top view.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
pub struct TopForce {
    /// Which.
    pub kind: TopForceKind,
    /// Where it acts.
    pub at: TopPoint,
    /// Forward part.
    #[serde(rename = "x_n", serialize_with = "in_si")]
    pub x: Force,
    /// Part to the left.
    #[serde(rename = "y_n", serialize_with = "in_si")]
    pub y: Force,
}

impl TopForce {
    fn of(kind: TopForceKind, at: TopPoint, x_n: f64, y_n: f64) -> Self {
        Self { kind, at, x: Force::from_n(x_n), y: Force::from_n(y_n) }
    }
}

/// Why there is no answer in the top view.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum TopError {
    /// Lower links and chains take side forces in ways that are not worked out here.
    #[error(
        "the top view is worked out for trailed plows, whose drawbar is rigid sideways; this one is {kind}, and \
         links or a chain guide a plow sideways in another way: leave out --top"
    )]
    NotTrailed {
        /// Kind of plow.
        kind: &'static str,
    },
    /// The description has no tractor.
    #[error(
        "the top view needs a [tractor] table: front_axle_load and rear_axle_load (weighed level, without the \
         plow), wheelbase, track, rear_tyre_width, hitch_behind_rear_axle, and right_wheel = \"furrow\" or \
         \"land\" (with furrow_wall_offset if on land); add it to the description"
    )]
    NoTractor,
    /// The side view refuses the plow.
    #[error(transparent)]
    Side(#[from] StaticsError),
    /// The pin is not ahead of the bottoms.
    #[error(
        "the tractor's pin comes out {} ahead of the middle of the bottoms, and it has to be ahead of them: check \
         bottoms.x, plow_hitch.x and drawbar.length",
        UnitSystem::Si.length_text(*ahead)
    )]
    PinNotAhead {
        /// How far ahead.
        ahead: Length,
    },
    /// The line of pull leads farther sideways than forward.
    #[error(
        "the line of pull leads {lead_deg:.0} degrees sideways, beyond the 45 degrees that make sense: check \
         the setting's lateral_offset and the tractor's track, tire width and furrow_wall_offset",
        lead_deg = .lead.deg()
    )]
    SidewaysPull {
        /// Angle from straight ahead, left positive.
        lead: Angle,
    },
    /// The pull takes all load off the tractor's front axle.
    #[error(
        "this pull would lift the front of the tractor ({} left on its front axle): check the axle loads and the hitch \
         height, and pull lower or add front weights",
        UnitSystem::Si.force_text(*front)
    )]
    FrontLifts {
        /// Load on the front axle, at or below 0.
        front: Force,
    },
    /// Hardly any draw can be.
    #[error(
        "only {kept} of {tried} draws of the measured inputs can be, most others because the front of the \
         tractor lifts or the pull leads too far sideways: check the [tractor] table and give each ±"
    )]
    FewDraws {
        /// Draws that were kept.
        kept: usize,
        /// Draws that were tried.
        tried: usize,
    },
    /// A number that is NaN or infinite.
    #[error("a number of the plow, the tractor or the pull is not finite, so nothing follows from it")]
    NotFinite,
}

impl SaidIn for TopError {
    fn said_in(&self, units: UnitSystem) -> String {
        let figure = |text: String, si: String, own: String| text.replacen(&si, &own, 1);
        match self {
            Self::Side(error) => error.said_in(units),
            Self::FrontLifts { front } => {
                figure(self.to_string(), UnitSystem::Si.force_text(*front), units.force_text(*front))
            }
            Self::PinNotAhead { ahead } => {
                figure(self.to_string(), UnitSystem::Si.length_text(*ahead), units.length_text(*ahead))
            }
            _ => self.to_string(),
        }
    }
}
