//! Records of a receiver's port to fixes and events: a pure state machine, as the assembler of a box is.

use super::clock::TagClock;
use super::epoch::{Epoch, Grouper};
use super::sentence::{Position, Sentence, SentenceKind, read_sentence};
use super::splitter::Splitter;
use crate::run_event::{EventKind, Item, RunEvent};
use crate::wire_file::{Record, WireEvent};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::collections::BTreeSet;

/// Talkers that are remembered: there are seven in use, and a damaged one passes the checksum now and then.
const TALKERS_MAX: usize = 16;

/// One row of `gnss.csv`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fix {
    /// Run time in µs, strictly rising from row to row.
    pub t_us: u64,
    /// Where.
    pub position: Position,
    /// Speed over ground in m/s.
    pub speed_mps: f64,
    /// Course over ground in degrees, clockwise from true north. A receiver that stands gives none: the
    /// last known one stands here then, and 0 before the first.
    pub course_deg: f64,
}

/// What was counted for a receiver, from when the recorder began to listen.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, JsonSchema, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct GnssCounters {
    /// Rows written.
    pub fixes: u64,
    /// Fixes from before the run began; not part of it.
    pub fixes_before_start: u64,
    /// Fixes whose time did not rise, as when the receiver's time steps back; not written.
    pub fixes_not_rising: u64,
    /// Epochs for which the receiver says that it has no fix.
    pub without_fix: u64,
    /// Epochs with a fix of which position or speed never came; not written.
    pub incomplete: u64,
    /// Times that the fix was lost in the run, or not there at its beginning.
    pub no_fix_periods: u64,
    /// Sentences whose checksum was right.
    pub sentences: u64,
    /// Of these, those that are neither RMC nor GGA nor VTG.
    pub sentences_of_no_use: u64,
    /// Of these, those whose fields make no sense.
    pub sentences_malformed: u64,
    /// Lines with a `$` whose checksum was wrong or missing.
    pub bad_checksums: u64,
    /// Lines without a `$`.
    pub not_sentences: u64,
    /// Lines that went on for too long.
    pub too_long: u64,
    /// Times that the port was opened again.
    pub reconnects: u64,
    /// Bytes that came.
    pub bytes: u64,
    /// Bytes that came but could not be kept.
    pub bytes_not_kept: u64,
}

/// A period without fix.
#[derive(Clone, Copy, Debug)]
struct NoFix {
    from_us: u64,
    epochs: u64,
}

/// The state machine for one receiver.
#[derive(Clone, Debug, Default)]
pub struct Receiver {
    splitter: Splitter,
    grouper: Grouper,
    pub(crate) clock: TagClock,
    counters: GnssCounters,
    talkers: BTreeSet<[u8; 2]>,
    /// Kinds of the sentences that were read.
    pub(crate) kinds: BTreeSet<SentenceKind>,
    port_opened: bool,
    port_gone: bool,
    last_t_us: Option<u64>,
    last_course_deg: f64,
    /// Whether the last epoch had a fix; `None` before the first.
    pub(crate) has_fix: Option<bool>,
    no_fix: Option<NoFix>,
}

impl Receiver {
    /// What was counted so far.
    pub fn counters(&self) -> GnssCounters {
        let lines = self.splitter.counters();
        GnssCounters {
            sentences: lines.sentences,
            bad_checksums: lines.bad_checksums,
            not_sentences: lines.not_sentences,
            too_long: lines.too_long,
            ..self.counters
        }
    }

    /// Lines that look like sentences but have no checksum at all.
    pub fn without_checksum(&self) -> u64 {
        self.splitter.counters().without_checksum
    }

    /// Talkers of the sentences that were read, such as `GP`, in order.
    pub fn talkers(&self) -> Vec<String> {
        self.talkers.iter().map(|talker| String::from_utf8_lossy(talker).into_owned()).collect()
    }

    /// Whether the sentences that came can give fixes, once there is one: position and speed.
    pub fn can_give_fixes(&self) -> bool {
        let has = |kind: SentenceKind| self.kinds.contains(&kind);
        has(SentenceKind::Rmc) || (has(SentenceKind::Gga) && has(SentenceKind::Vtg))
    }

    /// Takes the next record; rows and events that come of it are appended to `out`, in order.
    pub fn take(&mut self, record: &Record, out: &mut Vec<Item<Fix>>) {
        let host_us = record.host_us;
        match &record.what {
            WireEvent::Received(bytes) => self.received(bytes, host_us, out),
            WireEvent::PortOpened(name) => {
                self.counters.reconnects += u64::from(self.port_opened);
                // One that was not there at the beginning comes, and was not opened before.
                if self.port_opened || self.port_gone {
                    self.at_host(host_us, EventKind::PortBack, name.clone(), out);
                }
                (self.port_opened, self.port_gone) = (true, false);
            }
            WireEvent::PortGone(why) => {
                self.line_broken(out);
                self.port_gone = true;
                self.at_host(host_us, EventKind::PortGone, why.clone(), out);
            }
            WireEvent::Lost { bytes } => {
                self.counters.bytes_not_kept += bytes;
                self.line_broken(out);
                self.at_host(host_us, EventKind::NotKept, format!("bytes={bytes}"), out);
            }
            WireEvent::ClockStep { .. } => self.clock.host_may_have_slept(host_us),
            WireEvent::Started => {
                self.clock.start(host_us);
                if self.has_fix == Some(false) {
                    self.fix_lost(0, out);
                }
            }
            WireEvent::Ended(_) => self.finish(out),
            // Nothing is ever sent to a receiver; marks and what becomes of the folder are the boxes'.
            WireEvent::PingSent { .. }
            | WireEvent::HostMark(_)
            | WireEvent::NewFolder(_)
            | WireEvent::Known(_) => {}
        }
    }

