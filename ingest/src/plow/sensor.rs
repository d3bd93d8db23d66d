//! Which channel of a sensor box measures what, and how its raw counts become readings.

use crate::calibration::Fit;
use crate::quantity::{Angle, Force, Length, Quantity, Speed, parse_quantity};
use serde::{Deserialize, Serialize};

/// What a channel measures, and so which column of the run it fills.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ChannelRole {
    /// Force along the drawbar: `pull_n`.
    Pull,
    /// Deflection of the tail-wheel spring: `tail_mm`.
    Tail,
    /// Working depth: `depth_mm`.
    Depth,
    /// Vertical load on the front wheels together: `front_load_n`.
    FrontLoad,
    /// Side force: `side_n`.
    Side,
    /// Forward speed: `speed_mps`.
    Speed,
    /// Pitch of the frame, nose up +: `pitch_deg`.
    Pitch,
}

impl ChannelRole {
    /// All roles, in the order of the columns.
    pub const ALL: [Self; 7] =
        [Self::Pull, Self::Tail, Self::Depth, Self::FrontLoad, Self::Side, Self::Speed, Self::Pitch];

    /// As it is written in a description.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Pull => "pull",
            Self::Tail => "tail",
            Self::Depth => "depth",
            Self::FrontLoad => "front-load",
            Self::Side => "side",
            Self::Speed => "speed",
            Self::Pitch => "pitch",
        }
    }

    /// The role with this name.
    ///
    /// # Errors
    /// A sentence that lists the names.
    pub fn of_name(name: &str) -> Result<Self, String> {
        Self::ALL.into_iter().find(|role| role.name() == name).ok_or_else(|| {
            let known = Self::ALL.map(Self::name).join(", ");
            format!("'{name}' is nothing that a channel measures (it measures {known})")
        })
    }

    /// Name of the column, its unit included.
    #[must_use]
    pub const fn column(self) -> &'static str {
        match self {
            Self::Pull => "pull_n",
            Self::Tail => "tail_mm",
            Self::Depth => "depth_mm",
            Self::FrontLoad => "front_load_n",
            Self::Side => "side_n",
            Self::Speed => "speed_mps",
            Self::Pitch => "pitch_deg",
        }
    }

    /// The role that fills a column of this name.
    #[must_use]
    pub fn of_column(column: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|role| role.column() == column)
    }

    /// The unit of the column.
    #[must_use]
    pub const fn column_unit(self) -> &'static str {
        match self {
            Self::Pull | Self::FrontLoad | Self::Side => "N",
            Self::Tail | Self::Depth => "mm",
            Self::Speed => "m/s",
            Self::Pitch => "deg",
        }
    }

    /// A quantity with its unit as a number in the column's unit.
    ///
    /// # Errors
    /// [`crate::quantity::QuantityError`] if the text is no quantity of the role's dimension.
    pub fn in_column_unit(self, text: &str) -> Result<f64, crate::quantity::QuantityError> {
        Ok(match self {
            Self::Pull | Self::FrontLoad | Self::Side => parse_quantity::<Force>(text)?.si(),
            Self::Tail | Self::Depth => parse_quantity::<Length>(text)?.si() * 1000.0,
            Self::Speed => parse_quantity::<Speed>(text)?.si(),
            Self::Pitch => parse_quantity::<Angle>(text)?.si(),
        })
    }
}

/// One channel of the sensor box.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Sensor {
    /// Name in the box's channel table.
    pub channel: String,
    /// What it measures.
    pub measures: ChannelRole,
    /// How counts become readings.
    pub calibration: Calibration,
    /// Lowest and highest raw count that the converter can give: a reading at either is saturated.
    /// Without them, the ends follow from the converter's bits.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub count_limits: Option<(i32, i32)>,
}

/// A calibration: pairs of raw count and true value. Two give the line through them, more give the
/// least-squares line or a table.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Calibration {
    /// Day it was made, `YYYY-MM-DD`.
    pub date: String,
    /// Straight line or table.
    #[serde(default, skip_serializing_if = "Fit::is_line")]
    pub fit: Fit,
    /// How well the loads or lengths are themselves known, half of a 95 % interval: `"0.2 %"` of the value, or a
    /// quantity such as `"1 lbf"`.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reference: Option<String>,
    /// In the order taken: what rises and falls shows hysteresis. At least two pairs of different counts.
    pub points: Vec<CalibrationPoint>,
}

/// One pair: raw count, and the true value with its unit.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct CalibrationPoint(pub f64, pub String);
