//! The rig itself: what it says about a recorder is worth as much as it can be relied on.

use std::path::Path;
use std::time::{Duration, Instant};

use hitchwright_tests::Outcome;
use hitchwright_tests::binaries::Program;
use hitchwright_tests::field::Field;
use hitchwright_tests::process::{Running, Signal, run, wait_until};

const SHORT: Duration = Duration::from_millis(200);
const LONG: Duration = Duration::from_secs(10);

#[test]
fn a_box_puts_a_port_under_its_link_and_is_gone_with_its_handle() -> Outcome<()> {
    let field = Field::new()?.with_box("");
    let sensor_box = field.start_box()?;
    let port = std::fs::canonicalize(field.port()).unwrap();
    assert!(port.starts_with("/dev/pts"), "{}", port.display());
    let process = Path::new("/proc").join(sensor_box.pid().to_string());
    assert!(process.exists());
    drop(sensor_box);
    assert!(!process.exists());
    Ok(())
}

#[test]
fn wrong_use_is_seen_as_such() -> Outcome<()> {
    let ended = run(Program::VirtualBox, ["--no-such-option"], LONG)?;
    assert_eq!(ended.status.code(), Some(2));
    assert!(ended.stderr.contains("--no-such-option"), "{}", ended.stderr);
    let failure = ended.expect_code(0).unwrap_err();
    assert!(failure.0.contains("--no-such-option"), "{failure}");
    Ok(())
}

#[test]
fn a_signal_ends_a_program_and_is_told_from_an_exit() -> Outcome<()> {
    let field = Field::new()?.with_box("");
    let mut sensor_box = field.start_box()?;
    sensor_box.signal(Signal::KILL)?;
    let ended = sensor_box.wait(LONG)?;
    assert_eq!(ended.status.code(), None);
    assert!(ended.expect_code(0).unwrap_err().0.contains("signal 9"));
    Ok(())
}

#[test]
fn waiting_has_an_end_and_says_what_was_there_instead() -> Outcome<()> {
    let field = Field::new()?.with_box("");
    let mut sensor_box = field.start_box()?;
    let begun = Instant::now();
    let failure = sensor_box.wait_for_line("never said", SHORT).unwrap_err();
    assert!(failure.0.contains("/port"), "{failure}");
    let failure = sensor_box.wait(SHORT).unwrap_err();
    assert!(failure.0.contains("still running"), "{failure}");
    assert!(begun.elapsed() < LONG);

    let mut ended = Running::start(Program::VirtualBox, ["--help"])?;
    let failure = ended.wait_for_line("never said", LONG).unwrap_err();
    assert!(failure.0.contains("ended without"), "{failure}");
    // Its output closes a moment before it is gone.
    wait_until("its end", LONG, || Ok((!ended.is_running()?).then_some(())))?;
    assert!(ended.signal(Signal::TERM).is_err(), "a process that has ended must not be signalled");
    Ok(())
}