    /// Lets go of what still waits: after the last record.
    pub fn finish(&mut self, out: &mut Vec<Item<Fix>>) {
        let over = self.grouper.close();
        self.on_epoch(over, out);
    }

    fn at_host(&self, host_us: u64, kind: EventKind, detail: String, out: &mut Vec<Item<Fix>>) {
        // What happens before the run is of its beginning.
        let t_us = self.clock.run_at_host(host_us).unwrap_or(0);
        out.push(Item::Event(RunEvent { t_us, kind, detail }));
    }

    /// Bytes are missing here: neither a line nor an epoch goes on behind it.
    fn line_broken(&mut self, out: &mut Vec<Item<Fix>>) {
        self.splitter.reset();
        self.finish(out);
    }

    fn received(&mut self, bytes: &[u8], host_us: u64, out: &mut Vec<Item<Fix>>) {
        self.counters.bytes += bytes.len() as u64;
        let mut sentences = Vec::new();
        let counters = &mut self.counters;
        self.splitter.take(bytes, |body| match read_sentence(body) {
            Ok(Some(sentence)) => sentences.push(sentence),
            Ok(None) => counters.sentences_of_no_use += 1,
            Err(_) => counters.sentences_malformed += 1,
        });
        for sentence in sentences {
            self.on_sentence(&sentence, host_us, out);
        }
    }

    fn on_sentence(&mut self, sentence: &Sentence, host_us: u64, out: &mut Vec<Item<Fix>>) {
        self.kinds.insert(sentence.kind);
        if self.talkers.len() < TALKERS_MAX {
            self.talkers.insert(sentence.talker);
        }
        let over = self.grouper.take(sentence, host_us);
        self.on_epoch(over, out);
    }

    fn on_epoch(&mut self, over: Option<Epoch>, out: &mut Vec<Item<Fix>>) {
        let Some(epoch) = over else { return };
        let placed = epoch.tag_us.map(|tag_us| self.clock.place(tag_us, epoch.arrived_us));
        let run_us = match placed {
            Some(placed) => placed.run_us,
            None => self.clock.run_at_host(epoch.arrived_us).map(u64::cast_signed),
        };
        let in_run = run_us.is_some_and(|run_us| run_us >= 0);
        // An epoch of before the run that ends a period without fix ends it at the run's beginning.
        let t_us = run_us.map_or(0, |run_us| run_us.max(0).unsigned_abs());
        if let (Some(step_us), true) = (placed.and_then(|placed| placed.step_us), in_run) {
            let detail = format!("step_s={:.3}", step_us as f64 / 1e6);
            out.push(Item::Event(RunEvent { t_us, kind: EventKind::GnssTimeStep, detail }));
        }
        let had_fix = self.has_fix.replace(epoch.has_fix);
        if !epoch.has_fix {
            self.counters.without_fix += 1;
            if in_run && (had_fix != Some(false) || self.no_fix.is_none()) {
                self.fix_lost(t_us, out);
            }
            if let Some(no_fix) = &mut self.no_fix {
                no_fix.epochs += 1;
            }
            return;
        }
        if let Some(NoFix { from_us, epochs }) = self.no_fix.take() {
            let lasted_s = t_us.saturating_sub(from_us) as f64 / 1e6;
            let detail = format!("lasted_s={lasted_s:.3}; epochs={epochs}");
            out.push(Item::Event(RunEvent { t_us, kind: EventKind::FixBack, detail }));
        }
        self.last_course_deg = epoch.course_deg.unwrap_or(self.last_course_deg);
        let (Some(position), Some(speed_mps), true) = (epoch.position, epoch.speed_mps, placed.is_some())
        else {
            self.counters.incomplete += 1;
            return;
        };
        if !in_run {
            self.counters.fixes_before_start += 1;
        } else if self.last_t_us.is_some_and(|last| t_us <= last) {
            self.counters.fixes_not_rising += 1;
        } else {
            self.last_t_us = Some(t_us);
            self.counters.fixes += 1;
            out.push(Item::Row(Fix { t_us, position, speed_mps, course_deg: self.last_course_deg }));
        }
    }

    fn fix_lost(&mut self, t_us: u64, out: &mut Vec<Item<Fix>>) {
        self.counters.no_fix_periods += 1;
        self.no_fix = Some(NoFix { from_us: t_us, epochs: 0 });
        let detail = "the receiver says that it has no fix".to_owned();
        out.push(Item::Event(RunEvent { t_us, kind: EventKind::NoFix, detail }));
    }
}

#[cfg(test)]
mod tests;
