//! The `[[sensors]]` of a description: what is known of, and what is the user's own (`measures = "other"`).

use super::{Calibration, ChannelRole, OWN_COLUMNS_MAX, OwnColumn, OwnSensor, Plow, Sensor};
use crate::description_file::KeyFault;
use serde::{Deserialize, Serialize};
use std::collections::BTreeSet;

/// What a channel measures.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(try_from = "String", into = "&'static str")]
pub enum Measures {
    /// Something known.
    Role(ChannelRole),
    /// Something else, with a name and a unit by the user: `other`.
    Other,
}

/// As it is written.
const OTHER: &str = "other";

impl TryFrom<String> for Measures {
    type Error = String;

    fn try_from(name: String) -> Result<Self, String> {
        if name == OTHER {
            return Ok(Self::Other);
        }
        let role = ChannelRole::of_name(&name);
        role.map(Self::Role)
            .map_err(|why| format!("{why}; \"{OTHER}\", with a name and a unit, is a column of your own"))
    }
}

impl From<Measures> for &'static str {
    fn from(measures: Measures) -> Self {
        match measures {
            Measures::Role(role) => role.name(),
            Measures::Other => OTHER,
        }
    }
}

/// One entry.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "SensorToml", into = "SensorToml")]
pub enum SensorEntry {
    /// Of something known.
    Known(Sensor),
    /// Of the user's own.
    Own(OwnSensor),
}

/// What an entry may say.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct SensorToml {
    channel: String,
    measures: Measures,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    name: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    unit: Option<String>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    calibration: Option<Calibration>,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    count_limits: Option<(i32, i32)>,
}

impl TryFrom<SensorToml> for SensorEntry {
    type Error = String;

    fn try_from(said: SensorToml) -> Result<Self, String> {
        let SensorToml { channel, measures, name, unit, calibration, count_limits } = said;
        match (measures, name, unit) {
            (Measures::Role(measures), None, None) => {
                let calibration = calibration.ok_or_else(|| {
                    format!("channel {channel:?}: a calibration is missing: `hitchwright calibrate` writes the entry")
                })?;
                Ok(Self::Known(Sensor { channel, measures, calibration, count_limits }))
            }
            (Measures::Role(role), ..) => Err(format!(
                "channel {channel:?}: name and unit are for measures = \"{OTHER}\" only: what measures {:?} has its own",
                role.name()
            )),
            (Measures::Other, Some(name), Some(unit)) => {
                let column =
                    OwnColumn::new(&name, &unit).map_err(|why| format!("channel {channel:?}: {why}"))?;
                Ok(Self::Own(OwnSensor { channel, column, calibration, count_limits }))
            }
            (Measures::Other, ..) => Err(format!(
                "channel {channel:?}: measures = \"{OTHER}\" needs a name and a unit, such as name = \"engine speed\", \
                 unit = \"1/min\""
            )),
        }
    }
}

impl From<SensorEntry> for SensorToml {
    fn from(entry: SensorEntry) -> Self {
        match entry {
            SensorEntry::Known(Sensor { channel, measures, calibration, count_limits }) => Self {
                channel,
                measures: Measures::Role(measures),
                name: None,
                unit: None,
                calibration: Some(calibration),
                count_limits,
            },
            SensorEntry::Own(OwnSensor { channel, column, calibration, count_limits }) => Self {
                channel,
                measures: Measures::Other,
                name: Some(column.name().to_owned()),
                unit: Some(column.unit().to_owned()),
                calibration,
                count_limits,
            },
        }
    }
}

impl SensorEntry {
    /// The known ones and the user's own, each in their order.
    pub(super) fn apart(entries: Vec<Self>) -> (Vec<Sensor>, Vec<OwnSensor>) {
        let (mut known, mut own) = (Vec::new(), Vec::new());
        for entry in entries {
            match entry {
                Self::Known(sensor) => known.push(sensor),
                Self::Own(sensor) => own.push(sensor),
            }
        }
        (known, own)
    }

    /// Both as entries.
    pub(super) fn together(known: Vec<Sensor>, own: Vec<OwnSensor>) -> Vec<Self> {
        known.into_iter().map(Self::Known).chain(own.into_iter().map(Self::Own)).collect()
    }
}

