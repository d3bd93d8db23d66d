//! The loop of a recording.

use super::connection::Connection;
use super::console::Wish;
use super::early::Early;
use super::ending::finish;
use super::host::Host;
use super::notices::Notices;
use super::receiver_connection::ReceiverConnection;
use super::start::{Prepared, begin, clocks_apart, doubled, look_alikes, name_files, prepare};
use super::state::{Ledger, Recorder};
use super::watching::wall_less_monotonic_us;
use super::{BegunRun, GnssPort, RecordConfig, RecordError, RecordedRun, RunEnd, View};
use crate::port::{Served, serve};
use crate::session::{Session, StartUnasked};
use crate::wire_file::WireEvent;
use crate::writer::{QUEUE_BYTES_MAX, Queue, SharedState, Writer};
use firmware_protocol::{Frame, Hello, Mark, MarkSource, encode};
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::{mpsc, oneshot};
use tokio::time::Instant;

/// How often silence, the disk and the end are looked at.
const TICK: Duration = Duration::from_millis(100);
/// The same while the last of it is written.
const LAST_TICK: Duration = Duration::from_millis(20);

/// Records a run until it ends, as [`record`](super::record) does, on any host and within a [`tokio`] runtime of one
/// thread.
///
/// # Errors
/// As [`record`](super::record).
pub async fn record_on(
    host: Arc<dyn Host>,
    config: &RecordConfig,
    view: &mut dyn View,
) -> Result<RecordedRun, RecordError> {
    let wishes = host.wishes().map_err(RecordError::System)?;
    // Its locks are held until the run is over.
    let mut prepared = prepare(config, host.as_ref())?;
    let (out, messages) = mpsc::channel(256);
    let mut connections = Vec::new();
    for (number, (port, open)) in prepared.ports.drain(..).enumerate() {
        let (orders_in, orders) = mpsc::channel(16);
        let session = Some(Session::with_pings(StartUnasked::Always, Instant::now()));
        connections.push(Connection::new(port.clone(), &prepared.sensors, orders_in));
        let served = Served { number, port, baud: config.baud, session };
        tokio::spawn(serve(Arc::<dyn Host>::clone(&host), served, Some(open), out.clone(), orders));
    }
    let gnss = prepared.gnss.take().map(|(GnssPort { port, baud }, open)| {
        let (orders_in, orders) = mpsc::channel(16);
        let served = Served { number: connections.len(), port: port.clone(), baud, session: None };
        tokio::spawn(serve(Arc::<dyn Host>::clone(&host), served, Some(open), out.clone(), orders));
        ReceiverConnection::new(port, baud, orders_in)
    });
    drop(out);
    let epoch = Instant::now();
    let mut recorder = Recorder {
        wall_less_monotonic_us: wall_less_monotonic_us(host.as_ref(), epoch),
        config,
        host,
        wishes,
        view,
        notices: Notices::default(),
        ledger: Ledger::new(epoch),
        connections,
        gnss,
        messages,
        early: Early::default(),
        queue: None,
        marks: 0,
        trouble_told: false,
    };
    let begun = match recorder.listen().await {
        Ok(hellos) => recorder.begin(&prepared, &hellos),
        Err(error) => Err(error),
    };
    match begun {
        Ok(writer) => recorder.run(writer).await,
        Err(error) => {
            // A box that was started to make it speak is stopped again.
            recorder.stop_boxes().await;
            Err(error)
        }
    }
}

impl Recorder<'_> {
    /// Names the boxes' files and makes the run's folder.
    fn begin(&mut self, prepared: &Prepared, hellos: &[Hello]) -> Result<Writer, RecordError> {
        name_files(&mut self.connections, hellos);
        for remarks in [look_alikes, doubled, clocks_apart] {
            for remark in remarks(&self.connections, hellos) {
                self.view.notice(&remark);
            }
        }
        begin(self.config, self.host.as_ref(), prepared, &self.connections, hellos, self.gnss.as_ref())
    }

    /// Records until the end, and ends the run properly.
    async fn run(mut self, writer: Writer) -> Result<RecordedRun, RecordError> {
        let (state, folder) = (Arc::clone(&writer.state), writer.folder().to_owned());
        let queue = Arc::new(Queue::new(QUEUE_BYTES_MAX));
        let (done, mut written) = oneshot::channel();
        let writing = {
            let queue = Arc::clone(&queue);
            async move {
                // Nobody waits for it any more only where the recorder itself was given up.
                let _ = done.send(writer.run(&queue).await);
            }
        };
        self.host.do_beside(Box::pin(writing)).map_err(RecordError::System)?;
        for (number, record) in self.early.take() {
            queue.push(number, record);
        }
        self.queue = Some(Arc::clone(&queue));
        for number in 0..self.ports() {
            self.on_event(number, Instant::now(), WireEvent::Started);
        }
        for connection in &mut self.connections {
            connection.begin();
        }
        let config = self.config;
        let share = config.share.unwrap_or(config.plow.bottoms.share);
        let setting_name = config.setting_name.clone();
        let began_us = self.ledger.host_us(Instant::now());
        self.view.began(&BegunRun { folder: folder.clone(), setting_name, share, began_us });
        let end = self.until_end(&state).await;
        let host_us = self.ledger.host_us(Instant::now());
        let run_us = self.connections.iter().map(|connection| connection.live.clock().run_at_host(host_us));
        let ended_us = run_us.max().unwrap_or(0);
        self.stop_boxes().await;
        for number in 0..self.ports() {
            self.on_event(number, Instant::now(), WireEvent::Ended(end.to_string()));
        }
        queue.close();
        let written = loop {
            tokio::select! {
                biased;
                written = &mut written => break written,
                () = tokio::time::sleep(LAST_TICK) => self.tell_trouble(&state),
            }
        };
        self.notices.say_held_back(self.view);
        self.view.progress(&self.progress(&state));
        let ended = match written {
            Ok(written) => finish(end, ended_us, written),
            Err(_) => Err(RecordError::Unwritten { folder, cause: "the writing thread failed".to_owned() }),
        };
        self.view.ended(&ended);
        ended
    }

    async fn until_end(&mut self, state: &SharedState) -> RunEnd {
        let mut tick = tokio::time::interval(TICK);
        tick.set_missed_tick_behavior(tokio::time::MissedTickBehavior::Skip);
        loop {
            // In this order, so that a flood of bytes holds up neither the person nor the tick.
            tokio::select! {
                biased;
                Some(wish) = self.wishes.recv() => match wish {
                    Wish::End(name) | Wish::Stop(name) => return RunEnd::Signal(name),
                    Wish::Mark => self.mark(),
                    Wish::Start(_) => {}
                },
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
                message = self.messages.recv() => match message {
                    Some(message) => self.on_message(message),
                    None => return RunEnd::PortsGone,
                },
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
