//! What is done beside the recording, on a thread of its own that never holds it up: the plow description is read again
//! when it changes, runs that were left unfinished are repaired, and runs that need not be kept go.

use super::config::ServiceConfig;
use super::copied::is_copied;
use super::deletion::{DeletionError, OwnDisk, delete_run, finish_deletions};
use super::kept_choice;
use super::retention::plan;
use super::run_files::{RunHere, runs_in};
use super::troubles::{TroubleKind, Troubles};
use crate::live::Choice;
use ingest::plow::{Plow, read_plow};
use ingest::repair::Repair;
use ingest::run_folder::write_whole;
use ingest::run_toml::RunState;
use std::io;
use std::path::{Path, PathBuf};
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, channel};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant, SystemTime};

/// How often the plow description is looked at.
const LOOK_AT_PLOW: Duration = Duration::from_secs(1);
/// How often the runs are, when none ends.
const LOOK_AT_RUNS: Duration = Duration::from_secs(600);

/// What keeper and recorder tell each other.
#[derive(Debug, Default)]
pub struct Desk {
    state: Mutex<DeskState>,
    /// What is wrong.
    pub troubles: Troubles,
}

#[derive(Debug, Default)]
struct DeskState {
    /// The last plow description that could be used, and how many there were.
    plow: Option<(Plow, u64)>,
    in_progress: Option<PathBuf>,
    /// What the next run is recorded with, until it is kept.
    choice: Option<Choice>,
}

impl Desk {
    fn with<T>(&self, change: impl FnOnce(&mut DeskState) -> T) -> T {
        change(&mut self.state.lock().unwrap_or_else(PoisonError::into_inner))
    }

    /// The last plow description that could be used, with its number.
    #[must_use]
    pub fn plow(&self) -> Option<(Plow, u64)> {
        self.with(|state| state.plow.clone())
    }

    /// Number of the last plow description that could be used; 0 before the first.
    #[must_use]
    pub fn plow_number(&self) -> u64 {
        self.with(|state| state.plow.as_ref().map_or(0, |(_, number)| *number))
    }

    /// What the next run is recorded with, to be kept over a restart.
    pub fn keep_choice(&self, choice: Choice) {
        self.with(|state| state.choice = Some(choice));
    }

    /// The run that is being recorded.
    pub fn set_in_progress(&self, folder: Option<PathBuf>) {
        self.with(|state| state.in_progress = folder);
    }
}

/// Tells the keeper that a run has ended, or that there is something to keep; dropped, it ends the keeper.
#[derive(Clone, Debug)]
pub struct RunEnded(Sender<()>);

impl RunEnded {
    /// The keeper looks now.
    pub fn tell(&self) {
        // A keeper that is gone looks at nothing.
        let _ = self.0.send(());
    }
}

/// What a file was when it was last looked at.
type Seen = Option<(SystemTime, u64)>;

/// The work beside the recording.
struct Keeper {
    plow: PathBuf,
    setting_name: String,
    runs: PathBuf,
    keep: super::config::Keep,
    choice: PathBuf,
    desk: Arc<Desk>,
    seen: Option<Seen>,
}

/// Starts it. Runs that are unfinished now are repaired; those that begin later are the recorder's.
///
/// # Errors
/// If the system gives no thread.
pub fn begin(config: &ServiceConfig, desk: Arc<Desk>) -> io::Result<RunEnded> {
    let unfinished = unfinished_in(&config.runs, &desk.troubles);
    let mut keeper = Keeper {
        plow: config.plow.clone(),
        setting_name: config.setting_name.clone(),
        runs: config.runs.clone(),
        keep: config.keep,
        choice: kept_choice::file_of(config),
        desk,
        seen: None,
    };
    let (ended, told) = channel();
    std::thread::Builder::new().name("keeper".to_owned()).spawn(move || {
        keeper.look_at_plow();
        keeper.repair(&unfinished);
        keeper.work(&told);
    })?;
    Ok(RunEnded(ended))
}

