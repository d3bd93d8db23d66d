//! The plow that stands in all tests of the recorder.

use sample_runs::sensors::Sensor;

/// The plow without its sensors, which are those of the virtual box.
const PLOW: &str = include_str!("../../support/plow.toml");

/// A plow description with the sensors of the virtual box, each calibrated by two points.
pub fn plow_toml(sensors: &[Sensor]) -> String {
    let mut text = PLOW.to_owned();
    for Sensor { channel, column, zero_count, counts_per_unit, count_limits: (low, high), .. } in sensors {
        let unit = match column.rsplit_once('_').map_or("", |(_, unit)| unit) {
            "n" => "N",
            other => other,
        };
        // A channel of the user's own is called after itself, and counts by the minute.
        let (measures, unit) = match column.strip_prefix("own_") {
            Some(name) => {
                (format!("\"other\"\nname = \"{}\"\nunit = \"1/min\"", name.replace('_', " ")), "1/min")
            }
            None => (format!("\"{channel}\""), unit),
        };
        text += &format!(
            "\n[[sensors]]\nchannel = \"{channel}\"\nmeasures = {measures}\n\
             count_limits = [{low}, {high}]\ncalibration = {{ date = \"2027-03-01\", points = [[{zero_count:?}, \"0 {unit}\"], \
             [{:?}, \"10 {unit}\"]] }}\n",
            zero_count + 10.0 * counts_per_unit,
        );
    }
    text
}
