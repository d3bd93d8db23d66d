//! What the service makes of what the recorder shows: the log, the status of the unit, the page, and that its loop is
//! alive.

use super::config::ServiceConfig;
use super::keeper::{Desk, RunEnded};
use super::notify::Notify;
use super::shown::Shown;
use super::status_line::{Phase, status_line};
use super::troubles::TroubleKind;
use ingest::plow::Plow;
use ingest::recorder::{
    BegunRun, Controls, LiveRows, Order, PassChoice, Progress, RecordError, RecordedRun, View, Wish,
};
use std::sync::Arc;

/// The recorder's view, for as long as the service runs; each recording has it in turn.
pub struct ServiceView {
    notify: Notify,
    desk: Arc<Desk>,
    run_ended: RunEnded,
    phase: Phase,
    /// The wishes of the page, for as long as the service runs.
    wishes: Controls,
    /// To what a new plow description ends a recorder that stands by.
    controls: Option<Controls>,
    shown: Option<Shown>,
    /// Number of the plow description that is shown and recorded with.
    plow_number: u64,
    /// How it went last.
    progress: Progress,
}

impl ServiceView {
    /// A view of a service that begins; the page's wishes go to `wishes`.
    #[must_use]
    pub fn new(notify: Notify, desk: Arc<Desk>, run_ended: RunEnded, wishes: Controls) -> Self {
        let phase = Phase::Waiting;
        Self {
            notify,
            desk,
            run_ended,
            phase,
            wishes,
            controls: None,
            shown: None,
            plow_number: 0,
            progress: Progress::default(),
        }
    }

    /// A recorder is about to begin with the plow description of this number; gives what its runs are recorded with.
    pub fn begins(
        &mut self,
        controls: Controls,
        config: &ServiceConfig,
        plow: &Plow,
        number: u64,
    ) -> PassChoice {
        if self.plow_number != number {
            let before = self.shown.take();
            self.shown = Some(Shown::of(config, plow.clone(), before, &self.desk.troubles));
            self.plow_number = number;
        }
        self.controls = Some(controls);
        self.shown.as_ref().map(Shown::chosen).unwrap_or_default()
    }

    /// Somebody chooses while no recorder is there to take it.
    pub fn choose(&mut self, said: &PassChoice) {
        if let Some(shown) = &mut self.shown {
            shown.choose(said);
            self.desk.keep_choice(shown.chosen().into());
            self.run_ended.tell();
        }
    }

    /// Somebody asks for what needs a recorder while none is there.
    pub fn not_now(&mut self, wish: &Wish) {
        let troubles = self.desk.troubles.now();
        let why = match troubles.iter().find(|(kind, _)| *kind == TroubleKind::Waiting) {
            Some((_, why)) => format!("no run can begin now: {why}"),
            None => {
                "no run can begin now: the recorder waits for a plow description or for its boxes".to_owned()
            }
        };
        if let Some(order) = Order::of(wish) {
            self.not_done(order, &why);
        }
    }

    /// Nothing is being recorded, nor could be: called while the service waits.
    pub fn waits(&mut self) {
        self.phase = Phase::Waiting;
        self.controls = None;
        self.tick();
    }

    /// The end was asked for.
    pub fn stopping(&mut self) {
        self.notify.stopping();
        self.shown.iter_mut().for_each(Shown::recorder_ends);
    }

    fn tick(&mut self) {
        if let Some(shown) = &mut self.shown {
            shown.tick(&self.wishes, &self.desk.troubles);
        }
        self.say_status();
        self.notify.ready();
        self.notify.alive();
    }

    fn say_status(&mut self) {
        let troubles = self.desk.troubles.now();
        let (waiting, others): (Vec<_>, Vec<_>) =
            troubles.into_iter().partition(|(kind, _)| *kind == TroubleKind::Waiting);
        let waits_for = match waiting.into_iter().next() {
            Some((_, why)) if why.starts_with("waiting for ") => why,
            Some((_, why)) => format!("waiting: {why}"),
            None if self.desk.plow_number() == 0 => "waiting for a plow description".to_owned(),
            None => "waiting for its boxes".to_owned(),
        };
        let nearly_full = self.shown.as_ref().and_then(Shown::disk_nearly_full);
        let others: Vec<String> =
            nearly_full.into_iter().chain(others.into_iter().map(|(_, sentence)| sentence)).collect();
        let line = status_line(&self.phase, &waits_for, &self.progress, &others);
        self.notify.status(&line);
    }

