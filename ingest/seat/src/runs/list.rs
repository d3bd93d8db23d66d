//! The runs that are there, newest first; what cannot be used is named with why.

use super::{RunName, RunsError};
use ingest::open_run::{OpenNotice, open_run};
use ingest::run_toml::RunState;
use serde::Serialize;
use std::fs::{DirEntry, Metadata};
use std::path::Path;
use std::time::SystemTime;

/// How many runs are listed.
const LISTED_MAX: usize = 300;
/// How many entries of the folder are looked at.
const ENTRIES_MAX: usize = 50_000;
/// How many files of a run are looked at; a run has one for each box, and a few.
const FILES_MAX: usize = 200;

/// The runs of a folder.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct RunList {
    /// The newest ones, the newest first.
    pub runs: Vec<ListedRun>,
    /// How many older ones are there besides.
    pub more: usize,
}

/// One run.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct ListedRun {
    /// Name of its folder.
    pub name: RunName,
    /// When it was started, to the minute, local time; empty where that cannot be read.
    pub when: String,
    /// The same as it stands in the run, to order by.
    #[serde(skip)]
    pub started: String,
    /// Hitch setting.
    pub setting: Option<String>,
    /// Condition of the shares.
    pub share: Option<String>,
    /// Field, as it was named.
    pub field: Option<String>,
    /// Name of the plow.
    pub plow: Option<String>,
    /// Notes on this pass.
    pub note: Option<String>,
    /// What is to be had of it, by the last part of its address.
    pub files: Vec<String>,
    /// It is being recorded now.
    pub recording: bool,
    /// Why it cannot be used, or what is not whole.
    pub trouble: Option<String>,
    /// The verdict in large letters, if it is known already.
    pub verdict: Option<String>,
    /// Why it has none, if that is known.
    pub no_verdict: Option<String>,
    /// Whether a verdict may be had of it.
    #[serde(skip)]
    pub usable: bool,
}

impl ListedRun {
    /// Of which nothing is known.
    pub(super) fn unread(name: &RunName) -> Self {
        Self {
            name: name.clone(),
            when: String::new(),
            started: String::new(),
            setting: None,
            share: None,
            field: None,
            plow: None,
            note: None,
            files: Vec::new(),
            recording: false,
            trouble: None,
            verdict: None,
            no_verdict: None,
            usable: false,
        }
    }

    /// Whether it is of this plow and this day.
    pub(super) fn is_of(&self, plow: &str, day: &str) -> bool {
        self.plow.as_deref() == Some(plow) && self.day() == day
    }

    /// The day that it was started.
    pub(super) fn day(&self) -> &str {
        self.when.get(..10).unwrap_or_default()
    }
}

/// The files of a run as they are: while it is the same, so is what is said of the run.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Stamp(Vec<(String, u64, Option<SystemTime>)>);

/// Looks at a run's folder.
///
/// # Errors
/// [`RunsError::NoSuchRun`], or [`RunsError::Damaged`] for what is no plain folder of plain files: a link may lead
/// anywhere, and whoever opens a pipe waits.
pub(super) fn stamp(out: &Path, name: &RunName) -> Result<Stamp, RunsError> {
    let folder = name.folder_in(out);
    let about = folder.symlink_metadata().map_err(|_| RunsError::NoSuchRun)?;
    if !about.is_dir() {
        return Err(RunsError::NoSuchRun);
    }
    let unreadable = |cause: std::io::Error| RunsError::Damaged(format!("{}: {cause}", name.as_str()));
    let mut files = Vec::new();
    for entry in folder.read_dir().map_err(unreadable)?.take(FILES_MAX) {
        let entry = entry.map_err(unreadable)?;
        let about = entry.metadata().map_err(unreadable)?;
        let file = entry.file_name().to_string_lossy().into_owned();
        if !(about.is_file() || about.is_dir()) {
            return Err(RunsError::Damaged(format!("{}: {file} is no plain file", name.as_str())));
        }
        files.push((file, about.len(), about.modified().ok()));
    }
    files.sort();
    Ok(Stamp(files))
}

/// The names of all runs in a folder, those changed last first, with how many were left out.
pub(super) fn newest(out: &Path) -> Result<(Vec<RunName>, usize), RunsError> {
    let unreadable = |cause: std::io::Error| RunsError::System(format!("{}: {cause}", out.display()));
    let entries = match out.read_dir() {
        // It is made with the first run.
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => return Ok((Vec::new(), 0)),
        entries => entries.map_err(unreadable)?.take(ENTRIES_MAX),
    };
    let mut runs: Vec<(Option<SystemTime>, RunName)> =
        entries.filter_map(|entry| run_in(&entry.ok()?)).collect();
    runs.sort_by(|one, other| other.cmp(one));
    let more = runs.len().saturating_sub(LISTED_MAX);
    Ok((runs.into_iter().take(LISTED_MAX).map(|(_, name)| name).collect(), more))
}

