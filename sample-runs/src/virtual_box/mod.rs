//! A sensor box without the box: the firmware protocol on a pseudo-terminal, fed by a virtual pass.
//!
//! It behaves as the protocol says a box does: *hello* when the port is opened, once a second until
//! *start*, and in answer to *start*; then *readings*, and *status* once a second; *time* in answer to
//! *ping*. The first *start* begins the pass; the plow then moves on whatever happens to the line.
//! When the host reads too slowly the box waits and loses nothing, as only a virtual box can.
//! As a text box it sends sentences, and rows from the opening of the port on, which is then where the pass
//! begins; *start* and *stop* let rows go on and hold them.
//! After the pass the port stays open until the host has read everything, says *stop* or closes it.

mod clock;
pub(crate) mod config;
pub(crate) mod damage;
mod held_counts;
mod outbox;
mod progress;
mod sampler;
mod script;
pub(crate) mod serial_line;
mod session;
mod speech;
mod truth_file;

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::Ordering;
use std::thread::JoinHandle;

pub use config::{BoxConfig, BoxError, Faults};
pub use held_counts::HeldCounts;
pub use progress::BoxReport;

use progress::Progress;
use session::Session;

/// A running virtual box. Dropping it leaves the box running until its pass is over.
///
/// ```
/// use sample_runs::plow::Case;
/// use sample_runs::virtual_box::{BoxConfig, VirtualBox};
///
/// let running = VirtualBox::open(BoxConfig::of_case(Case::Balanced, 1, 5.0))?;
/// assert!(running.path().exists(), "a port that a recorder can open");
/// assert!(!running.has_started(), "nobody has said start");
/// running.stop();
/// assert_eq!(running.join()?.rows_sampled, 0);
/// # Ok::<(), sample_runs::virtual_box::BoxError>(())
/// ```
#[derive(Debug)]
pub struct VirtualBox {
    path: PathBuf,
    progress: Arc<Progress>,
    thread: JoinHandle<Result<BoxReport, BoxError>>,
}

impl VirtualBox {
    /// Opens the port of a box of this kind and lets it run on a thread of its own. It waits for a host without end:
    /// ask it to stop with [`VirtualBox::stop`].
    ///
    /// # Errors
    /// [`BoxError`] if the configuration makes no sense, the link's place is taken, the truth file
    /// exists already, or the system gives no pseudo-terminal.
    pub fn open(config: BoxConfig) -> Result<Self, BoxError> {
        let progress = Arc::new(Progress::default());
        let session = Session::open(config, Arc::clone(&progress))?;
        let path = session.path();
        let thread = std::thread::Builder::new()
            .name("virtual-box".to_owned())
            .spawn(move || session.run())
            .map_err(|cause| BoxError::system("starting the thread of the box", cause))?;
        Ok(Self { path, progress, thread })
    }

    /// The port for the host to open: the link if there is one.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Whether a host has said *start*.
    #[must_use]
    pub fn has_started(&self) -> bool {
        self.progress.started.load(Ordering::Acquire)
    }

    /// Whether the pass has ended, so that no more rows will come.
    #[must_use]
    pub fn is_pass_over(&self) -> bool {
        self.progress.over.load(Ordering::Acquire)
    }

    /// Rows that have left the sampler so far, on whatever way.
    #[must_use]
    pub fn rows(&self) -> u64 {
        self.progress.rows.load(Ordering::Acquire)
    }

    /// Asks the box to end at once, whatever it is doing.
    pub fn stop(&self) {
        self.progress.stop.store(true, Ordering::Release);
    }

    /// Waits for its end.
    ///
    /// # Errors
    /// [`BoxError`] that ended it early.
    pub fn join(self) -> Result<BoxReport, BoxError> {
        self.thread.join().map_err(|_| BoxError::Lost)?
    }
}
