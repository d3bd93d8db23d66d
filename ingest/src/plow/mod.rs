//! The plow as it was measured: `plow.toml`.
//!
//! Points lie in the side view with the plow standing on a level floor as it does at work: x forward of
//! the front wheel axle, z above the land surface (ISO 8855 axes). A plow without front wheels is measured from
//! the pins of its lower links, or from the point of its share if it has no links either. What runs on the land is
//! blocked up by the working depth for it; shares, and wheels that run in a furrow, stand on the floor.

mod check;
mod fault;
mod file;
mod needed;
mod parts;
mod ranges;
mod tractor;

pub use check::check;
pub use fault::PlowFault;
pub use file::{read_plow, read_plow_text};
pub use needed::{CarriedLoad, needed_at_once};
pub use parts::{Heel, Kind, LinkPins, LowerLinks, PartNames, RunsIn, Sole, Tail, TopLink};
pub use tractor::{RightWheel, Tractor};

pub use crate::calibration::{Calibration, CalibrationPoint, Sensor};
pub use crate::channel_role::{ChannelRole, RoleDimension};

use crate::quantity::{Force, Length, Measured};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// Everything that `plow.toml` says.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Plow {
    /// What the plow is called.
    pub name: String,
    /// Its weight.
    pub weight: Weight,
    /// The front wheels of a trailed plow; their axle is the origin of x.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub front_wheels: Option<FrontWheels>,
    /// The sole of a walking plow, from the point of the share, the origin of x, to the heel.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sole: Option<Sole>,
    /// What carries the tail, if it is a wheel.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tail_wheel: Option<TailWheel>,
    /// What carries the tail, if it is a rolling landside in the furrow.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rolling_landside: Option<Heel>,
    /// What carries the tail, if it is a heel that slides on the furrow bottom.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub heel: Option<Heel>,
    /// Rolling resistance of the wheels.
    #[serde(default)]
    pub rolling: Rolling,
    /// The bottoms and where the soil acts on them.
    pub bottoms: Bottoms,
    /// Where the member that is moved from hole to hole (drawbar, chain, lower links or top link) is pinned to
    /// the plow.
    pub plow_hitch: Hitch,
    /// Where it is pinned to the tractor.
    pub tractor_hitch: TractorHitch,
    /// The drawbar, or the chain of a walking plow, between the two.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub drawbar: Option<Drawbar>,
    /// The lower links of a semi-mounted or mounted plow.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lower_links: Option<LowerLinks>,
    /// The top link of a mounted plow.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub top_link: Option<TopLink>,
    /// The tractor, for the top view.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub tractor: Option<Tractor>,
    /// Named hitch settings.
    pub settings: BTreeMap<String, Setting>,
    /// What each channel of a sensor box measures.
    #[serde(default)]
    pub sensors: Vec<Sensor>,
    /// Bounds of the verdict.
    #[serde(default)]
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

/// The front wheels together.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FrontWheels {
    /// Rolling diameter.
    pub diameter: Length,
    /// What they run on; the land if it is not said.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub runs_in: Option<RunsIn>,
}

/// The tail wheel, with what turns its deflection into a load.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TailWheel {
    /// Place of its axle, behind the origin and so below 0.
    pub x: Measured<Length>,
    /// Rolling diameter.
    pub diameter: Length,
    /// What it runs on; the floor of the furrow just cut if it is not said.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub runs_in: Option<RunsIn>,
    /// Deflection and load, at least two lines, both rising; straight lines between them and beyond them.
    pub load_table: Vec<(Length, Force)>,
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
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum ShareCondition {
    /// New or freshly pointed: the soil pulls the plow down (suction).
    Sharp,
    /// In between.
    Blunt,
    /// Worn: the soil may carry the plow.
    Worn,
}

impl std::fmt::Display for ShareCondition {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Self::Sharp => "sharp",
            Self::Blunt => "blunt",
            Self::Worn => "worn",
        })
    }
}

/// Soil classes of ASABE D497 (its factors F1, F2, F3).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum SoilClass {
    /// Fine-textured.
    Fine,
    /// Medium-textured.
    Medium,
    /// Coarse-textured.
    Coarse,
}

