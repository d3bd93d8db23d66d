//! The loop of a recording.

use super::connection::Connection;
use super::console::{Signals, lines_of_stdin};
use super::ending::finish;
use super::receiver_connection::ReceiverConnection;
use super::start::{Begun, Prepared, begin, look_alikes, name_files, prepare};
use super::state::{Ledger, Recorder};
use super::view::Notices;
use super::watching::wall_less_monotonic_us;
use super::{GnssPort, RecordConfig, RecordError, RecordedRun, RunEnd, View};
use crate::port::{Served, serve};
use crate::session::{Session, StartUnasked};
use crate::wire_file::WireEvent;
use crate::writer::{QUEUE_BYTES_MAX, Queue, SharedState};
use firmware_protocol::{Frame, Hello, Mark, MarkSource, encode};
use std::sync::Arc;
use std::time::{Duration, Instant};
use tokio::sync::mpsc;

/// How often silence, the disk and the end are looked at.
const TICK: Duration = Duration::from_millis(100);

pub async fn record(config: &RecordConfig, view: &mut dyn View) -> Result<RecordedRun, RecordError> {
    let mut signals = Signals::new().map_err(RecordError::System)?;
    // Its locks are held until the run is over.
    let mut prepared = prepare(config)?;
    let (out, messages) = mpsc::channel(256);
    let mut connections = Vec::new();
    for (number, (port, open)) in prepared.ports.drain(..).enumerate() {
        let (orders_in, orders) = mpsc::channel(16);
        let session = Some(Session::with_pings(StartUnasked::Always, Instant::now()));
        connections.push(Connection::new(port.clone(), &prepared.sensors, orders_in));
        let served = Served { number, port, baud: config.baud, session };
        tokio::spawn(serve(served, Some(open), out.clone(), orders));
    }
    let gnss = prepared.gnss.take().map(|(GnssPort { port, baud }, open)| {
        let (orders_in, orders) = mpsc::channel(16);
        let served = Served { number: connections.len(), port: port.clone(), baud, session: None };
        tokio::spawn(serve(served, Some(open), out.clone(), orders));
        ReceiverConnection::new(port, baud, orders_in)
    });
    drop(out);
    let epoch = Instant::now();
    let mut recorder = Recorder {
        config,
        view,
        notices: Notices::new(),
        ledger: Ledger::new(epoch),
        connections,
        gnss,
        messages,
        early: Vec::new(),
        queue: None,
        wall_less_monotonic_us: wall_less_monotonic_us(epoch),
        marks: 0,
        trouble_told: false,
    };
    let begun = match recorder.listen(&mut signals).await {
        Ok(hellos) => recorder.begin(&prepared, &hellos),
        Err(error) => Err(error),
    };
    match begun {
        Ok(begun) => recorder.run(begun, &mut signals).await,
        Err(error) => {
            // A box that was started to make it speak is stopped again.
            recorder.stop_boxes().await;
            Err(error)
        }
    }
}

impl Recorder<'_> {
    /// Names the boxes' files and makes the run's folder.
    fn begin(&mut self, prepared: &Prepared, hellos: &[Hello]) -> Result<Begun, RecordError> {
        name_files(&mut self.connections, hellos);
        for alike in look_alikes(&self.connections, hellos) {
            self.view.notice(&alike);
        }
        begin(self.config, prepared, &self.connections, hellos, self.gnss.as_ref())
    }

    /// Records until the end, and ends the run properly.
    async fn run(mut self, begun: Begun, signals: &mut Signals) -> Result<RecordedRun, RecordError> {
        let Begun { folder, description, writer } = begun;
        let state = Arc::clone(&writer.state);
        let queue = Arc::new(Queue::new(QUEUE_BYTES_MAX));
        let thread = std::thread::Builder::new().name("writer".to_owned()).spawn({
            let queue = Arc::clone(&queue);
            move || writer.run(&queue)
        });
        let thread = thread.map_err(RecordError::System)?;
        for (number, record) in self.early.drain(..) {
            queue.push(number, record);
        }
        self.queue = Some(Arc::clone(&queue));
        for number in 0..self.ports() {
            self.on_event(number, Instant::now(), WireEvent::Started);
        }
        for connection in &mut self.connections {
            connection.begin();
        }
        self.view.began(&folder);
        let end = self.until_end(signals, &state).await;
        self.stop_boxes().await;
        for number in 0..self.ports() {
            self.on_event(number, Instant::now(), WireEvent::Ended(end.to_string()));
        }
        queue.close();
        while !thread.is_finished() {
            self.tell_trouble(&state);
            tokio::time::sleep(Duration::from_millis(5)).await;
        }
        self.view.progress(&self.progress(&state));
        self.view.ended();
        match thread.join() {
            Ok(written) => finish(&folder, description, end, &written),
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
                    Some(message) => self.on_message(message),
                    None => return RunEnd::PortsGone,
                },
                name = signals.next() => return RunEnd::Signal(name),
                Some(()) = lines.recv() => self.mark(),
                _ = tick.tick() => {
                    self.check_wall_clock();
                    self.tell_trouble(state);
                    self.notices.tick(self.view);
                    let now = Instant::now();
                    self.watches().for_each(|watch| watch.check_silence(now));
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
        let host_us = self.ledger.host_us(now);
        let run_us = self.connections.first()?.live.clock().run_at_host(host_us);
        if self.config.duration.is_some_and(|duration| u128::from(run_us) >= duration.as_micros()) {
            return Some(RunEnd::Duration);
        }
        if self.connections.iter().all(|connection| connection.live.refusal().is_some()) {
            return Some(RunEnd::BoxesChanged);
        }
        let gone = |limit: Duration| {
            self.connections.iter().all(|connection| {
                connection.watch.away_since.is_some_and(|since| now.saturating_duration_since(since) >= limit)
            })
        };
        self.config.stop_when_gone.is_some_and(gone).then_some(RunEnd::PortsGone)
    }

    fn mark(&mut self) {
        self.marks = self.marks.wrapping_add(1);
        let at = Instant::now();
        let host_us = self.ledger.host_us(at);
        // The clock in a host's mark is for the reader of the raw file; it wraps as a box's does.
        let mark = Mark { clock_us: host_us as u32, source: MarkSource::Host, number: self.marks };
        self.on_event(0, at, WireEvent::HostMark(encode(&Frame::Mark(mark)).as_bytes().to_vec()));
    }
}
