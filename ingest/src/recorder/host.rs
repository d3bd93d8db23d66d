//! What a recording stands on: ports, disk, clocks and the person. The computer, or a simulation of one.

use super::console::{Controls, Wish, tell_keyboard, tell_signals};
use super::{Destination, RecordError};
use crate::port::{OpenPort, PortError, PortLock, Ports, lock_name, open_port};
use crate::run_folder::{create_run_folder, folder_of};
use crate::writer::{Disk, FolderDisk};
use std::io;
use std::path::Path;
use std::pin::Pin;
use std::sync::{Mutex, PoisonError};
use tokio::sync::mpsc;

/// Least free space that a run begins with, in MB.
const FREE_MB_MIN: u64 = 64;

/// Work that goes on beside the recorder's loop.
pub type Beside = Pin<Box<dyn Future<Output = ()> + Send>>;

/// All that a recording has to do with the world around it. Its time is that of [`tokio::time`], which a
/// simulation winds on by itself.
pub trait Host: Ports {
    /// The wall clock, which may step.
    fn wall_clock(&self) -> jiff::Timestamp;
    /// What the person wishes, from now on; asked for once.
    ///
    /// # Errors
    /// What the system said.
    fn wishes(&self) -> io::Result<mpsc::Receiver<Wish>>;
    /// Makes the folder of a run of this name that will take about so many bytes.
    ///
    /// # Errors
    /// [`RecordError`] for a folder that is there, too little space, or what the system said; nothing is left then.
    fn make_folder(
        &self,
        destination: &Destination,
        name: &str,
        bytes: f64,
    ) -> Result<Box<dyn Disk>, RecordError>;
    /// Has this work done beside the loop, which it must never hold up, even where it blocks.
    ///
    /// # Errors
    /// What the system said.
    fn do_beside(&self, work: Beside) -> io::Result<()>;
}

/// The computer that one recorder runs on: its wishes come by signals, from the keyboard, and from whoever has
/// [`Computer::controls`].
#[derive(Debug)]
pub struct Computer {
    controls: Controls,
    wishes: Mutex<Option<mpsc::Receiver<Wish>>>,
    keyboard: bool,
}

impl Default for Computer {
    fn default() -> Self {
        Self::new()
    }
}

impl Computer {
    /// With Enter on the keyboard, if somebody sits there.
    #[must_use]
    pub fn new() -> Self {
        Self::with_keyboard(true)
    }

    /// For whoever reads the keyboard himself, or has none.
    #[must_use]
    pub fn without_keyboard() -> Self {
        Self::with_keyboard(false)
    }

    fn with_keyboard(keyboard: bool) -> Self {
        let (controls, wishes) = Controls::new();
        Self { controls, wishes: Mutex::new(Some(wishes)), keyboard }
    }

    /// Passes wishes on to the recorder that runs on it.
    #[must_use]
    pub fn controls(&self) -> Controls {
        self.controls.clone()
    }
}

impl Ports for Computer {
    fn claim(&self, port: &Path) -> Result<Option<PortLock>, PortError> {
        lock_name(port)
    }

    fn open(&self, port: &Path, baud: u32) -> Result<OpenPort, PortError> {
        open_port(port, baud)
    }
}

impl Host for Computer {
    fn wall_clock(&self) -> jiff::Timestamp {
        jiff::Timestamp::now()
    }

    fn wishes(&self) -> io::Result<mpsc::Receiver<Wish>> {
        let mut wishes = self.wishes.lock().unwrap_or_else(PoisonError::into_inner);
        let wishes = wishes.take().ok_or_else(|| io::Error::other("another recorder has its controls"))?;
        tell_signals(&self.controls)?;
        if self.keyboard {
            tell_keyboard(&self.controls);
        }
        Ok(wishes)
    }

    fn make_folder(
        &self,
        destination: &Destination,
        name: &str,
        bytes: f64,
    ) -> Result<Box<dyn Disk>, RecordError> {
        let cannot = |path: &Path| {
            let path = path.to_owned();
            move |cause: io::Error| RecordError::CannotMake { path, cause }
        };
        let parent = match destination {
            Destination::In(parent) => parent,
            Destination::Folder(folder) => folder_of(folder),
        };
        check_space(parent, bytes)?;
        std::fs::create_dir_all(parent).map_err(cannot(parent))?;
        let folder = match destination {
            Destination::In(parent) => create_run_folder(parent, name).map_err(cannot(&parent.join(name)))?,
            Destination::Folder(folder) => {
                std::fs::create_dir(folder).map_err(|cause| match cause.kind() {
                    io::ErrorKind::AlreadyExists => RecordError::FolderExists(folder.clone()),
                    _ => RecordError::CannotMake { path: folder.clone(), cause },
                })?;
                folder.clone()
            }
        };
        let disk = FolderDisk::new(folder.clone()).map_err(cannot(&folder))?;
        Ok(Box::new(disk))
    }

    fn do_beside(&self, work: Beside) -> io::Result<()> {
        let runtime = tokio::runtime::Builder::new_current_thread().enable_time().build()?;
        std::thread::Builder::new().name("writer".to_owned()).spawn(move || runtime.block_on(work))?;
        Ok(())
    }
}

fn check_space(parent: &Path, bytes: f64) -> Result<(), RecordError> {
    let needed_mb = FREE_MB_MIN.max((bytes / 1e6).ceil() as u64);
    // The folder may not be there yet; what counts is the file system that it will be on.
    let there = parent.ancestors().find(|folder| folder.exists()).unwrap_or(Path::new("."));
    match fs4::available_space(there) {
        Ok(free) if free / 1_000_000 < needed_mb => {
            Err(RecordError::NoSpace { folder: parent.to_owned(), free_mb: free / 1_000_000, needed_mb })
        }
        // A file system that does not say how much is free is no reason not to record.
        _ => Ok(()),
    }
}
