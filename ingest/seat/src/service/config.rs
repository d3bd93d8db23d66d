//! What a recorder that runs by itself does: `recorder.toml`.

use super::port_name::{is_unstable, port_of};
use crate::reader_units::ReaderUnits;
use ingest::cli::BAUD;
use ingest::description_file::{
    DescriptionError, DescriptionKind, KeyFault, parse_description, read_description,
};
use ingest::plow::ShareCondition;
use ingest::recorder::GnssPort;
use ingest::run_folder::folder_of;
use serde::Deserialize;
use std::net::SocketAddr;
use std::path::{Path, PathBuf};

/// Speed that most GNSS receivers have, in baud.
const GNSS_BAUD: u32 = 9600;

/// What begins and ends a run.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum StartedBy {
    /// The plow: a run begins when it goes into the ground and ends when it comes out.
    #[default]
    Plow,
    /// A person, on the page.
    Hand,
}

/// How much is logged.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Deserialize, strum::EnumString)]
#[serde(rename_all = "lowercase")]
#[strum(serialize_all = "lowercase")]
pub enum LogLevel {
    /// What needs a person.
    Error,
    /// And what may.
    Warn,
    /// And what is done: runs that begin and end, boxes that come.
    #[default]
    Info,
    /// And each look.
    Debug,
}

/// Which runs are kept. What is not copied stays in any case, unless `delete_uncopied`.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Keep {
    /// Runs that began longer ago than so many days may go.
    pub days: Option<f64>,
    /// The oldest may go while the runs take more than this share of the disk, above 0 and up to 1.
    pub share_of_disk: Option<f64>,
    /// Runs that nobody copied may go as well.
    pub delete_uncopied: bool,
}

/// The page for the seat.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LiveConfig {
    /// Where it is served.
    pub address: SocketAddr,
    /// Holds the tokens; made at the first start.
    pub token_file: Option<PathBuf>,
    /// Its units for whoever has not chosen others on it; if they are not said, those that others are told in.
    pub units: Option<ReaderUnits>,
}

