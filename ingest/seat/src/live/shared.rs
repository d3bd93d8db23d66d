//! What is known of a recording now, shared by all who show it.

use super::answers::{Answer, Answers, AskedAt};
use super::boxes::Boxes;
use super::carried::Carried;
use super::notices::Notices;
use super::readings::Readings;
use super::snapshot::{
    Choice, LastPass, NoticeLine, Now, Phase, ProgramNow, RunNow, Snapshot, TroubleKind, holes_of,
};
use super::strip::StripPoint;
use super::troubles::Troubles;
use crate::balance::Balance;
use crate::reader_units::ReaderUnits;
use ingest::plow::{ChannelRole, Plow, Setting, ShareCondition};
use ingest::recorder::{Begins, BegunRun, LiveRows, Order, PassChoice, Progress, RecordError};
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

    /// The hitch setting of the run, or the one chosen for the next.
    #[must_use]
    pub fn setting_now(&self) -> Option<Setting> {
        let state = self.state();
        self.setting(state.setting_name()).cloned()
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
        state.run = Some(RunNow {
            name,
            setting: run.setting_name.clone(),
            share: run.share,
            t_s: 0.0,
            rows: 0,
            rows_lost: 0,
            without_readings_ms: 0,
            rows_refused: 0,
            marks: 0,
        });
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

    pub(super) fn notice(&self, line: &str) {
        self.state().notices.push(line, self.age_s());
    }

    pub(super) fn not_done(&self, order: Order, why: &str) {
        let age_s = self.age_s();
        let mut state = self.state();
        state.notices.push(why, age_s);
        state.answers.not_done(order, why);
        drop(state);
        self.answered.notify_waiters();
    }

    /// The run is over; what went wrong with it is told here, and with one that has not begun before.
    pub(super) fn ended(&self, wrong: Option<&RecordError>) {
        let age_s = self.age_s();
        let mut state = self.state();
        if let (Some(_), Some(wrong)) = (state.run.take(), wrong) {
            let why = wrong.to_string();
            state.notices.push(&why, age_s);
            state.answers.not_done(Order::Stop, &why);
        }
        state.phase = Phase::StandsBy;
        state.troubles.set(TroubleKind::RowsLost, None, 0.0);
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

    /// Whether what is wrong with the recording itself is told by this sentence, or by its beginning.
    #[must_use]
    pub fn tells(&self, sentence: &str) -> bool {
        self.state().troubles.tells(sentence)
    }

    /// Says how much space is free where runs go, in bytes.
    pub fn set_disk_free(&self, bytes: Option<u64>) {
        self.state().disk_free_bytes = bytes;
    }

    /// Says what the next pass is recorded with from now on, as the recorder has it.
    pub fn chosen(&self, next: &PassChoice, by_person: bool) {
        let mut choice = Choice::from(next.clone());
        choice.share.get_or_insert(self.plow.bottoms.share);
        let mut state = self.state();
        state.choice = choice;
        if by_person {
            state.troubles.set(TroubleKind::Unconfirmed, None, 0.0);
        }
        if state.run.is_none() {
            self.judge_anew(&mut state);
        }
        state.answers.chosen();
        drop(state);
        self.answered.notify_waiters();
    }

    /// Where things stand before something is asked for.
    pub(crate) fn before_asking(&self) -> AskedAt {
        let state = self.state();
        state.answers.now(state.run.as_ref())
    }

    /// Waits until what was asked for since then is done, or is known not to be.
    pub(crate) async fn answer(&self, order: Order, since: &AskedAt) -> Answer {
        loop {
            // Made before the look, so that what comes in between rings it.
            let rung = self.answered.notified();
            let answer = {
                let state = self.state();
                state.answers.to(order, since, state.run.as_ref())
            };
            match answer {
                Some(answer) => return answer,
                None => rung.await,
            }
        }
    }

    /// What is waited for before a run can begin, as far as that is known.
    pub(crate) fn waits_for(&self) -> Option<String> {
        let troubles = self.state().troubles.now();
        troubles.into_iter().find(|one| one.kind == TroubleKind::PortAway).map(|one| one.text)
    }

    /// What the recorder is doing.
    #[must_use]
    pub fn phase(&self) -> Phase {
        self.state().phase
    }

    /// All that is known now. `may_control` is not set.
    #[must_use]
    pub fn snapshot(&self) -> Snapshot {
        let (now, age_s) = (Instant::now(), self.age_s());
        let state = self.state();
        let readings = state.readings.now(now);
        Snapshot {
            phase: state.phase,
            program: self.program.clone(),
            t_s: age_s,
            run: state.run.clone(),
            boxes: state.boxes.now(),
            pull_n: readings.pull_n,
            depth_mm: readings.depth_mm,
            speed_mps: readings.speed_mps,
            tail_load_n: readings.load_n,
            load: state.carried.shown().cloned(),
            depth_target_mm: self.plow.bottoms.depth.m() * 1000.0,
            lifted: readings.lifted,
            balance: state.balance.clone(),
            limits: self.plow.limits,
            troubles: state.troubles.now(),
            notices: state.notices.after(0),
            settings: self.plow.settings.keys().cloned().collect(),
            holes: self
                .plow
                .settings
                .values()
                .map(|setting| holes_of(setting, self.plow.part_names().puller))
                .collect(),
            shares: [ShareCondition::Sharp, ShareCondition::Blunt, ShareCondition::Worn],
            choice: state.choice.clone(),
            begins: state.begins,
            may_control: false,
            units: self.units,
            last_pass: state.last_pass.clone(),
            disk_free_bytes: state.disk_free_bytes,
        }
    }

    /// The readings of this moment.
    #[must_use]
    pub fn now(&self) -> Now {
        self.state().readings.now(Instant::now())
    }

    /// Points of the strip from number `from` to before number `to`, as far as they are not older than 20 s, and the
    /// number of the next one to come.
    #[must_use]
    pub fn strip(&self, from: u64, to: u64) -> (Vec<StripPoint>, u64) {
        self.state().readings.strip.points(from, to)
    }

    /// Notices after this number, of those that are kept.
    #[must_use]
    pub fn notices_after(&self, number: u64) -> Vec<NoticeLine> {
        self.state().notices.after(number)
    }

    /// Waits until a lift begins. For one at a time.
    pub async fn lift_began(&self) {
        self.lift_began.notified().await;
    }
}

impl State {
    fn setting_name(&self) -> Option<&String> {
        self.run.as_ref().map(|run| &run.setting).or(self.choice.setting.as_ref())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use ingest::assemble::Row;
    use ingest::plow::read_plow;
    use std::path::Path;

    const COLUMNS: [ChannelRole; 3] = [ChannelRole::Pull, ChannelRole::Tail, ChannelRole::Depth];

    fn live() -> Live {
        let plow = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../sample-runs/plows/two-bottom.toml");
        let ports = [PathBuf::from("/dev/ttyACM0"), PathBuf::from("/dev/serial/by-id/tractor")];
        Live::new(read_plow(&plow).unwrap(), &ports, Choice::default())
    }

    fn row(t_us: u64, values: [f64; 3]) -> Row {
        let mut row = Row::at(t_us);
        values.into_iter().for_each(|value| row.push(value));
        row
    }

    fn push(live: &Live, rows: &[Row]) {
        live.readings(&LiveRows { number: 0, columns: &COLUMNS, rows });
    }

    #[test]
    fn what_was_never_read_and_what_is_no_number_is_nothing() {
        let live = live();
        assert_eq!(live.now().pull_n, None);
        push(&live, &[row(0, [7000.0, 20.0, 180.0]), row(5000, [f64::NAN, f64::INFINITY, 175.0])]);
        let now = live.snapshot();
        assert_eq!((now.pull_n, now.depth_mm, now.speed_mps), (Some(7000.0), Some(175.0), None));
        assert!(now.tail_load_n.unwrap() > 0.0 && !now.lifted);
        assert!(!serde_json::to_string(&now).unwrap().contains("NaN"));
    }

    /// Found: the word that somebody is to see for a tenth of a second stood beside the load after it.
    #[test]
    fn the_word_lifted_stands_beside_a_load_that_is() {
        let live = live();
        push(&live, &[row(0, [7000.0, 20.0, 180.0]), row(5000, [7000.0, 0.0, 180.0])]);
        push(&live, &[row(80_000, [7000.0, 20.0, 180.0])]);
        let (now, under) = (live.now(), live.snapshot().load.unwrap().lifted_under_n.unwrap());
        assert!(now.lifted && now.load_n.unwrap() < under, "{now:?}");
        push(&live, &[row(120_000, [7000.0, 20.0, 180.0])]);
        let now = live.now();
        assert!(!now.lifted && now.load_n.unwrap() > under, "{now:?}");
    }

    #[test]
    fn a_run_comes_and_goes_and_its_losses_with_it() {
        let live = live();
        live.stands_by();
        let folder = PathBuf::from("/runs/2027-04-11T0914_flat");
        let share = ShareCondition::Worn;
        live.began(&BegunRun { folder, setting_name: "flat".to_owned(), share, began_us: 0 });
        let progress = Progress {
            t_s: 3.0,
            rows: 600,
            rows_lost: 8,
            marks: 2,
            boxes_away: vec![None, Some("waiting for tractor: it went away (hung up)".to_owned())],
            ..Progress::default()
        };
        live.progress(&progress);
        let now = live.snapshot();
        let run = now.run.unwrap();
        assert_eq!((run.name.as_str(), run.rows, run.marks), ("2027-04-11T0914_flat", 600, 2));
        assert_eq!(now.boxes.iter().map(|one| one.away).collect::<Vec<_>>(), [false, true]);
        let texts: Vec<_> = now.troubles.iter().map(|trouble| trouble.text.as_str()).collect();
        assert_eq!(texts, ["waiting for tractor: it went away (hung up)", "8 rows lost in this run"]);
        let since = now.troubles[0].since_s;
        live.progress(&progress);
        assert_eq!(live.snapshot().troubles[0].since_s, since, "it began when it began");
        live.ended(None);
        live.progress(&Progress::default());
        let now = live.snapshot();
        assert!(now.run.is_none() && now.troubles.is_empty() && now.phase == Phase::StandsBy);
    }

    #[test]
    fn what_the_recorder_holds_is_shown_and_a_person_confirms_it() {
        let live = live();
        let names: Vec<_> = live.plow().settings.keys().cloned().collect();
        let share = live.snapshot().choice.share;
        assert_eq!(share, Some(live.plow().bottoms.share), "what will be used is shown as chosen");
        live.set_trouble(TroubleKind::Unconfirmed, Some("which holes?".to_owned()));
        let next = PassChoice { setting_name: Some(names[1].clone()), ..PassChoice::default() };
        live.chosen(&next, false);
        assert_eq!(live.snapshot().troubles.len(), 1, "nobody has said so");
        live.chosen(&next, true);
        let now = live.snapshot();
        assert!(now.troubles.is_empty());
        assert_eq!(now.choice, Choice { setting: Some(names[1].clone()), share, field: None, note: None });
        let setting = live.setting_now().unwrap();
        assert_eq!(Some(&setting), live.plow().settings.get(&names[1]));
        assert!(now.holes[1].contains(&setting.plow_hole.name), "{:?}", now.holes);
    }

    /// An hour at a thousand rows a second.
    #[test]
    fn after_an_hour_it_is_as_large_as_after_a_minute() {
        let live = live();
        let size = |live: &Live| {
            let points = live.strip(0, u64::MAX).0;
            serde_json::to_string(&points).unwrap().len()
                + serde_json::to_string(&live.snapshot()).unwrap().len()
        };
        let mut after_a_minute = 0;
        for second in 0..3600_u64 {
            let of = |n: u64| row((second * 1000 + n) * 1000, [7000.0, 20.0 + (n % 11) as f64, 180.0]);
            let rows: Vec<_> = (0..1000).map(of).collect();
            rows.chunks(50).for_each(|rows| push(&live, rows));
            live.progress(&Progress { t_s: second as f64, rows: second * 1000, ..Progress::default() });
            live.notice("something to know");
            if second == 60 {
                after_a_minute = size(&live);
            }
        }
        let after_an_hour = size(&live);
        assert!(
            after_an_hour.abs_diff(after_a_minute) < after_a_minute / 5,
            "{after_a_minute}, then {after_an_hour}"
        );
        assert!(after_an_hour < 60_000, "{after_an_hour} bytes are what a new viewer gets at most");
    }
}
