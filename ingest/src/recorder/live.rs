//! The loop of a recording.

use super::console::{Signals, lines_of_stdin};
use super::notices::Notices;
use super::start::{Begun, begin, check_channels, name_files, prepare};
use super::station::{Station, clock_info};
use super::{Progress, RecordConfig, RecordError, RecordedRun, RunEnd, View};
use crate::assemble::EventKind;
use crate::keep::{Kept, QUEUE_BYTES_MAX, Queue, SharedState};
use crate::port::{FromPort, PortMessage, ToPort, serve};
use crate::run_folder::write_whole;
use crate::run_toml::{RunDescription, RunState};
use crate::wire_file::{Happening, Record};
use firmware_protocol::{Frame, Mark, MarkSource, encode};
use std::path::Path;
use std::sync::{Arc, PoisonError};
use std::time::{Duration, Instant, SystemTime};
use tokio::sync::mpsc;

/// A box must say hello within this time; after `START_UNASKED` without, it is told to start, which a
/// box that is running already answers with a hello.
const HELLO_PATIENCE: Duration = Duration::from_secs(5);
const START_UNASKED: Duration = Duration::from_millis(1300);
/// After the hellos, the first pings are waited for at most this long.
const PING_PATIENCE: Duration = Duration::from_millis(300);
/// Rows on their way after the stop are waited for this long.
const DRAIN: Duration = Duration::from_millis(150);
/// How often silence, the disk and the end are looked at.
const TICK: Duration = Duration::from_millis(100);
/// A step of the host's wall clock against its monotonic one worth noting.
const STEP_US: i64 = 500_000;
/// A disk that has not answered for this long stalls.
const STALL: Duration = Duration::from_secs(2);

/// Gives records their times, rising over all boxes: so their order can be found again from the files.
struct Ledger {
    epoch: Instant,
    last_us: u64,
}

impl Ledger {
    fn record(&mut self, at: Instant, what: Happening) -> Record {
        let us = u64::try_from(at.saturating_duration_since(self.epoch).as_micros()).unwrap_or(u64::MAX);
        self.last_us = us.max(self.last_us + 1);
        Record { host_us: self.last_us, what }
    }
}

struct Recorder<'a> {
    config: &'a RecordConfig,
    view: &'a mut dyn View,
    notices: Notices,
    ledger: Ledger,
    stations: Vec<Station>,
    messages: mpsc::Receiver<PortMessage>,
    /// Records from before the folder was made.
    early: Vec<(usize, Record)>,
    queue: Option<Arc<Queue>>,
    wall_less_monotonic_us: i64,
    marks: u16,
    trouble_told: bool,
}

pub async fn record(config: &RecordConfig, view: &mut dyn View) -> Result<RecordedRun, RecordError> {
    let mut signals = Signals::new().map_err(RecordError::System)?;
    // Its locks are held until the run is over.
    let mut prepared = prepare(config)?;
    let sensors = &prepared.sensors;
    let (out, messages) = mpsc::channel(256);
    let mut stations = Vec::new();
    for (number, (port, open)) in prepared.ports.drain(..).enumerate() {
        let (orders_in, orders) = mpsc::channel(16);
        stations.push(Station::new(port.clone(), sensors, orders_in));
        tokio::spawn(serve(number, port, config.baud, Some(open), out.clone(), orders));
    }
    drop(out);
    let epoch = Instant::now();
    let mut recorder = Recorder {
        config,
        view,
        notices: Notices::new(),
        ledger: Ledger { epoch, last_us: 0 },
        stations,
        messages,
        early: Vec::new(),
        queue: None,
        wall_less_monotonic_us: wall_less_monotonic_us(epoch),
        marks: 0,
        trouble_told: false,
    };
    if let Err(error) = recorder.listen(&mut signals).await {
        // A box that was started to make it speak is stopped again.
        recorder.stop_boxes().await;
        return Err(error);
    }
    name_files(&mut recorder.stations);
    let begun = match begin(config, sensors, &recorder.stations) {
        Ok(begun) => begun,
        Err(error) => {
            recorder.stop_boxes().await;
            return Err(error);
        }
    };
    recorder.run(begun, &mut signals).await
}

