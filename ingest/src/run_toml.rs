//! `run.toml`: what was tested, with what, and how the run ended.

use crate::assemble::RunCounters;
use crate::description_file::{
    DescriptionError, DescriptionKind, KeyFault, KeyFaults, parse_description, read_description,
};
use crate::gnss::GnssCounters;
use crate::passes::still::ZeroBefore;
use crate::plow::{Measures, Plow, PlowToml, Setting, SettingToml, ShareCondition, SoilClass};
use crate::tables::GNSS_FILE;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::path::Path;

/// Everything that `run.toml` says; as a `RunDescription<PlowToml, SettingToml>` before plow and setting are parsed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RunDescription<P = Plow, S = Setting> {
    /// The run itself.
    pub run: RunInfo,
    /// The hitch setting as it was.
    pub setting: S,
    /// The plow as it was.
    pub plow: P,
    /// The sensor boxes, the one of `plow.csv` first; none in a run that was imported.
    #[serde(default)]
    pub boxes: Vec<BoxInfo>,
    /// The GNSS receiver, if there was one.
    pub gnss: Option<GnssInfo>,
    /// What the forces read when the plow last stood still before the run, where the recorder stood by.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub zero: Vec<ZeroBefore>,
}

/// What the operator said, and how it went.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RunInfo {
    /// Name of the run: that of its folder when it was made.
    pub id: String,
    /// Start, ISO 8601 with the offset from UTC.
    pub started: String,
    /// Name of the setting.
    pub setting_name: String,
    /// The recorder took it by itself: nobody had said since it was started that the hitch was in it.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub setting_assumed: bool,
    /// Field, as the operator named it.
    pub field: Option<String>,
    /// Soil, in the operator's words.
    pub soil: Option<String>,
    /// Its class for the published draft, if it was stated.
    pub soil_class: Option<SoilClass>,
    /// The operator's notes.
    pub note: Option<String>,
    /// Condition of the shares in this run.
    pub share: ShareCondition,
    /// Software that made the folder, with its version.
    pub software: String,
    /// Whether the run was ended properly.
    pub state: RunState,
    /// How it ended, in words.
    pub ended: Option<String>,
    /// How long it lasted, from its beginning to when it was ended, in s.
    pub lasted_s: Option<f64>,
}

/// Whether a run was ended properly.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum RunState {
    /// Still recording, or the recorder was killed.
    Recording,
    /// Ended properly.
    Ended,
    /// Not ended properly, and made whole from the raw bytes since.
    Repaired,
    /// Made from another logger's file.
    Imported,
}

/// One sensor box.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BoxInfo {
    /// Its name.
    pub name: String,
    /// Its serial number.
    pub serial: String,
    /// The port it was on.
    pub port: String,
    /// Name of its files without the ending: `plow` for the first.
    pub file: String,
    /// Protocol version that it speaks.
    pub protocol: String,
    /// Version of its firmware.
    pub firmware: String,
    /// Its boot number at the start.
    pub boot: u32,
    /// Rows per second that it said it would send.
    pub row_rate_hz: f64,
    /// Its channels.
    pub channels: Vec<ChannelInfo>,
    /// Its clock against the host's, if pings were answered.
    pub clock: Option<ClockInfo>,
    /// What was counted.
    pub counters: Option<RunCounters>,
}

/// One channel of a box.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ChannelInfo {
    /// Name in the box.
    pub name: String,
    /// What the box says that it measures.
    pub kind: String,
    /// The column that it fills, if it is used.
    pub measures: Option<Measures>,
    /// Bits of its converter.
    pub adc_bits: u8,
    /// New values per second.
    pub rate_hz: f64,
}

/// A box's clock against the host's.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ClockInfo {
    /// What run time follows.
    pub run_time: RunTime,
    /// Box seconds per host second.
    pub box_s_per_host_s: f64,
    /// What the box's clock, which wraps, stood at when the run began, in s; of the last boot.
    pub box_at_start_s: Option<f64>,
    /// Weighted SD of the pings, or of the arrivals, about the fit, in ms.
    pub residual_ms: f64,
    /// What the fit rests on.
    #[serde(default, skip_serializing_if = "FittedTo::is_pings")]
    pub fitted_to: FittedTo,
}

