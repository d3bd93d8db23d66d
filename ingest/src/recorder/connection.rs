//! One port with the box behind it, as the recorder sees it live.

use super::RecordError;
use super::look_back::SoFar;
use super::port_watch::PortWatch;
use crate::assemble::{Assembler, CalibratedSensor, Row, kind_name};
use crate::clock::RunClock;
use crate::port::ToPort;
use crate::run_event::{EventKind, Item, RunEvent};
use crate::run_toml::{BoxInfo, ChannelInfo, ClockInfo, FittedTo, RunTime};
use crate::session::NotABox;
use crate::wire_file::Record;
use firmware_protocol::Hello;
use std::path::PathBuf;
use std::time::Duration;
use tokio::sync::mpsc;
use tokio::time::Instant;

/// A box says something once a second at least; silent for longer than the first, its port is opened anew,
/// then after twice that, up to the second.
const SILENCE: [Duration; 2] = [Duration::from_millis(1500), Duration::from_secs(12)];

/// A port and its box.
#[derive(Debug)]
pub struct Connection {
    /// The port.
    pub watch: PortWatch,
    /// Name of the box's files.
    pub file: String,
    /// The live state machine, which goes on over all runs; the one that writes is the writer's.
    pub live: Assembler,
    /// The latest row.
    pub last_row: Option<Row>,
    /// Host time since which the box has the channels that it has, in µs.
    pub columns_since_us: u64,
    /// Live time of the run's time 0, in µs, and what was counted before it.
    pub began_us: u64,
    pub before_run: SoFar,
    begun: bool,
}

impl Connection {
    /// A connection whose port is about to be served.
    pub fn new(port: PathBuf, sensors: &[CalibratedSensor], orders: mpsc::Sender<ToPort>) -> Self {
        Self {
            watch: PortWatch::new(port, orders, SILENCE),
            file: String::new(),
            live: Assembler::new(sensors.to_vec()),
            last_row: None,
            columns_since_us: 0,
            began_us: 0,
            before_run: SoFar::default(),
            begun: false,
        }
    }

    /// Takes a record live; returns rows, and events that the operator should know of.
    pub fn take(&mut self, record: &Record, now: Instant) -> (Vec<Row>, Vec<RunEvent>) {
        self.watch.take(&record.what, now);
        let mut items = Vec::new();
        let was_known = self.live.handshake.hello.is_some();
        let without_ms = self.live.counters().without_readings_ms;
        self.live.take(record, &mut items);
        let (mut rows, events) = Item::split(items);
        // Told with the row that ends it, it may reach back to before the run: that part is none of the run's.
        let since_ms = self.live.counters().without_readings_ms - without_ms;
        let began_us = self.began_us;
        let before_ms = events.iter().filter(|event| event.kind == EventKind::WithoutReadings);
        let before_ms: u64 = before_ms.map(|event| began_us.saturating_sub(event.t_us) / 1000).sum();
        self.before_run.without_readings_ms += before_ms.min(since_ms);
        if was_known != self.live.handshake.hello.is_some()
            || events.iter().any(|event| event.kind == EventKind::ChannelsChanged)
        {
            self.columns_since_us = record.host_us;
            // They may be of the columns before; the next ones are not.
            (self.last_row, rows) = (None, Vec::new());
        }
        self.last_row = rows.last().copied().or(self.last_row);
        // Another program may have set the port for itself; opening sets it anew. Once for each time that the
        // line turns bad: if the cable is at fault, closing the port again and again would cost more. Before
        // the run begins it means another speed or device, which is said instead.
        if self.begun && events.iter().any(|event| event.kind == EventKind::LineBad) {
            self.watch.order(ToPort::Reopen("mostly damaged frames: the port is set anew".to_owned()));
        }
        (rows, events)
    }

    /// What was counted so far, over all runs.
    pub fn so_far(&self) -> SoFar {
        let counters = self.live.counters();
        SoFar {
            rows: counters.rows,
            rows_lost: counters.rows_lost,
            without_readings_ms: counters.without_readings_ms,
            rows_refused: counters.rows_refused,
            marks: counters.marks,
        }
    }

    /// The box is told to start.
    pub fn begin(&mut self) {
        self.begun = true;
        self.watch.order(ToPort::Start);
    }

    /// Why the port shows no hello.
    pub fn no_hello(&self, baud: u32) -> RecordError {
        let port = self.watch.port.clone();
        match NotABox::of(&self.live.handshake, baud) {
            NotABox::Silent => RecordError::Silent(port),
            NotABox::NoHello => RecordError::NoHello(port),
            NotABox::Other { likely_cause, .. } => RecordError::NoFrame { port, likely_cause },
            NotABox::Refused(refusal) => RecordError::Refused { port, refusal },
        }
    }

