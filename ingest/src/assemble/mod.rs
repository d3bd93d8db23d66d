//! Records of the wire to rows and events: a pure state machine.
//!
//! What it gives depends on the records alone. The recorder feeds it while recording, `rebuild` feeds it
//! from the file, and so the two give the same bytes.

mod channels;
mod item;
mod saturation;
mod track;

pub use channels::{BoxRefusal, CalibratedSensor, Column, calibrated, kind_name, missing};
pub use item::{EventKind, Item, Row, RunCounters, RunEvent};
pub use track::{Placement, RowTrack};

use crate::clock::RunClock;
use crate::plow::ChannelRole;
use crate::wire_file::{Happening, Record};
use firmware_protocol::{
    CHANNELS_MAX, Decoder, Dropped, Event, Frame, Hello, Mark, MarkSource, Readings, Status, Time,
};
use saturation::{Change, Saturation};
use std::collections::VecDeque;

/// Rows wait this long for the first answer to a ping, so that they can be placed by it, in µs.
const HOLD_US: u64 = 250_000;
/// Pings whose answers are waited for.
const PINGS_WAITED_FOR: usize = 16;
/// How long a stretch of line is judged by its damaged frames, in µs.
const LINE_WINDOW_US: u64 = 2_000_000;
/// Fewer damaged frames than this in a window say nothing.
const LINE_BAD_MIN: u64 = 10;
/// An uptime that falls by more than this is a boot, in ms: no frame comes so late.
const UPTIME_FALL_MS: u32 = 2_000;

/// Something that waits for the box clock to be placed in run time.
#[derive(Clone, Debug)]
enum Held {
    Row {
        box_us: u64,
        counts: [i32; CHANNELS_MAX],
    },
    /// An event that goes with the row before it.
    AfterRow(EventKind, String),
    AtBox {
        box_us: u64,
        host_us: u64,
        kind: EventKind,
        detail: String,
    },
    AtHost(u64, EventKind, String),
}

/// Line quality in the current window.
#[derive(Clone, Copy, Debug, Default)]
struct LineWindow {
    from_us: u64,
    frames: u64,
    damaged: u64,
    bad: bool,
}

/// The state machine for one box.
#[derive(Clone, Debug)]
pub struct Assembler {
    sensors: Vec<CalibratedSensor>,
    decoder: Decoder,
    clock: RunClock,
    track: RowTrack,
    hello: Option<Hello>,
    hellos: u64,
    refusal: Option<BoxRefusal>,
    /// Fixed by the first good hello; a later one must fill the same.
    columns: Option<Vec<ChannelRole>>,
    /// How the counts of a row are read now; empty when they cannot be.
    reading: Vec<Column>,
    saturation: [Saturation; ChannelRole::ALL.len()],
    pings: VecDeque<(u32, u64)>,
    held: VecDeque<Held>,
    ready: Vec<Item>,
    held_since_us: Option<u64>,
    /// Least host time minus box time of a frame since the boot, in µs.
    least_delay_us: Option<f64>,
    started: bool,
    /// Last clock that the box gave before the run began, in µs.
    seen_before_start_us: Option<u64>,
    port_opened: bool,
    booted_in_run: bool,
    rows_begun: bool,
    refused_in_a_row: u64,
    uptime_ms: Option<u32>,
    last_status: Option<Status>,
    line: LineWindow,
    counters: RunCounters,
}

impl Assembler {
    /// A state machine before its first record, for the sensors of a plow.
    #[must_use]
    pub fn new(sensors: Vec<CalibratedSensor>) -> Self {
        Self {
            sensors,
            decoder: Decoder::new(),
            clock: RunClock::default(),
            track: RowTrack::default(),
            hello: None,
            hellos: 0,
            refusal: None,
            columns: None,
            reading: Vec::new(),
            saturation: Default::default(),
            pings: VecDeque::new(),
            held: VecDeque::new(),
            ready: Vec::new(),
            held_since_us: None,
            least_delay_us: None,
            started: false,
            seen_before_start_us: None,
            port_opened: false,
            booted_in_run: false,
            rows_begun: false,
            refused_in_a_row: 0,
            uptime_ms: None,
            last_status: None,
            line: LineWindow::default(),
            counters: RunCounters::default(),
        }
    }

    /// The last hello whose CRC and fields were good.
    #[must_use]
    pub fn hello(&self) -> Option<&Hello> {
        self.hello.as_ref()
    }

