//! What is to be recorded and how, and what it comes to.

use crate::assemble::RunCounters;
use crate::gnss::GnssCounters;
use crate::plow::{Plow, ShareCondition, SoilClass};
use crate::run_event::RunEnd;
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

/// When runs begin and end.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Begin {
    /// One run, as soon as all boxes answer; its end is the recorder's.
    #[default]
    AtOnce,
    /// The recorder stands by until it is asked for a run, and after each.
    OnStart,
    /// As [`Begin::OnStart`], and runs begin and end by themselves, when the plow goes into the ground and comes out.
    WhenInGround,
}

/// What to record and how: [`RecordArgs`](crate::cli::RecordArgs) with the plow read.
#[derive(Clone, Debug)]
#[allow(missing_docs, reason = "as the options of the same names")]
pub struct RecordConfig {
    /// Ports of the sensor boxes; the first one's rows are `plow.csv`.
    pub ports: Vec<PathBuf>,
    /// Speed of the ports in baud.
    pub baud: u32,
    /// Port of a GNSS receiver, which is only listened to.
    pub gnss: Option<GnssPort>,
    pub plow: Plow,
    /// When runs begin and end.
    pub begin: Begin,
    /// Where it is `None`, it has to come with what asks for a run.
    pub setting_name: Option<String>,
    /// Nobody has said yet that the hitch is in it: until somebody does, runs are told to be so.
    pub setting_assumed: bool,
    pub share: Option<ShareCondition>,
    pub field: Option<String>,
    pub soil: Option<String>,
    pub soil_class: Option<SoilClass>,
    pub note: Option<String>,
    pub destination: Destination,
    /// A run ends after this much run time.
    pub duration: Option<Duration>,
    /// A run ends when all ports have been away for this long.
    pub stop_when_gone: Option<Duration>,
    /// Passes of this day that were recorded before, where the plow begins the runs: their numbers go on.
    pub passes_before: u32,
    /// Name and version of the software that records, for `run.toml`.
    pub software: String,
}

/// What a recorder has recorded by its end.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Recorded {
    /// How many runs.
    pub runs: u64,
    /// The last of them.
    pub last: Option<RecordedRun>,
}

/// A run that was recorded.
#[derive(Clone, Debug, PartialEq)]
pub struct RecordedRun {
    /// Its folder.
    pub folder: PathBuf,
    /// How it ended.
    pub end: RunEnd,
    /// How long it lasted, from its beginning to when it was ended, in s.
    pub lasted_s: f64,
    /// What was counted, box by box.
    pub counters: Vec<RunCounters>,
    /// What was counted for the GNSS receiver, if there was one.
    pub gnss: Option<GnssCounters>,
}
