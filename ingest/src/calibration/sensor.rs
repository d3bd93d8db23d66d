//! Which channel of a sensor box measures what, and how its raw counts become readings.

use crate::channel_role::ChannelRole;
use serde::{Deserialize, Serialize};

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

/// How the steps of a calibration become readings.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, clap::ValueEnum)]
#[serde(rename_all = "kebab-case")]
pub enum Fit {
    /// The least-squares straight line.
    #[default]
    Line,
    /// The mean count of each true value, straight lines between.
    #[value(help = "The mean count of each value, straight lines between")]
    Table,
}

impl Fit {
    /// Whether it is the straight line, which a description need not say.
    #[must_use]
    pub fn is_line(&self) -> bool {
        *self == Self::Line
    }
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
