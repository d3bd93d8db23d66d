//! The loop of a recording.

use super::connection::Connection;
use super::console::{Signals, lines_of_stdin};
use super::ending::finish;
use super::notices::Notices;
use super::port_watch::PortWatch;
use super::receiver_connection::ReceiverConnection;
use super::start::{Begun, begin, look_alikes, name_files, prepare};
use super::watching::wall_less_monotonic_us;
use super::{GnssPort, RecordConfig, RecordError, RecordedRun, RunEnd, View};
use crate::assemble::EventKind;
use crate::keep::{QUEUE_BYTES_MAX, Queue, SharedState};
use crate::port::{FromPort, Manner, PortMessage, Served, serve};
use crate::transcript::GNSS_FILE;
use crate::wire_file::{Happening, Record};
use firmware_protocol::{Frame, Mark, MarkSource, encode};
use std::sync::Arc;
use std::time::{Duration, Instant};
use tokio::sync::mpsc;

/// How often silence, the disk and the end are looked at.
const TICK: Duration = Duration::from_millis(100);

/// Gives records their times, rising over all boxes: so their order can be found again from the files.
pub(super) struct Ledger {
    pub(super) epoch: Instant,
    last_us: u64,
}

impl Ledger {
    fn record(&mut self, at: Instant, what: Happening) -> Record {
        let us = u64::try_from(at.saturating_duration_since(self.epoch).as_micros()).unwrap_or(u64::MAX);
        self.last_us = us.max(self.last_us + 1);
        Record { host_us: self.last_us, what }
    }
}

/// The recorder at work. What it does before, beside and after the loop stands in files of its own.
pub(super) struct Recorder<'a> {
    pub(super) config: &'a RecordConfig,
    pub(super) view: &'a mut dyn View,
    pub(super) notices: Notices,
    pub(super) ledger: Ledger,
    /// The boxes: ports number 0 and on.
    pub(super) connections: Vec<Connection>,
    /// The GNSS receiver, if there is one: the port after those of the boxes.
    pub(super) gnss: Option<ReceiverConnection>,
    pub(super) messages: mpsc::Receiver<PortMessage>,
    /// Records from before the folder was made.
    pub(super) early: Vec<(usize, Record)>,
    pub(super) queue: Option<Arc<Queue>>,
    pub(super) wall_less_monotonic_us: i64,
    pub(super) marks: u16,
    pub(super) trouble_told: bool,
}

pub async fn record(config: &RecordConfig, view: &mut dyn View) -> Result<RecordedRun, RecordError> {
    let mut signals = Signals::new().map_err(RecordError::System)?;
    // Its locks are held until the run is over.
    let mut prepared = prepare(config)?;
    let sensors = &prepared.sensors;
    let (out, messages) = mpsc::channel(256);
    let mut connections = Vec::new();
    for (number, (port, open)) in prepared.ports.drain(..).enumerate() {
        let (orders_in, orders) = mpsc::channel(16);
        connections.push(Connection::new(port.clone(), sensors, orders_in));
        let served = Served { number, port, baud: config.baud, manner: Manner::Box };
        tokio::spawn(serve(served, Some(open), out.clone(), orders));
    }
    let gnss = prepared.gnss.take().map(|(GnssPort { port, baud }, open)| {
        let (orders_in, orders) = mpsc::channel(16);
        let served =
            Served { number: connections.len(), port: port.clone(), baud, manner: Manner::ListenOnly };
        tokio::spawn(serve(served, Some(open), out.clone(), orders));
        ReceiverConnection::new(port, baud, orders_in)
    });
    drop(out);
    let epoch = Instant::now();
    let mut recorder = Recorder {
        config,
        view,
        notices: Notices::new(),
        ledger: Ledger { epoch, last_us: 0 },
        connections,
        gnss,
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
    name_files(&mut recorder.connections);
    for alike in look_alikes(&recorder.connections) {
        recorder.view.notice(&alike);
    }
    let begun = match begin(config, sensors, &recorder.connections, recorder.gnss.as_ref()) {
        Ok(begun) => begun,
        Err(error) => {
            recorder.stop_boxes().await;
            return Err(error);
        }
    };
    recorder.run(begun, &mut signals).await
}

impl Recorder<'_> {
    /// How many ports there are, the receiver's among them.
    pub(super) fn ports(&self) -> usize {
        self.connections.len() + usize::from(self.gnss.is_some())
    }

    /// The ports, the receiver's last.
    pub(super) fn watches(&mut self) -> impl Iterator<Item = &mut PortWatch> {
        let boxes = self.connections.iter_mut().map(|connection| &mut connection.watch);
        boxes.chain(self.gnss.as_mut().map(|gnss| &mut gnss.watch))
    }

    /// Gives a happening its time and hands it to the live view and to the keeper.
    pub(super) fn happened(&mut self, number: usize, at: Instant, what: Happening) {
        let record = self.ledger.record(at, what);
        let is_gnss = number == self.connections.len();
        let events = match (self.connections.get_mut(number), &mut self.gnss) {
            (Some(connection), _) => connection.take(&record, at),
            (None, Some(gnss)) if is_gnss => gnss.take(&record, at),
            _ => return,
        };
        match &self.queue {
            Some(queue) => queue.push(number, record),
            None => self.early.push((number, record)),
        }
        let several = self.connections.len() > 1;
        for (t_s, kind, detail) in events {
            // Before the run begins nothing is worth a line but what stops it.
            if self.queue.is_none() || matches!(kind, EventKind::FirstRow | EventKind::Ended) {
                continue;
            }
            let file = self.connections.get(number).map_or(GNSS_FILE, |connection| connection.file.as_str());
            let of_box = if several || is_gnss { format!("{file}: ") } else { String::new() };
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

    pub(super) fn message(&mut self, message: PortMessage) {
        let what = match message.what {
            FromPort::Opened => {
                let watch = self.connections.get(message.number).map(|connection| &connection.watch);
                let watch = watch.or(self.gnss.as_ref().map(|gnss| &gnss.watch));
                Happening::PortOpened(
                    watch.map_or_else(String::new, |watch| watch.port.display().to_string()),
                )
            }
            FromPort::Gone(why) => Happening::PortGone(why),
            FromPort::Bytes(bytes) => Happening::Received(bytes),
            FromPort::Pinging(token) => Happening::PingSent { token },
        };
        self.happened(message.number, message.at, what);
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
        for number in 0..self.ports() {
            self.happened(number, Instant::now(), Happening::Started);
        }
        for connection in &mut self.connections {
            connection.begin();
        }
        self.view.began(&folder);
        let end = self.until_end(signals, &state).await;
        self.stop_boxes().await;
        for number in 0..self.ports() {
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
                    Some(message) => self.message(message),
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
        let host_us = u64::try_from(now.saturating_duration_since(self.ledger.epoch).as_micros()).ok()?;
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
        let host_us = at.saturating_duration_since(self.ledger.epoch).as_micros();
        // The clock in a host's mark is for the reader of the raw file; it wraps as a box's does.
        let mark = Mark { clock_us: host_us as u32, source: MarkSource::Host, number: self.marks };
        let (bytes, length) = encode(&Frame::Mark(mark));
        let bytes = bytes.get(..length).unwrap_or(&[]).to_vec();
        self.happened(0, at, Happening::HostMark(bytes));
    }
}
