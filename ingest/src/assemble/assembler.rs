//! The state machine for one box: what each record does.

use super::box_clock::BoxClock;
use super::columns::{BoxColumns, CalibratedSensor};
use super::item::{Row, RunCounters};
use super::line_quality::LineQuality;
use super::pending::Pending;
use super::row_sequencer::{Placement, RowSequencer, later_us};
use super::rows_at::{Refused, RowsAt};
use super::saturation::Saturation;
use crate::clock::RunClock;
use crate::plow::ChannelRole;
use crate::run_event::{EventKind, Item};
use crate::session::{BoxRefusal, Handshake, Heard};
use crate::wire_file::{Record, WireEvent};
use firmware_protocol::{COUNTS_MAX, Decoder, Event, Form, Frame, Hello, Mark, MarkSource, Readings, Status};

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
    pub fn channel_roles(&self) -> Vec<(&str, ChannelRole)> {
        let sensors = self.columns.wanted.iter().map(|sensor| &sensor.sensor);
        sensors.map(|sensor| (sensor.channel.as_str(), sensor.measures)).collect()
    }

    /// Why the box that said hello last cannot be recorded.
    pub fn refusal(&self) -> Option<&BoxRefusal> {
        self.handshake.refusal.as_ref().or(self.columns.refusal.as_ref())
    }

    /// What the box's columns measure; empty before the first good hello.
    pub fn columns(&self) -> &[ChannelRole] {
        self.columns.roles()
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
                self.end_refused();
                self.pending.at_host(host_us, EventKind::Ended, how.clone());
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
        let is_news = !std::mem::take(&mut self.booted_since_hello);
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

    /// Takes rows; `came_with` are those that came at the same time, after these. A row of a text box may have been
    /// held until then, and its arrival says nothing of its clock.
    fn on_readings(&mut self, readings: &Readings, came_with: Option<&Readings>, host_us: u64) {
        let rows = readings.row_count() as u64;
        // A sentence is one row with the clock of that row; a frame has one for all of its rows.
        let each_row_stamped = self.handshake.decoder.form() == Some(Form::Text);
        let came_with = came_with.filter(|_| each_row_stamped);
        let later_us = came_with.and_then(|later| later_us(readings, later));
        let Some(run) = self.run else {
            self.counters.rows_before_start += rows;
            self.boot_before_rows(readings, each_row_stamped);
            let first_box_us = self.clock.run.unwrap_us(readings.clock_us, host_us);
            self.sequencer.took(readings, first_box_us, each_row_stamped);
            if came_with.is_none() {
                self.clock.on_rows(first_box_us + (rows - 1) * u64::from(readings.interval_us), host_us);
            }
            return;
        };
        if !self.columns.fit(readings) {
            self.counters.frames_refused += 1;
            self.refused =
                Refused { rows: self.refused.rows + rows, channels: Some(readings.channel_count()) };
            return;
        }
        let interval_us = u64::from(readings.interval_us);
        self.rows_at.frame_us = rows * interval_us;
        let placement = if run.has_rows {
            self.sequencer.place(readings, each_row_stamped)
        } else {
            self.boot_before_rows(readings, each_row_stamped);
            Placement::First
        };
        let (first_box_us, rows_known) = match placement {
            Placement::GoesOn { first_box_us, gap_rows, stale_rows } => {
                self.gap(gap_rows, interval_us);
                self.counters.rows_duplicate += u64::from(stale_rows);
                (first_box_us, stale_rows)
            }
            Placement::Stale => {
                self.counters.rows_duplicate += rows;
                return;
            }
            Placement::First => {
                let (first_box_us, before) = self.first_rows(readings, later_us, host_us);
                if u64::from(before) == rows {
                    if !run.has_rows {
                        self.sequencer.took(readings, first_box_us, each_row_stamped);
                    }
                    return;
                }
                (first_box_us, before)
            }
            Placement::Restarted { expected_row, clock_off_us, gap_rows } => {
                self.end_saturation();
                self.gap(gap_rows, interval_us);
                self.counters.resets += 1;
                let detail = format!(
                    "row={}; expected_row={expected_row}; clock_off_s={:.6}",
                    readings.first_row,
                    f64::from(clock_off_us) / 1e6
                );
                self.pending.after_row(EventKind::Restart, detail);
                self.forget_box();
                // Rows with lower numbers are lost, if there was time for them since the last one came.
                if readings.first_row < expected_row && self.rows_at.had_time_for(readings, host_us) {
                    self.gap(readings.first_row, interval_us);
                }
                (self.clock.run.unwrap_us(readings.clock_us, host_us), 0)
            }
        };
        self.sequencer.took(readings, first_box_us, each_row_stamped);
        let last_box_us = first_box_us + (rows - 1) * interval_us;
        if came_with.is_none() {
            let apart = self.clock.on_rows(last_box_us, host_us);
            self.clocks_apart(apart, host_us);
        } else {
            self.clock.run.saw(last_box_us, host_us);
            self.came_later(last_box_us, later_us, host_us);
        }
        for (k, counts) in (0u64..).zip(readings.rows()).skip(rows_known as usize) {
            self.row(first_box_us + k * interval_us, counts, host_us);
        }
    }

    fn came_later(&mut self, box_us: u64, later_us: Option<u64>, host_us: u64) {
        if let Some(later_us) = later_us {
            self.clock.came_by(box_us + later_us, host_us);
        }
    }

    /// Before the first row of a run nothing is to go on; but rows that do not go on there show a boot too, which neither
    /// a hello nor a status may have told.
    fn boot_before_rows(&mut self, readings: &Readings, each_row_stamped: bool) {
        if matches!(self.sequencer.place(readings, each_row_stamped), Placement::Restarted { .. }) {
            self.forget_box();
            if let Some(run) = &mut self.run {
                run.seen_before_us = Some(0);
            }
        }
    }

    /// Box time of the first frame of rows since the boot or in the run, and how many of its rows were sampled before the
    /// run began. Rows numbered before it were lost if they can only have been sampled since then: after a
    /// boot in the run, or if the first of them comes after the last clock that the box gave before.
    fn first_rows(&mut self, readings: &Readings, later_us: Option<u64>, host_us: u64) -> (u64, u32) {
        let first_box_us = self.clock.run.unwrap_us(readings.clock_us, host_us);
        self.came_later(first_box_us, later_us, host_us);
        let interval_us = u64::from(readings.interval_us);
        let is_before = |k: &u32| self.clock.is_before_start(first_box_us + u64::from(*k) * interval_us);
        let rows = readings.row_count() as u32;
        let before = (0..rows).take_while(is_before).count() as u32;
        self.counters.rows_before_start += u64::from(before);
        let Some(run) = self.run.filter(|_| before < rows) else { return (first_box_us, before) };
        let first_row = readings.first_row.wrapping_add(before);
        if !run.has_rows {
            self.pending.after_row(EventKind::FirstRow, format!("row={first_row}"));
            self.run = Some(RunSoFar { has_rows: true, ..run });
        }
        // One that began by itself when its port was opened has numbered rows from before the run.
        let row_zero_us = first_box_us.saturating_sub(u64::from(readings.first_row) * interval_us);
        let since_start = !self.clock.is_before_start(row_zero_us)
            && run.seen_before_us.is_some_and(|seen| row_zero_us >= seen);
        if run.has_booted || since_start {
            self.gap(readings.first_row, readings.interval_us.into());
        }
        (first_box_us, before)
    }

    fn row(&mut self, box_us: u64, counts: &[i32], host_us: u64) {
        let Some(row) = self.columns.read(counts) else {
            self.refused.rows += 1;
            return;
        };
        self.end_refused();
        if let Some(since_us) = self.rows_at.came(host_us) {
            let lasted_s = host_us.saturating_sub(since_us) as f64 / 1e6;
            self.pending.at_host(host_us, EventKind::RowsBack, format!("lasted_s={lasted_s:.3}"));
        }
        self.pending.row(box_us, row, host_us);
        let pending = &mut self.pending;
        let saturated = self.saturation.row(box_us, &self.columns.reading, counts, |role, change| {
            pending.saturation(role, change);
        });
        self.counters.rows_saturated += u64::from(saturated);
    }

    fn end_saturation(&mut self) {
        let pending = &mut self.pending;
        self.saturation.end(self.columns.roles(), |role, change| pending.saturation(role, change));
    }

    fn end_refused(&mut self) {
        let Refused { rows, channels } = std::mem::take(&mut self.refused);
        if rows > 0 {
            self.counters.rows_refused += rows;
            let others = channels.map_or(String::new(), |channels| format!("; channels={channels}"));
            self.pending.after_row(EventKind::Refused, format!("rows={rows}{others}"));
        }
    }

    fn gap(&mut self, rows: u32, interval_us: u64) {
        if rows > 0 {
            self.counters.rows_lost += u64::from(rows);
            self.counters.gaps += 1;
            let lasted_s = (u64::from(rows) * interval_us) as f64 / 1e6;
            self.pending.after_row(EventKind::Gap, format!("rows={rows}; lasted_s={lasted_s:.6}"));
        }
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
