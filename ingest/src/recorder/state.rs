//! The recorder at work, and how what happens reaches the live view and the writer.

use super::connection::Connection;
use super::console::Wish;
use super::early::Early;
use super::host::Host;
use super::notices::Notices;
use super::port_watch::PortWatch;
use super::receiver_connection::ReceiverConnection;
use super::{LiveRows, RecordConfig, View};
use crate::port::PortMessage;
use crate::run_event::{EventKind, RunEvent};
use crate::tables::GNSS_FILE;
use crate::wire_file::{Record, WireEvent};
use crate::writer::Queue;
use std::sync::Arc;
use tokio::sync::mpsc;
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

    fn record(&mut self, at: Instant, what: WireEvent) -> Record {
        self.last_us = self.host_us(at).max(self.last_us + 1);
        Record { host_us: self.last_us, what }
    }
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
    /// Records from before the folder was made.
    pub(super) early: Early,
    pub(super) queue: Option<Arc<Queue>>,
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

    /// Gives an event its time and hands it to the live view and to the writer.
    pub(super) fn on_event(&mut self, number: usize, at: Instant, what: WireEvent) {
        let record = self.ledger.record(at, what);
        let is_gnss = number == self.connections.len();
        let events = match (self.connections.get_mut(number), &mut self.gnss) {
            (Some(connection), _) => {
                let (rows, events) = connection.take(&record, at);
                if !rows.is_empty() {
                    let columns = connection.live.columns();
                    self.view.readings(&LiveRows { number, columns, rows: &rows });
                }
                events
            }
            (None, Some(gnss)) if is_gnss => gnss.take(&record, at),
            _ => return,
        };
        match &self.queue {
            Some(queue) => queue.push(number, record),
            None => {
                let connection = self.connections.get(number);
                let has_hello =
                    connection.is_some_and(|connection| connection.live.handshake.hello.is_some());
                self.early.push(number, record, has_hello);
            }
        }
        let several = self.connections.len() > 1;
        for RunEvent { t_us, kind, detail } in events {
            // Before the run begins nothing is worth a line but what stops it.
            if self.queue.is_none()
                || matches!(kind, EventKind::FirstRow | EventKind::Ended | EventKind::NewFolder)
            {
                continue;
            }
            let file = self.connections.get(number).map_or(GNSS_FILE, |connection| connection.file.as_str());
            let of_box = if several || is_gnss { format!("{file}: ") } else { String::new() };
            let t_s = t_us as f64 / 1e6;
            let line = format!("{t_s:.1} s: {of_box}{}: {detail}", kind.name());
            self.notices.show(self.view, (number, kind.name()), &line);
        }
    }

    pub(super) fn on_message(&mut self, message: PortMessage) {
        // First, so that what came after a sleep is never held against clocks of before it.
        self.check_wall_clock();
        self.on_event(message.number, message.at, message.what);
    }
}
