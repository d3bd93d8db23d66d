//! Whether rows are in a folder of runs already.

use std::path::{Path, PathBuf};

/// The name of a run in this folder whose table is this text, but for those that have just been made.
pub fn run_of_these_rows(runs: &Path, made: &[PathBuf], table: &str) -> Option<String> {
    let is_it = |run: &Path| {
        let file = run.join("plow.csv");
        let length = std::fs::metadata(&file).map(|about| about.len());
        // A file is read only where it may be.
        length.is_ok_and(|length| length == table.len() as u64)
            && std::fs::read(&file).is_ok_and(|bytes| bytes == table.as_bytes())
    };
    let mut found: Vec<_> = std::fs::read_dir(runs).ok()?.filter_map(Result::ok).collect();
    found.retain(|run| !made.contains(&run.path()) && is_it(&run.path()));
    found.iter().map(|run| run.file_name().to_string_lossy().into_owned()).min()
}
