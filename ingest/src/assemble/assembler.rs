//! The state machine for one box: what each record does.

mod readings;

use super::box_clock::BoxClock;
use super::columns::{BoxColumns, CalibratedSensor};
use super::item::{Row, RunCounters};
use super::line_quality::LineQuality;
use super::pending::Pending;
use super::row_sequencer::RowSequencer;
use super::rows_at::{Refused, RowsAt};
use super::saturation::Saturation;
use crate::clock::RunClock;
use crate::plow::Measures;
use crate::row_columns::RowColumns;
use crate::run_event::{EventKind, Item};
use crate::session::{BoxRefusal, Handshake, Heard};
use crate::wire_file::{Record, WireEvent};
use firmware_protocol::{COUNTS_MAX, Decoder, Event, Frame, Hello, Mark, MarkSource, Status};

/// The run since it began.
#[derive(Clone, Copy, Debug)]
struct RunSoFar {
    /// Last clock that the box gave before the run began, in µs; 0 of one that has booted between the two.
    seen_before_us: Option<u64>,
    has_rows: bool,
    has_booted: bool,
}

/// The state machine for one box.
#[derive(Clone, Debug, Default)]
pub struct Assembler {
    /// What the box has said of itself.
    pub handshake: Handshake,
    columns: BoxColumns,
    sequencer: RowSequencer,
    saturation: Saturation,
    clock: BoxClock,
    pending: Pending,
    line: LineQuality,
    /// `None` before the run begins.
    run: Option<RunSoFar>,
    port_opened: bool,
    refused: Refused,
    rows_at: RowsAt,
    /// A boot was seen since the last hello, and since the last status: what these say of it is no news.
    booted_since_hello: bool,
    booted_since_status: bool,
    /// The box was running before the first record: what it has counted by then is not of this run.
    was_running: bool,
    /// What no part counts itself.
    counters: RunCounters,
}

impl Assembler {
    /// A state machine before its first record, for the sensors of a plow.
    pub fn new(sensors: Vec<CalibratedSensor>) -> Self {
        Self { columns: BoxColumns::new(sensors), ..Self::default() }
    }

    /// The channels that the sensors ask for, with what they measure.
    pub fn wanted(&self) -> impl Iterator<Item = (&str, Measures)> {
        self.columns.wanted.iter().map(CalibratedSensor::channel)
    }

    /// Why the box that said hello last cannot be recorded.
    pub fn refusal(&self) -> Option<&BoxRefusal> {
        self.handshake.refusal.as_ref().or(self.columns.refusal.as_ref())
    }

    /// Whether a run is recorded, which begins and ends with the same columns. Else a box with others may take the place of
    /// this one.
    pub fn bind_columns(&mut self, is_bound: bool) {
        self.columns.is_bound = is_bound;
    }

    /// The box's columns; none before the first good hello.
    pub fn columns(&self) -> &RowColumns {
        self.columns.filled()
    }

    /// The box's clock.
    pub fn clock(&self) -> &RunClock {
        &self.clock.run
    }

    /// Whether the box answers and brings no rows.
    pub fn misses_rows(&self) -> bool {
        self.rows_at.is_missing()
    }

    /// What was counted so far.
    pub fn counters(&self) -> RunCounters {
        let decoder = self.handshake.decoder.counters();
        RunCounters {
            rows: self.pending.rows_released,
            without_readings_ms: self.pending.without_readings_ms,
            rows_before_start: self.counters.rows_before_start + self.pending.rows_before_start,
            frames: decoder.frames,
            frames_damaged: decoder.damaged(),
            frames_unknown: decoder.unknown_kind,
            bytes: self.handshake.bytes,
            ..self.counters
        }
    }