impl Recorder<'_> {
    /// Gives a happening its time and hands it to the live view and to the keeper.
    fn happened(&mut self, number: usize, at: Instant, what: Happening) {
        let record = self.ledger.record(at, what);
        let events = match self.stations.get_mut(number) {
            Some(station) => station.take(&record, at),
            None => return,
        };
        match &self.queue {
            Some(queue) => queue.push(number, record),
            None => self.early.push((number, record)),
        }
        let several = self.stations.len() > 1;
        for (t_s, kind, detail) in events {
            // Before the run begins nothing is worth a line but what stops it.
            if self.queue.is_none() || matches!(kind, EventKind::FirstRow | EventKind::Ended) {
                continue;
            }
            let file = self.stations.get(number).map_or("", |station| station.file.as_str());
            let of_box = if several { format!("{file}: ") } else { String::new() };
            let line = format!("{t_s:.1} s: {of_box}{}: {detail}", kind.name());
            // Only what a bad line brings by the hundred is held back; a port that is gone never is.
            match kind {
                EventKind::Gap
                | EventKind::Saturated
                | EventKind::SaturatedEnd
                | EventKind::Refused
                | EventKind::BoxDropped => self.notices.show(self.view, &line),
                _ => self.view.notice(&line),
            }
        }
    }

    fn message(&mut self, message: PortMessage) {
        let what = match message.what {
            FromPort::Opened => {
                let port =
                    self.stations.get(message.number).map(|station| station.port.display().to_string());
                Happening::PortOpened(port.unwrap_or_default())
            }
            FromPort::Gone(why) => Happening::PortGone(why),
            FromPort::Bytes(bytes) => Happening::Received(bytes),
            FromPort::Pinging(token) => Happening::PingSent { token },
        };
        self.happened(message.number, message.at, what);
    }

    /// Waits until every box has said hello and fits, and its clock has answered.
    async fn listen(&mut self, signals: &mut Signals) -> Result<(), RecordError> {
        let began = Instant::now();
        let mut asked = false;
        let mut heard_all: Option<Instant> = None;
        loop {
            tokio::select! {
                message = self.messages.recv() => match message {
                    Some(message) => self.message(message),
                    None => return Err(RecordError::StoppedBefore),
                },
                _ = signals.next() => return Err(RecordError::StoppedBefore),
                () = tokio::time::sleep(Duration::from_millis(20)) => {}
            }
            for station in &self.stations {
                if let Some(refusal) = station.live.refusal() {
                    return Err(RecordError::Refused {
                        port: station.port.clone(),
                        refusal: refusal.clone(),
                    });
                }
                if let (Some(why), Some(_)) = (&station.went, station.away_since) {
                    let (port, why) = (station.port.clone(), why.clone());
                    return Err(RecordError::PortWent { port, why });
                }
            }
            if self.stations.iter().all(|station| station.live.hello().is_some()) {
                let heard = *heard_all.get_or_insert_with(|| {
                    for station in &mut self.stations {
                        station.order(ToPort::PingBurst);
                    }
                    Instant::now()
                });
                check_channels(&self.stations)?;
                let fitted = self.stations.iter().all(|station| station.live.clock().is_fitted());
                let waited = heard.elapsed();
                if waited >= PING_PATIENCE || (fitted && waited >= PING_PATIENCE / 2) {
                    return Ok(());
                }
            }
            if !asked && heard_all.is_none() && began.elapsed() >= START_UNASKED {
                asked = true;
                for station in self.stations.iter_mut().filter(|station| station.live.hello().is_none()) {
                    station.order(ToPort::Start);
                }
            }
            if began.elapsed() >= HELLO_PATIENCE {
                let silent = self.stations.iter().find(|station| station.live.hello().is_none());
                return silent.map_or(Ok(()), |station| Err(no_hello(station, self.config.baud)));
            }
        }
    }

    /// Records until the end, and ends the run properly.
    async fn run(mut self, begun: Begun, signals: &mut Signals) -> Result<RecordedRun, RecordError> {
        let Begun { folder, description, keeper } = begun;
        let state = keeper.state();
        let queue = Arc::new(Queue::new(QUEUE_BYTES_MAX));
        let thread = std::thread::Builder::new().name("keeper".to_owned()).spawn({
            let queue = Arc::clone(&queue);
            move || keeper.run(&queue)
        });
        let thread = thread.map_err(RecordError::System)?;
        for (number, record) in self.early.drain(..) {
            queue.push(number, record);
        }
        self.queue = Some(Arc::clone(&queue));
        for number in 0..self.stations.len() {
            self.happened(number, Instant::now(), Happening::Started);
        }
        for station in &mut self.stations {
            station.begin();
        }
        self.view.began(&folder);
        let end = self.until_end(signals, &state).await;
        self.stop_boxes().await;
        for number in 0..self.stations.len() {
            self.happened(number, Instant::now(), Happening::Ended(end.to_string()));
        }
        queue.close();
        while !thread.is_finished() {
            self.tell_trouble(&state);
            tokio::time::sleep(Duration::from_millis(5)).await;
        }
        self.view.progress(&self.progress(&state));
        self.view.ended();
        match thread.join() {
            Ok(kept) => finish(&folder, description, end, &kept),
            Err(_) => Err(RecordError::Unwritten { folder, cause: "the writing thread failed".to_owned() }),
        }
    }

    async fn until_end(&mut self, signals: &mut Signals, state: &SharedState) -> RunEnd {
        let mut lines = lines_of_stdin();
        let mut tick = tokio::time::interval(TICK);
        tick.set_missed_tick_behavior(tokio::time::MissedTickBehavior::Skip);
        loop {
            tokio::select! {
                message = self.messages.recv() => match message {
                    Some(message) => {
                        let (number, at) = (message.number, message.at);
                        let bytes = matches!(message.what, FromPort::Bytes(_));
                        self.message(message);
                        if let (true, Some(station)) = (bytes, self.stations.get_mut(number)) {
                            station.answer_hello(at);
                        }
                    }
                    None => return RunEnd::PortsGone,
                },
                name = signals.next() => return RunEnd::Signal(name),
                Some(()) = lines.recv() => self.mark(),
                _ = tick.tick() => {
                    self.check_wall_clock();
                    self.tell_trouble(state);
                    self.notices.tick(self.view);
                    let now = Instant::now();
                    for station in &mut self.stations {
                        station.check_silence(now);
                    }
                    self.view.progress(&self.progress(state));
                    if let Some(end) = self.end(now) {
                        return end;
                    }
                }
            }
        }
    }

    /// Whether the run has come to its end.
    fn end(&self, now: Instant) -> Option<RunEnd> {
        let host_us = u64::try_from(now.saturating_duration_since(self.ledger.epoch).as_micros()).ok()?;
        let run_us = self.stations.first()?.live.clock().run_at_host(host_us);
        if self.config.duration.is_some_and(|duration| u128::from(run_us) >= duration.as_micros()) {
            return Some(RunEnd::Duration);
        }
        if self.stations.iter().all(|station| station.live.refusal().is_some()) {
            return Some(RunEnd::BoxesChanged);
        }
        let gone = |limit: Duration| {
            self.stations.iter().all(|station| {
                station.away_since.is_some_and(|since| now.saturating_duration_since(since) >= limit)
            })
        };
        self.config.stop_when_gone.is_some_and(gone).then_some(RunEnd::PortsGone)
    }

    fn mark(&mut self) {
        self.marks = self.marks.wrapping_add(1);
        let at = Instant::now();
        let host_us = at.saturating_duration_since(self.ledger.epoch).as_micros();
        // The clock in a host's mark is for the reader of the raw file; it wraps as a box's does.
        let mark = Mark { clock_us: host_us as u32, source: MarkSource::Host, number: self.marks };
        let (bytes, length) = encode(&Frame::Mark(mark));
        let bytes = bytes.get(..length).unwrap_or(&[]).to_vec();
        self.happened(0, at, Happening::HostMark(bytes));
    }

    fn check_wall_clock(&mut self) {
        let now_us = wall_less_monotonic_us(self.ledger.epoch);
        let step_us = now_us.saturating_sub(self.wall_less_monotonic_us);
        if step_us.abs() >= STEP_US {
            self.wall_less_monotonic_us = now_us;
            for number in 0..self.stations.len() {
                self.happened(number, Instant::now(), Happening::ClockStep { step_us });
            }
        }
    }

    fn tell_trouble(&mut self, state: &SharedState) {
        let state = state.lock().unwrap_or_else(PoisonError::into_inner).clone();
        let stalled = state.alive.elapsed();
        let trouble = state.trouble.map(|why| format!("the disk fails: {why}"));
        let trouble = trouble.or_else(|| {
            (stalled >= STALL)
                .then(|| format!("the disk has not answered for {:.0} s", stalled.as_secs_f64()))
        });
        match trouble {
            Some(why) if !self.trouble_told => {
                self.trouble_told = true;
                self.view.notice(&format!("{why}; readings wait in memory"));
            }
            None if self.trouble_told => {
                self.trouble_told = false;
                self.view.notice("the disk is well again");
            }
            _ => {}
        }
    }

    fn progress(&self, state: &SharedState) -> Progress {
        let mut progress = Progress {
            disk_trouble: state.lock().unwrap_or_else(PoisonError::into_inner).trouble.clone(),
            ..Progress::default()
        };
        for station in &self.stations {
            let counters = station.live.counters();
            progress.rows += counters.rows;
            progress.rows_lost += counters.rows_lost;
            progress.port_is_away |= station.away_since.is_some();
            if let Some(row) = &station.last_row {
                progress.t_s = progress.t_s.max(row.t_us as f64 / 1e6);
                progress
                    .latest
                    .extend(station.live.columns().iter().copied().zip(row.values().iter().copied()));
            }
        }
        progress
    }

    /// Tells the boxes to stop and takes what is still on its way.
    async fn stop_boxes(&mut self) {
        for station in &mut self.stations {
            station.order(ToPort::Stop);
        }
        let until = tokio::time::Instant::now() + DRAIN;
        while let Ok(Some(message)) = tokio::time::timeout_at(until, self.messages.recv()).await {
            self.message(message);
        }
    }
}