/// What `recorder.toml` says, read and checked.
#[derive(Clone, Debug, PartialEq)]
pub struct ServiceConfig {
    /// Ports of the sensor boxes; the first one's rows are `plow.csv`.
    pub ports: Vec<PathBuf>,
    /// Their speed in baud.
    pub baud: u32,
    /// Port of a GNSS receiver.
    pub gnss: Option<GnssPort>,
    /// Description of the plow.
    pub plow: PathBuf,
    /// Hitch setting to begin with.
    pub setting_name: String,
    /// Condition of the shares, if it is not that of the plow description.
    pub share: Option<ShareCondition>,
    /// Field, as the person calls it.
    pub field: Option<String>,
    /// What begins and ends a run.
    pub started_by: StartedBy,
    /// How much is logged.
    pub log: LogLevel,
    /// Folder in which the run folders are made.
    pub runs: PathBuf,
    /// Which of them are kept.
    pub keep: Keep,
    /// The page.
    pub live: Option<LiveConfig>,
    /// File in which the state of the recorder stands, as JSON.
    pub status_file: Option<PathBuf>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct ServiceToml {
    plow: PathBuf,
    setting: String,
    share: Option<ShareCondition>,
    field: Option<String>,
    #[serde(default)]
    started_by: StartedBy,
    #[serde(default)]
    log: LogLevel,
    baud: Option<u32>,
    status_file: Option<PathBuf>,
    runs: RunsToml,
    live: Option<LiveToml>,
    gnss: Option<GnssToml>,
    boxes: Vec<BoxToml>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct RunsToml {
    folder: PathBuf,
    keep_days: Option<f64>,
    keep_share_of_disk: Option<f64>,
    #[serde(default)]
    delete_uncopied: bool,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct LiveToml {
    address: SocketAddr,
    token_file: Option<PathBuf>,
    units: Option<ReaderUnits>,
}

/// One box.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct BoxToml {
    port: Option<PathBuf>,
    serial_number: Option<String>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct GnssToml {
    port: Option<PathBuf>,
    serial_number: Option<String>,
    baud: Option<u32>,
}

impl ServiceConfig {
    /// Reads and checks the description of a recorder.
    ///
    /// # Errors
    /// [`DescriptionError`] with the line and the key, and what is meant there.
    pub fn read(path: &Path) -> Result<Self, DescriptionError> {
        Self::from_text(&read_description(path, DescriptionKind::Recorder)?, path)
    }

    /// The same from text that is already there. Paths in it are taken from the folder of `path`.
    ///
    /// # Errors
    /// As [`ServiceConfig::read`].
    pub fn from_text(text: &str, path: &Path) -> Result<Self, DescriptionError> {
        let checked = |said: ServiceToml| said.checked(folder_of(path)).map_err(Into::into);
        parse_description(text, path, checked).map_err(DescriptionError::in_one_line)
    }

    /// Ports whose names change with the order in which the cables were put in.
    pub fn unstable_ports(&self) -> impl Iterator<Item = &Path> {
        let ports = self.ports.iter().chain(self.gnss.as_ref().map(|gnss| &gnss.port));
        ports.map(PathBuf::as_path).filter(|port| is_unstable(port))
    }
}

impl ServiceToml {
    fn checked(self, folder: &Path) -> Result<ServiceConfig, KeyFault> {
        if self.boxes.is_empty() {
            return Err(KeyFault::at(
                "boxes",
                "at least one sensor box is wanted: [[boxes]] with its port or serial_number",
            ));
        }
        if self.setting.trim().is_empty() {
            return Err(KeyFault::at(
                "setting",
                "the name of a hitch setting of the plow description is wanted",
            ));
        }
        let mut ports: Vec<PathBuf> = Vec::new();
        for one in self.boxes {
            let port = port_of("boxes", one.port, one.serial_number, folder)?;
            if ports.contains(&port) {
                return Err(twice("boxes", &port));
            }
            ports.push(port);
        }
        let gnss = match self.gnss {
            None => None,
            Some(GnssToml { port, serial_number, baud }) => {
                let port = port_of("gnss", port, serial_number, folder)?;
                if ports.contains(&port) {
                    return Err(twice("gnss", &port));
                }
                Some(GnssPort { port, baud: speed("gnss.baud", baud, GNSS_BAUD)? })
            }
        };
        let RunsToml { folder: runs, keep_days, keep_share_of_disk, delete_uncopied } = self.runs;
        if keep_days.is_some_and(|days| !(1.0..=36_500.0).contains(&days)) {
            return Err(KeyFault::at(
                "runs.keep_days",
                "a number of days from 1 on is wanted; without it, age is no reason",
            ));
        }
        if keep_share_of_disk.is_some_and(|share| !(share > 0.0 && share <= 1.0)) {
            return Err(KeyFault::at(
                "runs.keep_share_of_disk",
                "a share above 0 and up to 1 is wanted, such as 0.5 for half of the disk",
            ));
        }
        if delete_uncopied && keep_days.is_none() && keep_share_of_disk.is_none() {
            return Err(KeyFault::at(
                "runs.delete_uncopied",
                "nothing is ever deleted without keep_days or keep_share_of_disk: say one of them, or leave this out",
            ));
        }
        let keep = Keep { days: keep_days, share_of_disk: keep_share_of_disk, delete_uncopied };
        Ok(ServiceConfig {
            ports,
            baud: speed("baud", self.baud, BAUD)?,
            gnss,
            plow: folder.join(self.plow),
            setting_name: self.setting,
            share: self.share,
            field: self.field,
            started_by: self.started_by,
            log: self.log,
            runs: folder.join(runs),
            keep,
            live: self.live.map(|live| LiveConfig {
                address: live.address,
                token_file: live.token_file.map(|file| folder.join(file)),
                units: live.units,
            }),
            status_file: self.status_file.map(|file| folder.join(file)),
        })
    }
}

fn twice(key: &str, port: &Path) -> KeyFault {
    let sentence = format!(
        "port {} is there twice: each box and the GNSS receiver have a port of their own",
        port.display()
    );
    KeyFault::at(key, sentence)
}

fn speed(key: &str, said: Option<u32>, usual: u32) -> Result<u32, KeyFault> {
    match said {
        Some(0) => Err(KeyFault::at(key, format!("a speed in baud is wanted, such as {usual}"))),
        said => Ok(said.unwrap_or(usual)),
    }
}

#[cfg(test)]
mod tests {
    use super::super::port_name::PORTS_BY_SERIAL_NUMBER;
    use super::*;

    const EXAMPLE: &str = include_str!("../../debian/recorder.toml");
    const LEAST: &str =
        "plow = \"plow.toml\"\nsetting = \"low\"\n[runs]\nfolder = \"runs\"\n[[boxes]]\nport = \"/dev/x\"\n";

    fn read(text: &str) -> Result<ServiceConfig, String> {
        ServiceConfig::from_text(text, Path::new("/etc/hitchwright/recorder.toml"))
            .map_err(|error| error.to_string())
    }

    #[test]
    fn the_example_is_read_and_each_key_that_it_explains_is_one() {
        let config = read(EXAMPLE).unwrap();
        assert_eq!(config.plow, Path::new("/etc/hitchwright/plow.toml"));
        assert!(config.ports[0].starts_with(PORTS_BY_SERIAL_NUMBER), "{config:?}");
        assert_eq!(config.keep, Keep::default(), "the example deletes nothing");
        // Each key that stands there as a comment is taken when it is put in force: a line of `# key = value`.
        let enforced: String = EXAMPLE
            .lines()
            .map(|line| {
                let bare = line.strip_prefix("# ").unwrap_or(line);
                let is_setting = bare
                    .split_once(" = ")
                    .is_some_and(|(key, _)| key.chars().all(|c| c.is_ascii_lowercase() || c == '_'));
                let is_table = bare.starts_with('[') && bare.ends_with(']');
                if is_setting || is_table { format!("{bare}\n") } else { format!("{line}\n") }
            })
            .collect();
        let config = read(&enforced).unwrap_or_else(|error| panic!("{error}\n{enforced}"));
        assert!(config.gnss.is_some() && config.live.is_some() && config.share.is_some(), "{config:?}");
        assert!(config.keep.days.is_some() && config.keep.share_of_disk.is_some(), "{config:?}");
    }

    #[test]
    fn what_is_left_out_is_as_most_want_it_and_paths_go_from_the_file() {
        let config = read(LEAST).unwrap();
        assert_eq!((config.baud, config.started_by), (BAUD, StartedBy::Plow));
        assert_eq!(config.runs, Path::new("/etc/hitchwright/runs"));
        assert_eq!((config.keep, &config.live), (Keep::default(), &None));
        let by_number = LEAST.replace("port = \"/dev/x\"", "serial_number = \"A 1/2\"");
        assert_eq!(read(&by_number).unwrap().ports, [Path::new("/dev/hitchwright/A_1_2")]);
        let unstable = read(&LEAST.replace("/dev/x", "/dev/ttyACM0")).unwrap();
        assert_eq!(unstable.unstable_ports().count(), 1);
        assert_eq!(config.unstable_ports().count(), 0);
    }

    /// Each with the line, the key and what is meant.
    #[test]
    fn what_is_wrong_is_said_with_its_line_and_key() {
        let with = |from: &str, to: &str| {
            let text = LEAST.replacen(from, to, 1);
            assert_ne!(text, LEAST, "{from}");
            read(&text).unwrap_err()
        };
        let box_ = "[[boxes]]\nport = \"/dev/x\"\n";
        let table: [(&str, &str, &str, &str); 16] = [
            ("setting", "seting", "line 2:", "did you mean `setting`?"),
            ("plow = \"plow.toml\"\n", "", "line 1:", "plow: missing: write text"),
            ("plow = \"plow.toml\"", "plow = 3", "line 1:", "write it between quotation marks: \"3\""),
            ("setting = \"low\"", "setting = \" \"", "line 2:", "setting: the name of a hitch setting"),
            (
                "setting = \"low\"",
                "setting = \"low\"\nstarted_by = \"wind\"",
                "line 3:",
                "write \"plow\" or \"hand\"",
            ),
            ("setting = \"low\"", "setting = \"low\"\nbaud = 0", "line 3:", "baud: a speed in baud"),
            ("setting = \"low\"", "setting = \"low", "line 2:", ""),
            ("folder = \"runs\"\n", "", "line 3:", "runs.folder: missing"),
            ("folder", "keep_days = 0.0\nfolder", "line 4:", "runs.keep_days: a number of days from 1 on"),
            ("folder", "keep_share_of_disk = 50.0\nfolder", "line 4:", "such as 0.5 for half of the disk"),
            (
                "folder",
                "delete_uncopied = true\nfolder",
                "line 4:",
                "runs.delete_uncopied: nothing is ever deleted",
            ),
            (box_, "", "line 1:", "boxes: missing: write a list"),
            (box_, "[[boxes]]\n", "line 5:", "boxes: one of port and serial_number is wanted"),
            (box_, "[[boxes]]\nserial_number = \"..\"\n", "line 5:", "is no serial number"),
            (
                box_,
                "[[boxes]]\nport = \"/dev/x\"\n[[boxes]]\nport = \"/dev/x\"\n",
                "line 5:",
                "port /dev/x is there twice",
            ),
            ("[runs]", "[live]\naddress = \"localhost\"\n[runs]", "line 4:", "invalid socket address"),
        ];
        for (from, to, line, sentence) in table {
            let said = with(from, to);
            assert!(said.starts_with("/etc/hitchwright/recorder.toml, "), "{said}");
            assert!(said.contains(line) && said.contains(sentence), "{from:?} -> {to:?}: {said}");
        }
    }
}