/// Runs that were left unfinished; what cannot be read is told.
fn unfinished_in(parent: &Path, troubles: &Troubles) -> Vec<RunHere> {
    match runs_in(parent) {
        Ok((runs, unreadable)) => {
            if let Some(first) = unreadable.first() {
                troubles.set(
                    TroubleKind::Repair,
                    &format!("{} of the runs cannot be read: {first}", unreadable.len()),
                );
            }
            runs.into_iter().filter(|run| run.state == RunState::Recording).collect()
        }
        // There is no run yet; the recorder makes the folder, or tells why not.
        Err(_) => Vec::new(),
    }
}

impl Keeper {
    fn work(&mut self, told: &Receiver<()>) {
        let mut next_look = Instant::now();
        loop {
            if Instant::now() >= next_look {
                self.look_at_runs();
                next_look = Instant::now() + LOOK_AT_RUNS;
            }
            let heard = told.recv_timeout(LOOK_AT_PLOW);
            self.keep_choice();
            match heard {
                Ok(()) => next_look = Instant::now(),
                Err(RecvTimeoutError::Timeout) => self.look_at_plow(),
                Err(RecvTimeoutError::Disconnected) => return,
            }
        }
    }

    /// Writes down what was chosen for the next run.
    fn keep_choice(&self) {
        let Some(choice) = self.desk.with(|state| state.choice.take()) else { return };
        match kept_choice::write(&self.choice, &choice) {
            Ok(()) => self.desk.troubles.clear(TroubleKind::Choice),
            Err(why) => {
                let why = format!("what is chosen for the next run is lost with the next restart: {why}");
                self.desk.troubles.set(TroubleKind::Choice, &why);
            }
        }
    }

    /// Reads the plow description if it has changed. One that cannot be used changes nothing but that it is told.
    fn look_at_plow(&mut self) {
        let about = std::fs::metadata(&self.plow);
        let seen = about.ok().and_then(|about| Some((about.modified().ok()?, about.len())));
        if self.seen.as_ref() == Some(&seen) {
            return;
        }
        self.seen = Some(seen);
        let has_one = self.desk.plow_number() > 0;
        let read = read_plow(&self.plow).map_err(|error| error.in_one_line().to_string()).and_then(|plow| {
            if plow.settings.contains_key(&self.setting_name) {
                Ok(plow)
            } else {
                Err(format!("{}: there is no setting \"{}\" in it", self.plow.display(), self.setting_name))
            }
        });
        match read {
            Ok(plow) => {
                let number = self.desk.with(|state| {
                    let number = match &state.plow {
                        // Only the time of the file is another.
                        Some((before, number)) if *before == plow => *number,
                        before => before.as_ref().map_or(0, |(_, number)| *number) + 1,
                    };
                    state.plow = Some((plow, number));
                    number
                });
                tracing::info!(file = %self.plow.display(), number, "plow description read");
                self.desk.troubles.clear(TroubleKind::Plow);
            }
            Err(why) => {
                // Before why: a status line has an end.
                let meanwhile = if has_one {
                    "the plow description as it was goes on"
                } else {
                    "nothing is recorded without a plow description"
                };
                self.desk.troubles.set(TroubleKind::Plow, &format!("{meanwhile}: {why}"));
            }
        }
    }

    /// Makes runs whole that a power cut left.
    fn repair(&self, unfinished: &[RunHere]) {
        let mut failed = Vec::new();
        for RunHere { folder, .. } in unfinished {
            match repair_run(folder) {
                Ok(Some(findings)) => {
                    tracing::warn!(run = %folder.display(), findings, "a run left unfinished is repaired");
                }
                Ok(None) => {}
                Err(why) => failed.push(why),
            }
        }
        if let Some(first) = failed.first() {
            let sentence = format!("{} of the unfinished runs cannot be repaired: {first}", failed.len());
            self.desk.troubles.set(TroubleKind::Repair, &sentence);
        }
    }

