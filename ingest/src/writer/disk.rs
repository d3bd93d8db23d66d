//! The disk, behind a trait so that one that fails can be put underneath.

use crate::run_folder::{create_numbered, folder_of, sync_folder, write_whole};
use crate::system::{Identity, identity};
use std::fs::{File, OpenOptions};
use std::io::{self, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};
use std::pin::Pin;

/// A call to the disk under way: a slow disk keeps the writer waiting, and nobody else.
pub type Call<'a, T = ()> = Pin<Box<dyn Future<Output = io::Result<T>> + Send + 'a>>;

/// The folder of one run, which is there and ours.
pub trait Disk: Send {
    /// Where it is.
    fn folder(&self) -> &Path;
    /// Whether the folder and the files that were created in it still are where they were made: somebody may
    /// have deleted, moved or replaced them. A disk that does not say is taken at its word of before.
    fn is_there(&self) -> bool;
    /// Makes another folder beside where this one was, under the next number that is free.
    ///
    /// # Errors
    /// What the system said.
    fn beside(&mut self) -> io::Result<Box<dyn Disk>>;
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
    /// Reads at most so many bytes of it from a place on, wherever its name has gone; none at its end.
    fn read(&mut self, from: u64, at_most: usize) -> Call<'_, Vec<u8>>;
    /// Returns when what was appended is on the disk.
    fn sync(&mut self) -> Call<'_>;
}

/// A folder of the file system.
#[derive(Clone, Debug)]
pub struct FolderDisk {
    folder: PathBuf,
    /// The first folder of the run, and the number that this one has beside it.
    first: PathBuf,
    number: u32,
    /// The folder and the files that were created in it, as they were made.
    made: Vec<(PathBuf, Identity)>,
}

impl FolderDisk {
    /// A folder that was just made.
    ///
    /// # Errors
    /// What the system said of it.
    pub fn new(folder: PathBuf) -> io::Result<Self> {
        Self::numbered(folder.clone(), folder, 1)
    }

    fn numbered(folder: PathBuf, first: PathBuf, number: u32) -> io::Result<Self> {
        let made = vec![(folder.clone(), identity(&std::fs::metadata(&folder)?))];
        Ok(Self { folder, first, number, made })
    }
}

impl Disk for FolderDisk {
    fn folder(&self) -> &Path {
        &self.folder
    }
    fn is_there(&self) -> bool {
        self.made.iter().all(|(path, made)| match std::fs::metadata(path) {
            Ok(about) => identity(&about) == *made,
            Err(error) => !matches!(error.kind(), io::ErrorKind::NotFound | io::ErrorKind::NotADirectory),
        })
    }
    fn beside(&mut self) -> io::Result<Box<dyn Disk>> {
        let parent = folder_of(&self.first);
        std::fs::create_dir_all(parent)?;
        let name = self.first.file_name().unwrap_or_default().to_string_lossy();
        let (folder, number) = create_numbered(parent, &name, self.number + 1)?;
        Ok(Box::new(Self::numbered(folder, self.first.clone(), number)?))
    }
    fn create(&mut self, name: &str) -> io::Result<Box<dyn DiskFile>> {
        let path = self.folder.join(name);
        // In append mode each write goes to the end, wherever a cut has put it. What is open for reading as well
        // can be copied when its name is gone.
        let file = OpenOptions::new().read(true).append(true).create_new(true).open(&path)?;
        self.made.push((path, identity(&file.metadata()?)));
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
    fn read(&mut self, from: u64, at_most: usize) -> Call<'_, Vec<u8>> {
        let read = |file: &mut Self| {
            let mut bytes = Vec::new();
            file.seek(SeekFrom::Start(from))?;
            file.take(at_most as u64).read_to_end(&mut bytes)?;
            Ok(bytes)
        };
        Box::pin(std::future::ready(read(self)))
    }
    fn sync(&mut self) -> Call<'_> {
        Box::pin(std::future::ready(self.sync_data()))
    }
}

/// Bytes that are copied in one go.
const COPY_BYTES: usize = 1024 * 1024;

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

    /// Copies a piece of what is safely in the file, from a place on, to the end of another one. Gives its length: 0 at the
    /// end, when all of the copy is on the disk.
    pub async fn copy_piece(&mut self, to: &mut dyn DiskFile, from: u64) -> io::Result<u64> {
        let left = self.synced_bytes.saturating_sub(from);
        let at_most = usize::try_from(left).map_or(COPY_BYTES, |left| left.min(COPY_BYTES));
        if at_most == 0 {
            to.sync().await?;
            return Ok(0);
        }
        let piece = self.file.read(from, at_most).await?;
        if piece.is_empty() {
            return Err(io::Error::new(io::ErrorKind::UnexpectedEof, "it is shorter than what was written"));
        }
        to.append(&piece).await?;
        Ok(piece.len() as u64)
    }

    /// Goes on in a file that has a copy of what is safely in this one; the rest is still owed.
    pub fn go_on_in(&mut self, file: Box<dyn DiskFile>) {
        self.file = file;
        (self.written, self.to_cut) = (0, false);
    }

    async fn cut(&mut self) -> io::Result<()> {
        if self.to_cut {
            self.file.cut_to(self.synced_bytes + self.written as u64).await?;
            self.to_cut = false;
        }
        Ok(())
    }
}
