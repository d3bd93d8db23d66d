//! The recorder at work, and how what happens reaches the live view and the writer.

use super::by_plow::ByPlow;
use super::connection::Connection;
use super::console::Wish;
use super::host::Host;
use super::look_back::{LookBack, SoFar, as_said};
use super::notices::Notices;
use super::port_watch::PortWatch;
use super::receiver_connection::ReceiverConnection;
use super::{LiveRows, PassChoice, RecordConfig, View};
use crate::passes::still::Standing;
use crate::port::PortMessage;
use crate::run_event::{EventKind, RunEvent};
use crate::tables::GNSS_FILE;
use crate::wire_file::{Record, WireEvent};
use crate::writer::{Queue, SharedState, WrittenRun};
use firmware_protocol::Hello;
use std::path::PathBuf;
use std::sync::Arc;
use tokio::sync::{mpsc, oneshot};
use tokio::time::Instant;

/// Gives records their times, rising over all boxes: so their order can be found again from the files.
pub(super) struct Ledger {
    pub(super) epoch: Instant,
    last_us: u64,
}

impl Ledger {
    pub(super) fn new(epoch: Instant) -> Self {
        Self { epoch, last_us: 0 }
    }

    /// Host time in µs since the recorder began to listen.
    pub(super) fn host_us(&self, at: Instant) -> u64 {
        // 64 bits last for more than half a million years.
        at.saturating_duration_since(self.epoch).as_micros() as u64
    }

    /// A moment of its own.
    pub(super) fn moment_us(&mut self, at: Instant) -> u64 {
        self.last_us = self.host_us(at).max(self.last_us + 1);
        self.last_us
    }

    fn record(&mut self, at: Instant, what: WireEvent) -> Record {
        Record { host_us: self.moment_us(at), what }
    }
}

/// A run that is being recorded.
#[derive(Debug)]
pub(super) struct Run {
    pub(super) queue: Arc<Queue>,
    pub(super) state: SharedState,
    pub(super) written: oneshot::Receiver<WrittenRun>,
    pub(super) folder: PathBuf,
    /// Where it goes on since that folder was deleted or moved away, in one sentence.
    pub(super) away: Option<String>,
    /// What comes once its last data are written, in one sentence, where the disk takes its time with them.
    pub(super) still_written: Option<String>,
    /// The plow began it, and ends it.
    pub(super) by_plow: bool,
}

/// The recorder at work. What it does before, beside and after the loop stands in files of its own.
pub(super) struct Recorder<'a> {
    pub(super) config: &'a RecordConfig,
    pub(super) host: Arc<dyn Host>,
    pub(super) wishes: mpsc::Receiver<Wish>,
    pub(super) view: &'a mut dyn View,
    pub(super) notices: Notices,
    pub(super) ledger: Ledger,
    /// The boxes: ports number 0 and on.
    pub(super) connections: Vec<Connection>,
    /// The GNSS receiver, if there is one: the port after those of the boxes.
    pub(super) gnss: Option<ReceiverConnection>,
    pub(super) messages: mpsc::Receiver<PortMessage>,
    /// The last seconds of all ports.
    pub(super) look_back: LookBack,
    /// What the next runs are recorded with, whoever begins them.
    pub(super) choice: PassChoice,
    /// Host time from which on rows are wanted, in µs; `None` until all boxes have answered.
    pub(super) live_since_us: Option<u64>,
    /// Host time of the end of the run before, in µs.
    pub(super) last_end_us: u64,
    /// What the plow itself asks for, where it begins the runs.
    pub(super) by_plow: Option<ByPlow>,
    /// When the plow stood still, where the recorder stands by.
    pub(super) standing: Option<Standing>,
    /// The boxes that remarks were made on last.
    pub(super) remarked: Option<Vec<Hello>>,
    /// The run that is being recorded.
    pub(super) run: Option<Run>,
    pub(super) wall_less_monotonic_us: i64,
    pub(super) marks: u16,
    pub(super) trouble_told: bool,
}

