//! What is given out: to pages, the panel, files, and whoever waits for an answer.

use super::super::snapshot::{NoticeLine, Now, Phase, Snapshot, TroubleKind, holes_of};
use super::super::strip::StripPoint;
use super::Live;
use ingest::plow::{Setting, ShareCondition};
use std::time::Instant;

impl Live {
    /// The hitch setting of the run, or the one chosen for the next.
    #[must_use]
    pub fn setting_now(&self) -> Option<Setting> {
        let state = self.state();
        self.setting(state.setting_name()).cloned()
    }

    /// Whether what is wrong with the recording itself is told by this sentence, or by its beginning.
    #[must_use]
    pub fn tells(&self, sentence: &str) -> bool {
        self.state().troubles.tells(sentence)
    }

    /// What is wrong of this kind, in one sentence.
    pub(crate) fn trouble(&self, kind: TroubleKind) -> Option<String> {
        self.state().troubles.now().into_iter().find(|one| one.kind == kind).map(|one| one.text)
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
            silent_s: state.readings.silent_s(now),
            pull_n: readings.pull_n,
            depth_mm: readings.depth_mm,
            speed_mps: readings.speed_mps,
            tail_load_n: readings.load_n,
            load: state.carried.shown().cloned(),
            depth_target_mm: self.plow.bottoms.depth.m() * 1000.0,
            lifted: readings.lifted,
            balance: state.balance.clone(),
            limits: self.plow.limits,
            troubles: state.troubles.while_recording(state.run.as_ref().map(|run| run.setting.as_str())),
            notices: state.notices.as_they_matter(),
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
            cannot: state.cannot_now(),
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
