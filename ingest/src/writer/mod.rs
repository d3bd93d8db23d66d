//! The thread that owns the disk.
//!
//! It takes records from the queue, writes them to the wire files first, then what comes of them to the
//! files of rows and events, and syncs all of them every half second. When a write fails it cuts the file
//! back to the last whole row, says so, and tries again until it succeeds; meanwhile records wait in the
//! queue and, when that is full, are dropped *before* the wire and counted in it. So rows and events are
//! always what a rebuild of the wire gives, whatever the disk did.
//!
//! With each sync it looks whether the run folder still is where it was made. If somebody deleted it or moved it
//! away, it makes another one beside it, whole from the run's beginning: the files are still open, and what
//! was written is copied out of them.

mod described;
mod disk;
mod queue;

pub use described::Described;
pub use disk::{Appended, Call, Disk, DiskFile, FolderDisk};
pub use queue::{QUEUE_BYTES_MAX, Queue};

use crate::assemble::Assembler;
use crate::csv_text::EVENTS_HEADER;
use crate::gnss::Receiver;
use crate::run_toml::RunDescription;
use crate::tables::Tables;
use crate::wire_file::{Record, WIRE_MAGIC};
use std::io;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;
use tokio::time::Instant;

/// How often the writer does what.
#[derive(Clone, Copy, Debug)]
pub struct Pace {
    /// Records are gathered for this long before they are written.
    pub gather: Duration,
    /// From sync to sync: with `gather`, well under the second that a kill or power cut may cost.
    pub sync: Duration,
    /// From one try to the next when the disk fails.
    pub retry: Duration,
    /// After the run has ended, a failing disk is given this long.
    pub give_up: Duration,
}

impl Pace {
    /// For a real disk.
    pub const RECORDING: Self = Self {
        gather: Duration::from_millis(50),
        sync: Duration::from_millis(500),
        retry: Duration::from_millis(250),
        give_up: Duration::from_millis(700),
    };
}

/// What became of the run folder.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum FolderNews {
    /// It no longer is where it was made.
    Gone(PathBuf),
    /// The run is written into this one, which has all of it.
    GoesOn(PathBuf),
}

/// How the writer is doing, for the recorder to look at.
#[derive(Clone, Debug)]
pub struct WriterState {
    /// What became of the run folder, and nobody has been told yet.
    pub news: Vec<FolderNews>,
    /// What the disk said, while it fails.
    pub trouble: Option<String>,
    /// When the writer was last seen between two calls to the disk.
    pub alive: Instant,
}

/// The state, shared.
pub type SharedState = Arc<Mutex<WriterState>>;

/// What is left when the writer has ended.
pub struct WrittenRun {
    /// The state machines of the boxes, for their counters and clocks.
    pub assemblers: Vec<Assembler>,
    /// That of the GNSS receiver.
    pub receiver: Option<Receiver>,
    /// What the disk said if not everything could be written.
    pub unwritten: Option<String>,
    /// What was recorded.
    pub description: RunDescription,
    /// The folder of the run.
    pub disk: Box<dyn Disk>,
}

impl std::fmt::Debug for WrittenRun {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("WrittenRun").field("folder", &self.disk.folder()).finish_non_exhaustive()
    }
}

struct PortFiles {
    wire: Appended,
    rows: Appended,
}

/// What is written in one go, and tried again as one.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Step {
    Wire,
    Tables,
    TablesAndSync,
}

/// Writes the files of one run.
pub struct Writer {
    disk: Box<dyn Disk>,
    described: Described,
    /// The folder is gone, and that has been said.
    gone: bool,
    ports: Vec<PortFiles>,
    events: Appended,
    tables: Tables,
    pace: Pace,
    /// How it is doing.
    pub state: SharedState,
}

impl std::fmt::Debug for Writer {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Writer").field("ports", &self.ports.len()).finish_non_exhaustive()
    }
}

