//! Records of the wire to rows and events: a pure state machine.
//!
//! What it gives depends on the records alone. The recorder feeds it while recording, `rebuild` feeds it
//! from the file, and so the two give the same bytes.

mod arrivals;
mod channels;
mod frames;
mod hold;
mod item;
mod line;
mod saturation;
mod track;

pub use channels::{
    BoxRefusal, CalibratedSensor, Column, calibrated, columns_of, kind_is, kind_name, missing, names_of,
    quoted,
};
pub use item::{EventKind, Item, Row, RunCounters, RunEvent};
pub use track::{Placement, RowTrack};

use crate::clock::RunClock;
use crate::plow::ChannelRole;
use crate::wire_file::{Happening, Record};
use arrivals::Arrivals;
use firmware_protocol::{Hello, PortDecoder, Status};
use hold::Held;
use line::LineWindow;
use saturation::Saturation;
use std::collections::VecDeque;

/// Pings whose answers are waited for.
const PINGS_WAITED_FOR: usize = 16;

/// The state machine for one box.
#[derive(Clone, Debug)]
pub struct Assembler {
    sensors: Vec<CalibratedSensor>,
    decoder: PortDecoder,
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
    arrivals: Arrivals,
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
            decoder: PortDecoder::new(),
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
            arrivals: Arrivals::default(),
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

    /// What has come on the port and in which form.
    #[must_use]
    pub fn decoder(&self) -> &PortDecoder {
        &self.decoder
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
}

#[cfg(test)]
mod tests;
