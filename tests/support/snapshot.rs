//! What is in a folder, to tell whether a program changed it.

use std::collections::BTreeMap;
use std::fs::{self, File};
use std::io::Read;
use std::path::{Path, PathBuf};

use crate::{Doing, Outcome};

/// A file's bytes are kept up to here; a larger one is known by its length and its beginning.
const KEPT_BYTES: u64 = 32 << 20;

/// Every folder (`None`) and file (its length and bytes) below a folder.
pub type Snapshot = BTreeMap<PathBuf, Option<(u64, Vec<u8>)>>;

pub fn snapshot(folder: &Path) -> Outcome<Snapshot> {
    let mut found = Snapshot::new();
    let mut ahead = vec![folder.to_owned()];
    while let Some(here) = ahead.pop() {
        let about = || format!("look into {}", here.display());
        for entry in fs::read_dir(&here).doing(about)? {
            let path = entry.doing(about)?.path();
            let here = || format!("read {}", path.display());
            let about = fs::symlink_metadata(&path).doing(here)?;
            if about.is_dir() {
                ahead.push(path.clone());
                found.insert(path, None);
            } else if about.is_file() {
                let mut bytes = Vec::new();
                File::open(&path)
                    .and_then(|file| file.take(KEPT_BYTES).read_to_end(&mut bytes))
                    .doing(here)?;
                found.insert(path, Some((about.len(), bytes)));
            }
        }
    }
    Ok(found)
}

/// Copies the files of a run folder into a new one.
pub fn copy_run(run: &Path, to: &Path) -> Outcome<()> {
    fs::create_dir(to).doing(|| format!("make {}", to.display()))?;
    for entry in fs::read_dir(run).doing(|| format!("look into {}", run.display()))? {
        let entry = entry.doing(|| format!("look into {}", run.display()))?;
        fs::copy(entry.path(), to.join(entry.file_name()))
            .doing(|| format!("copy {}", entry.path().display()))?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_change_is_seen() {
        let folder = tempfile::tempdir().unwrap();
        let (run, copy) = (folder.path().join("run"), folder.path().join("copy"));
        fs::create_dir(&run).unwrap();
        fs::write(run.join("plow.csv"), "t_s\n").unwrap();
        copy_run(&run, &copy).unwrap();
        assert!(copy_run(&run, &copy).is_err());
        let before = snapshot(folder.path()).unwrap();
        assert_eq!(before.len(), 4);
        assert_eq!(snapshot(folder.path()).unwrap(), before);
        fs::write(copy.join("plow.csv"), "t_S\n").unwrap();
        assert_ne!(snapshot(folder.path()).unwrap(), before);
        fs::write(copy.join("plow.csv"), "t_s\n").unwrap();
        assert_eq!(snapshot(folder.path()).unwrap(), before);
        fs::create_dir(run.join("new")).unwrap();
        assert_ne!(snapshot(folder.path()).unwrap(), before);
    }
}
