//! What a recording comes to.

use crate::assemble::RunCounters;
use crate::gnss::GnssCounters;
use std::path::PathBuf;

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