/// Rewrites `run.toml` with how the run ended.
fn finish(
    folder: &Path,
    mut description: RunDescription,
    end: RunEnd,
    kept: &Kept,
) -> Result<RecordedRun, RecordError> {
    let lasted_us = kept.assemblers.iter().map(|box_| box_.clock().last_run_us()).max().unwrap_or(0);
    let lasted_s = lasted_us as f64 / 1e6;
    for (info, assembler) in description.boxes.iter_mut().zip(&kept.assemblers) {
        info.clock = clock_info(assembler.clock());
        info.counters = Some(assembler.counters());
    }
    description.run.state = RunState::Ended;
    description.run.ended = Some(end.to_string());
    description.run.lasted_s = Some(lasted_s);
    let unwritten = |cause: String| RecordError::Unwritten { folder: folder.to_owned(), cause };
    if let Some(cause) = &kept.unwritten {
        return Err(unwritten(cause.clone()));
    }
    let text = description.to_toml().map_err(|error| unwritten(error.to_string()))?;
    write_whole(&folder.join("run.toml"), text.as_bytes()).map_err(|error| unwritten(error.to_string()))?;
    let counters = kept.assemblers.iter().map(|assembler| assembler.counters()).collect();
    Ok(RecordedRun { folder: folder.to_owned(), end, lasted_s, counters })
}

/// What may be wrong with a port that shows no hello.
fn no_hello(station: &Station, baud: u32) -> RecordError {
    let port = station.port.clone();
    let counters = station.live.counters();
    if counters.bytes == 0 {
        return RecordError::Silent { port };
    }
    if counters.frames > 0 {
        return RecordError::NoHello { port };
    }
    let nmea = station.first_bytes.windows(3).any(|three| three == b"$GP" || three == b"$GN");
    let hint = if nmea {
        "this looks like a GNSS receiver (NMEA 0183)".to_owned()
    } else {
        format!("check the baud rate (now {baud}) and that a sensor box is on this port")
    };
    RecordError::NoFrame { port, hint }
}

fn wall_less_monotonic_us(epoch: Instant) -> i64 {
    let wall = SystemTime::now().duration_since(SystemTime::UNIX_EPOCH).unwrap_or_default().as_micros();
    let monotonic = epoch.elapsed().as_micros();
    i64::try_from(wall).unwrap_or(i64::MAX).saturating_sub(i64::try_from(monotonic).unwrap_or(i64::MAX))
}
