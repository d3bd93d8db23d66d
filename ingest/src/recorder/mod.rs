//! Recording a run: ports to run folder.
//!
//! One thread runs the ports and the live view, another owns the disk (`writer`). Nothing is
//! written before every port has shown a box that fits the plow.

mod config;
mod connection;
mod console;
mod ending;
mod error;
mod listening;
mod live;
mod port_watch;
mod receiver_connection;
mod start;
mod state;
mod view;
mod watching;

pub use config::{Destination, GnssPort, RecordConfig, RecordedRun, RunEnd};
pub use error::RecordError;
pub use view::{NoView, Progress, StderrView, View, status_line};

/// Records a run until it ends. Ctrl-C, SIGTERM and SIGHUP end it properly.
///
/// # Errors
/// [`RecordError`]; before the run has begun, nothing is left on the disk. After
/// [`RecordError::Unwritten`] the folder holds all that could be written.
pub fn record(config: &RecordConfig, view: &mut dyn View) -> Result<RecordedRun, RecordError> {
    let runtime = crate::port::runtime().map_err(RecordError::System)?;
    let recorded = runtime.block_on(live::record(config, view));
    // A thread that still waits for a line on stdin must not hold us up.
    runtime.shutdown_background();
    recorded
}
