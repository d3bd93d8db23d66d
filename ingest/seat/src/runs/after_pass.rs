//! What happens when a pass has ended: its verdict at once, and the comparison with the setting before as soon as there
//! are passes enough.

use super::comparison::setting_before;
use super::desk::{Desk, why_not};
use super::list::ListedRun;
use super::queue::{Outcome, Queue, Stop};
use super::told::Brief;
use super::{RunName, Runs, RunsError};
use crate::live::{LastPass, PassState};
use crate::reader_units::InBothUnits;
use ingest::recorder::{BegunRun, RecordError, RecordedRun, View};
use stats::two_samples::RUNS_MIN;
use std::collections::VecDeque;
use std::path::Path;
use std::sync::{Arc, Weak};

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
        let (desk, queue) = (self.desk().clone(), Arc::downgrade(self.queue()));
        desk.new_last_pass(being_worked_out(name));
        let name = name.clone();
        self.queue().push_urgent(move |stop| work_out(&desk, &queue, &name, stop));
    }

    /// Takes up what there was before the recorder was started: of this plow the last pass of this day (`2027-04-11`),
    /// with its verdict and its comparison, and the verdicts of those before it. Whatever is asked for goes between.
    pub fn take_up(&self, plow: &str, day: &str) {
        let (desk, queue) = (self.desk().clone(), Arc::downgrade(self.queue()));
        let (plow, day) = (plow.to_owned(), day.to_owned());
        let mut last: Option<RunName> = None;
        // A queue that has ended works nothing out.
        let _ = self.queue().push(move |stop| {
            if last.is_none() {
                let Ok(list) = desk.list() else { return Outcome::Done };
                let of_before = |run: &&ListedRun| run.usable && !run.recording && run.is_of(&plow, &day);
                let mut names = list.runs.iter().filter(of_before).map(|run| run.name.clone());
                let Some(newest) = names.next() else { return Outcome::Done };
                verdicts_of(&desk, &queue, names.collect());
                if !desk.last_pass_of_before(being_worked_out(&newest)) {
                    return Outcome::Done;
                }
                last = Some(newest);
            }
            last.as_ref().map_or(Outcome::Done, |name| work_out(&desk, &queue, name, stop))
        });
    }
}

/// The headline of a pass without a verdict.
const NOT_JUDGED: &str = "NO VERDICT ON THIS PASS";

fn being_worked_out(name: &RunName) -> LastPass {
    LastPass {
        run: name.as_str().to_owned(),
        state: PassState::WorkingOut,
        headline: String::new(),
        look: None,
        order: InBothUnits::default(),
        lines: InBothUnits::default(),
        comparison: InBothUnits::default(),
    }
}

/// Works out the verdict of the last pass and tells it, and after it the comparison.
fn work_out(desk: &Arc<Desk>, queue: &Weak<Queue>, name: &RunName, stop: &Stop<'_>) -> Outcome {
    let told = desk.verdict(name, stop);
    if matches!(told, Err(RunsError::GaveWay)) {
        return Outcome::GaveWay;
    }
    let is_told = told.is_ok();
    desk.last_pass(name, |pass| match told {
        Ok(told) => {
            pass.state = PassState::Ready;
            pass.headline.clone_from(&told.si.headline);
            pass.look.clone_from(&told.si.look);
            pass.order = told.map(|brief| brief.order.clone());
            pass.lines = told.map(|brief| brief.lines.clone());
        }
        Err(error) => {
            pass.state = PassState::Failed;
            // What the large letters have no room for.
            pass.headline = NOT_JUDGED.to_owned();
            pass.lines = both(vec![why_not(name, &error)]);
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
}

/// Works out the verdicts of these runs, one after the other, each behind what was asked for meanwhile.
fn verdicts_of(desk: &Arc<Desk>, queue: &Weak<Queue>, names: VecDeque<RunName>) {
    let Some(there) = queue.upgrade() else { return };
    let (desk, queue, mut names) = (desk.clone(), queue.clone(), names);
    // Where too much waits already, they are to be had by hand.
    let _ = there.push(move |stop| {
        let Some(name) = names.front() else { return Outcome::Done };
        if matches!(desk.verdict(name, stop), Err(RunsError::GaveWay)) {
            return Outcome::GaveWay;
        }
        names.pop_front();
        verdicts_of(&desk, &queue, std::mem::take(&mut names));
        Outcome::Done
    });
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
        let Some(run) = runs.iter().find(|run| run.name == *name) else { return Ok(InBothUnits::default()) };
        let Some((setting, before)) = run.setting.as_deref().zip(setting_before(&runs, name)) else {
            return Ok(InBothUnits::default());
        };
        let sides = self.sides((setting, &before), (run.plow.as_deref(), Some(run.day())), stop)?;
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
