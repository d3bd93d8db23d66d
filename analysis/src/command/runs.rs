//! The run folders that were named: what a shell makes of `runs/*_flat` is made here where it does not.

use super::output::CommandError;
use crate::summary::Analysed;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// Each folder as it is; a pattern (`*`, `?`, `[ab]`) that no file is called by stands for the folders that it fits, in order
/// of their names.
pub(super) fn named_runs(named: &[PathBuf]) -> Result<Vec<PathBuf>, CommandError> {
    let found = named.iter().map(|path| fitting(path)).collect::<Result<Vec<_>, _>>()?;
    Ok(found.concat())
}

/// The one run folder that is meant.
pub(super) fn named_run(named: &Path) -> Result<PathBuf, CommandError> {
    let mut found = fitting(named)?;
    match (found.pop(), found.len()) {
        (Some(run), 0) => Ok(run),
        (_, others) => {
            let why = format!("{} run folders fit this pattern, and one is wanted: name it", others + 1);
            Err(CommandError::at(named, why))
        }
    }
}

/// A run that counts twice would make an estimate or a difference look surer than it is, whatever way its folder is
/// written.
pub(super) fn named_once(sides: &[&[PathBuf]]) -> Result<(), CommandError> {
    let mut seen = BTreeMap::new();
    for (side, runs) in sides.iter().enumerate() {
        for run in *runs {
            // A folder that is not there gets its own message when it is read.
            let folder = run.canonicalize().unwrap_or_else(|_| run.clone());
            let how = match seen.insert(folder, side) {
                None => continue,
                Some(other) if other == side => "is named twice",
                Some(_) => "stands on both sides of the comparison",
            };
            return Err(CommandError::Usage(format!("{} {how}", run.display())));
        }
    }
    Ok(())
}

/// A copy of a run, or a file that was imported twice, would count twice as well.
pub(super) fn rows_once(sides: &[&[Analysed]]) -> Result<(), CommandError> {
    let all: Vec<&Analysed> = sides.iter().flat_map(|runs| runs.iter()).collect();
    for (number, run) in all.iter().enumerate() {
        // Readings of two passes are never alike to the last digit; of most, not even their number.
        let same = |other: &&&Analysed| other.signals.channels == run.signals.channels;
        if let Some(other) = all.iter().skip(number + 1).find(same) {
            let (one, other) = (&run.summary.run.id, &other.summary.run.id);
            return Err(CommandError::failed(format!(
                "{one} and {other} have the very same rows: one pass that counts twice makes the outcome look surer than it \
                 is; leave one of them out"
            )));
        }
    }
    Ok(())
}

fn fitting(path: &Path) -> Result<Vec<PathBuf>, CommandError> {
    let as_it_is = || Ok(vec![path.to_owned()]);
    let Some(pattern) = path.to_str().filter(|text| text.contains(['*', '?', '['])) else {
        return as_it_is();
    };
    if path.exists() {
        return as_it_is();
    }
    let found =
        glob::glob(pattern).map_err(|error| CommandError::at(path, format!("no such pattern: {error}")))?;
    let runs: Vec<PathBuf> = found.filter_map(Result::ok).filter(|path| path.is_dir()).collect();
    if runs.is_empty() {
        let why = "no folder fits this pattern; `*` stands for any signs, `?` for one, and what is before it must be the \
                   folder that the runs are in";
        return Err(CommandError::at(path, why));
    }
    Ok(runs)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_pattern_stands_for_the_folders_that_it_fits() {
        let folder = tempfile::tempdir().unwrap();
        for name in ["b_flat", "a_flat", "a_middle", "c [1]"] {
            std::fs::create_dir(folder.path().join(name)).unwrap();
        }
        std::fs::write(folder.path().join("z_flat"), "no folder").unwrap();
        let at = |name: &str| folder.path().join(name);
        let found = |names: &[&str]| {
            named_runs(&names.iter().map(|name| at(name)).collect::<Vec<_>>())
                .map_err(|error| error.to_string())
        };
        assert_eq!(found(&["*_flat", "a_m?ddle"]).unwrap(), ["a_flat", "b_flat", "a_middle"].map(at));
        // A folder that is called so is that folder; one that is not there gets its message when it is read.
        assert_eq!(found(&["c [1]", "no"]).unwrap(), ["c [1]", "no"].map(at));
        let error = found(&["a_flat", "*_steep"]).unwrap_err();
        assert!(
            error.starts_with(&at("*_steep").display().to_string()) && error.contains("no folder"),
            "{error}"
        );
        assert_eq!(named_run(&at("a_m*")).unwrap(), at("a_middle"));
        assert!(named_run(&at("*_flat")).unwrap_err().to_string().contains("2 run folders"));
    }

    /// Found when one folder, written in two ways, was compared with itself.
    #[test]
    fn a_run_counts_once_however_it_is_written() {
        let named = |runs: &[&str], against: &[&str]| {
            let [runs, against] =
                [runs, against].map(|paths| paths.iter().map(PathBuf::from).collect::<Vec<_>>());
            named_once(&[&runs, &against]).map_err(|error| error.to_string())
        };
        assert!(named(&["src"], &["./src/../src"]).unwrap_err().contains("both sides"));
        assert!(named(&["src", "./src"], &["tests"]).unwrap_err().contains("named twice"));
        assert!(named(&["src"], &["."]).is_ok());
    }
}