    /// The box that said this hello, for `run.toml`. Counters and clock come at the end.
    pub fn info(&self, hello: &Hello) -> BoxInfo {
        let channels = hello
            .channels()
            .iter()
            .map(|channel| ChannelInfo {
                name: channel.name.as_str().to_owned(),
                kind: kind_name(channel.kind).to_owned(),
                measures: self
                    .live
                    .wanted()
                    .find(|(name, _)| *name == channel.name.as_str())
                    .map(|(_, measures)| measures),
                adc_bits: channel.adc_bits,
                rate_hz: f64::from(channel.rate_mhz) / 1e3,
            })
            .collect();
        let (major, minor) = hello.version;
        let (firmware_major, firmware_minor, patch) = hello.firmware;
        BoxInfo {
            name: hello.name.as_str().to_owned(),
            serial: hello.serial.as_str().to_owned(),
            port: self.watch.port.display().to_string(),
            file: self.file.clone(),
            protocol: format!("{major}.{minor}"),
            firmware: format!("{firmware_major}.{firmware_minor}.{patch}"),
            boot: hello.boot,
            row_rate_hz: f64::from(hello.row_rate_mhz) / 1e3,
            channels,
            clock: None,
            counters: None,
        }
    }
}

/// A clock, for `run.toml`.
pub fn clock_info(clock: &RunClock) -> Option<ClockInfo> {
    let line = clock.line()?;
    let ratio = clock.apart.unwrap_or_else(|| 1.0 / (1.0 + line.rate));
    Some(ClockInfo {
        run_time: if clock.apart.is_some() { RunTime::BoxAlone } else { RunTime::Host },
        // To 0.1 ppm: finer than any crystal holds.
        box_s_per_host_s: (ratio * 1e7).round() / 1e7,
        box_at_start_s: clock.box_at_start_us().map(|us| f64::from(us) / 1e6),
        residual_ms: line.residual_us.round() / 1e3,
        fitted_to: if clock.answers { FittedTo::Pings } else { FittedTo::Arrivals },
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::script::{Script, hello, sensors};
    use crate::wire_file::WireEvent;
    use firmware_protocol::Frame;

    /// Found by a cable that came back in a run of 14 s: "44.6 s without readings in this run".
    #[test]
    fn time_without_readings_before_a_run_is_none_of_the_run() {
        let (orders, _ordered) = mpsc::channel(4);
        let mut connection = Connection::new(PathBuf::from("port"), &sensors(), orders);
        let mut script = Script::begun(5_000_000, 0);
        script.send_rows(400);
        // Without power for half a minute.
        script.host_us += 30_000_000;
        let run_us = script.host_us - 10_000_000;
        (script.box_ahead_us, script.row) = (0, 0);
        script.frame(&Frame::Hello(hello(8)));
        script.ping();
        script.send_rows(25);
        for record in &script.records {
            if record.host_us > run_us && connection.began_us == 0 {
                connection.began_us = connection.live.clock().run_at_host(run_us);
                connection.before_run = connection.so_far();
            }
            connection.take(record, Instant::now());
        }
        let all_ms = connection.so_far().without_readings_ms;
        let of_run_ms = all_ms - connection.before_run.without_readings_ms;
        assert!((29_000..31_000).contains(&all_ms), "{all_ms}");
        assert!((9_500..10_500).contains(&of_run_ms), "{of_run_ms}");
    }

    /// Another program may have set the port for itself. Before the run it is said instead that the speed may be wrong.
    #[test]
    fn a_line_that_turns_bad_in_a_run_is_set_anew_once() {
        for begun in [false, true] {
            let (orders, mut ordered) = mpsc::channel(4);
            let mut connection = Connection::new(PathBuf::from("port"), &sensors(), orders);
            let mut script = Script::begun(5_000_000, 0);
            script.send_rows(40);
            for _ in 0..100 {
                script.host_us += 100_000;
                script.record(WireEvent::Received(b"\x05noise\0".to_vec()));
            }
            if begun {
                connection.begin();
                assert!(matches!(ordered.try_recv(), Ok(ToPort::Start)));
            }
            let kinds: Vec<EventKind> = script
                .records
                .iter()
                .flat_map(|record| connection.take(record, Instant::now()).1)
                .map(|event| event.kind)
                .collect();
            assert_eq!(kinds.iter().filter(|kind| **kind == EventKind::LineBad).count(), 1, "{kinds:?}");
            let orders: Vec<_> = std::iter::from_fn(|| ordered.try_recv().ok()).collect();
            assert_eq!(orders.len(), usize::from(begun), "{orders:?}");
            assert!(orders.iter().all(|order| matches!(order, ToPort::Reopen(_))), "{orders:?}");
        }
    }
}