    /// Takes the next record; rows and events that come of it are appended to `out`, in order.
    pub fn take(&mut self, record: &Record, out: &mut Vec<Item<Row>>) {
        let host_us = record.host_us;
        match &record.what {
            WireEvent::Received(bytes) => self.received(bytes, host_us),
            WireEvent::PortOpened(name) => {
                self.handshake.line_broken();
                if self.port_opened {
                    self.counters.reconnects += 1;
                    self.pending.at_host(host_us, EventKind::PortBack, name.clone());
                }
                self.port_opened = true;
                self.rows_at.expect(host_us);
            }
            WireEvent::PortGone(why) => {
                self.handshake.line_broken();
                self.pending.at_host(host_us, EventKind::PortGone, why.clone());
            }
            WireEvent::PingSent { token } => self.clock.ping_sent(*token, host_us),
            WireEvent::HostMark(frame) => self.host_mark(frame, host_us),
            WireEvent::ClockStep { step_us } => {
                self.clock.host_may_have_slept();
                let detail = format!("step_s={:.3}", *step_us as f64 / 1e6);
                self.pending.at_host(host_us, EventKind::ClockStep, detail);
            }
            WireEvent::Started => {
                self.clock.run.start(host_us);
                let seen_before_us = self.clock.run.seen.map(|(box_us, _)| box_us);
                let begun = RunSoFar { seen_before_us, has_rows: false, has_booted: false };
                self.run.get_or_insert(begun).seen_before_us = seen_before_us;
                self.columns.is_bound = true;
                self.rows_at.expect(host_us);
            }
            WireEvent::Lost { bytes } => {
                self.handshake.line_broken();
                self.counters.bytes_not_kept += bytes;
                self.pending.at_host(host_us, EventKind::NotKept, format!("bytes={bytes}"));
            }
            WireEvent::NewFolder(name) => {
                self.pending.at_host(host_us, EventKind::NewFolder, name.clone());
            }
            WireEvent::Known(hello) => self.known(hello),
            WireEvent::Ended(how) => {
                self.end_saturation();
                // No row comes any more whose number would count them as lost.
                if self.refused.channels.is_some() {
                    self.pending.counted(self.refused.rows);
                }
                self.end_refused();
                self.pending.end(host_us, how.clone());
                self.pending.release(host_us, true, &mut self.clock);
            }
        }
        self.pending.release(host_us, false, &mut self.clock);
        out.append(&mut self.pending.ready);
    }

    /// Lets go of what still waits: after the last record.
    pub fn finish(&mut self, out: &mut Vec<Item<Row>>) {
        self.pending.release(u64::MAX, true, &mut self.clock);
        out.append(&mut self.pending.ready);
    }

    /// The last hello of a box that was running before the first record.
    fn known(&mut self, mut hello: &[u8]) {
        self.was_running = true;
        while let Some(heard) = self.handshake.hear(&mut hello) {
            if let Heard::Hello { hello, before } = heard {
                self.on_hello(&hello, before);
            }
        }
    }

    fn received(&mut self, mut bytes: &[u8], host_us: u64) {
        let frames = self.handshake.decoder.counters().frames;
        let mut next = self.handshake.hear(&mut bytes);
        while let Some(heard) = next.take() {
            next = self.handshake.hear(&mut bytes);
            match heard {
                Heard::Hello { hello, before } => self.on_hello(&hello, before),
                Heard::Readings(readings) => {
                    let came_with = match &next {
                        Some(Heard::Readings(next)) => Some(next),
                        _ => None,
                    };
                    self.on_readings(&readings, came_with, host_us);
                }
                Heard::Mark(mark) => self.on_mark(mark, host_us),
                Heard::Status { status, before, has_booted } => {
                    self.on_status(status, before, has_booted, host_us);
                }
                Heard::Time(time) => {
                    let apart = self.clock.on_answer(time, host_us);
                    self.clocks_apart(apart, host_us);
                }
            }
        }
        if let Some(change) = self.line.judge(host_us, self.handshake.decoder.counters()) {
            let kind = if change.is_bad { EventKind::LineBad } else { EventKind::LineGood };
            let detail = format!("damaged={}; good={}", change.damaged, change.frames);
            self.pending.at_host(host_us, kind, detail);
        }
        if self.handshake.decoder.counters().frames > frames {
            self.miss_rows(host_us);
        }
    }

    /// A box that answers should bring rows.
    fn miss_rows(&mut self, host_us: u64) {
        if self.run.is_none() || !self.rows_at.are_missed(host_us) {
            return;
        }
        let why = self.refused.why_no_rows(self.handshake.hello.as_ref());
        self.pending.at_host(host_us, EventKind::NoRows, why);
    }

