//! What happens when a pass has ended: its verdict at once, and the comparison with the setting before as soon as there
//! are passes enough.

use super::comparison::setting_before;
use super::desk::Desk;
use super::queue::{Outcome, Stop};
use super::told::Brief;
use super::{RunName, Runs, RunsError};
use crate::live::{LastPass, PassState};
use crate::reader_units::InBothUnits;
use ingest::recorder::{BegunRun, RecordError, RecordedRun, View};
use stats::two_samples::RUNS_MIN;
use std::path::Path;

/// Tells [`Runs`] what the recorder does.
#[derive(Debug)]
pub struct RunsView {
    runs: Runs,
    begun: Option<RunName>,
}

impl View for RunsView {
    fn began(&mut self, run: &BegunRun) {
        self.begun = RunName::of_folder(&run.folder);
        self.runs.desk().set_recording(self.begun.clone());
    }

    fn ended(&mut self, run: &Result<RecordedRun, RecordError>) {
        self.runs.desk().set_recording(None);
        let begun = self.begun.take();
        // Its folder may have become another one; of a run that went wrong, all that could be written is there.
        let ended = run.as_ref().ok().and_then(|run| RunName::of_folder(&run.folder));
        if let Some(name) = ended.or(begun) {
            self.runs.pass_ended(&name);
        }
    }
}

impl Runs {
    /// What the recorder tells of its runs comes in here.
    #[must_use]
    pub fn view(&self) -> RunsView {
        RunsView { runs: self.clone(), begun: None }
    }

    /// A pass has ended, in this folder: its verdict is worked out before all else.
    pub fn ended(&self, folder: &Path) {
        if let Some(name) = RunName::of_folder(folder) {
            self.pass_ended(&name);
        }
    }

    fn pass_ended(&self, name: &RunName) {
        let desk = self.desk().clone();
        desk.new_last_pass(LastPass {
            run: name.as_str().to_owned(),
            state: PassState::WorkingOut,
            headline: String::new(),
            look: None,
            lines: InBothUnits::default(),
            comparison: InBothUnits::default(),
        });
        let (name, queue) = (name.clone(), std::sync::Arc::downgrade(&self.queue()));
        self.queue().push_urgent(move |stop| {
            let told = desk.verdict(&name, stop);
            let is_told = told.is_ok();
            desk.last_pass(&name, |pass| match told {
                Ok(told) => {
                    pass.state = PassState::Ready;
                    pass.headline.clone_from(&told.si.headline);
                    pass.look.clone_from(&told.si.look);
                    pass.lines = told.map(|brief| brief.lines.clone());
                }
                Err(error) => {
                    pass.state = PassState::Failed;
                    pass.headline = error.to_string();
                }
            });
            if let (true, Some(queue)) = (is_told, queue.upgrade()) {
                let (desk, name) = (desk.clone(), name.clone());
                // One that finds too much waiting is to be had by hand.
                let _ = queue.push(move |stop| match desk.against_the_one_before(&name, stop) {
                    Err(RunsError::GaveWay) => Outcome::GaveWay,
                    told => {
                        let lines = told.unwrap_or_else(|error| both(vec![error.to_string()]));
                        desk.last_pass(&name, |pass| pass.comparison = lines);
                        Outcome::Done
                    }
                });
            }
            Outcome::Done
        });
    }
}

fn both(lines: Vec<String>) -> InBothUnits<Vec<String>> {
    InBothUnits { si: lines.clone(), us: lines }
}

impl Desk {
    /// What is said of a run's setting against the one driven before it.
    fn against_the_one_before(
        &self,
        name: &RunName,
        stop: &Stop<'_>,
    ) -> Result<InBothUnits<Vec<String>>, RunsError> {
        let runs = self.list()?.runs;
        let setting = runs.iter().find(|run| run.name == *name).and_then(|run| run.setting.clone());
        let Some((setting, before)) = setting.zip(setting_before(&runs, name)) else {
            return Ok(InBothUnits::default());
        };
        let day = runs.iter().find(|run| run.name == *name).map(|run| run.day().to_owned());
        let sides = self.sides((&setting, &before), day.as_deref(), stop)?;
        let counts = [&sides.a, &sides.b].map(|side| side.runs.len());
        if counts.iter().any(|count| *count < RUNS_MIN) {
            let [of_a, of_b] = counts;
            return Ok(both(vec![format!(
                "{setting} against {before} is compared from {RUNS_MIN} passes of each on: now {of_a} and {of_b}."
            )]));
        }
        let told = self.told_of(&sides.a.runs, &sides.b.runs, stop)?;
        Ok(told.map(comparison_lines))
    }
}

/// A comparison line by line, the answer first.
pub(super) fn comparison_lines(brief: &Brief) -> Vec<String> {
    let Brief { of, headline, lines, .. } = brief;
    [headline, of].into_iter().chain(lines).cloned().collect()
}
