//! What is known of a recording now, shared by all who show it: what the recorder's loop and others put in. What is
//! given out of it stands in `given_out.rs`, what is asked of the recorder in `asking.rs`.

mod asking;
mod given_out;

pub use asking::{Answer, Asked, sentence};

use super::answers::Answers;
use super::boxes::Boxes;
use super::carried::Carried;
use super::notices::Notices;
use super::readings::Readings;
use super::snapshot::{Choice, LastPass, Phase, ProgramNow, RunNow, TroubleKind};
use super::troubles::Troubles;
use crate::balance::Balance;
use crate::reader_units::ReaderUnits;
use ingest::plow::{ChannelRole, Plow, Setting};
use ingest::recorder::{
    Begins, BegunRun, LiveRows, Order, PassChoice, Progress, RecordError, RecordedRun, RunEnd,
};
use std::path::PathBuf;
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::Instant;
use tokio::sync::Notify;

/// What is known of a recording now.
#[derive(Debug)]
pub struct Live {
    plow: Plow,
    program: ProgramNow,
    units: ReaderUnits,
    born: Instant,
    state: Mutex<State>,
    /// Rung when a lift begins, for the one who sends readings out.
    lift_began: Notify,
    /// Rung when what somebody asked for may be done, or is known not to be.
    answered: Notify,
}

#[derive(Debug, Default)]
struct State {
    phase: Phase,
    run: Option<RunNow>,
    boxes: Boxes,
    readings: Readings,
    carried: Carried,
    balance: Option<Balance>,
    troubles: Troubles,
    notices: Notices,
    answers: Answers,
    choice: Choice,
    begins: Begins,
    last_pass: Option<LastPass>,
    disk_free_bytes: Option<u64>,
}

impl Live {
    /// Before anything is known: of a plow, the ports of its boxes, and what passes are recorded with until somebody
    /// chooses otherwise.
    #[must_use]
    pub fn new(plow: Plow, ports: &[PathBuf], mut choice: Choice) -> Self {
        let born = Instant::now();
        choice.share.get_or_insert(plow.bottoms.share);
        let state = State { boxes: Boxes::on(ports, born), choice, ..State::default() };
        let started = jiff::Timestamp::now().to_string();
        let program = ProgramNow { version: env!("CARGO_PKG_VERSION"), started };
        let units = ReaderUnits::default();
        Self {
            plow,
            program,
            units,
            born,
            state: Mutex::new(state),
            lift_began: Notify::new(),
            answered: Notify::new(),
        }
    }

    /// The same, shown in these units to whoever has not chosen others.
    #[must_use]
    pub fn shown_in(self, units: ReaderUnits) -> Self {
        Self { units, ..self }
    }

    /// The plow that is recorded.
    #[must_use]
    pub fn plow(&self) -> &Plow {
        &self.plow
    }

    // A panic elsewhere is no reason to show nothing: all that is inside is plain numbers and texts.
    fn state(&self) -> MutexGuard<'_, State> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Seconds since the beginning, for what no row has a time for.
    fn age_s(&self) -> f64 {
        self.born.elapsed().as_secs_f64()
    }

    fn setting(&self, name: Option<&String>) -> Option<&Setting> {
        // Before one is chosen the first will do: what stands on the tail hardly depends on it.
        name.and_then(|name| self.plow.settings.get(name)).or_else(|| self.plow.settings.values().next())
    }

    pub(super) fn stands_by(&self) {
        let mut state = self.state();
        state.phase = Phase::StandsBy;
        state.run = None;
    }

    pub(super) fn began(&self, run: &BegunRun) {
        let name = run.folder.file_name().unwrap_or(run.folder.as_os_str()).to_string_lossy().into_owned();
        let mut state = self.state();
        state.phase = Phase::Recording;
        state.run = Some(RunNow::begun(&name, &run.setting_name, run.share));
        state.answers.run_began();
        self.judge_anew(&mut state);
        drop(state);
        self.answered.notify_waiters();
    }

    fn judge_anew(&self, state: &mut State) {
        let channels = state.readings.channels();
        let setting = self.setting(state.setting_name());
        state.carried =
            setting.map(|setting| Carried::of(&self.plow, setting, &channels)).unwrap_or_default();
    }

