//! Discovery: what is on a port, and what its channels read now. Nothing is written to the disk.
//!
//! A port is only written to when something of ours was heard on it, or when the person named it and it
//! stays silent: another device must not be disturbed by a search.

mod listener;
mod live_box;
mod port_session;
mod probe;
mod sample;

pub use live_box::LiveBox;
pub use probe::{ProbeConfig, ProbeResult, SeenBox, probe_all};
pub use sample::{Sample, SampleStatistics};

pub use crate::session::NotABox;

use crate::port::PortError;
use std::path::PathBuf;

/// Why a port shows no box to work with. Each is one sentence.
#[derive(Debug, thiserror::Error)]
#[allow(missing_docs, reason = "the sentences say what they are, the names of fields their unit")]
pub enum DiscoveryError {
    #[error(transparent)]
    Port(#[from] PortError),
    #[error("port {} went away ({why}): is its cable still plugged in?", port.display())]
    Went { port: PathBuf, why: String },
    #[error("port {}: {found}", port.display())]
    NoBox { port: PathBuf, found: NotABox },
    #[error("the box on port {} sends no readings, though it was told to start", .0.display())]
    NoRows(PathBuf),
    /// The computer gave no thread or timer.
    #[error("this computer cannot listen to its ports: {0}")]
    System(std::io::Error),
}