    /// How many hellos came.
    #[must_use]
    pub fn hellos(&self) -> u64 {
        self.hellos
    }

    /// The channels that the sensors ask for, with what they measure.
    #[must_use]
    pub fn channel_roles(&self) -> Vec<(&str, ChannelRole)> {
        self.sensors.iter().map(CalibratedSensor::channel_and_role).collect()
    }

    /// Why the box that said hello last cannot be recorded.
    #[must_use]
    pub fn refusal(&self) -> Option<&BoxRefusal> {
        self.refusal.as_ref()
    }

    /// What the box's columns measure; empty before the first good hello.
    #[must_use]
    pub fn columns(&self) -> &[ChannelRole] {
        self.columns.as_deref().unwrap_or(&[])
    }

    /// The box's clock.
    #[must_use]
    pub fn clock(&self) -> &RunClock {
        &self.clock
    }

    /// The last *status* of the box.
    #[must_use]
    pub fn last_status(&self) -> Option<Status> {
        self.last_status
    }

    /// What was counted so far.
    #[must_use]
    pub fn counters(&self) -> RunCounters {
        let decoder = self.decoder.counters();
        RunCounters {
            frames: decoder.frames,
            frames_damaged: decoder.damaged(),
            frames_unknown: decoder.unknown_kind,
            ..self.counters
        }
    }

    /// Takes the next record; rows and events that come of it are appended to `out`, in order.
    pub fn take(&mut self, record: &Record, out: &mut Vec<Item>) {
        let host_us = record.host_us;
        match &record.what {
            Happening::Received(bytes) => self.received(bytes, host_us),
            Happening::PortOpened(name) => {
                self.decoder.reset();
                if self.port_opened {
                    self.counters.reconnects += 1;
                    self.at_host(host_us, EventKind::PortBack, name.clone());
                }
                self.port_opened = true;
            }
            Happening::PortGone(why) => {
                self.decoder.reset();
                self.at_host(host_us, EventKind::PortGone, why.clone());
            }
            Happening::PingSent { token } => {
                if self.pings.len() == PINGS_WAITED_FOR {
                    self.pings.pop_front();
                }
                self.pings.push_back((*token, host_us));
            }
            Happening::HostMark(frame) => self.host_mark(frame, host_us),
            Happening::ClockStep { step_us } => {
                self.clock.host_may_have_slept();
                let detail = format!("step_s={:.3}", *step_us as f64 / 1e6);
                self.at_host(host_us, EventKind::ClockStep, detail);
            }
            Happening::Started => {
                self.clock.start(host_us);
                self.started = true;
                self.seen_before_start_us = self.clock.seen_us();
            }
            Happening::Lost { bytes } => {
                self.decoder.reset();
                self.counters.bytes_not_kept += bytes;
                self.at_host(host_us, EventKind::NotKept, format!("bytes={bytes}"));
            }
            Happening::Ended(how) => {
                self.end_saturation();
                self.end_refused();
                self.at_host(host_us, EventKind::Ended, how.clone());
                self.release(host_us, true);
            }
        }
        self.release(host_us, false);
        out.append(&mut self.ready);
    }

    /// Lets go of what still waits: after the last record.
    pub fn finish(&mut self, out: &mut Vec<Item>) {
        self.release(u64::MAX, true);
        out.append(&mut self.ready);
    }

    /// Moves what is held to what is ready, once box times can be placed: by the first answer to a
    /// ping, else after a while by arrival, or at once if `forced`.
    fn release(&mut self, host_us: u64, forced: bool) {
        let first_row = self.held.iter().find_map(|held| match held {
            Held::Row { box_us, .. } => Some(*box_us),
            _ => None,
        });
        if let (Some(box_us), Some(delay_us), false) = (first_row, self.least_delay_us, self.clock.places()) {
            let waited = self.held_since_us.is_some_and(|since| host_us.saturating_sub(since) >= HOLD_US);
            if !(forced || waited || self.clock.is_fitted()) {
                return;
            }
            self.clock.begin(box_us, delay_us);
        }
        self.held_since_us = None;
        while let Some(held) = self.held.pop_front() {
            let (t_us, kind, detail) = match held {
                Held::Row { box_us, counts } => {
                    let Some(t_us) = self.clock.place_row(box_us) else { continue };
                    self.counters.rows += 1;
                    let mut row = Row::at(t_us);
                    for column in &self.reading {
                        let count = counts.get(column.index).copied().unwrap_or(0);
                        row.push(column.line.reading(f64::from(count)));
                    }
                    self.ready.push(Item::Row(row));
                    continue;
                }
                Held::AfterRow(kind, detail) => (self.clock.last_run_us(), kind, detail),
                Held::AtBox { box_us, host_us, kind, detail } => {
                    let t_us = self.clock.run_at(box_us).unwrap_or_else(|| self.clock.run_at_host(host_us));
                    (t_us, kind, detail)
                }
                Held::AtHost(host_us, kind, detail) => (self.clock.run_at_host(host_us), kind, detail),
            };
            self.ready.push(Item::Event(RunEvent { t_us, kind, detail }));
        }
    }

