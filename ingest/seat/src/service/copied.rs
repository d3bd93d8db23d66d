//! The mark of a run that was copied elsewhere: `copied.toml` in its folder, set by a person, a script or whatever hands
//! the whole run out, once the copy is there.
//!
//! It lists each file of the run with its size and the time of its last change. A run that has changed since, in whatever
//! file, is not copied any more.

use super::run_files::{RunFile, RunHere, files_of, runs_in};
use ingest::description_file::DescriptionError;
use ingest::run_folder::write_whole;
use ingest::run_toml::{RunState, read_run_toml};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::io;
use std::path::{Path, PathBuf};

/// Name of the mark.
pub const COPIED_TOML: &str = "copied.toml";

/// Why a run cannot be marked as copied.
#[derive(Debug, thiserror::Error)]
#[allow(missing_docs, reason = "the sentences say what they are")]
pub enum CopiedError {
    #[error(transparent)]
    NoRun(#[from] DescriptionError),
    #[error(
        "{}: the run has not ended, and what is copied of it is not all of it: end it, or have it repaired by \
         `hitchwright check --repair`, and copy it again", .0.display()
    )]
    NotEnded(PathBuf),
    #[error("{}: {cause}", folder.display())]
    Unwritten { folder: PathBuf, cause: io::Error },
}

/// What the mark says.
#[derive(Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Mark {
    /// When it was set, by the clock of the computer.
    marked: String,
    files: BTreeMap<String, RunFile>,
}

/// Marks a run as copied; it must have ended.
///
/// # Errors
/// [`CopiedError`]; nothing is marked then.
pub fn mark_copied(folder: &Path) -> Result<(), CopiedError> {
    let description = read_run_toml(&folder.join("run.toml"))?;
    if description.run.state == RunState::Recording {
        return Err(CopiedError::NotEnded(folder.to_owned()));
    }
    let unwritten = |cause| CopiedError::Unwritten { folder: folder.to_owned(), cause };
    let mark =
        Mark { marked: jiff::Timestamp::now().to_string(), files: present(folder).map_err(unwritten)? };
    let text = toml::to_string(&mark).map_err(|error| unwritten(io::Error::other(error)))?;
    write_whole(&folder.join(COPIED_TOML), text.as_bytes()).map_err(unwritten)
}

/// Whether a run was marked as copied and has not changed since. A mark that cannot be read is none.
#[must_use]
pub fn is_copied(folder: &Path) -> bool {
    let mark = std::fs::read_to_string(folder.join(COPIED_TOML)).ok();
    let mark = mark.and_then(|text| toml::from_str::<Mark>(&text).ok());
    mark.is_some_and(|mark| present(folder).is_ok_and(|files| !files.is_empty() && files == mark.files))
}

/// Folders of the runs that have ended and are not copied, the oldest first, and a sentence for each that cannot be read.
///
/// # Errors
/// If the folder of runs cannot be listed.
pub fn uncopied_in(parent: &Path) -> io::Result<(Vec<PathBuf>, Vec<String>)> {
    let (runs, unreadable) = runs_in(parent)?;
    let is_due = |run: &RunHere| run.state != RunState::Recording && !is_copied(&run.folder);
    Ok((runs.into_iter().filter(is_due).map(|run| run.folder).collect(), unreadable))
}

/// The files of a run but its mark.
fn present(folder: &Path) -> io::Result<BTreeMap<String, RunFile>> {
    let mut files = files_of(folder)?;
    files.remove(COPIED_TOML);
    Ok(files)
}

#[cfg(test)]
mod tests {
    use super::super::run_files::tests::make_run;
    use super::*;

    type Change = fn(&Path);

    #[test]
    fn a_run_is_copied_until_any_of_its_files_changes() {
        let parent = tempfile::tempdir().unwrap();
        let changes: [(&str, Change); 5] = [
            ("longer", |run| std::fs::write(run.join("plow.csv"), "t_s\n0\n1\n").unwrap()),
            ("one more", |run| std::fs::write(run.join("photo.jpg"), "x").unwrap()),
            ("in a folder", |run| {
                std::fs::create_dir(run.join("photos")).unwrap();
                std::fs::write(run.join("photos/1.jpg"), "x").unwrap();
            }),
            ("gone", |run| std::fs::remove_file(run.join("events.csv")).unwrap()),
            // As long as before.
            ("rewritten", |run| {
                let text = std::fs::read(run.join("plow.wire")).unwrap();
                std::thread::sleep(std::time::Duration::from_millis(20));
                std::fs::write(run.join("plow.wire"), text).unwrap();
            }),
        ];
        for (number, (what, change)) in changes.into_iter().enumerate() {
            let run = make_run(
                parent.path(),
                &format!("run-{number}"),
                "2027-04-11T09:14:00+02:00",
                RunState::Ended,
            );
            assert!(!is_copied(&run));
            mark_copied(&run).unwrap();
            assert!(is_copied(&run), "{what}");
            mark_copied(&run).unwrap();
            assert!(is_copied(&run), "{what}");
            change(&run);
            assert!(!is_copied(&run), "{what}");
        }
    }

    #[test]
    fn what_is_no_run_or_has_not_ended_is_not_marked() {
        let parent = tempfile::tempdir().unwrap();
        assert!(matches!(mark_copied(parent.path()), Err(CopiedError::NoRun(_))));
        let run = make_run(parent.path(), "run", "2027-04-11T09:14:00+02:00", RunState::Recording);
        let ended = make_run(parent.path(), "ended", "2027-04-11T09:14:00+02:00", RunState::Ended);
        assert_eq!(uncopied_in(parent.path()).unwrap(), (vec![ended.clone()], vec![]));
        mark_copied(&ended).unwrap();
        assert_eq!(uncopied_in(parent.path()).unwrap(), (vec![], vec![]));
        assert!(matches!(mark_copied(&run), Err(CopiedError::NotEnded(_))));
        assert!(!run.join(COPIED_TOML).exists() && !parent.path().join(COPIED_TOML).exists());
        let nothing = tempfile::tempdir().unwrap();
        for folder in [&run, nothing.path()] {
            std::fs::write(folder.join(COPIED_TOML), "marked = \"x\"\n[files]\n").unwrap();
            assert!(!is_copied(folder));
        }
    }
}
