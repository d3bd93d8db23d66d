//! Long runs on computers with little memory: done, or refused in a sentence, never ended by the system.

use std::fmt::Write;
use std::fs;
use std::process::{Command, Stdio};

use hitchwright_tests::binaries::Program;
use hitchwright_tests::command::{LONG, sample, text_of};
use hitchwright_tests::process::{Ended, Running};
use hitchwright_tests::snapshot::copy_run;

use crate::Scratch;

/// Runs the command with so many MB of address space.
fn within(mb: u64, args: &[&str]) -> Ended {
    let mut command = Command::new("sh");
    command.args(["-c", "ulimit -v \"$0\" && exec \"$@\"", &(mb * 1000).to_string()]);
    command.arg(Program::Hitchwright.path().unwrap()).args(args);
    Running::spawn("hitchwright", command, Stdio::null()).unwrap().wait(LONG).unwrap()
}

/// Whether it was done; if not, the sentence must say what it needs.
fn is_done(ended: &Ended, case: &str) -> bool {
    assert!(matches!(ended.status.code(), Some(0 | 1)), "{case}: {:?}: {}", ended.status, ended.stderr);
    let last = ended.stderr.lines().last().unwrap_or_default();
    let refused = last.contains("MB of memory and") && last.contains("record shorter passes");
    assert_eq!(ended.stdout.is_empty(), refused, "{case}: {}", ended.stderr);
    !refused
}

#[test]
fn a_long_run_is_done_or_refused_whatever_the_memory() {
    let scratch = Scratch::new();
    let run = scratch.path("run");
    copy_run(&sample("runs/balanced"), run.as_ref()).unwrap();
    let stored = fs::read_to_string(sample("runs/balanced/plow.csv")).unwrap();
    // The pass over and over, 50 rows a second: 16 MB.
    let (header, rows) = stored.split_once('\n').unwrap();
    let mut text = format!("{header}\n");
    for (number, row) in rows.lines().cycle().take(480_000).enumerate() {
        let (_, readings) = row.split_once(',').unwrap();
        writeln!(text, "{:.6},{readings}", number as f64 * 0.02).unwrap();
    }
    fs::write(scratch.path("run/plow.csv"), text).unwrap();
    for command in ["check", "summary"] {
        let done: Vec<bool> = [230, 350, 450, 600, 700, 2000]
            .map(|mb| is_done(&within(mb, &[command, &run]), &format!("{command} in {mb} MB")))
            .into();
        assert!(!done[0] && done[5] && done.is_sorted(), "{command}: {done:?}");
    }
}

/// A run of 0.9 GB, which no 2 GB of memory read; it is a hole in the file, as it never comes to reading it.
#[test]
fn what_does_not_fit_is_refused_before_it_is_read() {
    let scratch = Scratch::new();
    let run = scratch.path("run");
    copy_run(&sample("runs/balanced"), run.as_ref()).unwrap();
    let csv = scratch.path("run/plow.csv");
    let file = fs::File::options().write(true).open(&csv).unwrap();
    file.set_len(900_000_000).unwrap();
    std::os::unix::fs::FileExt::write_all_at(&file, b"\n", 899_999_999).unwrap();
    for command in [&["summary", &run][..], &["check", &run], &["check", "--repair", &run]] {
        let ended = within(2_000, command);
        assert!(!is_done(&ended, command[0]), "{command:?}");
        assert!(ended.stderr.contains(text_of(run.as_ref())), "{command:?}: {}", ended.stderr);
    }
    assert_eq!(fs::metadata(&csv).unwrap().len(), 900_000_000);
}