/// What the fit of a box's clock rests on.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, JsonSchema, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum FittedTo {
    /// Round trips of pings.
    #[default]
    Pings,
    /// The quickest arrival of each second: the box answers no ping. All its times are late by the least
    /// delay of its line, which is not known.
    Arrivals,
}

impl FittedTo {
    // By reference, as serde asks for it.
    #[allow(clippy::trivially_copy_pass_by_ref)]
    fn is_pings(&self) -> bool {
        *self == Self::Pings
    }
}

/// A GNSS receiver.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct GnssInfo {
    /// The port it was on.
    pub port: String,
    /// Speed of that port.
    pub baud: u32,
    /// Talkers of its sentences, such as `GP`.
    pub talkers: Vec<String>,
    /// Kinds of its sentences that were read, such as `RMC`.
    pub sentences: Vec<String>,
    /// RMS of how much later than their place in run time its epochs came, in ms: jitter that was taken
    /// out. A constant latency of the receiver is not seen by it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub residual_ms: Option<f64>,
    /// What was counted.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub counters: Option<GnssCounters>,
}

/// What run time follows.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum RunTime {
    /// The host's clock, carried by the box's from row to row.
    Host,
    /// The box's clock alone: the two run apart.
    BoxAlone,
}

/// Reads a `run.toml`.
///
/// # Errors
/// [`DescriptionError`] says what is wrong and in which line.
pub fn read_run_toml(path: &Path) -> Result<RunDescription, DescriptionError> {
    read_run_toml_text(&read_description(path, DescriptionKind::Run)?, path)
}

/// Reads the text of a `run.toml`; `path` is named in errors.
///
/// # Errors
/// As [`read_run_toml`].
pub fn read_run_toml_text(text: &str, path: &Path) -> Result<RunDescription, DescriptionError> {
    // No person writes it, so its first fault is enough.
    parse_description(text, path, RunDescription::<PlowToml, SettingToml>::parsed)
        .map_err(DescriptionError::in_one_line)
}

impl RunDescription<PlowToml, SettingToml> {
    fn parsed(self) -> Result<RunDescription, KeyFaults> {
        let Self { run, setting, plow, boxes, gnss, zero } = self;
        let plow = Plow::try_from(plow).map_err(|wrong| wrong.within("plow"))?;
        let setting = plow.setting("setting", setting)?;
        check_files(&boxes)?;
        Ok(RunDescription { run, setting, plow, boxes, gnss, zero })
    }
}

/// A run may come from anybody: the files that it names are in its own folder, and each box has its own.
fn check_files(boxes: &[BoxInfo]) -> Result<(), KeyFault> {
    let mut taken = vec!["events", GNSS_FILE];
    for BoxInfo { file, .. } in boxes {
        let is_plain = |c: char| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-';
        if file.is_empty() || !file.chars().all(is_plain) || taken.contains(&file.as_str()) {
            let sentence = format!(
                "file = {file:?} must be a name of small letters, digits and \"-\" that no other file of the run has"
            );
            return Err(KeyFault::at("boxes", sentence));
        }
        taken.push(file);
    }
    Ok(())
}

impl RunDescription {
    /// Whether the run was ended properly (or imported).
    #[must_use]
    pub fn ended_properly(&self) -> bool {
        !matches!(self.run.state, RunState::Recording | RunState::Repaired)
    }

    /// Names of the files with the raw bytes, in the order of the ports; none in a run that was imported.
    #[must_use]
    pub fn wire_files(&self) -> Vec<String> {
        let files = self.boxes.iter().map(|info| info.file.as_str());
        files.chain(self.gnss.as_ref().map(|_| GNSS_FILE)).map(|file| format!("{file}.wire")).collect()
    }

