//! The `hitchwright` command, run to its end, and what its tests ask again and again.

use std::ffi::OsStr;
use std::path::{Path, PathBuf};
use std::time::Duration;

use serde_json::Value;

use crate::binaries::Program;
use crate::process::{Ended, run};
use crate::{Doing, Outcome};

/// Longest that a command may take, on a busy machine too.
pub const LONG: Duration = Duration::from_secs(300);

/// Runs the command with these arguments and demands this exit status.
pub fn hitchwright(args: impl IntoIterator<Item = impl AsRef<OsStr>>, code: i32) -> Outcome<Ended> {
    run(Program::Hitchwright, args, LONG)?.expect_code(code)
}

/// What the command prints with these arguments, which it must like.
pub fn stdout_of(args: impl IntoIterator<Item = impl AsRef<OsStr>>) -> Outcome<String> {
    Ok(hitchwright(args, 0)?.stdout)
}

/// The JSON that the command prints with these arguments, `--json` among them.
pub fn json_of(args: impl IntoIterator<Item = impl AsRef<OsStr>>) -> Outcome<Value> {
    let text = stdout_of(args)?;
    serde_json::from_str(&text).doing(|| format!("read as JSON: {text}"))
}

/// A file or folder of `sample-runs`.
pub fn sample(path: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../sample-runs").join(path)
}

/// What lies in a folder of `sample-runs`, in order of the names.
pub fn samples_in(folder: &str) -> Outcome<Vec<PathBuf>> {
    let entries = std::fs::read_dir(sample(folder)).doing(|| format!("list {folder}"))?;
    let mut paths: Vec<PathBuf> = entries.filter_map(|entry| Some(entry.ok()?.path())).collect();
    paths.sort();
    Ok(paths)
}

/// A path as an argument.
#[allow(clippy::expect_used, reason = "a helper of tests fails as a test does")]
pub fn text_of(path: &Path) -> &str {
    path.to_str().expect("a path in UTF-8")
}

/// Demands that a text has each of these parts.
#[track_caller]
pub fn assert_has(text: &str, parts: &[&str]) {
    for part in parts {
        assert!(text.contains(part), "{part:?} is not in: {text}");
    }
}
