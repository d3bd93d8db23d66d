//! The `hitchwright` program from outside: what it offers, and what it says to wrong use. (With this test
//! here, cargo builds the program for the whole-program tests.)
#![allow(clippy::unwrap_used, reason = "a helper of tests fails as a test does")]

use std::process::{Command, Output};

fn hitchwright(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_hitchwright")).args(arguments).output().unwrap()
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8(bytes.to_vec()).unwrap()
}

#[test]
fn help_names_every_command_and_version_tells_the_version() {
    let help = hitchwright(&["--help"]);
    assert_eq!((help.status.code(), text(&help.stderr)), (Some(0), String::new()));
    let help = text(&help.stdout);
    for command in ["demo", "record", "summary", "compare", "statics", "check", "import"] {
        let named = help.lines().any(|line| line.split_whitespace().next() == Some(command));
        assert!(named, "{command} is not in\n{help}");
        let own = hitchwright(&[command, "--help"]);
        assert_eq!(own.status.code(), Some(0), "{command}");
        assert!(text(&own.stdout).contains(&format!("Usage: hitchwright {command}")), "{command}");
    }
    let version = text(&hitchwright(&["--version"]).stdout);
    assert_eq!(version, format!("hitchwright {}\n", env!("CARGO_PKG_VERSION")));
}

/// Of `record` only what needs no box: the rest is tested with one.
#[test]
fn record_takes_the_options_of_the_recorder() {
    let help = text(&hitchwright(&["record", "--help"]).stdout);
    for option in ["--port", "--plow", "--setting", "--out", "--into", "--duration", "--stop-when-gone"] {
        assert!(help.contains(option), "{option} is not in\n{help}");
    }
}

#[test]
fn wrong_use_is_status_2_with_what_was_meant() {
    let folder = tempfile::tempdir().unwrap();
    for (arguments, meant) in [
        (&["sumary", "run"][..], "'summary'"),
        (&["summary", "run", "--jsn"], "'--json'"),
        (&["summary", "run", "--paper", "a5"], "a4, letter"),
        (&["compare", "run", "--agianst", "other"], "'--against'"),
        (&["statics", "plow.toml", "--pull", "1600"], "unit"),
        (&["demo", "--passes", "0"], "1..=20"),
        (&["summary"], "<RUN>"),
        (&["compare", "run"], "--against"),
        (&["check", "run", "--plow", "plow.toml"], "--rebuild-into"),
        (&[], "Usage"),
    ] {
        let output = Command::new(env!("CARGO_BIN_EXE_hitchwright"))
            .args(arguments)
            .current_dir(folder.path())
            .output()
            .unwrap();
        let said = text(&output.stderr);
        assert_eq!(output.status.code(), Some(2), "{arguments:?}: {said}");
        assert!(said.contains(meant), "{arguments:?}: {meant} is not in: {said}");
        assert!(output.stdout.is_empty(), "{arguments:?}");
    }
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 0);
}
