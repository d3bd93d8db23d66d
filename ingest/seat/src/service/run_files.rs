//! What is in the folder of runs, and in a run: read, never changed.

use ingest::run_toml::{RunState, read_run_toml};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::fs::{File, Metadata, TryLockError};
use std::io;
use std::path::{Path, PathBuf};
use std::time::UNIX_EPOCH;

/// Deepest folder in a run that is looked into.
const DEPTH_MAX: usize = 8;

/// One file, as far as it tells whether it has changed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RunFile {
    /// Its size.
    pub bytes: u64,
    /// Its last change, in µs since 1970; before that, 0.
    pub changed_us: u64,
}

impl RunFile {
    fn of(about: &Metadata) -> Self {
        // A system that keeps no such time, and one before 1970, tell by the size alone.
        let since = about.modified().ok().and_then(|time| time.duration_since(UNIX_EPOCH).ok());
        Self { bytes: about.len(), changed_us: since.map_or(0, |since| since.as_micros() as u64) }
    }
}

/// All files in a folder and in those in it, by their path from there; links are not followed.
///
/// # Errors
/// What the system said; also for names that are no text, and for folders that are nested too deep.
pub fn files_of(folder: &Path) -> io::Result<BTreeMap<String, RunFile>> {
    let mut files = BTreeMap::new();
    collect(folder, "", DEPTH_MAX, &mut files)?;
    Ok(files)
}

fn collect(
    folder: &Path,
    before: &str,
    depth: usize,
    files: &mut BTreeMap<String, RunFile>,
) -> io::Result<()> {
    let wrong = |what| io::Error::new(io::ErrorKind::InvalidData, what);
    if depth == 0 {
        return Err(wrong("folders are nested too deep in it"));
    }
    for entry in std::fs::read_dir(folder)? {
        let entry = entry?;
        let name =
            entry.file_name().into_string().map_err(|_| wrong("a file in it has a name that is no text"))?;
        let name = format!("{before}{name}");
        let about = std::fs::symlink_metadata(entry.path())?;
        if about.is_dir() {
            collect(&entry.path(), &format!("{name}/"), depth - 1, files)?;
        } else {
            files.insert(name, RunFile::of(&about));
        }
    }
    Ok(())
}

/// One run in the folder of runs.
#[derive(Clone, Debug)]
pub struct RunHere {
    /// Its folder.
    pub folder: PathBuf,
    /// When it began.
    pub started: jiff::Timestamp,
    /// Whether it ended.
    pub state: RunState,
    /// All its files together.
    pub bytes: u64,
}

/// The runs of a folder, the oldest first, with what looks like a run and cannot be read as one: a sentence each. A
/// folder without `run.toml`, a hidden one and a link are no runs.
///
/// # Errors
/// If the folder itself cannot be listed.
pub fn runs_in(parent: &Path) -> io::Result<(Vec<RunHere>, Vec<String>)> {
    let (mut runs, mut unreadable) = (Vec::new(), Vec::new());
    for entry in std::fs::read_dir(parent)? {
        let folder = entry?.path();
        let is_hidden = folder.file_name().is_none_or(|name| name.to_string_lossy().starts_with('.'));
        let is_folder = std::fs::symlink_metadata(&folder).is_ok_and(|about| about.is_dir());
        if is_hidden || !is_folder || !folder.join("run.toml").is_file() {
            continue;
        }
        match run_at(&folder) {
            Ok(run) => runs.push(run),
            Err(why) => unreadable.push(why),
        }
    }
    runs.sort_by(|a, b| (a.started, &a.folder).cmp(&(b.started, &b.folder)));
    Ok((runs, unreadable))
}

/// A run, if its folder can be read as one.
pub(super) fn run_at(folder: &Path) -> Result<RunHere, String> {
    let of_folder = |cause: String| format!("{}: {cause}", folder.display());
    let description = read_run_toml(&folder.join("run.toml")).map_err(|error| error.to_string())?;
    let started: jiff::Timestamp =
        description.run.started.parse().map_err(|error: jiff::Error| of_folder(error.to_string()))?;
    let files = files_of(folder).map_err(|error| of_folder(error.to_string()))?;
    let bytes = files.values().map(|file| file.bytes).sum();
    Ok(RunHere { folder: folder.to_owned(), started, state: description.run.state, bytes })
}

/// Locks of the wire files of a run, or `None` if a recorder has one of them.
///
/// # Errors
/// What the system said.
pub fn lock_wires(folder: &Path) -> io::Result<Option<Vec<File>>> {
    let mut locks = Vec::new();
    for entry in std::fs::read_dir(folder)? {
        let path = entry?.path();
        if path.extension().is_none_or(|ending| ending != "wire") {
            continue;
        }
        let file = File::open(&path)?;
        match file.try_lock() {
            Ok(()) => locks.push(file),
            Err(TryLockError::WouldBlock) => return Ok(None),
            Err(TryLockError::Error(error)) => return Err(error),
        }
    }
    Ok(Some(locks))
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;

    const RUN_TOML: &str = include_str!("../../../../sample-runs/runs/balanced/run.toml");

    /// A small run folder of this name.
    pub fn make_run(parent: &Path, name: &str, started: &str, state: RunState) -> PathBuf {
        let folder = parent.join(name);
        std::fs::create_dir(&folder).unwrap();
        let state = toml::Value::try_from(state).unwrap().to_string();
        let text = RUN_TOML.replace("2026-11-26T03:52:57+00:00", started).replace("\"ended\"", &state);
        std::fs::write(folder.join("run.toml"), text).unwrap();
        for (file, text) in
            [("plow.csv", "t_s\n0\n"), ("events.csv", "t_s,kind,detail\n"), ("plow.wire", "wire")]
        {
            std::fs::write(folder.join(file), text).unwrap();
        }
        folder
    }

    #[test]
    fn only_runs_are_listed_and_the_oldest_is_first() {
        let parent = tempfile::tempdir().unwrap();
        let parent = parent.path();
        make_run(parent, "b", "2027-04-12T09:14:00+02:00", RunState::Ended);
        make_run(parent, "a", "2027-04-12T08:14:00+01:00", RunState::Recording);
        make_run(parent, "c", "2027-04-11T09:14:00+02:00", RunState::Imported);
        make_run(parent, ".hidden", "2027-04-11T09:14:00+02:00", RunState::Ended);
        std::fs::create_dir(parent.join("photos")).unwrap();
        std::fs::write(parent.join("run.toml"), RUN_TOML).unwrap();
        std::os::unix::fs::symlink(parent.join("a"), parent.join("link")).unwrap();
        let torn = make_run(parent, "torn", "2027-04-11T09:14:00+02:00", RunState::Ended);
        std::fs::write(torn.join("run.toml"), "[run]\nid = \"x").unwrap();
        let (runs, unreadable) = runs_in(parent).unwrap();
        let names: Vec<_> =
            runs.iter().map(|run| run.folder.file_name().unwrap().to_str().unwrap()).collect();
        assert_eq!(names, ["c", "a", "b"]);
        assert!(unreadable.len() == 1 && unreadable[0].contains("torn/run.toml, line 2"), "{unreadable:?}");
        assert!(runs_in(&parent.join("none")).is_err());
    }
}
