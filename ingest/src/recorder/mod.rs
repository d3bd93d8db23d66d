//! Recording a run: ports to run folder.
//!
//! One thread runs the ports and the live view, another owns the disk ([`crate::writer`]). Nothing is
//! written before every port has shown a box that fits the plow.

mod connection;
mod console;
mod ending;
mod error;
mod listening;
mod live;
mod notices;
mod port_watch;
mod receiver_connection;
mod start;
mod state;
mod view;
mod watching;

pub use error::RecordError;
pub use view::{NoView, Progress, StderrView, View, status_line};

use crate::assemble::RunCounters;
use crate::gnss::GnssCounters;
use crate::plow::{Plow, ShareCondition, SoilClass};
use std::path::PathBuf;
use std::time::Duration;

/// Where a run goes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Place {
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
    pub place: Place,
    /// The run ends after this much run time.
    pub duration: Option<Duration>,
    /// The run ends when all ports have been away for this long.
    pub stop_when_gone: Option<Duration>,
    /// Name and version of the software that records, for `run.toml`.
    pub software: String,
}

/// How a run came to its end.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RunEnd {
    /// Ctrl-C, or another signal that asks a program to end.
    Signal(&'static str),
    /// It lasted as long as it should.
    Duration,
    /// All ports were away for as long as was allowed.
    PortsGone,
    /// The boxes can no longer be recorded with this plow (another program in them, or other channels).
    BoxesChanged,
}

impl std::fmt::Display for RunEnd {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Signal(name) => write!(f, "stopped by {name}"),
            Self::Duration => f.write_str("the duration asked for was over"),
            Self::PortsGone => f.write_str("the ports stayed away"),
            Self::BoxesChanged => f.write_str("the boxes changed and no longer fit the plow description"),
        }
    }
}

/// A run that was recorded.
#[derive(Clone, Debug, PartialEq)]
pub struct RecordedRun {
    /// Its folder.
    pub folder: PathBuf,
    /// How it ended.
    pub end: RunEnd,
    /// Run time of the last row, in s.
    pub lasted_s: f64,
    /// What was counted, box by box.
    pub counters: Vec<RunCounters>,
    /// What was counted for the GNSS receiver, if there was one.
    pub gnss: Option<GnssCounters>,
}

/// Records a run until it ends. Ctrl-C, SIGTERM and SIGHUP end it properly.
///
/// # Errors
/// [`RecordError`]; before the run has begun, nothing is left on the disk. After
/// [`RecordError::Unwritten`] the folder holds all that could be written.
pub fn record(config: &RecordConfig, view: &mut dyn View) -> Result<RecordedRun, RecordError> {
    let runtime =
        tokio::runtime::Builder::new_current_thread().enable_all().build().map_err(RecordError::System)?;
    let recorded = runtime.block_on(live::record(config, view));
    // A thread that still waits for a line on stdin must not hold us up.
    runtime.shutdown_background();
    recorded
}
