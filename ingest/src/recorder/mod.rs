//! Recording a run: ports to run folder.
//!
//! One thread runs the ports and the live view, another owns the disk (`writer`). Nothing is
//! written before every port has shown a box that fits the plow.

mod config;
mod connection;
mod console;
mod early;
mod ending;
mod error;
mod host;
mod listening;
mod live;
mod notices;
mod port_watch;
mod receiver_connection;
mod start;
mod state;
mod view;
mod watching;

pub use crate::writer::{Call, Disk, DiskFile};
pub use config::{Destination, GnssPort, RecordConfig, RecordedRun, RunEnd};
pub use console::{Controls, PassChoice, Wish, WishRefused};
pub(crate) use ending::put_end;
pub use error::RecordError;
pub use host::{Beside, Computer, Host};
pub use live::record_on;
pub use view::{BegunRun, LiveRows, NoView, Progress, StderrView, View, status_line};

use std::sync::Arc;

/// Records a run until it ends. Ctrl-C, SIGTERM and SIGHUP end it properly.
///
/// # Errors
/// [`RecordError`]; before the run has begun, nothing is left on the disk. After
/// [`RecordError::Unwritten`] the folder holds all that could be written.
pub fn record(config: &RecordConfig, view: &mut dyn View) -> Result<RecordedRun, RecordError> {
    let runtime = crate::port::runtime().map_err(RecordError::System)?;
    let recorded = runtime.block_on(record_on(Arc::new(Computer), config, view));
    // A thread that still waits for a line on stdin must not hold us up.
    runtime.shutdown_background();
    recorded
}
