//! A run is ended by a signal: cleanly, at once, with everything in it that came before.

use std::time::{Duration, Instant};

use hitchwright_tests::Outcome;
use hitchwright_tests::field::Field;
use hitchwright_tests::process::Signal;
use hitchwright_tests::run_folder::read_events;

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
