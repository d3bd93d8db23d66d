//! The loop of a recorder.

use super::by_plow::ByPlow;
use super::config::Begin;
use super::connection::Connection;
use super::console::{Order, PassChoice, Wish};
use super::host::Host;
use super::look_back::LookBack;
use super::notices::Notices;
use super::receiver_connection::ReceiverConnection;
use super::run::Asked;
use super::start::{Prepared, prepare, setting_of};
use super::state::{Ledger, Recorder};
use super::watching::{TICK, wall_less_monotonic_us};
use super::{GnssPort, RecordConfig, RecordError, Recorded, RunEnd, View};
use crate::passes::cannot_find;
use crate::passes::still::Standing;
use crate::port::{Served, serve};
use crate::session::{Session, StartUnasked};
use crate::wire_file::WireEvent;
use crate::writer::SharedState;
use firmware_protocol::{Frame, Mark, MarkSource, encode};
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::mpsc;
use tokio::time::Instant;

/// Records until the recorder is to end, as [`record`](super::record) does, on any host and within a [`tokio`] runtime
/// of one thread.
///
/// # Errors
/// As [`record`](super::record).
pub async fn record_on(
    host: Arc<dyn Host>,
    config: &RecordConfig,
    view: &mut dyn View,
) -> Result<Recorded, RecordError> {
    let wishes = host.wishes().map_err(RecordError::System)?;
    // Its locks are held until the run is over.
    let mut prepared = prepare(config, host.as_ref())?;
    let (out, messages) = mpsc::channel(256);
    let (mut connections, mut not_there) = (Vec::new(), Vec::new());
    for (number, (port, open)) in prepared.ports.drain(..).enumerate() {
        let (orders_in, orders) = mpsc::channel(16);
        let session = Some(Session::with_pings(StartUnasked::Always, Instant::now()));
        let is_claimed = open.is_ok();
        connections.push(Connection::new(port.clone(), &prepared.sensors, orders_in));
        let open = open.map_err(|error| not_there.push((number, error.why()))).ok();
        let served = Served { number, port, baud: config.baud, is_claimed, session };
        tokio::spawn(serve(Arc::<dyn Host>::clone(&host), served, open, out.clone(), orders));
    }
    let gnss = prepared.gnss.take().map(|(GnssPort { port, baud }, open)| {
        let (orders_in, orders) = mpsc::channel(16);
        let number = connections.len();
        let is_claimed = open.is_ok();
        let served = Served { number, port: port.clone(), baud, is_claimed, session: None };
        let open = open.map_err(|error| not_there.push((number, error.why()))).ok();
        tokio::spawn(serve(Arc::<dyn Host>::clone(&host), served, open, out.clone(), orders));
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
        look_back: LookBack::default(),
        choice: PassChoice {
            setting_name: config.setting_name.clone(),
            assumed: config.setting_assumed,
            share: config.share,
            field: config.field.clone(),
            note: config.note.clone(),
        },
        live_since_us: None,
        last_end_us: 0,
        by_plow: ByPlow::of(config),
        standing: (config.begin != Begin::AtOnce).then(|| Standing::of(&config.plow)),
        remarked: None,
        run: None,
        marks: 0,
        trouble_told: false,
    };
    for (number, why) in not_there {
        recorder.on_event(number, epoch, WireEvent::PortGone(why));
    }
    match config.begin {
        Begin::AtOnce => recorder.record_at_once(&prepared).await,
        Begin::OnStart | Begin::WhenInGround => recorder.record_many(&prepared).await,
    }
}

impl Recorder<'_> {
    /// One run, as soon as all boxes answer.
    async fn record_at_once(&mut self, prepared: &Prepared) -> Result<Recorded, RecordError> {
        let begun = match self.listen().await {
            Ok(hellos) => self.begin_run(prepared, &hellos, &Asked { at_us: 0, pass: None }),
            Err(error) => Err(error),
        };
        if let Err(error) = begun {
            // A box that was started to make it speak is stopped again.
            self.stop_boxes().await;
            return Err(error);
        }
        let (end, _) = self.until_end().await;
        let last = self.end_run(end, true).await?;
        Ok(Recorded { runs: 1, last: Some(last) })
    }

    /// Runs as they are asked for, until the recorder is to end.
    async fn record_many(&mut self, prepared: &Prepared) -> Result<Recorded, RecordError> {
        let (mut recorded, mut failed) = (Recorded::default(), 0);
        if let (Begin::WhenInGround, Some(why)) = (self.config.begin, cannot_find(&self.config.plow)) {
            self.view.notice(&format!("no run begins by itself, as {why}: each has to be started"));
        }
        while let Some(asked) = self.stand_by().await {
            recorded.runs += 1;
            let begun = match self.hellos() {
                Ok(hellos) => self.begin_run(prepared, &hellos, &asked),
                Err(silent) => Err(silent.no_hello(self.config.baud)),
            };
            if let Err(error) = begun {
                failed += 1;
                self.view.not_done(Order::Start, &format!("no run begins: {error}"));
                self.view.ended(&Err(error));
                continue;
            }
            let (end, is_last) = self.until_end().await;
            match self.end_run(end, is_last).await {
                Ok(run) => recorded.last = Some(run),
                Err(_) => failed += 1,
            }
            if is_last {
                return whole(recorded, failed);
            }
        }
        self.stop_boxes().await;
        whole(recorded, failed)
    }

    /// Records until the end of the run; the second value says whether that of the recorder comes with it.
    async fn until_end(&mut self) -> (RunEnd, bool) {
        let Some(state) = self.run.as_ref().map(|run| SharedState::clone(&run.state)) else {
            return (RunEnd::PortsGone, true);
        };
        let at_once = self.config.begin == Begin::AtOnce;
        let mut tick = tokio::time::interval(TICK);
        tick.set_missed_tick_behavior(tokio::time::MissedTickBehavior::Skip);
        loop {
            // In this order, so that a flood of bytes holds up neither the person nor the tick.
            tokio::select! {
                biased;
                Some(wish) = self.wishes.recv() => match wish {
                    Wish::End(name) => return (RunEnd::Signal(name), true),
                    Wish::Stop(name) => return (RunEnd::Signal(name), at_once),
                    Wish::Mark | Wish::Enter => self.mark(),
                    Wish::Choose(choice) => {
                        self.choose(&choice, Order::Choose);
                    }
                    Wish::Start(_) => {
                        self.view.not_done(Order::Start, "a run is being recorded already: stop it first");
                    }
                },
                _ = tick.tick() => {
                    self.tick();
                    self.tell_trouble(&state);
                    self.view.progress(&self.progress(Some(&state)));
                    if let Some(end) = self.end(Instant::now()) {
                        return (end, at_once);
                    }
                }
                message = self.messages.recv() => match message {
                    Some(message) => self.on_message(message),
                    None => return (RunEnd::PortsGone, true),
                },
            }
        }
    }

    /// What is looked at ten times a second, in a run or not.
    pub(super) fn tick(&mut self) {
        self.check_wall_clock();
        self.notices.tick(self.view);
        let now = Instant::now();
        let host = Arc::clone(&self.host);
        self.watches().for_each(|watch| {
            watch.check_silence(now);
            watch.look_around(now, || host.others());
        });
        // Before all boxes are there it is told with what they lack.
        if self.live_since_us.is_some()
            && let Some(line) = self.gnss.as_mut().and_then(|gnss| gnss.news(now))
        {
            self.notices.show(self.view, (self.connections.len(), "receiver"), &line);
        }
    }

    /// Takes note of what the next runs are recorded with, as a person says; gives whether that can be, and else tells why not.
    pub(super) fn choose(&mut self, said: &PassChoice, order: Order) -> bool {
        let asked = said.setting_name.as_deref();
        match setting_of(&self.config.plow, asked) {
            Err(error) if asked.is_some() => {
                self.view.not_done(order, &error.to_string());
                false
            }
            _ => {
                self.choice = self.choice.with(said);
                // Whoever starts a run starts it in the setting that is shown.
                self.choice.assumed &= order != Order::Start;
                self.view.chosen(&self.choice, true);
                true
            }
        }
    }

    /// Whether the run has come to its end.
    fn end(&self, now: Instant) -> Option<RunEnd> {
        let host_us = self.ledger.host_us(now);
        let first = self.connections.first()?;
        let run_us = first.live.clock().run_at_host(host_us).saturating_sub(first.began_us);
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
        if self.config.stop_when_gone.is_some_and(gone) {
            return Some(RunEnd::PortsGone);
        }
        let by_plow = self.by_plow.as_ref().filter(|_| self.run.as_ref().is_some_and(|run| run.by_plow))?;
        by_plow.is_out_since(host_us).then_some(RunEnd::OutOfGround)
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

/// What the runs came to.
fn whole(recorded: Recorded, failed: u64) -> Result<Recorded, RecordError> {
    match failed {
        0 => Ok(recorded),
        failed => Err(RecordError::RunsFailed { failed, runs: recorded.runs }),
    }
}
