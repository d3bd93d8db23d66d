//! The deletion of a run: renamed away first, so that a power cut leaves either the whole run or none under its name, and
//! what is left of it goes at the next look. Its `run.toml` goes last, so that what is left can be told from a folder that
//! is no run.

use super::copied::is_copied;
use super::run_files::{lock_wires, run_at};
use ingest::run_folder::sync_folder;
use ingest::run_toml::RunState;
use std::io;
use std::path::{Path, PathBuf};

/// Begins the name of a run that is being deleted.
const DELETING: &str = ".deleting-";

/// What a deletion changes on the disk.
pub trait Disk {
    /// As [`std::fs::rename`].
    ///
    /// # Errors
    /// What the system said.
    fn rename(&mut self, from: &Path, to: &Path) -> io::Result<()>;
    /// As [`std::fs::remove_file`].
    ///
    /// # Errors
    /// What the system said.
    fn remove_file(&mut self, path: &Path) -> io::Result<()>;
    /// As [`std::fs::remove_dir`]: an empty folder.
    ///
    /// # Errors
    /// What the system said.
    fn remove_folder(&mut self, path: &Path) -> io::Result<()>;
    /// Makes the names in a folder survive a power cut.
    ///
    /// # Errors
    /// What the system said.
    fn sync(&mut self, folder: &Path) -> io::Result<()>;
}

/// The disk of the computer.
#[derive(Clone, Copy, Debug, Default)]
pub struct OwnDisk;

impl Disk for OwnDisk {
    fn rename(&mut self, from: &Path, to: &Path) -> io::Result<()> {
        std::fs::rename(from, to)
    }
    fn remove_file(&mut self, path: &Path) -> io::Result<()> {
        std::fs::remove_file(path)
    }
    fn remove_folder(&mut self, path: &Path) -> io::Result<()> {
        std::fs::remove_dir(path)
    }
    fn sync(&mut self, folder: &Path) -> io::Result<()> {
        sync_folder(folder)
    }
}

/// Why a run was not deleted, or not all of it.
#[derive(Debug, thiserror::Error)]
#[allow(missing_docs, reason = "the sentences say what they are")]
pub enum DeletionError {
    #[error("{}: is not in the folder of runs", .0.display())]
    Outside(PathBuf),
    #[error("{}: is no folder of its own", .0.display())]
    NoFolder(PathBuf),
    #[error("{0}; this is no run that can be read, and it stays")]
    NoRun(String),
    #[error("{}: is being recorded", .0.display())]
    InUse(PathBuf),
    #[error("{}: was changed since it was copied", .0.display())]
    NotCopied(PathBuf),
    #[error("{}: {cause}; what is left of it goes at the next look", folder.display())]
    Fails { folder: PathBuf, cause: io::Error },
}

/// Deletes one run of a folder of runs, which must be copied unless `delete_uncopied`. `in_progress` is the folder of the
/// run that is being recorded.
///
/// # Errors
/// [`DeletionError`]; only after [`DeletionError::Fails`] something of it may be gone.
pub fn delete_run(
    disk: &mut dyn Disk,
    parent: &Path,
    run: &Path,
    delete_uncopied: bool,
    in_progress: Option<&Path>,
) -> Result<(), DeletionError> {
    let folder = || run.to_owned();
    let name = run.file_name().filter(|_| run.parent() == Some(parent));
    let name = name.ok_or_else(|| DeletionError::Outside(folder()))?;
    let about = std::fs::symlink_metadata(run);
    if !about.is_ok_and(|about| about.is_dir()) {
        return Err(DeletionError::NoFolder(folder()));
    }
    let here = run_at(run).map_err(DeletionError::NoRun)?;
    let fails = |cause| DeletionError::Fails { folder: folder(), cause };
    // Held until it is gone: no recorder and no repair comes in between.
    let locks = lock_wires(run).map_err(fails)?;
    if in_progress == Some(run) || here.state == RunState::Recording || locks.is_none() {
        return Err(DeletionError::InUse(folder()));
    }
    if !delete_uncopied && !is_copied(run) {
        return Err(DeletionError::NotCopied(folder()));
    }
    let away = free_name(parent, &name.to_string_lossy());
    disk.rename(run, &away).map_err(fails)?;
    disk.sync(parent).map_err(fails)?;
    remove(disk, parent, &away).map_err(fails)
}

/// Removes what earlier deletions left. Gives how many runs are gone for good, and a sentence for each that stays.
pub fn finish_deletions(disk: &mut dyn Disk, parent: &Path) -> (usize, Vec<String>) {
    let (mut gone, mut stay) = (0, Vec::new());
    let Ok(entries) = std::fs::read_dir(parent) else { return (gone, stay) };
    for left in entries.filter_map(|entry| Some(entry.ok()?.path())) {
        let name = left.file_name().unwrap_or_default().to_string_lossy().into_owned();
        let is_folder = std::fs::symlink_metadata(&left).is_ok_and(|about| about.is_dir());
        if !name.starts_with(DELETING) || !is_folder {
            continue;
        }
        let is_empty = std::fs::read_dir(&left).is_ok_and(|mut entries| entries.next().is_none());
        // Its run.toml is there to the last: what has none, and is not empty, is somebody else's.
        let is_run = run_at(&left).is_ok();
        if !is_empty && !is_run {
            stay.push(format!("{}: is no run, and is left alone", left.display()));
            continue;
        }
        match remove(disk, parent, &left) {
            Ok(()) => gone += 1,
            Err(cause) => stay.push(format!("{}: {cause}", left.display())),
        }
    }
    (gone, stay)
}