    /// A recorder that waits or stands by takes up a new plow description.
    fn take_up_plow(&self) {
        if let (Phase::Waiting | Phase::StandsBy, Some(controls)) = (&self.phase, &self.controls)
            && self.desk.plow_number() != self.plow_number
        {
            // Asked for again at the next tick, if the recorder is busy now.
            let _ = controls.wish(Wish::End("a new plow description"));
        }
    }
}

impl View for ServiceView {
    fn stands_by(&mut self) {
        self.desk.troubles.clear(TroubleKind::Waiting);
        if self.phase == Phase::Waiting {
            tracing::info!("standing by");
        }
        self.phase = Phase::StandsBy;
        self.tick();
        self.shown.iter_mut().for_each(|shown| shown.view.stands_by());
    }

    fn chosen(&mut self, next: &PassChoice, by_person: bool) {
        if by_person && self.shown.as_ref().is_some_and(|shown| shown.chosen() != *next) {
            let setting = next.setting_name.as_deref().unwrap_or_default();
            tracing::info!(setting, "chosen for the next run");
            self.desk.keep_choice(next.clone().into());
            self.run_ended.tell();
        }
        self.shown.iter_mut().for_each(|shown| shown.view.chosen(next, by_person));
    }

    fn began(&mut self, run: &BegunRun) {
        self.desk.troubles.clear(TroubleKind::Waiting);
        self.desk.set_in_progress(Some(run.folder.clone()));
        let name = run.folder.file_name().unwrap_or_default().to_string_lossy().into_owned();
        tracing::info!(run = %name, setting = run.setting_name.as_str(), "run began");
        self.phase = Phase::Recording(name);
        self.say_status();
        self.shown.iter_mut().for_each(|shown| shown.view.began(run));
    }

    fn readings(&mut self, rows: &LiveRows<'_>) {
        self.shown.iter_mut().for_each(|shown| shown.view.readings(rows));
    }

    fn progress(&mut self, progress: &Progress) {
        self.progress.clone_from(progress);
        self.take_up_plow();
        self.tick();
        self.shown.iter_mut().for_each(|shown| shown.view.progress(progress));
    }

    fn not_done(&mut self, order: Order, why: &str) {
        tracing::warn!(text = why, "not done");
        self.shown.iter_mut().for_each(|shown| shown.view.not_done(order, why));
    }

    fn notice(&mut self, line: &str) {
        if self.phase == Phase::Waiting {
            // Before all boxes have answered, what there is to know is why they have not.
            // The recorder's own line begins as ours does.
            self.desk.troubles.set(TroubleKind::Waiting, line.strip_prefix("waiting: ").unwrap_or(line));
        } else {
            tracing::warn!(text = line, "notice");
        }
        self.shown.iter_mut().for_each(|shown| shown.view.notice(line));
    }

    fn warning(&mut self, line: &str) {
        tracing::warn!(text = line, "notice");
        self.shown.iter_mut().for_each(|shown| shown.view.warning(line));
    }

    fn ended(&mut self, run: &Result<RecordedRun, RecordError>) {
        self.desk.set_in_progress(None);
        match run {
            Ok(run) => {
                self.desk.troubles.clear(TroubleKind::Run);
                let sum =
                    |of: fn(&ingest::assemble::RunCounters) -> u64| run.counters.iter().map(of).sum::<u64>();
                tracing::info!(
                    run = %run.folder.display(),
                    lasted_s = run.lasted_s,
                    rows = sum(|counters| counters.rows),
                    rows_lost = sum(|counters| counters.rows_lost),
                    without_readings_s = sum(|counters| counters.without_readings_ms) as f64 / 1e3,
                    end = %run.end,
                    "run ended"
                );
            }
            Err(error) => self.desk.troubles.set(TroubleKind::Run, &error.to_string()),
        }
        // It stands by again, and says so; or it ends.
        self.phase = Phase::StandsBy;
        let before = std::mem::take(&mut self.progress);
        self.progress =
            Progress { boxes_away: before.boxes_away, no_rows: before.no_rows, ..Progress::default() };
        self.run_ended.tell();
        self.shown.iter_mut().for_each(|shown| shown.view.ended(run));
    }
}
