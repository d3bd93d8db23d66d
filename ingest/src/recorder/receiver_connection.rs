//! The port of the GNSS receiver, as the recorder sees it live.

use super::RecordError;
use super::port_watch::PortWatch;
use crate::gnss::{Fix, Receiver};
use crate::port::ToPort;
use crate::run_event::{Item, RunEvent};
use crate::run_toml::GnssInfo;
use crate::wire_file::{Record, WireEvent};
use firmware_protocol::{Event, PortDecoder};
use std::path::PathBuf;
use std::time::Duration;
use tokio::sync::mpsc;
use tokio::time::Instant;

/// A receiver says something at least once in a few seconds; silent for longer than the first, its port is
/// opened anew, then after twice that, up to the second.
const SILENCE: [Duration; 2] = [Duration::from_secs(5), Duration::from_secs(40)];

/// A port and its receiver.
#[derive(Debug)]
pub struct ReceiverConnection {
    /// The port.
    pub watch: PortWatch,
    /// The live state machine; the one that writes is the writer's.
    pub live: Receiver,
    /// The latest fix.
    pub last_fix: Option<Fix>,
    /// Live time of the run's time 0, in µs.
    pub began_us: u64,
    baud: u32,
    /// Looks for a sensor box on this port until the run begins.
    decoder: Option<PortDecoder>,
    box_frames: u64,
}

impl ReceiverConnection {
    /// A connection whose port is about to be served.
    pub fn new(port: PathBuf, baud: u32, orders: mpsc::Sender<ToPort>) -> Self {
        Self {
            watch: PortWatch::new(port, orders, SILENCE),
            live: Receiver::default(),
            last_fix: None,
            began_us: 0,
            baud,
            decoder: Some(PortDecoder::new()),
            box_frames: 0,
        }
    }

    /// Takes a record live; returns events that the operator should know of.
    pub fn take(&mut self, record: &Record, now: Instant) -> Vec<RunEvent> {
        self.watch.take(&record.what, now);
        match &record.what {
            WireEvent::Received(bytes) => self.look_for_a_box(bytes),
            WireEvent::Started => self.decoder = None,
            _ => {}
        }
        let mut items = Vec::new();
        self.live.take(record, &mut items);
        let (fixes, events) = Item::split(items);
        self.last_fix = fixes.last().copied().or(self.last_fix);
        events
    }

    fn look_for_a_box(&mut self, mut bytes: &[u8]) {
        let Some(decoder) = &mut self.decoder else { return };
        while let Some(event) = decoder.next_event(&mut bytes) {
            self.box_frames += u64::from(matches!(event, Event::Frame(_)));
        }
    }

    /// Whether a run can begin: fixes can come, and whether there is one now is known. That it is not
    /// there yet is no reason to wait.
    pub fn is_ready(&self) -> bool {
        self.live.can_give_fixes() && self.live.has_fix.is_some()
    }

    /// After it was listened to for a while: whether it is a receiver that can give fixes.
    pub fn check(&self) -> Result<(), RecordError> {
        if self.live.can_give_fixes() {
            return Ok(());
        }
        let port = self.watch.port.clone();
        let counters = self.live.counters();
        if self.box_frames > 0 {
            return Err(RecordError::GnssIsABox(port));
        }
        if counters.bytes == 0 {
            return Err(RecordError::GnssSilent(port));
        }
        if counters.sentences == 0 && self.live.without_checksum() > 0 {
            return Err(RecordError::GnssNoChecksums(port));
        }
        if counters.sentences == 0 {
            return Err(RecordError::GnssNoSentence { port, baud: self.baud });
        }
        let kinds: Vec<_> = self.live.kinds.iter().map(|kind| kind.name()).collect();
        let sends =
            if kinds.is_empty() { "neither of these".to_owned() } else { kinds.join(" and ") + " only" };
        Err(RecordError::GnssOfNoUse { port, sends })
    }

    /// The receiver, for `run.toml`. Counters come at the end.
    pub fn info(&self) -> GnssInfo {
        GnssInfo {
            port: self.watch.port.display().to_string(),
            baud: self.baud,
            talkers: self.live.talkers(),
            sentences: sentence_names(&self.live),
            residual_ms: None,
            counters: None,
        }
    }
}

/// Kinds of the sentences that were read, for `run.toml`.
pub fn sentence_names(receiver: &Receiver) -> Vec<String> {
    receiver.kinds.iter().map(|kind| kind.name().to_owned()).collect()
}
