//! Where everything about the runs comes together: what is known of each, and what has to be asked of the analyst.

use super::list::{self, ListedRun, RunList, Stamp};
use super::pages::Pages;
use super::queue::Stop;
use super::remembered::Remembered;
use super::told::{Brief, parse_brief};
use super::{Analyst, RunName, RunsError};
use crate::live::{LastPass, sentence};
use crate::reader_units::InBothUnits;
use std::ffi::OsString;
use std::path::PathBuf;
use std::sync::{Arc, Mutex, PoisonError};

/// Verdicts that are kept, in memory: some tens of kilobytes in all.
const VERDICTS_KEPT: usize = 400;
/// Comparisons that are kept.
const COMPARISONS_KEPT: usize = 20;

/// What a run's files say, or why nothing can be said.
type Told = Result<Arc<InBothUnits<Brief>>, RunsError>;

/// Who may be told of the last pass.
type Tell = Box<dyn Fn(LastPass) + Send + Sync>;

/// Why a run has no verdict, in a sentence that stands beside its name.
pub(super) fn why_not(name: &RunName, error: &RunsError) -> String {
    let why = error.to_string();
    sentence(why.strip_prefix(&format!("{}: ", name.as_str())).unwrap_or(&why))
}

/// All that is known of the runs of one folder.
pub(super) struct Desk {
    pub(super) out: PathBuf,
    pub(super) analyst: Analyst,
    pub(super) pages: Pages,
    tell: Tell,
    recording: Mutex<Option<RunName>>,
    last_pass: Mutex<Option<LastPass>>,
    listed: Remembered<(RunName, Stamp), ListedRun>,
    verdicts: Remembered<(RunName, Stamp), Told>,
    comparisons: Remembered<Vec<(RunName, Stamp)>, Arc<InBothUnits<Brief>>>,
}

impl std::fmt::Debug for Desk {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Desk").field("out", &self.out).field("analyst", &self.analyst).finish_non_exhaustive()
    }
}

impl Desk {
    pub fn new(out: PathBuf, analyst: Analyst, tell: Tell) -> std::io::Result<Self> {
        Ok(Self {
            out,
            analyst,
            pages: Pages::default(),
            tell,
            recording: Mutex::default(),
            last_pass: Mutex::default(),
            listed: Remembered::at_most(VERDICTS_KEPT),
            verdicts: Remembered::at_most(VERDICTS_KEPT),
            comparisons: Remembered::at_most(COMPARISONS_KEPT),
        })
    }

    /// Says which run is being recorded now.
    pub fn set_recording(&self, name: Option<RunName>) {
        *self.recording.lock().unwrap_or_else(PoisonError::into_inner) = name;
    }

    /// Whether this run is being recorded now.
    pub fn is_recording(&self, name: &RunName) -> bool {
        self.recording.lock().unwrap_or_else(PoisonError::into_inner).as_ref() == Some(name)
    }

    /// Changes what is told of the last pass, if it is still this one, and tells it.
    pub fn last_pass(&self, run: &RunName, change: impl FnOnce(&mut LastPass)) {
        let mut last = self.last_pass.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(pass) = last.as_mut().filter(|pass| pass.run == run.as_str()) {
            change(pass);
            (self.tell)(pass.clone());
        }
    }

    /// A pass of before, if there is no later one; gives whether there is none.
    pub fn last_pass_of_before(&self, pass: LastPass) -> bool {
        let mut last = self.last_pass.lock().unwrap_or_else(PoisonError::into_inner);
        if last.is_some() {
            return false;
        }
        (self.tell)(pass.clone());
        *last = Some(pass);
        true
    }

    /// A new last pass.
    pub fn new_last_pass(&self, pass: LastPass) {
        (self.tell)(pass.clone());
        *self.last_pass.lock().unwrap_or_else(PoisonError::into_inner) = Some(pass);
    }

    /// One run, as it is listed.
    pub fn run(&self, name: &RunName) -> Result<ListedRun, RunsError> {
        let stamp = list::stamp(&self.out, name)?;
        let key = (name.clone(), stamp);
        let mut run = self.listed.get(&key).unwrap_or_else(|| {
            let run = list::look_into(&self.out, name);
            self.listed.put(key.clone(), run.clone(), |(known, _)| known == name);
            run
        });
        run.recording = self.is_recording(name);
        if run.recording {
            // That it has not ended is no trouble.
            run.trouble = None;
        }
        match self.verdicts.get(&key) {
            Some(Ok(told)) => run.verdict = Some(told.si.headline.clone()),
            Some(Err(error)) => run.no_verdict = Some(why_not(name, &error)),
            None => {}
        }
        if run.usable && !run.recording && self.analyst.is_there() {
            run.files.extend(["page.pdf", "page.png"].map(str::to_owned));
        }
        Ok(run)
    }

