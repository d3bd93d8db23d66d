//! What is to be recorded, and how.

use crate::plow::{Plow, ShareCondition, SoilClass};
use std::path::PathBuf;
use std::time::Duration;

/// Where a run goes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Destination {
    /// A new folder in this one, named from the time and the setting.
    In(PathBuf),
    /// This folder, which must not exist yet.
    Folder(PathBuf),
}

/// Where a GNSS receiver is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct GnssPort {
    /// Its port.
    pub port: PathBuf,
    /// Speed of that port in baud.
    pub baud: u32,
}

/// What to record and how.
#[derive(Clone, Debug)]
pub struct RecordConfig {
    /// Ports of the sensor boxes; the first one's rows are `plow.csv`.
    pub ports: Vec<PathBuf>,
    /// Speed of the ports in baud.
    pub baud: u32,
    /// Port of a GNSS receiver, which is only listened to.
    pub gnss: Option<GnssPort>,
    /// The plow.
    pub plow: Plow,
    /// Name of the hitch setting.
    pub setting_name: String,
    /// Condition of the shares today, if it is not that of the plow description.
    pub share: Option<ShareCondition>,
    /// Field, as the operator names it.
    pub field: Option<String>,
    /// Soil, in the operator's words.
    pub soil: Option<String>,
    /// Its class for the published draft.
    pub soil_class: Option<SoilClass>,
    /// The operator's notes.
    pub note: Option<String>,
    /// Where the run goes.
    pub destination: Destination,
    /// The run ends after this much run time.
    pub duration: Option<Duration>,
    /// The run ends when all ports have been away for this long.
    pub stop_when_gone: Option<Duration>,
    /// Name and version of the software that records, for `run.toml`.
    pub software: String,
}
