//! Whole passes through the recorder, with nothing wrong and with everything that a line can do to them.

use hitchwright_tests::Outcome;
use hitchwright_tests::field::Field;
use hitchwright_tests::recording::Recorded;
use hitchwright_tests::run_folder::{RunEvent, read_events};
use hitchwright_tests::verify::Verified;
use sample_runs::sensors::Sensor;

fn events(recorded: &Recorded, kind: &str) -> Outcome<Vec<RunEvent>> {
    let mut events = read_events(&recorded.run()?)?;
    events.retain(|event| event.kind == kind);
    Ok(events)
}

/// Records a pass of a box with these words, and holds it against the truth.
fn pass(words: &str) -> Outcome<(Recorded, Verified)> {
    let recorded = Field::new()?.with_box(words).record("")?.to_the_end()?;
    let verified = recorded.verify()?;
    Ok((recorded, verified))
}

#[test]
fn a_pass_with_nothing_wrong_is_written_whole() -> Outcome<()> {
    let (recorded, verified) = pass("--seed 1")?;
    assert_eq!((verified.rows_lost, verified.sent_after_last), (0, 0));
    assert_eq!(verified.rows_written, verified.rows_sampled);
    // 20 s at work and the ways in and out, at 200 rows a second.
    assert!(verified.rows_written > 20 * 200, "{verified:?}");
    assert_eq!(events(&recorded, "ended")?.len(), 1);
    Ok(())
}

#[test]
fn a_box_with_five_channels_fills_five_columns() -> Outcome<()> {
    let field = Field::new()?.with_sensors(&Sensor::ALL)?;
    let recorded = field.with_box("--channels pull,tail,depth,front-load,pitch").record("")?.to_the_end()?;
    assert_eq!(recorded.verify()?.rows_lost, 0);
    Ok(())
}

#[test]
fn dropped_frames_are_counted_to_the_row() -> Outcome<()> {
    let (_, verified) = pass("--seed 2 --drop-frames 0.03")?;
    assert!(verified.rows_lost > 0, "{verified:?}");
    Ok(())
}

#[test]
fn frames_that_come_twice_are_written_once() -> Outcome<()> {
    let (_, verified) = pass("--seed 3 --dup 0.1")?;
    assert_eq!(verified.rows_lost, 0);
    Ok(())
}

#[test]
fn wrong_bits_cost_rows_and_never_change_one() -> Outcome<()> {
    let (_, verified) = pass("--seed 4 --flip-bits 0.0001")?;
    assert!(verified.rows_lost > 0, "{verified:?}");
    Ok(())
}

#[test]
fn a_cable_pulled_and_put_back_as_another_device_is_a_gap() -> Outcome<()> {
    let (recorded, verified) = pass("--seed 5 --unplug-at 8,16 --unplug-for 3")?;
    assert!(verified.rows_lost > 0, "{verified:?}");
    assert_eq!(events(&recorded, "port-back")?.len(), 2);
    // A box whose pass is over goes, often before the recorder is ended.
    assert!(matches!(events(&recorded, "port-gone")?.len(), 2 | 3));
    Ok(())
}

#[test]
fn a_box_that_resets_goes_on_in_the_same_run() -> Outcome<()> {
    let (recorded, verified) = pass("--seed 6 --reset-at 9.503,17")?;
    assert_eq!(events(&recorded, "reset")?.len(), 2);
    assert!(verified.rows_written > 15 * 200, "{verified:?}");
    Ok(())
}

/// 0xFFF00000 is a second before the 32 bits of the box clock are full.
#[test]
fn the_wrap_of_the_box_clock_is_no_event() -> Outcome<()> {
    let (recorded, verified) = pass("--seed 7 --clock-start 0xFFF00000 --jitter-ms 3")?;
    assert_eq!(verified.rows_lost, 0);
    assert_eq!(events(&recorded, "reset")?.len() + events(&recorded, "restart")?.len(), 0);
    Ok(())
}

#[test]
fn everything_at_once() -> Outcome<()> {
    let faults = "--drop-frames 0.01 --dup 0.02 --flip-bits 0.00003 --clock-start 0xFF800000 --jitter-ms 2";
    for seed in 10..13 {
        let (_, verified) = pass(&format!("--seed {seed} {faults} --unplug-at 7 --reset-at 14"))?;
        assert!(verified.rows_lost > 0, "{verified:?}");
    }
    Ok(())
}

#[test]
fn the_button_of_the_box_marks_the_run() -> Outcome<()> {
    let (recorded, _) = pass("--seed 8 --mark-at 5,12.5")?;
    let marks = events(&recorded, "mark")?;
    assert_eq!(marks.len(), 2);
    assert!((marks[1].t_s - marks[0].t_s - 7.5).abs() < 0.01, "{marks:?}");
    Ok(())
}
