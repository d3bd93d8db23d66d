//! The plow as it was measured: `plow.toml` ([`PlowToml`]) parsed into what a plow is ([`Plow`]).
//!
//! Points lie in the side view with the plow standing on a level floor as it does at work: x forward of
//! the front wheel axle, z above the land surface (ISO 8855 axes). A plow without front wheels is measured from
//! the pins of its lower links, or from the point of its share if it has no links either. What runs on the land is
//! blocked up by the working depth for it; shares, and wheels that run in a furrow, stand on the floor.

mod doubt;
mod file;
mod load_table;
mod names;
mod needed;
mod parse;
mod parts;
mod questions;
mod ranges;
mod sensors;
mod toml;
mod usual;

pub use self::toml::{LowerLinksToml, PlowToml, SettingToml, TailWheelToml};
pub use doubt::Doubt;
pub use file::{read_plow, read_plow_text};
pub use load_table::LoadTable;
pub use names::PartNames;
pub use needed::{CarriedLoad, needed_at_once};
pub use parts::{
    Front, FrontWheels, Heel, HitchLink, Kind, LinkPins, LowerLinks, RightWheel, RunsIn, Sole, Tail,
    TailWheel, Tractor,
};

pub use questions::StandingLoads;
pub use sensors::{Measures, SensorEntry};
pub use usual::{usual, usual_in};

pub use crate::calibration::{Calibration, CalibrationPoint, OwnSensor, Sensor};
pub use crate::channel_role::{ChannelRole, RoleDimension};
pub use crate::own_column::{OWN_COLUMNS_MAX, OWN_PREFIX, OwnColumn};

use crate::quantity::{Force, Length, Measured, UnitSystem};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use strum::{Display, EnumString};

/// What a plow is: a description in which nothing is missing, no part is of another kind, and every hole that a setting
/// names is there. Made of a [`PlowToml`], and written as one.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(into = "PlowToml")]
pub struct Plow {
    /// What the plow is called.
    pub name: String,
    /// The units that whoever reads of it reads, if it is said.
    pub units: Option<UnitSystem>,
    /// Its weight.
    pub weight: Weight,
    /// What carries its front: this makes the kind.
    pub front: Front,
    /// What carries its tail.
    pub tail: Tail,
    /// Rolling resistance of the wheels.
    pub rolling: Rolling,
    /// The bottoms and where the soil acts on them.
    pub bottoms: Bottoms,
    /// Where the link is pinned to the plow.
    pub plow_hitch: Hitch,
    /// Where it is pinned to the tractor.
    pub tractor_hitch: TractorHitch,
    /// The member that is moved from hole to hole.
    pub link: HitchLink,
    /// The tractor, for the top view.
    pub tractor: Option<Tractor>,
    /// Named hitch settings.
    pub settings: BTreeMap<String, Setting>,
    /// What each channel of a sensor box measures.
    pub sensors: Vec<Sensor>,
    /// The channels of which nothing is known here but name and unit: no verdict is built on them.
    pub own_sensors: Vec<OwnSensor>,
    /// Bounds of the verdict.
    pub limits: Limits,
}

/// Weight and the vertical line it acts along.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Weight {
    /// Weight of the whole plow.
    pub total: Measured<Force>,
    /// Place of its line.
    pub x: Measured<Length>,
}

/// Rolling resistance over wheel load.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Rolling {
    /// Coefficient ρ, the same for all wheels.
    pub coefficient: f64,
}

impl Default for Rolling {
    /// 0.08: a narrow steel wheel on stubble, common practice, no source; a tyre on wet loose gravel has
    /// 0.06 (Moyer, in Marks' Standard Handbook for Mechanical Engineers).
    fn default() -> Self {
        Self { coefficient: 0.08 }
    }
}

/// Condition of the shares: it decides which way the soil pushes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema, Deserialize, Display, EnumString)]
#[serde(rename_all = "lowercase")]
#[strum(serialize_all = "lowercase")]
pub enum ShareCondition {
    /// New or freshly pointed: the soil pulls the plow down (suction).
    Sharp,
    /// In between.
    Blunt,
    /// Worn: the soil may carry the plow.
    Worn,
}

/// Soil classes of ASABE D497 (its factors F1, F2, F3).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema, Deserialize, Display, EnumString)]
#[serde(rename_all = "lowercase")]
#[strum(serialize_all = "lowercase")]
pub enum SoilClass {
    /// Fine-textured.
    Fine,
    /// Medium-textured.
    Medium,
    /// Coarse-textured.
    Coarse,
}

/// The bottoms.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Bottoms {
    /// How many.
    pub count: u32,
    /// Width of cut of each.
    pub cut_width: Length,
    /// Working depth at which the points were measured.
    pub depth: Length,
    /// Condition of the shares.
    pub share: ShareCondition,
    /// Middle of the bottoms: x of the point that the soil force is taken through.
    pub x: Measured<Length>,
    /// Height of the soil force on the line x, below the land surface and so below 0, if it is known
    /// (from a run with a front-load channel, or a trial): it narrows the soil slope.
    pub soil_force_z: Option<Measured<Length>>,
    /// Friction of the landsides on the furrow wall, force over force, if it is known.
    pub landside_friction: Option<f64>,
}

/// A row of holes, one above the other.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Hitch {
    /// Place of the pin.
    pub x: Measured<Length>,
    /// Height of each hole, by its name.
    pub holes: Vec<Hole>,
    /// Lowest height that still clears the ground and the furrow, if it is known.
    pub clearance_z: Option<Length>,
    /// Thickness of a washer that the pin can be packed with, if it can.
    pub washer: Option<Length>,
}

/// The tractor's holes; the drawbar's length says where they are along the tractor.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TractorHitch {
    /// Height of each hole, by its name.
    pub holes: Vec<Hole>,
    /// Thickness of a washer that the pin can be packed with, if it can.
    pub washer: Option<Length>,
}

/// One hole.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Hole {
    /// What it is called.
    pub name: String,
    /// Its height above the land surface.
    pub z: Measured<Length>,
}

/// One hitch setting: the two holes that the link is pinned in.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(into = "SettingToml")]
pub struct Setting {
    /// The hole at the plow.
    pub plow_hole: Hole,
    /// The hole at the tractor.
    pub tractor_hole: Hole,
    /// Pin at the tractor, left of the middle of the cut (+), if it was set.
    pub lateral_offset: Option<Length>,
}

/// Bounds of the verdict.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Limits {
    /// |b| up to here is balanced.
    pub balanced: f64,
    /// |b| up to here is leaning; beyond it too flat or too steep.
    pub leaning: f64,
    /// A larger lifted share cannot be balanced.
    pub lifted_share: f64,
}

impl Default for Limits {
    fn default() -> Self {
        Self { balanced: 0.25, leaning: 0.6, lifted_share: 0.01 }
    }
}

impl Plow {
    /// Total width of cut.
    #[must_use]
    pub fn total_cut_m(&self) -> f64 {
        f64::from(self.bottoms.count) * self.bottoms.cut_width.m()
    }

    /// The columns of the user's own.
    #[must_use]
    pub fn own_columns(&self) -> Vec<OwnColumn> {
        self.own_sensors.iter().map(|sensor| sensor.column.clone()).collect()
    }
}