impl Writer {
    /// Makes the files of a run in a folder that was just made: what describes it, `NAME.wire` and `NAME.csv` for
    /// each port of the tables, and `events.csv`. If anything fails, nothing of the folder is left.
    pub fn create(
        mut disk: Box<dyn Disk>,
        mut described: Described,
        tables: Tables,
        pace: Pace,
    ) -> io::Result<Self> {
        let made = described.write(disk.as_mut()).and_then(|()| {
            let files = make_files(disk.as_mut(), &tables)?;
            disk.sync_names().map(|()| files)
        });
        let mut files = made.inspect_err(|_| disk.discard())?.into_iter().map(Appended::new);
        let mut ports = Vec::new();
        for _ in tables.files() {
            let (Some(mut wire), Some(rows)) = (files.next(), files.next()) else { break };
            wire.push(WIRE_MAGIC);
            ports.push(PortFiles { wire, rows });
        }
        let Some(mut events) = files.next() else { return Err(io::Error::other("files are missing")) };
        events.push(EVENTS_HEADER.as_bytes());
        let state = WriterState { news: Vec::new(), trouble: None, alive: Instant::now() };
        Ok(Self {
            disk,
            described,
            gone: false,
            ports,
            events,
            tables,
            pace,
            state: Arc::new(Mutex::new(state)),
        })
    }

    /// Where the run is written.
    pub fn folder(&self) -> &Path {
        self.disk.folder()
    }

    /// Writes what comes from the queue until it is closed.
    pub async fn run(mut self, queue: &Queue) -> WrittenRun {
        let mut synced = Instant::now();
        let mut unwritten = None;
        let mut closed = false;
        while !closed && unwritten.is_none() {
            // With nothing to write it sleeps until it is time to look at the folder.
            let patience = self.pace.sync.saturating_sub(synced.elapsed());
            let (mut records, over) = queue.take(patience).await;
            closed = over;
            if !(closed || records.is_empty()) {
                // One write of many records instead of many of one.
                tokio::time::sleep(self.pace.gather).await;
                let (more, over) = queue.take(Duration::ZERO).await;
                records.extend(more);
                closed = over;
            }
            let to_sync = closed || synced.elapsed() >= self.pace.sync;
            unwritten = self.write(&records, to_sync, queue).await.err();
            if to_sync {
                synced = Instant::now();
            }
        }
        let numbers = 0..self.ports.len();
        let assemblers = numbers.filter_map(|number| self.tables.assembler(number).cloned()).collect();
        let receiver = self.tables.receiver().cloned();
        let unwritten = unwritten.map(|error| error.to_string());
        let description = self.described.description;
        WrittenRun { assemblers, receiver, unwritten, description, disk: self.disk }
    }

    /// The wire first: rows and events are made of what is in it.
    async fn write(&mut self, records: &[(usize, Record)], to_sync: bool, queue: &Queue) -> io::Result<()> {
        let mut bytes = Vec::new();
        for (number, record) in records {
            bytes.clear();
            record.write_to(&mut bytes);
            if let Some(files) = self.ports.get_mut(*number) {
                files.wire.push(&bytes);
            }
        }
        self.until_done(queue, Step::Wire).await?;
        let (mut rows, mut events) = (String::new(), String::new());
        for (number, record) in records {
            if let Some(files) = self.ports.get_mut(*number) {
                self.tables.take(*number, record, &mut rows, &mut events);
                files.rows.push(rows.as_bytes());
                rows.clear();
            }
        }
        self.events.push(events.as_bytes());
        self.until_done(queue, if to_sync { Step::TablesAndSync } else { Step::Tables }).await
    }

    async fn do_step(&mut self, step: Step) -> io::Result<()> {
        for files in &mut self.ports {
            match step {
                Step::Wire => files.wire.write().await?,
                Step::Tables | Step::TablesAndSync => files.rows.write().await?,
            }
        }
        if step == Step::Wire {
            return Ok(());
        }
        self.events.write().await?;
        if step == Step::TablesAndSync {
            for files in &mut self.ports {
                files.wire.sync().await?;
                files.rows.sync().await?;
            }
            self.events.sync().await?;
        }
        Ok(())
    }

