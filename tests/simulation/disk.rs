//! A disk in memory that fills up, stalls, and forgets at a power cut what was not synced.

use std::collections::BTreeMap;
use std::io;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
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
    /// It says that it has synced, and has not.
    Lies,
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
    /// So much it said that it had synced.
    said: usize,
    /// What was in the file that this one replaced while the disk lied: a power cut may bring it back.
    before: Option<Vec<u8>>,
}

/// All files of the run, by folder and name. A folder that is gone was moved away: it stays as it was.
pub type Image = BTreeMap<(PathBuf, String), FileImage>;

#[derive(Clone)]
pub struct SimDisk {
    /// Of the first folder of the run.
    name: String,
    folder: PathBuf,
    began: Instant,
    troubles: Arc<Vec<DiskTrouble>>,
    /// When the folder of the run is moved away.
    gone_s: Arc<Vec<f64>>,
    made: Instant,
    number: u32,
    image: Arc<Mutex<Image>>,
    /// The newest folder in which all files are there by name.
    whole: Arc<Mutex<PathBuf>>,
    /// A sync that failed took what another had said to be kept.
    betrayed: Arc<AtomicBool>,
}

impl SimDisk {
    /// A folder for a run on a disk that has these troubles, in a world that began then.
    pub fn new(folder: PathBuf, began: Instant, troubles: Vec<DiskTrouble>, gone_s: Vec<f64>) -> Self {
        Self {
            whole: Arc::new(Mutex::new(folder.clone())),
            name: folder.display().to_string(),
            folder,
            began,
            troubles: Arc::new(troubles),
            gone_s: Arc::new(gone_s),
            made: Instant::now(),
            number: 1,
            image: Arc::default(),
            betrayed: Arc::default(),
        }
    }

    /// The files of the run in its newest whole folder.
    fn files(&self) -> Vec<(String, FileImage)> {
        let (image, whole) = (self.image.lock().unwrap(), self.whole.lock().unwrap());
        let of_folder = image.iter().filter(|((folder, _), _)| *folder == *whole);
        of_folder.map(|((_, name), file)| (name.clone(), file.clone())).collect()
    }

    /// Where the run is at last.
    pub fn last_folder(&self) -> PathBuf {
        self.whole.lock().unwrap().clone()
    }

    fn key(&self, name: &str) -> (PathBuf, String) {
        (self.folder.clone(), name.to_owned())
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
        let left = |file: &FileImage, rng: &mut ChaCha8Rng| {
            if let Some(before) = file.before.as_ref().filter(|_| rng.random_bool(0.5)) {
                return before.clone();
            }
            let kept = rng.random_range(file.synced..=file.content.len());
            let mut left = file.content[..kept].to_vec();
            if rng.random_bool(0.3) {
                left[file.synced..].fill(0);
            }
            left
        };
        self.files().into_iter().map(|(name, file)| (name, left(&file, rng))).collect()
    }

    /// Whether it has lost, with no power cut, what it had said to be kept.
    pub fn is_betrayed(&self) -> bool {
        self.betrayed.load(Ordering::Relaxed)
    }

    /// Whether something is not on the disk that a power cut would take.
    pub fn is_unsynced(&self) -> bool {
        self.files().iter().any(|(_, file)| file.synced < file.content.len() || file.before.is_some())
    }

    pub fn contents(&self) -> BTreeMap<String, Vec<u8>> {
        self.files().into_iter().map(|(name, file)| (name, file.content)).collect()
    }
}

fn no_space() -> io::Error {
    io::Error::new(io::ErrorKind::StorageFull, "no space left")
}

impl Disk for SimDisk {
    fn folder(&self) -> &Path {
        &self.folder
    }
    fn is_there(&self) -> bool {
        let (made_s, now_s) = (
            self.made.saturating_duration_since(self.began).as_secs_f64(),
            self.began.elapsed().as_secs_f64(),
        );
        !self.gone_s.iter().any(|gone_s| made_s < *gone_s && *gone_s <= now_s)
    }
    fn beside(&mut self) -> io::Result<Box<dyn Disk>> {
        let number = self.number + 1;
        let folder = PathBuf::from(format!("{}_{number}", self.name));
        Ok(Box::new(Self { folder, number, made: Instant::now(), ..self.clone() }))
    }
    fn create(&mut self, name: &str) -> io::Result<Box<dyn DiskFile>> {
        self.image.lock().unwrap().insert(self.key(name), FileImage::default());
        Ok(Box::new(SimFile { disk: self.clone(), name: name.to_owned() }))
    }
    fn replace(&mut self, name: &str, bytes: &[u8]) -> io::Result<()> {
        let fault = self.trouble().map(|trouble| trouble.fault);
        if fault == Some(DiskFault::Full) {
            return Err(no_space());
        }
        let mut image = self.image.lock().unwrap();
        let before = image.get(&self.key(name)).map(|file| file.content.clone());
        let before = before.filter(|_| fault == Some(DiskFault::Lies));
        image.insert(
            self.key(name),
            FileImage { content: bytes.to_vec(), synced: bytes.len(), said: bytes.len(), before },
        );
        Ok(())
    }
    fn sync_names(&mut self) -> io::Result<()> {
        self.whole.lock().unwrap().clone_from(&self.folder);
        Ok(())
    }
    fn discard(&mut self) {
        self.image.lock().unwrap().retain(|(folder, _), _| *folder != self.folder);
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
        work(image.entry(self.disk.key(&self.name)).or_default(), fault)
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
            file.said = file.said.min(file.content.len());
            Ok(())
        }))
    }
    fn read(&mut self, from: u64, at_most: usize) -> Call<'_, Vec<u8>> {
        Box::pin(self.with(move |file, _| {
            let from = usize::try_from(from).unwrap();
            Ok(file.content[from..].iter().take(at_most).copied().collect())
        }))
    }
    fn sync(&mut self) -> Call<'_> {
        let betrayed = Arc::clone(&self.disk.betrayed);
        Box::pin(self.with(move |file, fault| {
            if fault == Some(DiskFault::SyncFails) {
                file.content[file.synced..].fill(0);
                betrayed.fetch_or(file.said > file.synced, Ordering::Relaxed);
                return Err(io::Error::other("input/output error"));
            }
            file.said = file.content.len();
            if fault != Some(DiskFault::Lies) {
                file.synced = file.content.len();
            }
            Ok(())
        }))
    }
}
