//! One run of a recorder: how it begins, with the seconds before, and how it ends.

use super::by_plow::ByPlow;
use super::config::Begin;
use super::ending::finish;
use super::look_back::BEFORE_US;
use super::start::{Beginning, Prepared, begin, clocks_apart, doubled, look_alikes, name_files};
use super::state::{Recorder, Run};
use super::watching::TICK;
use super::{BegunRun, PassChoice, RecordConfig, RecordError, RecordedRun, RunEnd};
use crate::passes::rule::too_short;
use crate::port::ToPort;
use crate::wire_file::{Record, WireEvent};
use crate::writer::{QUEUE_BYTES_MAX, Queue};
use firmware_protocol::Hello;
use std::sync::Arc;
use std::time::Duration;
use tokio::sync::oneshot;
use tokio::time::Instant;

/// A disk that is well has written the last data of a run within this.
const SOON_WRITTEN: Duration = Duration::from_secs(1);

/// What asks for a run.
#[derive(Clone, Debug)]
pub(super) struct Asked {
    /// Host time at which it was asked for, in µs.
    pub(super) at_us: u64,
    /// The number of the pass, where the plow asks for it.
    pub(super) pass: Option<u32>,
}

impl Recorder<'_> {
    /// From now on rows are wanted: live time begins, and the boxes are told to start.
    pub(super) fn go_live(&mut self) {
        let at = Instant::now();
        let host_us = self.ledger.moment_us(at);
        self.live_since_us = Some(host_us);
        // What is told of a box has its name from now on.
        if let Ok(hellos) = self.hellos() {
            name_files(&mut self.connections, &hellos);
        }
        for number in 0..self.ports() {
            self.go_on_live(number, at, &Record { host_us, what: WireEvent::Started });
        }
        self.connections.iter_mut().for_each(super::connection::Connection::begin);
        self.bind_columns(false);
    }

    /// What a run is recorded with now.
    fn config_of_run(&self) -> RecordConfig {
        let PassChoice { setting_name, assumed: setting_assumed, share, field, note } = self.choice.clone();
        RecordConfig { setting_name, setting_assumed, share, field, note, ..self.config.clone() }
    }

    /// Begins a run, whose time 0 is some seconds before it was asked for, as far back as the boxes were there and no
    /// other run was.
    pub(super) fn begin_run(
        &mut self,
        prepared: &Prepared,
        hellos: &[Hello],
        asked: &Asked,
    ) -> Result<(), RecordError> {
        // Somebody may ask for it before the look that finds the boxes there.
        if self.live_since_us.is_none() {
            self.go_live();
        }
        let config = self.config_of_run();
        name_files(&mut self.connections, hellos);
        if self.remarked.as_deref() != Some(hellos) {
            for remark in
                [look_alikes, doubled, clocks_apart].iter().flat_map(|of| of(&self.connections, hellos))
            {
                self.view.notice(&remark);
            }
            self.remarked = Some(hellos.to_vec());
        }
        let now = Instant::now();
        let live_since_us = self.live_since_us.unwrap_or(0);
        let columns_us = self.connections.iter().map(|connection| connection.columns_since_us);
        let earliest_us = live_since_us.max(self.last_end_us + 1).max(self.look_back.since_us());
        let earliest_us = columns_us.fold(earliest_us, u64::max);
        let at_us = match config.begin {
            Begin::AtOnce => live_since_us,
            _ => self.look_back.free_us(asked.at_us.saturating_sub(BEFORE_US).max(earliest_us)),
        };
        let ago_us = self.ledger.host_us(now).saturating_sub(at_us);
        let wall_us = self.host.wall_clock().as_microsecond().saturating_sub_unsigned(ago_us);
        let started = jiff::Timestamp::from_microsecond(wall_us).unwrap_or_else(|_| self.host.wall_clock());
        let started = started.to_zoned_datetime(jiff::tz::TimeZone::system());
        let host_us = self.ledger.host_us(now);
        let live_us = self.connections.first().map_or(0, |first| first.live.clock().run_at_host(host_us));
        let began_s = live_us.saturating_sub(ago_us) as f64 / 1e6;
        let zero = self.standing.as_mut().map(|standing| standing.take_zero(began_s)).unwrap_or_default();
        let beginning = Beginning { config: &config, started, pass: asked.pass, zero };
        let host = Arc::clone(&self.host);
        let writer =
            begin(&beginning, host.as_ref(), prepared, &self.connections, hellos, self.gnss.as_ref())?;
        let (state, folder) = (Arc::clone(&writer.state), writer.folder().to_owned());
        let queue = Arc::new(Queue::new(QUEUE_BYTES_MAX));
        for (number, record) in self.look_back.of_run(at_us, self.ports()) {
            queue.push(number, record);
        }
        let (done, written) = oneshot::channel();
        let writing = {
            let queue = Arc::clone(&queue);
            async move {
                // Nobody waits for it any more only where the recorder itself was given up.
                let _ = done.send(writer.run(&queue).await);
            }
        };
        self.host.do_beside(Box::pin(writing)).map_err(RecordError::System)?;
        for (number, connection) in self.connections.iter_mut().enumerate() {
            connection.began_us = connection.live.clock().run_at_host(host_us).saturating_sub(ago_us);
            connection.before_run =
                self.look_back.before(number, at_us).unwrap_or_else(|| connection.so_far());
        }
        self.bind_columns(true);
        if let Some(gnss) = &mut self.gnss {
            let live_us = gnss.live.clock.run_at_host(host_us).unwrap_or(0);
            gnss.began_us = live_us.saturating_sub(ago_us);
        }
        let share = config.share.unwrap_or(config.plow.bottoms.share);
        let setting_name = config.setting_name.unwrap_or_default();
        let began_us = self.began_us(0);
        let by_plow = asked.pass.is_some();
        if let Some(plow) = &mut self.by_plow {
            plow.run_begins(by_plow);
        }
        self.run = Some(Run {
            queue,
            state,
            written,
            folder: folder.clone(),
            away: None,
            still_written: None,
            by_plow,
        });
        self.view.began(&BegunRun { folder, setting_name, share, began_us });
        // A note is of one run.
        if self.choice.note.take().is_some() {
            self.view.chosen(&self.choice, false);
        }
        Ok(())
    }

    /// Ends the run properly. The ports go on if another one may follow.
    pub(super) async fn end_run(&mut self, end: RunEnd, is_last: bool) -> Result<RecordedRun, RecordError> {
        let host_us = self.ledger.host_us(Instant::now());
        if let (RunEnd::Signal(_), Some(plow)) = (end, &mut self.by_plow) {
            plow.is_stopped(host_us);
        }
        let run_us = self.connections.iter().map(|connection| {
            connection.live.clock().run_at_host(host_us).saturating_sub(connection.began_us)
        });
        let ended_us = run_us.max().unwrap_or(0);
        if is_last {
            self.stop_boxes().await;
        } else {
            self.take_what_is_on_its_way().await;
        }
        let at = Instant::now();
        for number in 0..self.ports() {
            let ended = WireEvent::Ended(end.to_string());
            if is_last {
                self.on_event(number, at, ended);
            } else if let Some(run) = &self.run {
                let host_us = self.ledger.moment_us(at);
                run.queue.push(number, Record { host_us, what: ended });
                self.last_end_us = host_us;
            }
        }
        let Some(run) = &self.run else { return Err(RecordError::StoppedBefore) };
        run.queue.close();
        let state = Arc::clone(&run.state);
        let mut tick = tokio::time::interval(TICK);
        tick.set_missed_tick_behavior(tokio::time::MissedTickBehavior::Skip);
        let (closed, mut kept) = (Instant::now(), 0);
        let ended = loop {
            let Some(run) = &mut self.run else { return Err(RecordError::StoppedBefore) };
            // The tick comes before the bytes, as while the run lasted: a disk may take its time.
            tokio::select! {
                biased;
                written = &mut run.written => break match written {
                    Ok(written) => finish(end, ended_us, written),
                    Err(_) => {
                        let (folder, cause) = (run.folder.clone(), "the writing thread failed".to_owned());
                        Err(RecordError::Unwritten { folder, cause })
                    }
                },
                _ = tick.tick() => {
                    self.beside_run(Self::tick);
                    self.tell_trouble(&state);
                    if closed.elapsed() >= SOON_WRITTEN {
                        self.tell_still_written(is_last, &mut kept);
                    }
                    self.view.progress(&self.progress(Some(&state)));
                }
                Some(message) = self.messages.recv(), if !is_last => {
                    self.beside_run(|recorder| recorder.on_message(message));
                }
            }
        };
        self.notices.say_held_back(self.view);
        self.view.progress(&self.progress(Some(&state)));
        if let (RunEnd::OutOfGround, Some(worked_s)) =
            (end, self.by_plow.as_ref().and_then(ByPlow::too_short_s))
        {
            self.view.notice(&format!("{}; the run is kept", too_short(worked_s)));
        }
        self.run = None;
        self.bind_columns(false);
        self.view.ended(&ended);
        ended
    }

    /// Says once that the disk takes its time with the last data of the run, and of each wish that comes meanwhile that it
    /// is kept: it waits where it is until somebody takes it.
    fn tell_still_written(&mut self, is_last: bool, kept: &mut usize) {
        let Some(run) = &mut self.run else { return };
        if run.still_written.is_none() {
            let then =
                if is_last { "the recorder ends" } else { "what is asked for meanwhile is kept and done" };
            let told = format!(
                "the run is over, and its last data are still being written, as the disk is slow: {then} after that"
            );
            run.still_written = Some(told.clone());
            self.view.warning(&told);
        }
        let waiting = self.wishes.len();
        if waiting > *kept && !is_last {
            self.view
                .notice("what was asked for is kept: it is done once the last data of the run are written");
        }
        *kept = waiting;
    }

    /// A run has the columns that it began with to its end; between runs the boxes may be others.
    fn bind_columns(&mut self, is_bound: bool) {
        self.connections.iter_mut().for_each(|connection| connection.live.bind_columns(is_bound));
    }

    /// Does what is no more of the run that has ended.
    fn beside_run(&mut self, work: impl FnOnce(&mut Self)) {
        let run = self.run.take();
        work(self);
        self.run = run;
    }

    /// Pings each box quickly a few times.
    pub(super) fn ping(&self) {
        self.connections.iter().for_each(|connection| connection.watch.order(ToPort::PingBurst));
    }
}