fn run_in(entry: &DirEntry) -> Option<(Option<SystemTime>, RunName)> {
    // Of a link it is not followed where it leads.
    if !entry.file_type().ok()?.is_dir() {
        return None;
    }
    let name = RunName::parse(entry.file_name().to_str()?)?;
    let of = |file: &str| entry.path().join(file).symlink_metadata().ok();
    let about: Metadata = of("run.toml").or_else(|| of("plow.wire")).or_else(|| of("plow.csv"))?;
    Some((about.modified().ok(), name))
}

/// What is said of one run, but for what changes without its files.
pub(super) fn look_into(out: &Path, name: &RunName) -> ListedRun {
    let mut listed = ListedRun::unread(name);
    // Sentences of a reader name files by their whole path, which is nobody's business on another machine.
    let short =
        |sentence: String| sentence.replace(&format!("{}{}", out.display(), std::path::MAIN_SEPARATOR), "");
    let run = match open_run(&name.folder_in(out)) {
        Ok(run) => run,
        Err(error) => {
            listed.trouble = Some(short(error.to_string()));
            return listed;
        }
    };
    let info = run.description.run;
    listed.when = info.started.chars().take(16).map(|c| if c == 'T' { ' ' } else { c }).collect();
    listed.started = info.started;
    listed.setting = Some(info.setting_name);
    listed.share = Some(info.share.to_string());
    listed.field = info.field;
    listed.plow = Some(run.description.plow.name);
    listed.note = info.note;
    let tables = run.files.iter().chain(&run.gnss).filter_map(|file| file.path.file_name()?.to_str());
    listed.files = tables.map(str::to_owned).chain(["events.csv".to_owned()]).collect();
    // While it is recorded its last row is torn most of the time.
    let told = run.notices.iter().filter(|notice| {
        info.state != RunState::Recording || matches!(notice, OpenNotice::NotEndedProperly { .. })
    });
    listed.trouble = told.map(|notice| short(notice.to_string())).next();
    listed.usable = true;
    listed
}

#[cfg(all(test, unix))]
mod tests {
    use super::*;
    use std::os::unix::fs::symlink;
    use std::time::Duration;

    fn run(out: &Path, name: &str, changed_s: u64) -> std::io::Result<()> {
        std::fs::create_dir(out.join(name))?;
        let file = std::fs::File::create(out.join(name).join("run.toml"))?;
        file.set_modified(SystemTime::UNIX_EPOCH + Duration::from_secs(changed_s))
    }

    #[test]
    fn the_newest_come_first_and_those_left_out_are_counted() {
        let out = tempfile::tempdir().unwrap();
        let all = LISTED_MAX + 3;
        for number in 0..all {
            run(out.path(), &format!("run_{number:04}"), 1_000_000 + number as u64).unwrap();
        }
        std::fs::create_dir(out.path().join("no_run")).unwrap();
        let (runs, more) = newest(out.path()).unwrap();
        assert_eq!((runs.len(), more), (LISTED_MAX, 3));
        assert_eq!(runs[0].as_str(), format!("run_{:04}", all - 1));
        assert_eq!(runs[LISTED_MAX - 1].as_str(), "run_0003");
    }

    /// A link may lead anywhere, and whoever opens a pipe waits for ever.
    #[test]
    fn neither_links_nor_pipes_are_followed() {
        let (out, elsewhere) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
        run(elsewhere.path(), "other", 1_000).unwrap();
        run(out.path(), "own", 2_000).unwrap();
        symlink(elsewhere.path().join("other"), out.path().join("linked")).unwrap();
        let (runs, more) = newest(out.path()).unwrap();
        assert_eq!((runs.iter().map(RunName::as_str).collect::<Vec<_>>(), more), (vec!["own"], 0));
        let looked_at = |name: &str| stamp(out.path(), &RunName::parse(name).unwrap());
        assert!(looked_at("own").is_ok());
        assert!(matches!(looked_at("linked"), Err(RunsError::NoSuchRun)));
        symlink(elsewhere.path().join("other/run.toml"), out.path().join("own/plow.csv")).unwrap();
        assert!(
            matches!(looked_at("own"), Err(RunsError::Damaged(why)) if why.contains("plow.csv is no plain file"))
        );
    }
}