fn free_name(parent: &Path, name: &str) -> PathBuf {
    let mut number = 1u32;
    loop {
        let count = if number == 1 { String::new() } else { format!("_{number}") };
        let path = parent.join(format!("{DELETING}{name}{count}"));
        if std::fs::symlink_metadata(&path).is_err() {
            return path;
        }
        number += 1;
    }
}

fn remove(disk: &mut dyn Disk, parent: &Path, folder: &Path) -> io::Result<()> {
    let description = folder.join("run.toml");
    remove_in(disk, folder, Some(&description))?;
    if description.exists() {
        // All else is gone for good before it goes.
        disk.sync(folder)?;
        disk.remove_file(&description)?;
    }
    disk.remove_folder(folder)?;
    disk.sync(parent)
}

/// Removes all in a folder but one file. Links are removed, and what they lead to is not.
fn remove_in(disk: &mut dyn Disk, folder: &Path, but: Option<&Path>) -> io::Result<()> {
    for entry in std::fs::read_dir(folder)? {
        let path = entry?.path();
        if Some(path.as_path()) == but {
            continue;
        }
        if std::fs::symlink_metadata(&path)?.is_dir() {
            remove_in(disk, &path, None)?;
            disk.remove_folder(&path)?;
        } else {
            disk.remove_file(&path)?;
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::super::copied::mark_copied;
    use super::super::run_files::tests::make_run;
    use super::*;
    use std::fs::File;

    const BEGAN: &str = "2027-04-11T09:14:00+02:00";

    /// Does so many changes, then none: as after a power cut, or on a disk that was set read-only.
    struct Failing {
        changes_left: usize,
    }

    impl Failing {
        fn next(&mut self) -> io::Result<()> {
            self.changes_left = self.changes_left.checked_sub(1).ok_or(io::ErrorKind::ReadOnlyFilesystem)?;
            Ok(())
        }
    }

    impl Disk for Failing {
        fn rename(&mut self, from: &Path, to: &Path) -> io::Result<()> {
            self.next().and_then(|()| OwnDisk.rename(from, to))
        }
        fn remove_file(&mut self, path: &Path) -> io::Result<()> {
            self.next().and_then(|()| OwnDisk.remove_file(path))
        }
        fn remove_folder(&mut self, path: &Path) -> io::Result<()> {
            self.next().and_then(|()| OwnDisk.remove_folder(path))
        }
        fn sync(&mut self, folder: &Path) -> io::Result<()> {
            self.next().and_then(|()| OwnDisk.sync(folder))
        }
    }

    fn names(parent: &Path) -> Vec<String> {
        let entries = std::fs::read_dir(parent).unwrap();
        let mut names: Vec<_> =
            entries.map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned()).collect();
        names.sort();
        names
    }

    /// The disk fails, or the power is cut, before each of the changes in turn.
    #[test]
    fn a_cut_at_any_moment_leaves_the_whole_run_or_none_and_the_rest_goes_later() {
        let mut renamed = 0;
        for changes_left in 0.. {
            let parent = tempfile::tempdir().unwrap();
            let parent = parent.path();
            let run = make_run(parent, "old", BEGAN, RunState::Ended);
            std::fs::create_dir_all(run.join("photos/more")).unwrap();
            std::fs::write(run.join("photos/more/1.jpg"), "x").unwrap();
            mark_copied(&run).unwrap();
            let other = make_run(parent, "other", BEGAN, RunState::Ended);
            std::fs::create_dir(parent.join("photos")).unwrap();
            let files = super::super::run_files::files_of(&run).unwrap();
            let done = delete_run(&mut Failing { changes_left }, parent, &run, false, None);
            if run.exists() {
                assert_eq!(
                    super::super::run_files::files_of(&run).unwrap(),
                    files,
                    "torn after {changes_left}"
                );
                assert!(is_copied(&run));
            } else {
                renamed += 1;
            }
            let (gone, stay) = finish_deletions(&mut OwnDisk, parent);
            assert_eq!((gone <= 1, stay), (true, vec![]), "after {changes_left}");
            let expected: &[&str] =
                if run.exists() { &["old", "other", "photos"] } else { &["other", "photos"] };
            assert_eq!(names(parent), expected, "after {changes_left}");
            assert_eq!(super::super::run_files::files_of(&other).unwrap().len(), 4);
            if done.is_ok() {
                assert!(changes_left > 10, "{changes_left}");
                break;
            }
        }
        assert!(renamed > 10, "{renamed}");
    }

    #[test]
    fn what_is_outside_no_run_in_use_or_not_copied_is_never_touched() {
        let parent = tempfile::tempdir().unwrap();
        let (parent, outside) = (parent.path(), tempfile::tempdir().unwrap());
        let delete = |run: &Path, in_progress: Option<&Path>| {
            delete_run(&mut OwnDisk, parent, run, true, in_progress).unwrap_err().to_string()
        };
        let elsewhere = make_run(outside.path(), "run", BEGAN, RunState::Ended);
        assert!(delete(&elsewhere, None).contains("is not in the folder of runs"));
        assert!(delete(&parent.join("x/../.."), None).contains("is not in the folder of runs"));
        std::os::unix::fs::symlink(&elsewhere, parent.join("link")).unwrap();
        assert!(delete(&parent.join("link"), None).contains("no folder of its own"));
        std::fs::create_dir(parent.join("photos")).unwrap();
        assert!(delete(&parent.join("photos"), None).contains("this is no run that can be read"));
        let torn = make_run(parent, "torn", BEGAN, RunState::Ended);
        std::fs::write(torn.join("run.toml"), "").unwrap();
        assert!(delete(&torn, None).contains("this is no run that can be read"));
        let recording = make_run(parent, "recording", BEGAN, RunState::Recording);
        assert!(delete(&recording, None).contains("is being recorded"));
        let ended = make_run(parent, "ended", BEGAN, RunState::Ended);
        assert!(delete(&ended, Some(&ended)).contains("is being recorded"));
        let wire = File::open(ended.join("plow.wire")).unwrap();
        wire.lock_shared().unwrap();
        assert!(delete(&ended, None).contains("is being recorded"));
        drop(wire);
        let uncopied = delete_run(&mut OwnDisk, parent, &ended, false, None).unwrap_err().to_string();
        assert!(uncopied.contains("was changed since it was copied"), "{uncopied}");
        // Somebody's own folder under our kind of name, and a link.
        std::fs::create_dir(parent.join(".deleting-mine")).unwrap();
        std::fs::write(parent.join(".deleting-mine/letter.txt"), "x").unwrap();
        std::os::unix::fs::symlink(&elsewhere, parent.join(".deleting-link")).unwrap();
        let before = names(parent);
        let (gone, stay) = finish_deletions(&mut OwnDisk, parent);
        assert!(gone == 0 && stay.len() == 1 && stay[0].contains("is left alone"), "{stay:?}");
        assert_eq!(names(parent), before);
        assert!(parent.join(".deleting-mine/letter.txt").exists() && elsewhere.join("run.toml").exists());
        // What a link in a run leads to stays.
        std::os::unix::fs::symlink(outside.path(), ended.join("link")).unwrap();
        delete_run(&mut OwnDisk, parent, &ended, true, None).unwrap();
        assert!(!ended.exists() && elsewhere.join("plow.csv").exists());
    }

    #[test]
    fn a_name_that_is_taken_by_what_is_left_of_another_is_not_reused() {
        let parent = tempfile::tempdir().unwrap();
        let parent = parent.path();
        for _ in 0..2 {
            let run = make_run(parent, "run", BEGAN, RunState::Ended);
            delete_run(&mut Failing { changes_left: 3 }, parent, &run, true, None).unwrap_err();
        }
        assert_eq!(names(parent), [".deleting-run", ".deleting-run_2"]);
        assert_eq!(finish_deletions(&mut OwnDisk, parent), (2, vec![]));
        assert_eq!(names(parent), Vec::<String>::new());
    }

    /// Notes what is done to the disk.
    struct Noted(Vec<String>);

    impl Noted {
        fn note(&mut self, what: &str, path: &Path) {
            self.0.push(format!("{what} {}", path.file_name().unwrap().to_string_lossy()));
        }
    }

    impl Disk for Noted {
        fn rename(&mut self, from: &Path, to: &Path) -> io::Result<()> {
            self.note("rename", from);
            OwnDisk.rename(from, to)
        }
        fn remove_file(&mut self, path: &Path) -> io::Result<()> {
            self.note("remove", path);
            OwnDisk.remove_file(path)
        }
        fn remove_folder(&mut self, path: &Path) -> io::Result<()> {
            self.note("remove", path);
            OwnDisk.remove_folder(path)
        }
        fn sync(&mut self, folder: &Path) -> io::Result<()> {
            self.note("sync", folder);
            OwnDisk.sync(folder)
        }
    }

    /// A disk may put off what was not synced, so that a power cut undoes the first change and not the second.
    #[test]
    fn the_new_name_is_safe_before_files_go_and_they_are_gone_before_the_description_goes() {
        let parent = tempfile::tempdir().unwrap();
        let runs = parent.path().join("runs");
        std::fs::create_dir(&runs).unwrap();
        let run = make_run(&runs, "run", BEGAN, RunState::Ended);
        let mut noted = Noted(Vec::new());
        delete_run(&mut noted, &runs, &run, true, None).unwrap();
        let done: Vec<&str> = noted.0.iter().map(String::as_str).collect();
        assert_eq!(done[..2], ["rename run", "sync runs"], "{done:?}");
        let last = ["sync .deleting-run", "remove run.toml", "remove .deleting-run", "sync runs"];
        assert!(done.ends_with(&last) && done.len() == 9, "{done:?}");
    }
}