    fn received(&mut self, mut bytes: &[u8], host_us: u64) {
        self.counters.bytes += bytes.len() as u64;
        while let Some(event) = self.decoder.next_event(&mut bytes) {
            match event {
                Event::Frame(Frame::Hello(hello)) => self.hello_came(&hello),
                Event::Frame(Frame::Readings(readings)) => self.readings_came(&readings, host_us),
                Event::Frame(Frame::Mark(mark)) => self.box_mark(mark, host_us),
                Event::Frame(Frame::Status(status)) => self.status_came(status, host_us),
                Event::Frame(Frame::Time(time)) => self.time_came(time, host_us),
                // Only a host sends these; an echoing line is not the box.
                Event::Frame(Frame::Ping { .. } | Frame::Start | Frame::Stop | Frame::Rate { .. }) => {}
                Event::Dropped(Dropped::Hello(error)) => {
                    if self.hello.is_none() {
                        self.refusal = Some(BoxRefusal::Nonsense(error));
                    }
                }
                Event::Dropped(_) => {}
            }
        }
        self.judge_line(host_us);
    }

    fn hello_came(&mut self, hello: &Hello) {
        self.hellos += 1;
        let before = self.hello.replace(*hello);
        if before.is_some_and(|before| before.boot != hello.boot) {
            self.booted(format!("boot={}; before={}", hello.boot, before.map_or(0, |before| before.boot)));
        }
        if before
            .is_some_and(|before| before.channels() == hello.channels() && before.version == hello.version)
        {
            return;
        }
        // Rows that wait are read as the channels were.
        self.release(u64::MAX, true);
        let found = channels::columns_of(hello, &self.sensors);
        let roles = |columns: &[Column]| columns.iter().map(|column| column.role).collect::<Vec<_>>();
        let changed = match (&found, &self.columns) {
            (Ok(columns), Some(fixed)) => roles(columns) != *fixed,
            (Ok(_), None) => false,
            (Err(_), _) => true,
        };
        if before.is_some() && self.started {
            let usable =
                if changed { "readings are no longer taken" } else { "the wanted ones are all there" };
            self.after_row(EventKind::ChannelsChanged, usable.to_owned());
        }
        match found {
            Ok(columns) if !changed => {
                self.columns.get_or_insert_with(|| roles(&columns));
                (self.reading, self.refusal) = (columns, None);
            }
            Ok(_) => {
                self.reading = Vec::new();
                let names: Vec<_> = self.columns().iter().map(|role| role.column()).collect();
                self.refusal = Some(missing(hello, &names));
            }
            Err(refusal) => (self.reading, self.refusal) = (Vec::new(), Some(refusal)),
        }
    }

    /// The box's clock and row numbers start anew.
    fn booted(&mut self, detail: String) {
        self.uptime_ms = None;
        if self.started {
            self.end_saturation();
            self.end_refused();
            self.counters.resets += 1;
            self.after_row(EventKind::Reset, detail);
            self.booted_in_run = true;
        }
        self.forget_box();
    }

    fn forget_box(&mut self) {
        // What waits belongs to the boot before.
        self.release(u64::MAX, true);
        self.clock.forget_box();
        self.track.forget();
        self.least_delay_us = None;
        self.pings.clear();
    }

