//! A field to test in: a folder, a virtual box on a link, and the recorder, in one sentence:
//! `Field::new()?.with_box("--drop-frames 0.001").record("")?.to_the_end()?.verify()`.

use std::ffi::OsString;
use std::fs;
use std::path::PathBuf;
use std::time::Duration;

use held::plow_toml;
use sample_runs::sensors::Sensor;
use tempfile::TempDir;

use crate::binaries::Program;
use crate::process::Running;
use crate::pty::Pty;
use crate::{Doing, Failure, Outcome};

/// Longest that anything may take to begin or to end.
pub const SOON: Duration = Duration::from_secs(10);
/// Its only setting.
const SETTING: &str = "as-found";

/// A folder of its own, taken away at the end, with a plow description, and the box that is to ride along.
#[derive(Debug)]
pub struct Field {
    folder: TempDir,
    pub(crate) box_args: Option<String>,
}

impl Field {
    /// A field without a box.
    pub fn new() -> Outcome<Self> {
        let folder = TempDir::with_prefix("field-").doing(|| "make a temporary folder".into())?;
        let field = Self { folder, box_args: None };
        let plow = plow_toml(&Sensor::BASIC);
        fs::write(field.plow(), plow).doing(|| "write the plow description".into())?;
        fs::create_dir(field.runs()).doing(|| "make the folder of the runs".into())?;
        Ok(field)
    }

    /// With a virtual box that is started with these words on its command line; the link, the truth file
    /// and a pass of 20 s in a twentieth of the time are added unless the words say otherwise.
    pub fn with_box(mut self, words: &str) -> Self {
        self.box_args = Some(words.to_owned());
        self
    }

    /// With a plow description that wants these sensors instead of the three of every box.
    pub fn with_sensors(self, sensors: &[Sensor]) -> Outcome<Self> {
        fs::write(self.plow(), plow_toml(sensors)).doing(|| "write the plow description".into())?;
        Ok(self)
    }

    /// With this line as the box's port.
    pub fn on_line(self, line: &Pty) -> Outcome<Self> {
        std::os::unix::fs::symlink(line.port(), self.port()).doing(|| "link to a line".into())?;
        Ok(self)
    }

    /// A file or folder in it.
    pub fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    pub fn plow(&self) -> PathBuf {
        self.path("plow.toml")
    }

    /// The folder that the runs go into.
    pub fn runs(&self) -> PathBuf {
        self.path("runs")
    }

    /// The symlink that leads to the box's port.
    pub fn port(&self) -> PathBuf {
        self.path("port")
    }

    /// Where the box writes what it sampled.
    pub fn truth(&self) -> PathBuf {
        self.path("truth.csv")
    }

    /// Starts the box and waits until its port is there.
    pub fn start_box(&self) -> Outcome<Running> {
        let words = self.box_args.as_ref().ok_or_else(|| Failure("this field has no box".into()))?;
        let mut args: Vec<OsString> = words.split_whitespace().map(OsString::from).collect();
        for (option, value) in [("--speed-up", "20"), ("--working-s", "20")] {
            if !args.iter().any(|arg| arg == option) {
                args.extend([option, value].map(OsString::from));
            }
        }
        start_box(args, self.port(), self.truth())
    }

    /// The link of another box and its truth file.
    pub fn other(&self, name: &str) -> (PathBuf, PathBuf) {
        (self.path(name), self.path(&format!("{name}-truth.csv")))
    }

    /// Words for the recorder: the box's port and those of the others.
    pub fn ports_with(&self, others: &[&str]) -> String {
        let ports = others.iter().map(|name| self.other(name).0);
        std::iter::once(self.port()).chain(ports).map(|port| format!("--port {} ", port.display())).collect()
    }

    /// Starts another box on [`Field::other`], with nothing added to its words.
    pub fn start_other(&self, name: &str, words: &str) -> Outcome<Running> {
        let (port, truth) = self.other(name);
        start_box(words.split_whitespace().map(OsString::from).collect(), port, truth)
    }

    /// What the recorder is started with: everything that it needs unless the words say otherwise, and these
    /// words after it.
    pub fn recorder_args(&self, words: &str) -> Vec<OsString> {
        let mut args: Vec<OsString> = Vec::new();
        for (option, value) in [
            ("--plow", self.plow()),
            ("--setting", SETTING.into()),
            ("--port", self.port()),
            ("--out", self.runs()),
        ] {
            if !words.split_whitespace().any(|word| word == option) {
                args.extend([option.into(), value.into()]);
            }
        }
        args.extend(words.split_whitespace().map(OsString::from));
        args
    }
}

fn start_box(mut args: Vec<OsString>, port: PathBuf, truth: PathBuf) -> Outcome<Running> {
    args.extend(["--link".into(), port.into(), "--truth".into(), truth.into()]);
    let mut running = Running::start_talking(Program::VirtualBox, args)?;
    // Its first line is the port's path.
    running.wait_for_line("/", SOON)?;
    Ok(running)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::path::Path;

    /// The description must be one that the recorder takes, and give the readings that `verify` expects.
    #[test]
    fn the_plow_description_is_sound_and_calibrated_as_the_box_is() {
        let text = plow_toml(&Sensor::ALL);
        let plow = ingest::plow::read_plow_text(&text, Path::new("plow.toml")).unwrap();
        assert_eq!(plow.sensors.len(), Sensor::ALL.len());
        for (sensor, known) in plow.sensors.iter().zip(Sensor::ALL) {
            assert_eq!(sensor.measures.column(), known.column);
            let [zero, ten] = &sensor.calibration.points[..] else { panic!("{sensor:?}") };
            assert_eq!(sensor.measures.in_column_unit(&zero.1).unwrap(), 0.0);
            let reading = sensor.measures.in_column_unit(&ten.1).unwrap();
            assert!((reading - 10.0).abs() < 1e-12, "{reading}");
            assert!(((ten.0 - zero.0) / 10.0 - known.counts_per_unit).abs() < 1e-9);
        }
    }
}
