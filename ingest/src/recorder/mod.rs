//! Recording a run: ports to run folder.
//!
//! One thread runs the ports and the live view, another owns the disk (`writer`). Nothing is
//! written before every port has shown a box that fits the plow.

mod by_plow;
mod config;
mod connection;
mod console;
mod ending;
mod error;
mod host;
mod in_words;
mod listening;
mod live;
mod look_back;
mod notices;
mod port_watch;
mod receiver_connection;
mod run;
mod stand_by;
mod start;
mod state;
mod view;
mod watching;

pub use crate::run_event::RunEnd;
pub use crate::writer::{Call, Disk, DiskFile};
pub(crate) use by_plow::ByPlow;
pub use config::{Begin, Destination, GnssPort, RecordConfig, Recorded, RecordedRun};
pub use console::{Controls, Order, PassChoice, Wish, WishRefused};
pub(crate) use ending::put_end;
pub use error::RecordError;
pub use host::{Beside, Computer, Host};
pub use in_words::{Losses, Wrong, without_readings};
pub use live::record_on;
pub(crate) use look_back::{BEFORE_US, LookBack, SoFar, as_said};
pub use view::{Begins, BegunRun, LinesView, LiveRows, NoView, Progress, StderrView, View, status_line};

use std::sync::Arc;

/// Records on this computer until the recorder is to end. Ctrl-C, SIGTERM and SIGHUP end it properly.
///
/// # Errors
/// [`RecordError`]; before a run has begun, nothing is left on the disk. After
/// [`RecordError::Unwritten`] the folder holds all that could be written.
pub fn record(config: &RecordConfig, view: &mut dyn View) -> Result<Recorded, RecordError> {
    record_by(Computer::new(), config, view)
}

/// As [`record`], for whoever has the [`Computer::controls`].
///
/// # Errors
/// As [`record`].
pub fn record_by(
    computer: Computer,
    config: &RecordConfig,
    view: &mut dyn View,
) -> Result<Recorded, RecordError> {
    let runtime = crate::port::runtime().map_err(RecordError::System)?;
    let recorded = runtime.block_on(record_on(Arc::new(computer), config, view));
    // A thread that still waits for a line on stdin must not hold us up.
    runtime.shutdown_background();
    recorded
}