    fn on_hello(&mut self, hello: &Hello, before: Option<Hello>) {
        // Two boots since the last hello are more than the one that was seen, and what is known of the clock may be of the
        // first of them. Once rows have come, those of the last boot have shown it.
        let is_second = self.sequencer.is_new()
            && before.is_some_and(|before| hello.boot > before.boot.saturating_add(1));
        let is_news = !std::mem::take(&mut self.booted_since_hello) || is_second;
        if let Some(before) = before.filter(|before| is_news && before.boot != hello.boot) {
            self.booted(format!("boot={}; before={}", hello.boot, before.boot));
            self.booted_since_hello = false;
        }
        if before
            .is_some_and(|before| before.channels() == hello.channels() && before.version == hello.version)
        {
            return;
        }
        // Rows that wait are of the channels before.
        self.pending.release(u64::MAX, true, &mut self.clock);
        // Until a frame has come: as many rows as can be in one.
        let rows = (COUNTS_MAX / hello.channels().len().max(1)) as u64;
        self.rows_at.frame_us = rows * 1_000_000_000 / u64::from(hello.row_rate_mhz.max(1));
        let usable = self.columns.resolve(hello);
        if before.is_some() && self.run.is_some() {
            let usable =
                if usable { "the wanted ones are all there" } else { "readings are no longer taken" };
            self.pending.after_row(EventKind::ChannelsChanged, usable.to_owned());
        }
    }

    /// The box's clock and row numbers start anew.
    fn booted(&mut self, detail: String) {
        if self.run.is_some() {
            self.end_saturation();
            self.end_refused();
            self.counters.resets += 1;
            self.pending.after_row(EventKind::Reset, detail);
        }
        if let Some(run) = &mut self.run {
            run.has_booted = true;
        }
        self.forget_box();
    }

    fn forget_box(&mut self) {
        self.was_running = false;
        (self.booted_since_hello, self.booted_since_status) = (true, true);
        // What waits belongs to the boot before.
        self.pending.release(u64::MAX, true, &mut self.clock);
        self.clock.forget_box();
        self.sequencer.forget();
    }

    fn on_mark(&mut self, mark: Mark, host_us: u64) {
        // It is not of the run.
        if self.run.is_none() {
            return;
        }
        self.counters.marks += 1;
        let box_us = self.clock.run.unwrap_us(mark.clock_us, host_us);
        let detail = format!("number={}; by=button", mark.number);
        self.pending.at_box(box_us, host_us, EventKind::Mark, detail);
    }

    fn host_mark(&mut self, frame: &[u8], host_us: u64) {
        if self.run.is_none() {
            return;
        }
        let event = Decoder::new().next_event(&mut &*frame);
        if let Some(Event::Frame(Frame::Mark(Mark { source: MarkSource::Host, number, .. }))) = event {
            self.counters.marks += 1;
            self.pending.at_host(host_us, EventKind::Mark, format!("number={number}; by=host"));
        }
    }

    fn on_status(&mut self, status: Status, before: Option<Status>, has_booted: bool, host_us: u64) {
        let is_news = !std::mem::take(&mut self.booted_since_status);
        if has_booted && is_news {
            self.booted(format!("uptime_s={:.3}", f64::from(status.uptime_ms) / 1e3));
            self.booted_since_status = false;
        }
        // A count that fell has begun anew with the box, as has one without a status before it.
        let since = before.and_then(|before| status.rows_dropped.checked_sub(before.rows_dropped));
        let of_unknown = before.is_none() && std::mem::take(&mut self.was_running);
        let dropped = if of_unknown { 0 } else { u64::from(since.unwrap_or(status.rows_dropped)) };
        if dropped > 0 && self.run.is_some() {
            self.counters.rows_dropped_in_box += dropped;
            self.pending.at_host(host_us, EventKind::BoxDropped, format!("rows={dropped}"));
        }
    }

    fn clocks_apart(&mut self, box_s_per_host_s: Option<f64>, host_us: u64) {
        if let Some(ratio) = box_s_per_host_s {
            let detail = format!("box_s_per_host_s={ratio:.4}; run time follows the box clock");
            self.pending.at_host(host_us, EventKind::ClocksApart, detail);
        }
    }
}