impl std::fmt::Display for SoilClass {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Self::Fine => "fine",
            Self::Medium => "medium",
            Self::Coarse => "coarse",
        })
    }
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
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub soil_force_z: Option<Measured<Length>>,
    /// Friction of the landsides on the furrow wall, force over force, if it is known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
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
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub clearance_z: Option<Length>,
    /// Thickness of a washer that the pin can be packed with, if it can.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub washer: Option<Length>,
}

/// The tractor's holes; the drawbar's length says where they are along the tractor.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TractorHitch {
    /// Height of each hole, by its name.
    pub holes: Vec<Hole>,
    /// Thickness of a washer that the pin can be packed with, if it can.
    #[serde(default, skip_serializing_if = "Option::is_none")]
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

/// The drawbar, a straight member with a pin at each end.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Drawbar {
    /// Pin to pin.
    pub length: Measured<Length>,
}

/// One hitch setting.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Setting {
    /// Name of the hole at the plow.
    pub plow_hole: String,
    /// Name of the hole at the tractor.
    pub tractor_hole: String,
    /// Pin at the tractor, left of the middle of the cut (+), if it was set.
    #[serde(default, skip_serializing_if = "Option::is_none")]
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

/// Heights and places of the two drawbar pins in one setting.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pins {
    /// The hole at the plow.
    pub plow_z: Measured<Length>,
    /// The hole at the tractor.
    pub tractor_z: Measured<Length>,
}

impl Plow {
    /// The pins of a setting; `None` if the setting or one of its holes is not there, which [`check`]
    /// has ruled out for the settings of a plow that came from [`read_plow`].
    #[must_use]
    pub fn pins(&self, setting: &Setting) -> Option<Pins> {
        let z = |holes: &[Hole], name: &str| holes.iter().find(|hole| hole.name == name).map(|hole| hole.z);
        Some(Pins {
            plow_z: z(&self.plow_hitch.holes, &setting.plow_hole)?,
            tractor_z: z(&self.tractor_hitch.holes, &setting.tractor_hole)?,
        })
    }

    /// Total width of cut.
    #[must_use]
    pub fn total_cut_m(&self) -> f64 {
        f64::from(self.bottoms.count) * self.bottoms.cut_width.m()
    }
}

impl TailWheel {
    /// Load of the tail wheel at a deflection of its spring; never below 0, for a wheel cannot pull.
    /// Straight lines between the lines of the table and beyond its ends.
    #[must_use]
    pub fn load(&self, deflection_m: f64) -> f64 {
        self.piece(|(x, _)| x.m() < deflection_m).map_or(0.0, |((x0, y0), (x1, y1))| {
            let slope = (y1.n() - y0.n()) / (x1.m() - x0.m());
            (y0.n() + slope * (deflection_m - x0.m())).max(0.0)
        })
    }

    /// Deflection of its spring at a load, the other way round; NaN without a table, which [`check`] rules out.
    #[must_use]
    pub fn deflection(&self, load_n: f64) -> f64 {
        self.piece(|(_, y)| y.n() < load_n).map_or(f64::NAN, |((x0, y0), (x1, y1))| {
            x0.m() + (load_n - y0.n()) * (x1.m() - x0.m()) / (y1.n() - y0.n())
        })
    }

    /// Load per deflection there, N/m; NaN without a table, which [`check`] rules out.
    #[must_use]
    pub fn rate_n_per_m(&self, deflection_m: f64) -> f64 {
        self.piece(|(x, _)| x.m() < deflection_m)
            .map_or(f64::NAN, |((x0, y0), (x1, y1))| (y1.n() - y0.n()) / (x1.m() - x0.m()))
    }

    /// The two lines of the table around the place sought; the outer ones go on.
    fn piece(&self, before: impl Fn(&(Length, Force)) -> bool) -> Option<((Length, Force), (Length, Force))> {
        let table = &self.load_table;
        let upper = table.partition_point(before).clamp(1, table.len().max(2) - 1);
        Some((*table.get(upper - 1)?, *table.get(upper)?))
    }
}
