//! The thread that owns the disk.
//!
//! It takes records from the queue, writes them to the wire files first, then what comes of them to the
//! files of rows and events, and syncs all of them every half second. When a write fails it cuts the file
//! back to the last whole row, says so, and tries again until it succeeds; meanwhile records wait in the
//! queue and, when that is full, are dropped *before* the wire and counted in it. So rows and events are
//! always what a rebuild of the wire gives, whatever the disk did.

mod disk;
mod queue;

pub use disk::{Appended, Call, Disk, DiskFile, FolderDisk};
pub use queue::{QUEUE_BYTES_MAX, Queue};

use crate::assemble::Assembler;
use crate::csv_text::EVENTS_HEADER;
use crate::gnss::Receiver;
use crate::tables::Tables;
use crate::wire_file::{Record, WIRE_MAGIC};
use std::io;
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

/// How the writer is doing, for the recorder to look at.
#[derive(Clone, Debug)]
pub struct WriterState {
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
    /// Makes the files of a run: `NAME.wire` and `NAME.csv` for each port of the tables, and
    /// `events.csv`.
    pub fn create(disk: &mut dyn Disk, tables: Tables, pace: Pace) -> io::Result<Self> {
        let ports = tables
            .files()
            .iter()
            .map(|file| {
                let mut wire = Appended::new(disk.create(&format!("{file}.wire"))?);
                wire.push(WIRE_MAGIC);
                let rows = Appended::new(disk.create(&format!("{file}.csv"))?);
                Ok(PortFiles { wire, rows })
            })
            .collect::<io::Result<Vec<_>>>()?;
        let mut events = Appended::new(disk.create("events.csv")?);
        events.push(EVENTS_HEADER.as_bytes());
        let state = Arc::new(Mutex::new(WriterState { trouble: None, alive: Instant::now() }));
        Ok(Self { ports, events, tables, pace, state })
    }

    /// Writes what comes from the queue until it is closed, into the folder in which the files were made.
    pub async fn run(mut self, disk: Box<dyn Disk>, queue: &Queue) -> WrittenRun {
        let mut synced = Instant::now();
        let mut unwritten = None;
        let mut closed = false;
        while !closed && unwritten.is_none() {
            let (mut records, over) = queue.take(self.pace.gather).await;
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
        WrittenRun { assemblers, receiver, unwritten, disk }
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
        loop {
            let done = self.do_step(step).await;
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
        *state = WriterState { trouble, alive: Instant::now() };
    }
}

#[cfg(test)]
mod tests;