    /// Tries until it is done; gives up only when the run is over and the disk still fails.
    async fn until_done(&mut self, queue: &Queue, step: Step) -> io::Result<()> {
        let mut over_since: Option<Instant> = None;
        let mut failing = false;
        loop {
            // While the disk fails, each time: room may be made by deleting the run.
            let to_look = step == Step::TablesAndSync || failing;
            let done = match if to_look { self.stay_there().await } else { Ok(()) } {
                Ok(()) => self.do_step(step).await,
                Err(error) => Err(error),
            };
            failing = done.is_err();
            self.report(done.as_ref().err().map(ToString::to_string));
            let Err(error) = done else { return Ok(()) };
            if queue.is_closed() && over_since.get_or_insert_with(Instant::now).elapsed() >= self.pace.give_up
            {
                return Err(error);
            }
            tokio::time::sleep(self.pace.retry).await;
        }
    }

    fn report(&self, trouble: Option<String>) {
        let mut state = self.state.lock().unwrap_or_else(PoisonError::into_inner);
        (state.trouble, state.alive) = (trouble, Instant::now());
    }

    fn tell(&self, news: FolderNews) {
        self.state.lock().unwrap_or_else(PoisonError::into_inner).news.push(news);
    }

    /// Goes on in another folder, whole from the run's beginning, if this one no longer is where it was made.
    async fn stay_there(&mut self) -> io::Result<()> {
        if self.disk.is_there() {
            if std::mem::take(&mut self.gone) {
                // It was put back.
                self.tell(FolderNews::GoesOn(self.disk.folder().to_owned()));
            }
            return Ok(());
        }
        if !std::mem::replace(&mut self.gone, true) {
            self.tell(FolderNews::Gone(self.disk.folder().to_owned()));
        }
        let because = |error: io::Error| {
            io::Error::new(
                error.kind(),
                format!("the run folder is gone and cannot be written again: {error}"),
            )
        };
        let mut disk = self.disk.beside().map_err(because)?;
        let id = self.described.description.run.id.clone();
        match self.copied_into(disk.as_mut()).await {
            Ok(files) => {
                self.appended().zip(files).for_each(|(appended, file)| appended.go_on_in(file));
                self.disk = disk;
                self.gone = false;
                self.tell(FolderNews::GoesOn(self.disk.folder().to_owned()));
                Ok(())
            }
            Err(error) => {
                // It is ours: it was made exclusively a moment ago.
                disk.discard();
                self.described.description.run.id = id;
                Err(because(error))
            }
        }
    }

    /// The files of the run in another folder, each with all that is safely in the one that it stands for.
    async fn copied_into(&mut self, disk: &mut dyn Disk) -> io::Result<Vec<Box<dyn DiskFile>>> {
        self.described.write(disk)?;
        let mut files = make_files(disk, &self.tables)?;
        let state = Arc::clone(&self.state);
        for (appended, file) in self.appended().zip(&mut files) {
            let mut copied = 0;
            while let piece @ 1.. = appended.copy_piece(file.as_mut(), copied).await? {
                copied += piece;
                state.lock().unwrap_or_else(PoisonError::into_inner).alive = Instant::now();
            }
        }
        disk.sync_names()?;
        Ok(files)
    }

    /// All files, in the order of [`make_files`].
    fn appended(&mut self) -> impl Iterator<Item = &mut Appended> {
        let of_ports = self.ports.iter_mut().flat_map(|files| [&mut files.wire, &mut files.rows]);
        of_ports.chain(std::iter::once(&mut self.events))
    }
}

/// Makes the files that are appended to: raw bytes and rows of each port, then the events.
fn make_files(disk: &mut dyn Disk, tables: &Tables) -> io::Result<Vec<Box<dyn DiskFile>>> {
    let of_ports =
        tables.files().into_iter().flat_map(|file| [format!("{file}.wire"), format!("{file}.csv")]);
    of_ports.chain(["events.csv".to_owned()]).map(|name| disk.create(&name)).collect()
}

#[cfg(test)]
mod tests;
