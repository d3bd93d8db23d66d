//! The new calibration in a description: what it changes, and writing it without touching anything else.

use crate::command::output::{self, CommandError};
use ingest::calibration::CalibrationReport;
use ingest::plow::{Plow, Sensor, read_plow, read_plow_text};
use ingest::quantity::{UnitSystem, units_of_reader};
use std::path::{Path, PathBuf};
use toml_edit::{ArrayOfTables, DocumentMut, Item, Table, Value};

/// A description that is to get a calibration.
pub(super) struct Change {
    /// As it was named.
    named: PathBuf,
    /// The file itself, behind any link.
    path: PathBuf,
    plow: Plow,
    /// Units of whoever reads what it changes.
    pub(super) units: UnitSystem,
}

impl Change {
    /// Reads the description: one that cannot be used is said before the first load is hung.
    pub(super) fn prepare(named: &Path) -> Result<Self, CommandError> {
        let plow = read_plow(named)?;
        let path = named.canonicalize().map_err(|cause| CommandError::at(named, cause))?;
        let units = units_of_reader(None, plow.units).map_err(CommandError::Usage)?.unwrap_or_default();
        Ok(Self { named: named.to_owned(), path, plow, units })
    }

    /// The sensor on this channel, as it was.
    pub(super) fn sensor(&self, channel: &str) -> Option<&Sensor> {
        self.plow.sensors.iter().find(|sensor| sensor.channel == channel)
    }

    /// What the new calibration changes, in lines.
    pub(super) fn says(&self, new: &Sensor) -> Vec<String> {
        let described = |sensor: &Sensor| match CalibrationReport::of(&sensor.calibration, sensor.measures) {
            Ok(report) => format!(
                "measures {}, {}, {} steps, {}, zero at count {:.1}",
                sensor.measures.name(),
                sensor.calibration.date,
                sensor.calibration.points.len(),
                report.slope_text(self.units),
                report.zero_count
            ),
            Err(error) => error.to_string(),
        };
        let mut lines = vec![format!("{}, channel \"{}\":", self.named.display(), new.channel)];
        lines.push(match self.sensor(&new.channel) {
            Some(old) => format!("  before: {}", described(old)),
            None => "  before: no such sensor".to_owned(),
        });
        lines.push(format!("  now:    {}", described(new)));
        lines
    }

    /// Puts the sensor into the file. The file as it was stays beside it, and the new one is whole or not
    /// there at all.
    ///
    /// # Errors
    /// If the file has changed into one that cannot be used, or cannot be written.
    pub(super) fn write(&self, new: &Sensor) -> Result<String, CommandError> {
        let here = |why: String| CommandError::at(&self.named, why);
        // Read anew: a person may have worked on it during the calibration.
        let old_text = std::fs::read_to_string(&self.path).map_err(|cause| here(cause.to_string()))?;
        let text = with_sensor(&old_text, new).map_err(here)?;
        let plow = read_plow_text(&text, &self.named)?;
        if !plow.sensors.contains(new) {
            return Err(here("the sensor could not be put into it".to_owned()));
        }
        let old =
            free_name(&self.path).ok_or_else(|| here("there are too many old files beside it".to_owned()))?;
        output::write(&old, old_text.as_bytes())?;
        output::write(&self.path, text.as_bytes())?;
        Ok(format!("{} has the new calibration; as it was: {}", self.named.display(), old.display()))
    }
}

/// `plow.toml.old`, or the first of `plow.toml.old-2`, `-3`, ... that is not there: none is written over.
fn free_name(path: &Path) -> Option<PathBuf> {
    let beside = |ending: String| {
        let mut name = path.file_name().unwrap_or_default().to_owned();
        name.push(ending);
        path.with_file_name(name)
    };
    let numbered = (2..10_000).map(|number| beside(format!(".old-{number}")));
    std::iter::once(beside(".old".to_owned()))
        .chain(numbered)
        .find(|path| std::fs::symlink_metadata(path).is_err())
}

/// The text of a description with this sensor in it: in the place of the one on its channel, or at the end.
fn with_sensor(text: &str, new: &Sensor) -> Result<String, String> {
    let parsed = |text: &str| text.parse::<DocumentMut>().map_err(|error| error.to_string());
    let (mut document, entry) = (parsed(text)?, parsed(&new.to_toml_entry())?);
    let entry = entry.get("sensors").and_then(Item::as_array_of_tables).and_then(|tables| tables.get(0));
    let entry = entry.ok_or("the new entry is none")?;
    match document.entry("sensors").or_insert(Item::ArrayOfTables(ArrayOfTables::new())) {
        Item::ArrayOfTables(tables) => {
            let is_same = |table: &Table| table.get("channel").and_then(Item::as_str) == Some(&new.channel);
            let place = tables.iter().position(is_same);
            match place.and_then(|place| tables.get_mut(place)) {
                Some(table) => take_over(table, entry),
                None => {
                    let mut entry = entry.clone();
                    // Behind everything that is there, not where it stood in its own little document.
                    set_position(&mut entry, None);
                    entry.decor_mut().set_prefix("\n");
                    tables.push(entry);
                }
            }
        }
        Item::Value(Value::Array(sensors)) => {
            let is_same = |value: &Value| {
                let channel = value.as_inline_table().and_then(|table| table.get("channel"));
                channel.and_then(Value::as_str) == Some(&new.channel)
            };
            let inline = entry.clone().into_inline_table();
            let place = sensors.iter().position(is_same);
            match place {
                Some(place) => {
                    sensors.replace(place, inline);
                }
                None => sensors.push(inline),
            }
        }
        _ => return Err("`sensors` is no list".to_owned()),
    }
    Ok(document.to_string())
}

