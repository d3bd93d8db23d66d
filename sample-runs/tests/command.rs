//! The `virtual-box` program from outside. (With this test here, cargo builds the program for the
//! whole-program tests.)
#![cfg(unix)]
#![allow(clippy::unwrap_used, reason = "a helper of tests fails as a test does")]

use std::io::{BufRead, BufReader};
use std::process::{Command, Output, Stdio};

fn virtual_box(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_virtual-box")).args(arguments).output().unwrap()
}

#[test]
fn help_names_the_faults_and_says_that_all_is_invented() {
    let output = virtual_box(&["--help"]);
    assert_eq!(output.status.code(), Some(0));
    let help = String::from_utf8(output.stdout).unwrap();
    for part in ["--link", "--truth", "--drop-frames", "--flip-bits", "--unplug-at", "--reset-at", "invented"]
    {
        assert!(help.contains(part), "{part} is not in\n{help}");
    }
}

#[test]
fn wrong_use_is_status_2_and_what_cannot_be_status_1() {
    for (arguments, code, part) in [
        (&["--drop-frame", "0.1"][..], 2, "'--drop-frames'"),
        (&["--channels", "pull,wind"], 2, "front-load"),
        (&["--case", "fine"], 2, "too-flat"),
        (&["--plow-hole", "10"], 1, "1 to 9"),
        (&["--drop-frames", "2"], 1, "virtual-box: "),
        (&["--truth", "no-such-folder/truth.csv"], 1, "no-such-folder"),
    ] {
        let output = virtual_box(arguments);
        let said = String::from_utf8(output.stderr).unwrap();
        assert_eq!(output.status.code(), Some(code), "{arguments:?}: {said}");
        assert!(said.contains(part), "{arguments:?}: {part} is not in: {said}");
        assert!(output.stdout.is_empty(), "{arguments:?}");
    }
}

#[test]
fn its_first_line_is_the_path_of_a_port() {
    let mut child = Command::new(env!("CARGO_BIN_EXE_virtual-box")).stdout(Stdio::piped()).spawn().unwrap();
    let mut line = String::new();
    BufReader::new(child.stdout.take().unwrap()).read_line(&mut line).unwrap();
    let is_port = std::fs::File::options().read(true).write(true).open(line.trim_end());
    // It waits for a host without end.
    child.kill().unwrap();
    child.wait().unwrap();
    assert!(is_port.is_ok(), "{line:?}: {is_port:?}");
}