    fn readings_came(&mut self, readings: &Readings, host_us: u64) {
        let channels = self.hello.map_or(0, |hello| hello.channels().len());
        if !self.started {
            self.counters.rows_before_start += readings.row_count() as u64;
            return;
        }
        if self.reading.is_empty() || readings.channel_count() != channels {
            self.counters.frames_refused += 1;
            return;
        }
        let (first_box_us, stale_rows) = match self.track.place(readings) {
            Placement::GoesOn { first_box_us, gap_rows, stale_rows } => {
                self.gap(gap_rows, u64::from(gap_rows) * u64::from(readings.interval_us));
                (first_box_us, stale_rows)
            }
            Placement::Stale => {
                self.counters.rows_duplicate += readings.row_count() as u64;
                return;
            }
            Placement::First => (self.first_rows(readings, host_us), 0),
            Placement::Restarted { expected_row, clock_off_us, gap_rows } => {
                self.end_saturation();
                self.gap(gap_rows, u64::from(gap_rows) * u64::from(readings.interval_us));
                self.counters.resets += 1;
                let detail = format!(
                    "row={}; expected_row={expected_row}; clock_off_s={:.6}",
                    readings.first_row,
                    f64::from(clock_off_us) / 1e6
                );
                self.after_row(EventKind::Restart, detail);
                self.forget_box();
                (self.clock.unwrap_us(readings.clock_us, host_us), 0)
            }
        };
        self.track.took(readings, first_box_us);
        self.counters.rows_duplicate += u64::from(stale_rows);
        let rows = readings.row_count() as u64;
        let last_box_us = first_box_us + (rows - 1) * u64::from(readings.interval_us);
        self.clock.saw(last_box_us, host_us);
        let delay_us = host_us as f64 - last_box_us as f64;
        self.least_delay_us = Some(self.least_delay_us.map_or(delay_us, |least| least.min(delay_us)));
        self.held_since_us.get_or_insert(host_us);
        for (k, counts) in readings.rows().enumerate().skip(stale_rows as usize) {
            self.row(first_box_us + k as u64 * u64::from(readings.interval_us), counts);
        }
    }

    /// Box time of the first frame of rows since the boot. Rows numbered before it were lost if they can
    /// only have been sampled since the run began: after a boot in the run, or if the first of them
    /// comes after the last clock that the box gave before.
    fn first_rows(&mut self, readings: &Readings, host_us: u64) -> u64 {
        let first_box_us = self.clock.unwrap_us(readings.clock_us, host_us);
        let before_us = u64::from(readings.first_row) * u64::from(readings.interval_us);
        let row_zero_us = first_box_us.saturating_sub(before_us);
        let since_start = self.seen_before_start_us.is_some_and(|seen| row_zero_us >= seen);
        if !self.rows_begun {
            self.after_row(EventKind::FirstRow, format!("row={}", readings.first_row));
            self.rows_begun = true;
        }
        if self.booted_in_run || since_start {
            self.gap(readings.first_row, before_us);
        }
        first_box_us
    }

    fn row(&mut self, box_us: u64, counts: &[i32]) {
        let mut kept = [0i32; CHANNELS_MAX];
        for (slot, count) in kept.iter_mut().zip(counts) {
            *slot = *count;
        }
        let possible = self.reading.iter().all(|column| {
            counts.get(column.index).is_some_and(|count| {
                let (low, high) = column.possible;
                (low..=high).contains(&i64::from(*count))
                    && column.line.reading(f64::from(*count)).is_finite()
            })
        });
        if !possible {
            self.refused_in_a_row += 1;
            return;
        }
        self.end_refused();
        self.held.push_back(Held::Row { box_us, counts: kept });
        let mut any = false;
        for k in 0..self.reading.len() {
            let (Some(column), Some(state)) = (self.reading.get(k), self.saturation.get_mut(k)) else {
                break;
            };
            let count = kept.get(column.index).copied().unwrap_or(0);
            state.seen_negative |= count < 0;
            let saturated = column.is_saturated(count, state.seen_negative);
            any |= saturated;
            let change = state.row(box_us, saturated);
            let role = column.role;
            self.saturation_changed(role, change, Some(count));
        }
        self.counters.rows_saturated += u64::from(any);
    }

    fn saturation_changed(&mut self, role: ChannelRole, change: Option<Change>, count: Option<i32>) {
        let column = role.column();
        match change {
            Some(Change::Began) => {
                let detail = format!("column={column}; count={}", count.unwrap_or(0));
                self.after_row(EventKind::Saturated, detail);
            }
            Some(Change::Ended { rows }) => {
                self.after_row(EventKind::SaturatedEnd, format!("column={column}; rows={rows}"));
            }
            None => {}
        }
    }