    /// All runs, those that began last first.
    pub fn list(&self) -> Result<RunList, RunsError> {
        let (names, more) = list::newest(&self.out)?;
        let one = |name: &RunName| match self.run(name) {
            Ok(run) => Some(run),
            // It went away in the meantime.
            Err(RunsError::NoSuchRun) => None,
            Err(error) => {
                // Not looked into: what is in it is no run of ours.
                Some(ListedRun { trouble: Some(error.to_string()), ..ListedRun::unread(name) })
            }
        };
        let mut runs: Vec<ListedRun> = names.iter().filter_map(one).collect();
        runs.sort_by(|one, other| (&other.started, &other.name).cmp(&(&one.started, &one.name)));
        Ok(RunList { runs, more })
    }

    /// The verdict of a run, if it is known already.
    pub fn known_verdict(&self, name: &RunName) -> Option<Told> {
        let stamp = list::stamp(&self.out, name).ok()?;
        self.verdicts.get(&(name.clone(), stamp))
    }

    /// The verdict of a run, worked out if it is not known.
    pub fn verdict(&self, name: &RunName, stop: &Stop<'_>) -> Told {
        let stamp = list::stamp(&self.out, name)?;
        if self.is_recording(name) {
            return Err(RunsError::StillRecording);
        }
        let key = (name.clone(), stamp);
        if let Some(known) = self.verdicts.get(&key) {
            return known;
        }
        let arguments = ["summary".into(), self.argument(name), "--brief".into(), "--json".into()];
        let told = self.ask(&arguments, stop).and_then(|answer| parse_brief(&answer)).map(Arc::new);
        // What the run itself is the reason for will be so again; all else may be better the next time.
        if matches!(told, Ok(_) | Err(RunsError::Says(_))) {
            self.verdicts.put(key, told.clone(), |(known, _)| known == name);
        }
        told
    }

    /// Runs of one setting against those of another, in brief.
    pub fn told_of(
        &self,
        a: &[RunName],
        b: &[RunName],
        stop: &Stop<'_>,
    ) -> Result<Arc<InBothUnits<Brief>>, RunsError> {
        let key = self.stamps(a.iter().chain(b))?;
        if let Some(known) = self.comparisons.get(&key) {
            return Ok(known);
        }
        let mut arguments = self.compare_arguments(a, b);
        arguments.extend(["--brief", "--json"].map(OsString::from));
        let told = Arc::new(parse_brief(&self.ask(&arguments, stop)?)?);
        self.comparisons.put(key, told.clone(), |_| false);
        Ok(told)
    }

    /// The files of runs, as they are.
    pub fn stamps<'a>(
        &self,
        runs: impl Iterator<Item = &'a RunName>,
    ) -> Result<Vec<(RunName, Stamp)>, RunsError> {
        runs.map(|name| Ok((name.clone(), list::stamp(&self.out, name)?))).collect()
    }

    /// A run's folder, for the command line.
    pub fn argument(&self, name: &RunName) -> OsString {
        name.folder_in(&self.argument_folder()).into_os_string()
    }

    /// `compare A ... --against B ...`.
    pub fn compare_arguments(&self, a: &[RunName], b: &[RunName]) -> Vec<OsString> {
        let runs = |side: &[RunName]| side.iter().map(|name| self.argument(name)).collect::<Vec<_>>();
        [vec!["compare".into()], runs(a), vec!["--against".into()], runs(b)].concat()
    }

    /// Asks the analyst; its sentences name runs, not where they are.
    pub fn ask(&self, arguments: &[OsString], stop: &Stop<'_>) -> Result<Vec<u8>, RunsError> {
        let before = format!("{}{}", self.argument_folder().display(), std::path::MAIN_SEPARATOR);
        self.analyst.run(arguments, stop).map_err(|error| match error {
            RunsError::Says(sentence) => RunsError::Says(sentence.replace(&before, "")),
            other => other,
        })
    }

    /// The folder of the runs, for the command line: a name may begin with a dash, a path does not.
    fn argument_folder(&self) -> PathBuf {
        if self.out.is_absolute() { self.out.clone() } else { PathBuf::from(".").join(&self.out) }
    }
}