    pub(super) fn readings(&self, rows: &LiveRows<'_>) {
        let at = Instant::now();
        let mut state = self.state();
        if state.readings.has_new_columns(rows) {
            self.judge_anew(&mut state);
        }
        state.boxes.count(rows);
        let State { readings, carried, .. } = &mut *state;
        let lift_began = readings.push(carried, rows, at);
        drop(state);
        if lift_began {
            self.lift_began.notify_one();
        }
    }

    pub(super) fn progress(&self, progress: &Progress) {
        let (at, age_s) = (Instant::now(), self.age_s());
        let mut state = self.state();
        state.begins = progress.begins;
        state.boxes.progress(progress, at);
        if let Some(run) = &mut state.run {
            run.t_s = progress.t_s;
            run.rows = progress.rows;
            run.rows_lost = progress.rows_lost;
            run.without_readings_ms = progress.without_readings_ms;
            run.rows_refused = progress.rows_refused;
            run.losses = progress.losses().in_words();
            run.marks = progress.marks;
        }
        let speed = progress.latest.iter().find(|(role, _)| *role == ChannelRole::Speed);
        if let Some((_, speed_mps)) = speed.filter(|_| !progress.has_no_fix) {
            state.readings.put_speed(*speed_mps, at);
        }
        state.troubles.progress(progress, age_s);
        drop(state);
        self.answered.notify_waiters();
    }

    pub(super) fn notice(&self, line: &str, warning: bool) {
        let age_s = self.age_s();
        let State { notices, run, .. } = &mut *self.state();
        notices.push(line, warning, age_s, run.as_ref());
    }

    pub(super) fn not_done(&self, order: Order, why: &str) {
        let age_s = self.age_s();
        let mut state = self.state();
        let State { notices, run, answers, .. } = &mut *state;
        notices.push(why, false, age_s, run.as_ref());
        answers.not_done(order, why);
        drop(state);
        self.answered.notify_waiters();
    }

    /// The run is over, and why, if nobody asked for it; what went wrong with it is told here, and with one that has not
    /// begun before.
    pub(super) fn ended(&self, run: &Result<RecordedRun, RecordError>) {
        let age_s = self.age_s();
        let mut state = self.state();
        match (state.run.take(), run) {
            (Some(run), Err(wrong)) => {
                let why = wrong.to_string();
                state.notices.push(&why, true, age_s, Some(&run));
                state.answers.not_done(Order::Stop, &why);
            }
            (Some(run), Ok(RecordedRun { end, .. })) if !matches!(end, RunEnd::Signal(_)) => {
                state.notices.push(&format!("the run has ended: {end}"), false, age_s, Some(&run));
            }
            _ => {}
        }
        state.phase = Phase::StandsBy;
        for of_run in [TroubleKind::RowsLost, TroubleKind::StillWritten, TroubleKind::FolderAway] {
            state.troubles.set(of_run, None, 0.0);
        }
        drop(state);
        self.answered.notify_waiters();
    }

    /// Says what the balance of the last seconds is.
    pub fn set_balance(&self, balance: Option<Balance>) {
        self.state().balance = balance;
    }

    /// Says how far the working out of the last pass is.
    pub fn set_last_pass(&self, last_pass: Option<LastPass>) {
        self.state().last_pass = last_pass;
    }

    /// Says that something is wrong, in one sentence, or no longer.
    pub fn set_trouble(&self, kind: TroubleKind, text: Option<String>) {
        let age_s = self.age_s();
        self.state().troubles.set(kind, text, age_s);
    }

    /// Says how much space is free where runs go, in bytes.
    pub fn set_disk_free(&self, bytes: Option<u64>) {
        self.state().disk_free_bytes = bytes;
    }

    /// Says what the next pass is recorded with from now on, as the recorder has it.
    pub fn chosen(&self, next: &PassChoice) {
        let mut choice = Choice::from(next.clone());
        choice.share.get_or_insert(self.plow.bottoms.share);
        let mut state = self.state();
        state.choice = choice;
        if !next.assumed {
            state.troubles.set(TroubleKind::Unconfirmed, None, 0.0);
        }
        if state.run.is_none() {
            self.judge_anew(&mut state);
        }
        state.answers.chosen();
        drop(state);
        self.answered.notify_waiters();
    }
}

impl State {
    fn setting_name(&self) -> Option<&String> {
        self.run.as_ref().map(|run| &run.setting).or(self.choice.setting.as_ref())
    }
}

#[cfg(test)]
mod tests;