    /// Deletes what need not be kept.
    fn look_at_runs(&self) {
        if self.keep.days.is_none() && self.keep.share_of_disk.is_none() {
            return;
        }
        let (gone, mut wrong) = finish_deletions(&mut OwnDisk, &self.runs);
        if gone > 0 {
            tracing::info!(runs = gone, "deletions that were cut short are finished");
        }
        let Ok((runs, _)) = runs_in(&self.runs) else { return };
        let disk_bytes = fs4::total_space(&self.runs).ok();
        let plan = plan(&runs, is_copied, &self.keep, jiff::Timestamp::now(), disk_bytes);
        for (run, reason) in &plan.go {
            let in_progress = self.desk.with(|state| state.in_progress.clone());
            let told = self.keep.delete_uncopied;
            match delete_run(&mut OwnDisk, &self.runs, run, told, in_progress.as_deref()) {
                Ok(()) => tracing::info!(run = %run.display(), why = %reason, "run deleted"),
                // What changed since the plan was made is looked at again next time.
                Err(DeletionError::InUse(_) | DeletionError::NotCopied(_)) => {}
                Err(error) => wrong.push(error.to_string()),
            }
        }
        if let Some(share) = plan.still_over {
            wrong.push(format!(
                "the runs take {:.0} % of the disk, more than keep_share_of_disk, and {} of them may not go because they \
                 are not copied: copy them, and say so by `hitchwright-recorder copied RUN...`",
                100.0 * share,
                plan.not_copied.len()
            ));
        } else if !plan.not_copied.is_empty() {
            tracing::debug!(runs = plan.not_copied.len(), "old runs stay, as they are not copied");
        }
        match wrong.first() {
            Some(first) => self.desk.troubles.set(TroubleKind::Keeping, first),
            None => self.desk.troubles.clear(TroubleKind::Keeping),
        }
    }
}

/// Repairs a run; gives how much was put right, or nothing where a recorder is at work in it.
fn repair_run(folder: &Path) -> Result<Option<usize>, String> {
    let repair = Repair::of(folder).map_err(|error| error.to_string())?;
    if repair.still_recording {
        return Ok(None);
    }
    let findings = repair.put_right().count();
    repair
        .carry_out(|name, bytes| write_whole(&folder.join(name), bytes))
        .map(|_| Some(findings))
        .map_err(|error| error.to_string())
}

#[cfg(test)]
mod tests {
    use super::super::config::Keep;
    use super::super::run_files::tests::make_run;
    use super::*;
    use std::fs::File;

    #[test]
    fn old_runs_go_by_age_alone_and_by_their_share_alone_and_none_by_neither() {
        let told = Keep { days: None, share_of_disk: None, delete_uncopied: true };
        let (by_age, by_share) =
            (Keep { days: Some(30.0), ..told }, Keep { share_of_disk: Some(1e-12), ..told });
        for (keep, stays) in [(by_age, false), (by_share, false), (told, true)] {
            let parent = tempfile::tempdir().unwrap();
            let old = make_run(parent.path(), "old", "2001-04-11T09:14:00+02:00", RunState::Ended);
            let now = jiff::Timestamp::now().to_string();
            let newest = make_run(parent.path(), "newest", &now, RunState::Ended);
            let keeper = Keeper {
                plow: PathBuf::new(),
                setting_name: String::new(),
                runs: parent.path().to_owned(),
                keep,
                choice: parent.path().join("next-run.toml"),
                desk: Arc::default(),
                seen: None,
            };
            keeper.look_at_runs();
            assert_eq!((old.exists(), newest.exists()), (stays, true), "{keep:?}");
        }
    }

    #[test]
    fn a_run_at_which_a_recorder_works_is_left_to_it() {
        const RUN: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../../sample-runs/runs/balanced");
        let run = tempfile::tempdir().unwrap();
        for entry in std::fs::read_dir(RUN).unwrap() {
            let path = entry.unwrap().path();
            std::fs::copy(&path, run.path().join(path.file_name().unwrap())).unwrap();
        }
        let toml = run.path().join("run.toml");
        let text = std::fs::read_to_string(&toml).unwrap().replace("\"ended\"", "\"recording\"");
        std::fs::write(&toml, &text).unwrap();
        let wire = File::open(run.path().join("plow.wire")).unwrap();
        wire.lock().unwrap();
        assert_eq!(repair_run(run.path()), Ok(None));
        assert_eq!(std::fs::read_to_string(&toml).unwrap(), text);
        drop(wire);
        assert!(repair_run(run.path()).unwrap().is_some_and(|findings| findings > 0));
        assert_ne!(std::fs::read_to_string(&toml).unwrap(), text);
    }
}