impl Recorder<'_> {
    /// How many ports there are, the receiver's among them.
    pub(super) fn ports(&self) -> usize {
        self.connections.len() + usize::from(self.gnss.is_some())
    }

    /// The ports, the receiver's last.
    pub(super) fn watches(&mut self) -> impl Iterator<Item = &mut PortWatch> {
        let boxes = self.connections.iter_mut().map(|connection| &mut connection.watch);
        boxes.chain(self.gnss.as_mut().map(|gnss| &mut gnss.watch))
    }

    /// Gives an event its time and hands it to the live view, to the look-back and to the writer.
    pub(super) fn on_event(&mut self, number: usize, at: Instant, what: WireEvent) {
        let record = self.ledger.record(at, what);
        let (before, hellos) = match self.connections.get(number) {
            Some(connection) => (connection.so_far(), connection.live.handshake.hellos),
            None => (SoFar::default(), 0),
        };
        self.go_on_live(number, at, &record);
        if !matches!(record.what, WireEvent::HostMark(_) | WireEvent::NewFolder(_) | WireEvent::Ended(_)) {
            let said = self.connections.get(number).map(|connection| &connection.live.handshake);
            let form = said.and_then(|said| said.decoder.form());
            let hello = said.filter(|said| said.hellos != hellos).and_then(|said| said.hello.as_ref());
            let hello = hello.map(|hello| as_said(hello, form));
            self.look_back.push(number, record.clone(), before, (hello, form));
        }
        if let Some(run) = &self.run {
            run.queue.push(number, record);
        }
    }

    /// Hands a record to the live view.
    pub(super) fn go_on_live(&mut self, number: usize, at: Instant, record: &Record) {
        let is_gnss = number == self.connections.len();
        let began_us = self.began_us(number);
        let events = match (self.connections.get_mut(number), &mut self.gnss) {
            (Some(connection), _) => {
                let (rows, events) = connection.take(record, at);
                if !rows.is_empty() {
                    let columns = &connection.live.columns().roles;
                    self.view.readings(&LiveRows { number, columns, rows: &rows });
                    if let Some(standing) = &mut self.standing {
                        rows.iter().for_each(|row| {
                            standing.take(row.t_us as f64 / 1e6, columns, row.values());
                        });
                    }
                    if let Some(by_plow) = &mut self.by_plow {
                        let live_us = connection.live.clock().run_at_host(record.host_us);
                        by_plow.take(columns, &rows, (record.host_us, live_us));
                    }
                }
                events
            }
            (None, Some(gnss)) if is_gnss => gnss.take(record, at),
            _ => return,
        };
        let several = self.connections.len() > 1;
        for event in events {
            let RunEvent { t_us, kind, .. } = event;
            // Before rows are wanted nothing is worth a line but what stops it.
            if self.live_since_us.is_none()
                || matches!(kind, EventKind::FirstRow | EventKind::Ended | EventKind::NewFolder)
            {
                continue;
            }
            let file = self.connections.get(number).map_or(GNSS_FILE, |connection| connection.file.as_str());
            let of_box = if several || is_gnss { format!("{file}: ") } else { String::new() };
            let at_s = match &self.run {
                Some(_) => format!("{:.1} s: ", t_us.saturating_sub(began_us) as f64 / 1e6),
                None => String::new(),
            };
            let and = if kind == EventKind::PortGone { "; it is waited for" } else { "" };
            let line = format!("{at_s}{of_box}{}{and}", event.in_words());
            self.notices.show(self.view, (number, kind.name()), &line);
        }
    }

    /// Live time of the run's time 0 by the clock of a port, in µs.
    pub(super) fn began_us(&self, number: usize) -> u64 {
        match (self.connections.get(number), &self.gnss) {
            (Some(connection), _) => connection.began_us,
            (None, Some(gnss)) => gnss.began_us,
            (None, None) => 0,
        }
    }

    pub(super) fn on_message(&mut self, message: PortMessage) {
        // First, so that what came after a sleep is never held against clocks of before it.
        self.check_wall_clock();
        self.on_event(message.number, message.at, message.what);
    }
}
