//! A run is ended by a signal: cleanly, at once, with everything in it that came before. Killed at any moment, a
//! recorder leaves a folder that opens, with at most the last second missing.

use std::time::{Duration, Instant};

use hitchwright_tests::field::Field;
use hitchwright_tests::process::Signal;
use hitchwright_tests::pty::Pty;
use hitchwright_tests::run_folder::{read_events, runs_in};
use hitchwright_tests::{Failure, Outcome};
use ingest::open_run::open_run;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

fn ended_by(signal: Signal, lines: usize) -> Outcome<()> {
    let mut recording = Field::new()?.with_box("--speed-up 2 --working-s 60").record("")?;
    recording.until_lines(lines)?;
    let begun = Instant::now();
    recording.recorder.signal(signal)?;
    while recording.recorder.is_running()? {
        assert!(begun.elapsed() < Duration::from_secs(2), "{signal:?}");
        std::thread::sleep(Duration::from_millis(5));
    }
    let mut recorded = recording.wait()?;
    recorded.ended = recorded.ended.expect_code(0)?;
    let verified = recorded.verify()?;
    assert!(verified.rows_written >= lines - 1, "{verified:?}");
    let events = read_events(&recorded.run()?)?;
    assert_eq!(events.iter().filter(|event| event.kind == "ended").count(), 1);
    Ok(())
}

#[test]
fn ctrl_c_ends_a_run() -> Outcome<()> {
    ended_by(Signal::INT, 2)?;
    ended_by(Signal::INT, 333)
}

#[test]
fn the_system_shutting_down_ends_a_run() -> Outcome<()> {
    ended_by(Signal::TERM, 211)
}

#[test]
fn a_closed_terminal_ends_a_run() -> Outcome<()> {
    ended_by(Signal::HUP, 307)
}

/// Before a box has answered there is no run, and none is left.
#[test]
fn a_signal_before_the_run_has_begun_leaves_nothing() -> Outcome<()> {
    let line = Pty::open()?;
    let recording = Field::new()?.on_line(&line)?.record("")?;
    std::thread::sleep(Duration::from_millis(800));
    let recorded = recording.end_with(Signal::INT)?;
    let ended = recorded.ended.expect_code(1)?;
    assert!(ended.stderr.contains("stopped before the run began; nothing was written"), "{}", ended.stderr);
    assert!(runs_in(&recorded.field.runs())?.is_empty());
    Ok(())
}

const KILLS: u64 = 20;
const AT_ONCE: u64 = 4;
/// Rows that the box sends in a second.
const ROWS_PER_S: usize = 200;

/// Records in real time, where a second of rows is a second, and kills the recorder.
fn killed(seed: u64) -> Outcome<usize> {
    let words = format!("--seed {seed} --speed-up 1 --working-s 60");
    let mut recording = Field::new()?.with_box(&words).record("")?;
    recording.until_lines(2)?;
    let wait_ms = ChaCha8Rng::seed_from_u64(seed).random_range(0..2500);
    std::thread::sleep(Duration::from_millis(wait_ms));
    let recorded = recording.end_with(Signal::KILL)?;
    assert_eq!(recorded.ended.status.code(), None);
    let opened = open_run(&recorded.run()?).map_err(|error| Failure(error.to_string()))?;
    assert!(!opened.description.ended_properly());
    assert!(!opened.notices.is_empty());
    let verified = recorded.verify_torn()?;
    assert!(verified.rows_written > 0);
    Ok(verified.sent_after_last)
}

#[test]
fn at_most_a_second_is_missing() -> Outcome<()> {
    let killers: Vec<_> = (0..AT_ONCE)
        .map(|first| {
            std::thread::spawn(move || (first..KILLS).step_by(AT_ONCE as usize).map(killed).collect())
        })
        .collect();
    let mut worst = 0;
    let mut kills = 0;
    for killer in killers {
        let lost: Outcome<Vec<usize>> = killer.join().unwrap();
        for rows in lost? {
            worst = worst.max(rows);
            kills += 1;
        }
    }
    assert_eq!(kills, KILLS);
    assert!(worst <= ROWS_PER_S, "{worst} rows");
    Ok(())
}
