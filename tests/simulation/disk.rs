//! A disk in memory that fills up, stalls, and forgets at a power cut what was not synced.

use std::collections::BTreeMap;
use std::io;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex};

use ingest::recorder::{Call, Disk, DiskFile};
use rand::RngExt;
use rand_chacha::ChaCha8Rng;
use tokio::time::{Duration, Instant, sleep_until};

/// What is wrong with the disk for a while.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum DiskFault {
    /// It takes half of what is written and refuses the rest.
    Full,
    /// Nothing that is asked of it ends.
    Stalls,
    /// What was not synced is lost, and the sync that should have kept it says so.
    SyncFails,
}

/// A fault from one second to another.
#[derive(Clone, Copy, Debug)]
pub struct DiskTrouble {
    pub from_s: f64,
    pub until_s: f64,
    pub fault: DiskFault,
}

#[derive(Clone, Debug, Default)]
pub struct FileImage {
    pub content: Vec<u8>,
    synced: usize,
}

/// All files of the run, by name.
pub type Image = BTreeMap<String, FileImage>;

#[derive(Clone)]
pub struct SimDisk {
    folder: PathBuf,
    began: Instant,
    troubles: Arc<Vec<DiskTrouble>>,
    pub image: Arc<Mutex<Image>>,
}

impl SimDisk {
    pub fn new(folder: PathBuf, began: Instant, troubles: Vec<DiskTrouble>) -> Self {
        Self { folder, began, troubles: Arc::new(troubles), image: Arc::default() }
    }

    fn trouble(&self) -> Option<DiskTrouble> {
        let now_s = self.began.elapsed().as_secs_f64();
        self.troubles.iter().find(|trouble| trouble.from_s <= now_s && now_s < trouble.until_s).copied()
    }

    /// The fault of now, once a stall is over.
    async fn fault(&self) -> Option<DiskFault> {
        while let Some(DiskTrouble { fault: DiskFault::Stalls, until_s, .. }) = self.trouble() {
            sleep_until(self.began + Duration::from_secs_f64(until_s)).await;
        }
        self.trouble().map(|trouble| trouble.fault)
    }

    /// What a power cut leaves: of each file what was synced, and any part of the rest, or zeros in its place.
    pub fn after_power_cut(&self, rng: &mut ChaCha8Rng) -> BTreeMap<String, Vec<u8>> {
        let image = self.image.lock().unwrap();
        let left = |file: &FileImage, rng: &mut ChaCha8Rng| {
            let kept = rng.random_range(file.synced..=file.content.len());
            let mut left = file.content[..kept].to_vec();
            if rng.random_bool(0.3) {
                left[file.synced..].fill(0);
            }
            left
        };
        image.iter().map(|(name, file)| (name.clone(), left(file, rng))).collect()
    }

    pub fn contents(&self) -> BTreeMap<String, Vec<u8>> {
        let image = self.image.lock().unwrap();
        image.iter().map(|(name, file)| (name.clone(), file.content.clone())).collect()
    }
}

fn no_space() -> io::Error {
    io::Error::new(io::ErrorKind::StorageFull, "no space left")
}

impl Disk for SimDisk {
    fn folder(&self) -> &Path {
        &self.folder
    }
    fn create(&mut self, name: &str) -> io::Result<Box<dyn DiskFile>> {
        self.image.lock().unwrap().insert(name.to_owned(), FileImage::default());
        Ok(Box::new(SimFile { disk: self.clone(), name: name.to_owned() }))
    }
    fn replace(&mut self, name: &str, bytes: &[u8]) -> io::Result<()> {
        if self.trouble().is_some_and(|trouble| trouble.fault == DiskFault::Full) {
            return Err(no_space());
        }
        let file = FileImage { content: bytes.to_vec(), synced: bytes.len() };
        self.image.lock().unwrap().insert(name.to_owned(), file);
        Ok(())
    }
    fn sync_names(&mut self) -> io::Result<()> {
        Ok(())
    }
    fn discard(&mut self) {
        self.image.lock().unwrap().clear();
    }
}

struct SimFile {
    disk: SimDisk,
    name: String,
}

impl SimFile {
    async fn with<T>(&self, work: impl FnOnce(&mut FileImage, Option<DiskFault>) -> T) -> T {
        let fault = self.disk.fault().await;
        let mut image = self.disk.image.lock().unwrap();
        work(image.entry(self.name.clone()).or_default(), fault)
    }
}

impl DiskFile for SimFile {
    fn append<'a>(&'a mut self, bytes: &'a [u8]) -> Call<'a> {
        Box::pin(self.with(|file, fault| {
            let full = fault == Some(DiskFault::Full);
            file.content.extend_from_slice(&bytes[..if full { bytes.len() / 2 } else { bytes.len() }]);
            if full { Err(no_space()) } else { Ok(()) }
        }))
    }
    fn cut_to(&mut self, length: u64) -> Call<'_> {
        Box::pin(self.with(move |file, _| {
            file.content.truncate(usize::try_from(length).unwrap());
            file.synced = file.synced.min(file.content.len());
            Ok(())
        }))
    }
    fn sync(&mut self) -> Call<'_> {
        Box::pin(self.with(|file, fault| {
            if fault == Some(DiskFault::SyncFails) {
                file.content[file.synced..].fill(0);
                return Err(io::Error::other("input/output error"));
            }
            file.synced = file.content.len();
            Ok(())
        }))
    }
}
