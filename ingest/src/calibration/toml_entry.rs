//! A sensor as it stands in `plow.toml`.

use super::Sensor;
use std::fmt::Write;

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
    use crate::calibration::Sensor;
    use crate::calibration::{Fit, Observation, report};
    use crate::channel_role::ChannelRole;

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