/// What is wrong with the user's own.
pub(super) fn check_own(plow: &Plow) -> Result<(), KeyFault> {
    let unless = |right: bool, sentence: String| {
        if right { Ok(()) } else { Err(KeyFault::at("sensors", sentence)) }
    };
    let count = plow.own_sensors.len();
    unless(
        count <= OWN_COLUMNS_MAX,
        format!(
            "{count} columns of your own (measures = \"{OTHER}\") are more than the {OWN_COLUMNS_MAX} that a run can have"
        ),
    )?;
    let mut channels: BTreeSet<&str> = plow.sensors.iter().map(|sensor| sensor.channel.as_str()).collect();
    let mut columns = BTreeSet::new();
    for sensor in &plow.own_sensors {
        let what = format!("channel {:?}", sensor.channel);
        unless(channels.insert(&sensor.channel), format!("{what} stands there twice"))?;
        unless(
            columns.insert(sensor.column.column()),
            format!(
                "{what}: another sensor fills the column {} already: give it another name",
                sensor.column.column()
            ),
        )?;
        if let Some(Calibration { date, reference, .. }) = &sensor.calibration {
            unless(
                date.parse::<jiff::civil::Date>().is_ok(),
                format!("{what}: calibration date {date:?} is not a day like 2027-03-01"),
            )?;
            unless(
                reference.is_none(),
                format!(
                    "{what}: calibration: no interval is built on a column of your own: leave reference out"
                ),
            )?;
        }
        if let Err(error) = sensor.curve() {
            unless(false, format!("{what}: calibration: {error}"))?;
        }
        if let Some((low, high)) = sensor.count_limits {
            unless(low < high, format!("{what}: count_limits must rise"))?;
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use crate::plow::read_plow_text;
    use std::path::Path;

    const PLOW: &str = include_str!("../../../sample-runs/plows/two-bottom.toml");

    fn entry(channel: &str, more: &str) -> String {
        format!("\n[[sensors]]\nchannel = \"{channel}\"\nmeasures = \"other\"\n{more}\n")
    }

    fn read(entries: &str) -> Result<crate::plow::Plow, String> {
        read_plow_text(&format!("{PLOW}{entries}"), Path::new("p.toml")).map_err(|error| error.to_string())
    }

    #[test]
    fn own_sensors_stand_beside_the_known_ones_and_are_written_as_they_were_read() {
        let points =
            "[sensors.calibration]\ndate = \"2027-03-01\"\npoints = [[0, \"-5 deg\"], [1000, \"5 deg\"]]";
        let entries = [
            entry("rpm", "name = \"engine speed\"\nunit = \"1/min\""),
            entry(
                "draft",
                &format!("name = \"Zugwinkel α\"\nunit = \"deg\"\ncount_limits = [0, 9]\n{points}"),
            ),
        ];
        let plow = read(&entries.concat()).unwrap();
        let columns: Vec<String> = plow.own_columns().iter().map(|own| own.column().to_owned()).collect();
        assert_eq!(
            (columns, plow.sensors.len()),
            (vec!["own_engine_speed".into(), "own_zugwinkel".into()], 3)
        );
        let text = toml::to_string(&plow).unwrap();
        assert_eq!(read_plow_text(&text, Path::new("p.toml")).unwrap(), plow, "{text}");
    }

    #[test]
    fn what_cannot_be_a_column_is_refused_in_one_sentence() {
        let named = |name: &str| format!("name = {name:?}\nunit = \"deg\"");
        let nine: String = (0..9).map(|k| entry(&format!("c{k}"), &named(&format!("n{k}")))).collect();
        let twice = entry("a", &named("draft angle")) + &entry("b", &named("Draft-angle"));
        let calibrated = |points: &str, more: &str| {
            let table = format!("[sensors.calibration]\ndate = \"2027-03-01\"\n{more}points = {points}");
            entry("a", &format!("{}\n{table}", named("angle")))
        };
        for (entries, part) in [
            (nine, "9 columns of your own (measures = \"other\") are more than the 8"),
            (twice, "channel \"b\": another sensor fills the column own_draft_angle already"),
            (entry("pull", &named("angle")), "channel \"pull\" stands there twice"),
            (entry("a", ""), "needs a name and a unit"),
            (entry("a", "name = \"x\""), "needs a name and a unit"),
            (entry("a", &named("牽引")), "name = \"牽引\" must be"),
            (entry("a", "name = \"x\"\nunit = \"m,\\\"\\n\""), "unit = \"m,\\\"\" must be"),
            (
                entry("a", &named("x")).replace("other", "pull"),
                "name and unit are for measures = \"other\" only",
            ),
            (entry("a", "").replace("other", "depht"), "'depht' is nothing that a channel measures"),
            (entry("a", "").replace("other", "side"), "channel \"a\": a calibration is missing"),
            (calibrated("[[0, \"0 mm\"], [9, \"1 deg\"]]", ""), "'0 mm' is no number of \"deg\""),
            (calibrated("[[0, \"0 deg\"], [0, \"1 deg\"]]", ""), "two points with different counts"),
            (calibrated("[[0, \"0 deg\"], [9, \"1 deg\"]]", "reference = \"1 %\"\n"), "leave reference out"),
            (entry("a", &(named("x") + "\ncount_limits = [9, 0]")), "count_limits must rise"),
            (entry("a", &(named("x") + "\nunits = \"deg\"")), "did you mean `unit`?"),
        ] {
            let why = read(&entries).unwrap_err();
            assert!(
                why.contains(part) && why.starts_with("p.toml, line ") && why.matches(", line ").count() == 1,
                "{why}"
            );
        }
    }
}