    /// The text of `run.toml`.
    ///
    /// # Errors
    /// The serializer's, which none of our types causes: a number that is not finite would.
    pub fn to_toml(&self) -> Result<String, toml::ser::Error> {
        toml::to_string(self)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plow::read_plow_text;

    /// Found: "3 in" came back from a run as "0.07619999999999999 m".
    #[test]
    fn a_run_keeps_the_plow_as_it_was_written() {
        let text = include_str!("../../sample-runs/plows/wide-on-narrow.toml");
        let plow = read_plow_text(text, Path::new("plow.toml")).unwrap();
        let written = toml::to_string(&plow).unwrap();
        let again = read_plow_text(&written, Path::new("run.toml")).unwrap();
        assert_eq!(again, plow);
        assert_eq!(toml::to_string(&again).unwrap(), written);
        let given = text.lines().filter(|line| !line.starts_with('#')).flat_map(|line| line.split('"'));
        let quantities: Vec<&str> =
            given.filter(|part| part.ends_with(" in") || part.ends_with(" lbf")).collect();
        assert!(quantities.len() > 20, "{quantities:?}");
        for quantity in quantities {
            assert!(written.contains(&format!("\"{quantity}\"")), "{quantity} is not in {written}");
        }
    }

    /// Found: a run that came from somebody else could name files in other folders, and a repair wrote there.
    #[test]
    fn files_of_boxes_are_in_the_folder_and_each_has_its_own() {
        let stored = include_str!("../../sample-runs/runs/balanced/run.toml");
        let read = |file: &str| {
            let text = stored.replace("file = \"plow\"", &format!("file = {file:?}"));
            read_run_toml_text(&text, Path::new("run.toml"))
        };
        for good in ["plow", "front-axle-2", "7"] {
            assert_eq!(read(good).unwrap().boxes[0].file, good);
        }
        for bad in
            ["", "..", "../plow", "/tmp/plow", "a/b", "a\\b", "C:plow", "plow\n", "Plow", "events", "gnss"]
        {
            let refused = read(bad).unwrap_err().to_string();
            assert!(refused.starts_with("run.toml, line "), "{refused}");
            assert!(refused.contains("boxes: file = "), "{refused}");
            assert_eq!(refused.lines().count(), 1, "{refused}");
        }
        let boxes = stored.find("[[boxes]]").map(|at| &stored[at..]).unwrap();
        let twice = read_run_toml_text(&format!("{stored}\n{boxes}"), Path::new("run.toml")).unwrap_err();
        assert!(twice.to_string().contains("no other file of the run has"), "{twice}");
    }

    /// A setting is of the plow that stands beside it: a hole that this does not have is refused in its line.
    #[test]
    fn a_run_in_a_hole_that_is_not_there_is_refused() {
        let text = "[setting]\nplow_hole = \"3\"\ntractor_hole = \"none\"\n[run]\nid = \"r\"\n\
            started = \"2027-04-11T09:14:00+00:00\"\nsetting_name = \"s\"\nshare = \"sharp\"\nsoftware = \"test\"\n\
            state = \"ended\"\n";
        let plow = include_str!("../../sample-runs/plows/two-bottom.toml");
        let plow = read_plow_text(plow, Path::new("plow.toml")).unwrap();
        let table: toml::Table =
            [("plow".to_owned(), toml::Value::try_from(&plow).unwrap())].into_iter().collect();
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("run.toml");
        let read = |hole: &str| {
            let text = text.replace("none", hole) + &toml::to_string(&table).unwrap();
            std::fs::write(&file, text).unwrap();
            read_run_toml(&file)
        };
        assert_eq!(read("4").unwrap().setting.tractor_hole, plow.tractor_hitch.holes[3]);
        let refused = read("none").unwrap_err().to_string();
        assert!(
            refused.contains(", line 3: setting.tractor_hole: tractor_hitch has no hole \"none\""),
            "{refused}"
        );
    }
}
