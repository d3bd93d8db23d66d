//! What makes a plow the kind that it is: what carries its front, what carries its tail, what it hangs on; and the
//! tractor.
//!
//! The kind is not written down anywhere: it follows from what carries the front ([`Front`]). All that
//! differs from kind to kind, besides the statics itself, are the names of the parts.

use super::LoadTable;
use crate::quantity::{Force, Length, Measured};
use serde::{Deserialize, Serialize};
use strum::IntoStaticStr;

/// Kinds of plow.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, IntoStaticStr)]
#[serde(rename_all = "kebab-case")]
#[strum(serialize_all = "kebab-case")]
pub enum Kind {
    /// Front wheels, a tail, and a drawbar with a pin at each end.
    Trailed,
    /// The front hangs on the tractor's lower links, which the lift holds; a tail behind.
    SemiMounted,
    /// Hangs on lower links and top link, which are free to rise and fall; heel or wheel behind.
    Mounted,
    /// No wheels: slides on its sole, pulled by a chain.
    Walking,
}

impl Kind {
    /// What people call it.
    #[must_use]
    pub fn name(self) -> &'static str {
        self.into()
    }
}

/// The front wheels together.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FrontWheels {
    /// Rolling diameter.
    pub diameter: Length,
    /// What they run on; the land if it is not said.
    pub runs_in: Option<RunsIn>,
}

impl FrontWheels {
    /// What they run on: the land, unless it is said otherwise.
    #[must_use]
    pub fn runs_in(&self) -> RunsIn {
        self.runs_in.unwrap_or(RunsIn::Land)
    }
}

/// The tail wheel, with what turns its deflection into a load.
#[derive(Clone, Debug, PartialEq)]
pub struct TailWheel {
    /// Place of its axle, behind the origin and so below 0.
    pub x: Measured<Length>,
    /// Rolling diameter.
    pub diameter: Length,
    /// What it runs on; the floor of the furrow just cut if it is not said.
    pub runs_in: Option<RunsIn>,
    /// Load by the deflection of its spring.
    pub load_table: LoadTable,
}

/// The sole of a walking plow: it carries at its two ends, the point of the share and the heel.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Sole {
    /// Coefficient of friction between steel and soil, at the point.
    pub friction: f64,
}

/// A tail that runs in the furrow: a heel, or a rolling landside.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Heel {
    /// Where it carries, behind the origin and so below 0.
    pub x: Measured<Length>,
    /// Resistance over load: friction of a heel, rolling resistance of a rolling landside.
    pub resistance: f64,
}

/// The lower links of a mounted plow, whose holes are those of the top link.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LowerLinks {
    /// Pin to pin.
    pub length: Measured<Length>,
    /// Their pins.
    pub pins: LinkPins,
}

/// Pins of links that stay where they are.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LinkPins {
    /// Height of the pins at the plow; x is 0 there.
    pub plow_z: Measured<Length>,
    /// Height of the pins at the tractor.
    pub tractor_z: Measured<Length>,
}

/// The straight member that is moved from hole to hole, with a pin at each end: the drawbar of a trailed plow, the
/// chain of a walking plow, the lower links of a semi-mounted plow, the top link of a mounted one.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct HitchLink {
    /// Pin to pin.
    pub length: Measured<Length>,
}

/// What a wheel runs on (common practice, no source): a land wheel on the land, a front furrow wheel on the floor of
/// the furrow before, a tail wheel (rear furrow wheel) on the floor of the furrow just cut.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum RunsIn {
    /// On the land surface, z = 0.
    Land,
    /// On the floor of a furrow, z = −working depth.
    Furrow,
}

/// What carries the front, and with that the kind of plow.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Front {
    /// The front wheels of a trailed plow; their axle is the origin of x.
    Wheels(FrontWheels),
    /// The sole of a walking plow, from the point of the share, the origin of x, to the heel.
    Sole(Sole),
    /// The pins of the lower links of a semi-mounted plow, which the lift holds; the origin of x.
    LowerLinks,
    /// The point where top link and lower links of a mounted plow meet; x is 0 at the pins of the lower links.
    MeetingLinks(LowerLinks),
}

impl Front {
    /// Which kind of plow stands on it.
    #[must_use]
    pub const fn kind(&self) -> Kind {
        match self {
            Self::Wheels(_) => Kind::Trailed,
            Self::Sole(_) => Kind::Walking,
            Self::LowerLinks => Kind::SemiMounted,
            Self::MeetingLinks(_) => Kind::Mounted,
        }
    }

    /// The front wheels, if it is carried by wheels.
    #[must_use]
    pub const fn wheels(&self) -> Option<&FrontWheels> {
        match self {
            Self::Wheels(wheels) => Some(wheels),
            _ => None,
        }
    }
}

/// What carries the tail.
#[derive(Clone, Debug, PartialEq)]
pub enum Tail {
    /// A wheel with a spring that tells its load.
    Wheel(TailWheel),
    /// A rolling landside.
    RollingLandside(Heel),
    /// A heel.
    Heel(Heel),
}

impl Tail {
    /// Where it carries.
    #[must_use]
    pub const fn x(&self) -> Measured<Length> {
        match self {
            Self::Wheel(wheel) => wheel.x,
            Self::RollingLandside(heel) | Self::Heel(heel) => heel.x,
        }
    }

    /// The tail wheel, if it is one.
    #[must_use]
    pub const fn wheel(&self) -> Option<&TailWheel> {
        match self {
            Self::Wheel(wheel) => Some(wheel),
            Self::RollingLandside(_) | Self::Heel(_) => None,
        }
    }

    /// What it runs on: a tail wheel in the furrow unless it is said otherwise, a heel or a rolling landside
    /// always there.
    #[must_use]
    pub fn runs_in(&self) -> RunsIn {
        self.wheel().and_then(|wheel| wheel.runs_in).unwrap_or(RunsIn::Furrow)
    }
}

/// Where the tractor's right wheels run.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum RightWheel {
    /// In the open furrow, as deep below the land as the plow works.
    Furrow,
    /// On the land beside it.
    Land,
}

/// The tractor. Its hitch heights stand in `[tractor_hitch]`, its pin's place across in the setting.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Tractor {
    /// Load of the front axle, standing level without the plow.
    pub front_axle_load: Measured<Force>,
    /// Load of the rear axle, standing level without the plow.
    pub rear_axle_load: Measured<Force>,
    /// Front axle to rear axle.
    pub wheelbase: Measured<Length>,
    /// Rear wheels, middle of the tyre to middle of the tyre.
    pub track: Measured<Length>,
    /// Width of a rear tyre.
    pub rear_tyre_width: Measured<Length>,
    /// How far the drawbar's pin is behind the rear axle.
    pub hitch_behind_rear_axle: Measured<Length>,
    /// Where the right wheels run.
    pub right_wheel: RightWheel,
    /// Inside of the right rear tyre, left (+) of the wall of the open furrow. With the wheel in the furrow
    /// it is 0 (the tyre touches the wall) unless told; on land it must be given.
    pub furrow_wall_offset: Option<Measured<Length>>,
    /// Height of the centre of gravity above the ground on which the tractor stands level, if it is known.
    pub centre_of_gravity_height: Option<Measured<Length>>,
    /// Share of the pull that the right drive wheel gives; one half, as a free differential gives, unless told.
    pub right_pull_share: Option<f64>,
    /// Sideways step of the pin: a washer, or from hole to hole.
    pub pin_step: Option<Length>,
}