    fn end_saturation(&mut self) {
        for k in 0..self.columns().len() {
            let role = self.columns().get(k).copied();
            let change = self.saturation.get_mut(k).and_then(Saturation::end);
            if let Some(role) = role {
                self.saturation_changed(role, change, None);
            }
        }
    }

    fn end_refused(&mut self) {
        let rows = std::mem::take(&mut self.refused_in_a_row);
        if rows > 0 {
            self.counters.rows_refused += rows;
            self.after_row(EventKind::Refused, format!("rows={rows}"));
        }
    }

    fn gap(&mut self, rows: u32, lasted_us: u64) {
        if rows > 0 {
            self.counters.rows_lost += u64::from(rows);
            self.counters.gaps += 1;
            self.after_row(EventKind::Gap, format!("rows={rows}; lasted_s={:.6}", lasted_us as f64 / 1e6));
        }
    }

    fn box_mark(&mut self, mark: Mark, host_us: u64) {
        self.counters.marks += 1;
        let box_us = self.clock.unwrap_us(mark.clock_us, host_us);
        let detail = format!("number={}; by=button", mark.number);
        self.held.push_back(Held::AtBox { box_us, host_us, kind: EventKind::Mark, detail });
    }

    fn host_mark(&mut self, frame: &[u8], host_us: u64) {
        let event = Decoder::new().next_event(&mut &*frame);
        if let Some(Event::Frame(Frame::Mark(Mark { source: MarkSource::Host, number, .. }))) = event {
            self.counters.marks += 1;
            self.at_host(host_us, EventKind::Mark, format!("number={number}; by=host"));
        }
    }

    fn status_came(&mut self, status: Status, host_us: u64) {
        let fell = self.uptime_ms.is_some_and(|before| {
            // Near the wrap of 49.7 days a fall is the wrap.
            status.uptime_ms.saturating_add(UPTIME_FALL_MS) < before && before < u32::MAX - 600_000
        });
        if fell {
            self.booted(format!("uptime_s={:.3}", f64::from(status.uptime_ms) / 1e3));
        }
        self.uptime_ms = Some(status.uptime_ms);
        let before = self.last_status.replace(status).map_or(0, |before| before.rows_dropped);
        let dropped = u64::from(status.rows_dropped.checked_sub(before).unwrap_or(status.rows_dropped));
        if dropped > 0 && self.started {
            self.counters.rows_dropped_in_box += dropped;
            self.at_host(host_us, EventKind::BoxDropped, format!("rows={dropped}"));
        }
    }

    fn time_came(&mut self, time: Time, host_us: u64) {
        let Some(at) = self.pings.iter().position(|(token, _)| *token == time.token) else { return };
        let sent_us = self.pings.drain(..=at).next_back().map_or(host_us, |(_, sent_us)| sent_us);
        let box_us = self.clock.unwrap_us(time.clock_us, host_us);
        if let Some(apart) = self.clock.round_trip(box_us, sent_us, host_us) {
            let detail = format!("box_s_per_host_s={:.4}; run time follows the box clock", apart.ratio);
            self.at_host(host_us, EventKind::ClocksApart, detail);
        }
    }

    /// Says once when a window holds more damaged than good frames, and once when that is over.
    fn judge_line(&mut self, host_us: u64) {
        if host_us.saturating_sub(self.line.from_us) < LINE_WINDOW_US {
            return;
        }
        let now = self.decoder.counters();
        let (frames, damaged) = (now.frames - self.line.frames, now.damaged() - self.line.damaged);
        let bad = damaged >= LINE_BAD_MIN && damaged > frames;
        if bad != self.line.bad && (bad || frames > 0) {
            let kind = if bad { EventKind::LineBad } else { EventKind::LineGood };
            self.at_host(host_us, kind, format!("damaged={damaged}; good={frames}"));
            self.line.bad = bad;
        }
        let bad = self.line.bad;
        self.line = LineWindow { from_us: host_us, frames: now.frames, damaged: now.damaged(), bad };
    }

    fn after_row(&mut self, kind: EventKind, detail: String) {
        self.held.push_back(Held::AfterRow(kind, detail));
    }

    fn at_host(&mut self, host_us: u64, kind: EventKind, detail: String) {
        self.held.push_back(Held::AtHost(host_us, kind, detail));
    }
}

#[cfg(test)]
mod tests;
