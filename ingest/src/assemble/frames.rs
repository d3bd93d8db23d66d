//! What each kind of frame does to the state machine.

use super::arrivals::Arrivals;
use super::hold::Held;
use super::{Assembler, BoxRefusal, Column, EventKind, Placement, channels, missing};
use crate::clock::RatesApart;
use firmware_protocol::{
    CHANNELS_MAX, Decoder, Dropped, Event, Form, Frame, Hello, Mark, MarkSource, Readings, Status, Time,
};

/// An uptime that falls by more than this is a boot, in ms: no frame comes so late.
const UPTIME_FALL_MS: u32 = 2_000;

impl Assembler {
    pub(super) fn received(&mut self, mut bytes: &[u8], host_us: u64) {
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

    pub(super) fn hello_came(&mut self, hello: &Hello) {
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
    pub(super) fn booted(&mut self, detail: String) {
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

    pub(super) fn forget_box(&mut self) {
        // What waits belongs to the boot before.
        self.release(u64::MAX, true);
        self.clock.forget_box();
        self.track.forget();
        self.least_delay_us = None;
        self.arrivals = Arrivals::default();
        self.pings.clear();
    }

    pub(super) fn readings_came(&mut self, readings: &Readings, host_us: u64) {
        let channels = self.hello.map_or(0, |hello| hello.channels().len());
        if !self.started {
            self.counters.rows_before_start += readings.row_count() as u64;
            return;
        }
        if self.reading.is_empty() || readings.channel_count() != channels {
            self.counters.frames_refused += 1;
            return;
        }
        // A sentence is one row with the clock of that row; a frame has one for all of its rows.
        let each_row_stamped = self.decoder.form() == Some(Form::Text);
        let (first_box_us, stale_rows) = match self.track.place(readings, each_row_stamped) {
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
        if let Some((box_us, came_us)) = self.arrivals.take(last_box_us, host_us)
            && let Some(apart) = self.clock.arrival(box_us, came_us)
        {
            self.clocks_apart(apart, host_us);
        }
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
    pub(super) fn first_rows(&mut self, readings: &Readings, host_us: u64) -> u64 {
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

    pub(super) fn row(&mut self, box_us: u64, counts: &[i32]) {
        let mut kept = [0i32; CHANNELS_MAX];
        for (slot, count) in kept.iter_mut().zip(counts) {
            *slot = *count;
        }
        let possible = self.reading.iter().all(|column| {
            counts.get(column.index).is_some_and(|count| {
                let (low, high) = column.possible;
                (low..=high).contains(&i64::from(*count))
                    && column.curve.reading(f64::from(*count)).is_finite()
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

    pub(super) fn box_mark(&mut self, mark: Mark, host_us: u64) {
        self.counters.marks += 1;
        let box_us = self.clock.unwrap_us(mark.clock_us, host_us);
        let detail = format!("number={}; by=button", mark.number);
        self.held.push_back(Held::AtBox { box_us, host_us, kind: EventKind::Mark, detail });
    }

    pub(super) fn host_mark(&mut self, frame: &[u8], host_us: u64) {
        let event = Decoder::new().next_event(&mut &*frame);
        if let Some(Event::Frame(Frame::Mark(Mark { source: MarkSource::Host, number, .. }))) = event {
            self.counters.marks += 1;
            self.at_host(host_us, EventKind::Mark, format!("number={number}; by=host"));
        }
    }

    pub(super) fn status_came(&mut self, status: Status, host_us: u64) {
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

    pub(super) fn time_came(&mut self, time: Time, host_us: u64) {
        let Some(at) = self.pings.iter().position(|(token, _)| *token == time.token) else { return };
        let sent_us = self.pings.drain(..=at).next_back().map_or(host_us, |(_, sent_us)| sent_us);
        let box_us = self.clock.unwrap_us(time.clock_us, host_us);
        if let Some(apart) = self.clock.round_trip(box_us, sent_us, host_us) {
            self.clocks_apart(apart, host_us);
        }
    }

    fn clocks_apart(&mut self, apart: RatesApart, host_us: u64) {
        let detail = format!("box_s_per_host_s={:.4}; run time follows the box clock", apart.ratio);
        self.at_host(host_us, EventKind::ClocksApart, detail);
    }
}
