//! Which channel of a sensor box measures what, and how its raw counts become readings.

use crate::channel_role::ChannelRole;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::fmt::Write;

/// One channel of the sensor box.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema, Deserialize)]
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
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, JsonSchema, Deserialize, clap::ValueEnum)]
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
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema, Deserialize)]
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
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema, Deserialize)]
pub struct CalibrationPoint(pub f64, pub String);

impl Sensor {
    /// The `[[sensors]]` entry, with its line ends: what a person pastes into a description.
    #[must_use]
    pub fn to_toml_entry(&self) -> String {
        let quoted = |text: &str| toml::Value::String(text.to_owned()).to_string();
        let mut entry = String::from("[[sensors]]\n");
        // Writing to a String cannot fail; the results are dropped for that reason.
        let _ = writeln!(entry, "channel = {}", quoted(&self.channel));
        let _ = writeln!(entry, "measures = \"{}\"", self.measures.name());
        if let Some((low, high)) = self.count_limits {
            let _ = writeln!(entry, "count_limits = [{low}, {high}]");
        }
        let calibration = &self.calibration;
        let _ = writeln!(entry, "\n[sensors.calibration]\ndate = {}", quoted(&calibration.date));
        if !calibration.fit.is_line() {
            let _ = writeln!(entry, "fit = \"table\"");
        }
        if let Some(reference) = &calibration.reference {
            let _ = writeln!(entry, "reference = {}", quoted(reference));
        }
        let _ = writeln!(entry, "# raw count and true value, in the order taken\npoints = [");
        for point in &calibration.points {
            // A whole number beyond 64 bits is none in TOML.
            let count = if point.0.abs() < 1e15 { point.0.to_string() } else { format!("{:?}", point.0) };
            let _ = writeln!(entry, "    [{count}, {}],", quoted(&point.1));
        }
        entry.push_str("]\n");
        entry
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::calibration::{Observation, report};

    #[derive(serde::Deserialize)]
    struct Sensors {
        sensors: Vec<Sensor>,
    }

    #[test]
    fn an_entry_reads_back_as_the_sensor_that_it_was() {
        let taken = [(12840.25, "0 lbf"), (2_012_840.0, "1 klbf"), (4_012_840.123_4, "2200 lbf")]
            .map(|(count, value)| Observation::pair(count, value.replace("1 klbf", "1100 lbf")));
        for (fit, reference) in [(Fit::Line, None), (Fit::Table, Some("0.2 %"))] {
            let report = report(ChannelRole::FrontLoad, &taken, fit, reference).unwrap();
            let sensor = report.to_sensor("front \"left\"", "2027-04-11", Some((-8, 7)));
            let entry = sensor.to_toml_entry();
            let read: Sensors = toml::from_str(&entry).unwrap();
            assert_eq!(read.sensors, [sensor], "{entry}");
            assert_eq!(read.sensors[0].calibration.points[2].0, 4_012_840.123);
        }
    }
}
