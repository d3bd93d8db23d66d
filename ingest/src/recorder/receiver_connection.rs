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

/// A receiver that can give fixes shows it within this time.
const PATIENCE: Duration = Duration::from_secs(5);

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
    /// What was told last of what it lacks.
    told: Option<String>,
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
            told: None,
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

    /// Why runs are without what a receiver gives, in one sentence; `None` while it gives it, or may yet.
    pub fn lacking(&self, now: Instant) -> Option<String> {
        let why = match self.watch.waits(now) {
            Some(waits) => waits,
            None if self.watch.listened(now) >= PATIENCE => self.check().err()?.to_string(),
            None => return None,
        };
        Some(format!("without the GNSS receiver: {why}"))
    }

    /// The next line to be told of a receiver that was never of use. One that was and goes tells it by its events.
    pub fn news(&mut self, now: Instant) -> Option<String> {
        if self.live.can_give_fixes() {
            return self.told.take().map(|_| {
                format!("the GNSS receiver on port {} sends places and speeds now", self.watch.port.display())
            });
        }
        let lacking = self.lacking(now).filter(|lacking| self.told.as_ref() != Some(lacking))?;
        self.told = Some(lacking.clone());
        Some(lacking)
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::script::nmea_line;

    /// A port without a device, then one that says nothing, then a receiver.
    #[test]
    fn a_receiver_that_is_missing_is_told_once_and_again_when_it_comes() {
        let (orders, _ordered) = mpsc::channel(4);
        let mut gnss = ReceiverConnection::new(PathBuf::from("/dev/gnss"), 9600, orders);
        let began = Instant::now();
        let happens = |gnss: &mut ReceiverConnection, ms: u64, what| {
            gnss.take(&Record { host_us: ms * 1000 + 1, what }, began + Duration::from_millis(ms));
        };
        let at = |ms| began + Duration::from_millis(ms);
        happens(&mut gnss, 0, WireEvent::PortGone("there is no such port".to_owned()));
        let missing = "without the GNSS receiver: waiting for /dev/gnss: there is no such port";
        assert_eq!(gnss.lacking(at(0)).as_deref(), Some(missing));
        assert_eq!((gnss.news(at(0)).as_deref(), gnss.news(at(100))), (Some(missing), None));
        happens(&mut gnss, 1000, WireEvent::PortOpened("/dev/gnss".to_owned()));
        assert_eq!((gnss.lacking(at(5900)), gnss.news(at(5900))), (None, None), "it may yet");
        let silent = gnss.news(at(6000)).unwrap();
        assert!(
            silent.starts_with("without the GNSS receiver: nothing arrives on port /dev/gnss"),
            "{silent}"
        );
        let rmc = nmea_line("GNRMC,000001.00,A,3000.0000,N,04000.0000,W,3.600,80.0,010127,,,A");
        happens(&mut gnss, 7000, WireEvent::Received(rmc.into_bytes()));
        let there = "the GNSS receiver on port /dev/gnss sends places and speeds now";
        assert_eq!((gnss.lacking(at(7000)), gnss.news(at(7000)).as_deref()), (None, Some(there)));
        // Its events tell of it from now on.
        happens(&mut gnss, 8000, WireEvent::PortGone("hung up".to_owned()));
        assert!(
            gnss.lacking(at(9000)).unwrap().contains("waiting for /dev/gnss: it went away (hung up). Eng")
        );
        assert_eq!(gnss.news(at(9000)), None);
    }
}
