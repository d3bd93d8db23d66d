//! A look at a port: what is there, and what its channels read now. Nothing is written to the disk.
//!
//! A port is only written to when something of ours was heard on it, or when the person named it and it
//! stays silent: another device must not be disturbed by a search.

mod ear;
mod hint;
mod live_box;
mod probe;
mod sample;

pub use ear::Ear;
pub(crate) use hint::hint;
pub use live_box::LiveBox;
pub use probe::{Looking, SeenBox, Thing, look_at, look_at_all};
pub use sample::{Sample, Spread};

use crate::port::PortError;
use std::path::PathBuf;

/// Why a look gives nothing. Each is one sentence.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum LookError {
    /// The port cannot be opened.
    #[error(transparent)]
    Port(#[from] PortError),
    /// It went away meanwhile.
    #[error("port {} went away ({why}): is its cable still plugged in?", port.display())]
    Went {
        /// The port.
        port: PathBuf,
        /// What the system said.
        why: String,
    },
    /// There is no box that can be listened to.
    #[error("port {}: {thing}", port.display())]
    NoBox {
        /// The port.
        port: PathBuf,
        /// What is there instead.
        thing: Box<Thing>,
    },
    /// The box said hello, but sends no rows.
    #[error("the box on port {} sends no readings, though it was told to start", port.display())]
    NoRows {
        /// The port.
        port: PathBuf,
    },
    /// The computer gave no thread or timer.
    #[error("this computer cannot listen to its ports: {0}")]
    System(std::io::Error),
}
