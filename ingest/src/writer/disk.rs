//! The disk, behind a trait so that one that fails can be put underneath.

use crate::run_folder::{folder_of, sync_folder, write_whole};
use std::fs::{File, OpenOptions};
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::pin::Pin;

/// A call to the disk under way: a slow disk keeps the writer waiting, and nobody else.
pub type Call<'a, T = ()> = Pin<Box<dyn Future<Output = io::Result<T>> + Send + 'a>>;

/// The folder of one run, which is there and ours.
pub trait Disk: Send {
    /// Where it is.
    fn folder(&self) -> &Path;
    /// Makes a file that is only ever appended to; it must not exist yet.
    fn create(&mut self, name: &str) -> io::Result<Box<dyn DiskFile>>;
    /// Writes a file whole or not at all, over one of this name.
    ///
    /// # Errors
    /// What the system said; a file that was there is then untouched.
    fn replace(&mut self, name: &str, bytes: &[u8]) -> io::Result<()>;
    /// Makes the names of the folder and of all its files survive a power cut.
    ///
    /// # Errors
    /// What the system said.
    fn sync_names(&mut self) -> io::Result<()>;
    /// Takes the folder away again, with all that is in it: the run could not begin.
    fn discard(&mut self);
}

/// A file that grows at its end.
pub trait DiskFile: Send {
    /// Appends all bytes, or fails after any part of them.
    fn append<'a>(&'a mut self, bytes: &'a [u8]) -> Call<'a>;
    /// Cuts the file back to this length.
    fn cut_to(&mut self, length: u64) -> Call<'_>;
    /// Returns when what was appended is on the disk.
    fn sync(&mut self) -> Call<'_>;
}

/// A folder of the file system.
#[derive(Clone, Debug)]
pub struct FolderDisk {
    /// The folder.
    pub folder: PathBuf,
}

impl Disk for FolderDisk {
    fn folder(&self) -> &Path {
        &self.folder
    }
    fn create(&mut self, name: &str) -> io::Result<Box<dyn DiskFile>> {
        // In append mode each write goes to the end, wherever a cut has put it.
        let file = OpenOptions::new().append(true).create_new(true).open(self.folder.join(name))?;
        if cfg!(unix) {
            // Seen by `crate::repair`, and gone with the process; elsewhere a lock would keep readers out. A file
            // system without locks is no reason not to record.
            let _ = file.try_lock();
        }
        Ok(Box::new(file))
    }
    fn replace(&mut self, name: &str, bytes: &[u8]) -> io::Result<()> {
        write_whole(&self.folder.join(name), bytes)
    }
    fn sync_names(&mut self) -> io::Result<()> {
        sync_folder(&self.folder)?;
        sync_folder(folder_of(&self.folder))
    }
    fn discard(&mut self) {
        let _ = std::fs::remove_dir_all(&self.folder);
    }
}

// The writer has a thread of its own, so its calls may block.
impl DiskFile for File {
    fn append<'a>(&'a mut self, bytes: &'a [u8]) -> Call<'a> {
        Box::pin(std::future::ready(self.write_all(bytes)))
    }
    fn cut_to(&mut self, length: u64) -> Call<'_> {
        Box::pin(std::future::ready(self.set_len(length)))
    }
    fn sync(&mut self) -> Call<'_> {
        Box::pin(std::future::ready(self.sync_data()))
    }
}

/// A file with what it still owes the disk.
///
/// Bytes stay in memory until a sync has succeeded: after a failed one the system may have dropped what
/// it had taken and report success next time, so everything since the last good sync is written again.
pub struct Appended {
    file: Box<dyn DiskFile>,
    synced_bytes: u64,
    /// What was pushed since the last good sync; the first `written` of it are in the file.
    owed: Vec<u8>,
    written: usize,
    /// The file may be longer than it should be.
    to_cut: bool,
}

impl std::fmt::Debug for Appended {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Appended").field("synced_bytes", &self.synced_bytes).finish_non_exhaustive()
    }
}

impl Appended {
    /// A file that was just made.
    pub fn new(file: Box<dyn DiskFile>) -> Self {
        Self { file, synced_bytes: 0, owed: Vec::new(), written: 0, to_cut: false }
    }

    /// Owes more bytes: whole lines or records only, for a failed write is cut back to the last push.
    pub fn push(&mut self, bytes: &[u8]) {
        self.owed.extend_from_slice(bytes);
    }

    /// Writes what is owed. After an error the file is cut back to what was whole in it, and the bytes are still owed.
    pub async fn write(&mut self) -> io::Result<()> {
        self.cut().await?;
        let Some(new) = self.owed.get(self.written..).filter(|new| !new.is_empty()) else { return Ok(()) };
        match self.file.append(new).await {
            Ok(()) => {
                self.written = self.owed.len();
                Ok(())
            }
            Err(error) => {
                self.to_cut = true;
                // At once, so that a file on a full disk ends with a whole row if we are killed now; if
                // this fails too, the next write tries again.
                let _ = self.cut().await;
                Err(error)
            }
        }
    }

    /// Writes what is owed and returns when it is on the disk; after an error the bytes are still owed.
    pub async fn sync(&mut self) -> io::Result<()> {
        self.write().await?;
        if self.owed.is_empty() {
            return Ok(());
        }
        match self.file.sync().await {
            Ok(()) => {
                self.synced_bytes += self.owed.len() as u64;
                self.owed.clear();
                self.written = 0;
                Ok(())
            }
            Err(error) => {
                (self.written, self.to_cut) = (0, true);
                Err(error)
            }
        }
    }

    async fn cut(&mut self) -> io::Result<()> {
        if self.to_cut {
            self.file.cut_to(self.synced_bytes + self.written as u64).await?;
            self.to_cut = false;
        }
        Ok(())
    }
}