/// Takes what a calibration decides over into a sensor's table; its other keys and comments stay.
fn take_over(table: &mut Table, entry: &Table) {
    if let (Some(there), Some(measures)) = (table.get_mut("measures"), entry.get("measures")) {
        // The key keeps its comments, and the value those behind it.
        let decor = there.as_value().map(|value| value.decor().clone());
        *there = measures.clone();
        if let (Some(decor), Some(value)) = (decor, there.as_value_mut()) {
            *value.decor_mut() = decor;
        }
    }
    let Some(mut calibration) = entry.get("calibration").and_then(Item::as_table).cloned() else { return };
    match table.get("calibration") {
        Some(Item::Table(old)) => {
            set_position(&mut calibration, old.position());
            *calibration.decor_mut() = old.decor().clone();
        }
        _ => {
            set_position(&mut calibration, None);
            // What stood above the line becomes what stands above the header.
            let above = table.key("calibration").and_then(|key| key.leaf_decor().prefix());
            let above = above.and_then(|prefix| prefix.as_str()).unwrap_or_default().trim_start_matches('\n');
            calibration.decor_mut().set_prefix(format!("\n{above}"));
            table.remove("calibration");
        }
    }
    match table.get_mut("calibration") {
        Some(there) => *there = Item::Table(calibration),
        None => {
            table.insert("calibration", Item::Table(calibration));
        }
    }
}

fn set_position(table: &mut Table, position: Option<isize>) {
    table.set_position(position);
    for (_, item) in table.iter_mut() {
        if let Item::Table(inner) = item {
            set_position(inner, position);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use ingest::calibration::{Fit, Observation, report};
    use ingest::plow::ChannelRole;

    #[derive(serde::Deserialize)]
    struct Sensors {
        sensors: Vec<Sensor>,
    }

    fn sensor(channel: &str, fit: Fit) -> Sensor {
        let taken = [(100.0, "0 N"), (200.5, "1 kN"), (302.0, "2 kN")].map(|(c, v)| Observation::pair(c, v));
        let report = report(ChannelRole::Pull, &taken, fit, Some("0.2 %")).unwrap();
        report.to_sensor(channel, "2027-04-11", Some((0, 900)))
    }

    fn changed(text: &str, new: &Sensor) -> (String, Vec<Sensor>) {
        let text = with_sensor(text, new).unwrap();
        let Sensors { sensors } = toml::from_str(&text).unwrap_or_else(|error| panic!("{error}: {text}"));
        (text, sensors)
    }

    const OTHER: &str = "[[sensors]] # the spring\nchannel = \"tail\"\nmeasures = \"tail\"\n\
        # two blocks\ncalibration = { date = \"2026-01-01\", points = [[1, \"0 mm\"], [2, \"9 mm\"]] }\n";

    #[test]
    fn a_sensor_is_replaced_where_it_stands_and_every_comment_beside_it_stays() {
        let old = format!(
            "# my plow\n[[sensors]] # the cell\nchannel = \"pull\" # on A0\n\
             count_limits = [0, 900] # by the data sheet\nmeasures = \"pull\"\n\
             # in the shop\n[sensors.calibration] # old\ndate = \"2026-01-01\"\n\
             points = [[1, \"0 N\"], [2, \"9 N\"]]\n\n# next\n{OTHER}\n[limits] # end\nbalanced = 0.2\n"
        );
        for fit in [Fit::Line, Fit::Table] {
            let new = sensor("pull", fit);
            let (text, sensors) = changed(&old, &new);
            assert_eq!(sensors.len(), 2);
            assert_eq!(sensors[0], new, "{text}");
            for comment in
                ["# my plow", "# the cell", "# on A0", "# by the data sheet", "# in the shop", "# next"]
            {
                assert_eq!(text.matches(comment).count(), 1, "{comment}: {text}");
            }
            let rest = old.split_once("# next").unwrap().1;
            assert!(text.ends_with(rest), "what follows is untouched: {text}");
            // Doing it again changes nothing.
            assert_eq!(with_sensor(&text, &new).unwrap(), text);
        }
    }

    #[test]
    fn other_ways_of_writing_sensors_are_understood() {
        let new = sensor("pull", Fit::Line);
        let (text, sensors) = changed(OTHER, &new);
        assert_eq!((sensors.len(), &sensors[1]), (2, &new), "{text}");
        assert!(text.starts_with(OTHER), "{text}");
        let (text, sensors) = changed("# nothing yet\nname = \"x\"\n", &new);
        assert_eq!(sensors, std::slice::from_ref(&new), "{text}");
        assert!(text.starts_with("# nothing yet\nname"), "{text}");
        let inline = "sensors = [{ channel = \"pull\", measures = \"side\", calibration = \
            { date = \"2026-01-01\", points = [[1, \"0 N\"], [2, \"9 N\"]] } }] # short\n";
        let (text, sensors) = changed(inline, &new);
        assert_eq!(sensors, std::slice::from_ref(&new), "{text}");
        assert!(text.contains("# short"), "{text}");
        let own_line = OTHER.replace("tail", "pull");
        let (text, sensors) = changed(&own_line, &new);
        assert!(text.contains("# two blocks\n[sensors.calibration]\n"), "{text}");
        assert_eq!(sensors[0].calibration, new.calibration, "{text}");
        assert!(text.contains("# two blocks"), "{text}");
    }

    #[test]
    fn the_old_file_never_takes_the_place_of_an_older_one() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("plow.toml");
        assert_eq!(free_name(&path).unwrap(), folder.path().join("plow.toml.old"));
        std::fs::write(folder.path().join("plow.toml.old"), "").unwrap();
        assert_eq!(free_name(&path).unwrap(), folder.path().join("plow.toml.old-2"));
    }
}
