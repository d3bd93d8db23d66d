//! A disk that takes no more: what cannot be finished is not left behind, and the exit status says so.
#![allow(clippy::unwrap_used, reason = "a helper of tests fails as a test does")]

use std::fs;
use std::process::{Command, Output};

use hitchwright_tests::Outcome;
use hitchwright_tests::binaries::Program;
use hitchwright_tests::field::Field;

/// Runs the command so that it can write no more than 4 KiB into any file, as on a disk that fills up meanwhile.
fn on_a_full_disk(args: &[&str]) -> Outcome<Output> {
    let limited = "trap '' XFSZ; ulimit -f 8; exec \"$0\" \"$@\"";
    Ok(Command::new("sh")
        .args(["-c", limited])
        .arg(Program::Hitchwright.path()?)
        .args(args)
        .output()
        .unwrap())
}

fn refused(output: &Output, part: &str) {
    let said = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(1), "{said}");
    assert!(said.contains(part) && said.to_lowercase().contains("too large"), "{said}");
}

/// Found: an empty run folder was left, which every later command then stumbled over.
#[test]
fn an_import_that_cannot_be_finished_leaves_no_folder() -> Outcome<()> {
    let field = Field::new()?;
    let (csv, plow, runs) = (field.path("logger.csv"), field.plow(), field.runs());
    let rows: String = (0..2_000).map(|k| format!("{k},{}\n", 7 * k)).collect();
    fs::write(&csv, format!("T,X\n{rows}")).unwrap();
    let [csv, plow, out] = [&csv, &plow, &runs].map(|path| path.to_str().unwrap());
    let import = ["import", csv, "--plow", plow, "--setting", "as-found", "--out", out];
    let output = on_a_full_disk(&[&import[..], &["--column", "t_s=T:s", "--column", "pull_n=X:N"]].concat())?;
    refused(&output, "plow.csv");
    assert_eq!(fs::read_dir(&runs).unwrap().count(), 0);
    Ok(())
}

#[test]
fn a_rebuilt_run_that_cannot_be_finished_leaves_no_folder() -> Outcome<()> {
    let field = Field::new()?;
    let run = std::path::PathBuf::from(concat!(env!("CARGO_MANIFEST_DIR"), "/../sample-runs/runs/balanced"));
    let into = field.path("rebuilt");
    let [run, into_text] = [&run, &into].map(|path| path.to_str().unwrap());
    let output = on_a_full_disk(&["check", run, "--rebuild-into", into_text])?;
    refused(&output, "plow.csv");
    assert!(!into.exists());
    Ok(())
}
