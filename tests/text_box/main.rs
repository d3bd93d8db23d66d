//! Passes recorded from a box that prints text, and what is said of text that is not understood.

use hitchwright_tests::binaries::Program;
use hitchwright_tests::command::assert_has;
use hitchwright_tests::field::{Field, SOON};
use hitchwright_tests::process::{Signal, run};
use hitchwright_tests::pty::Pty;
use hitchwright_tests::recording::{Recorded, said_of};
use hitchwright_tests::run_folder::read_events;
use hitchwright_tests::verify::{Verified, verify_box, verify_joined_late};
use hitchwright_tests::{Failure, Outcome};
use ingest::open_run::open_run;
use ingest::run_toml::{ClockInfo, FittedTo, RunTime};

/// Rows in a second of the pass.
const RATE_HZ: usize = 100;

/// Records a pass of a text box with these words, from where the recorder came to it, and holds it against the
/// truth.
fn pass(words: &str) -> Outcome<(Recorded, Verified)> {
    let words = format!("--text --speed-up 8 --rate-hz {RATE_HZ} {words}");
    let recorded = Field::new()?.with_box(&words).record("")?.to_the_end()?;
    let verified = verify_joined_late(&recorded.run()?, &recorded.field.truth())?;
    Ok((recorded, verified))
}

fn count(recorded: &Recorded, kind: &str) -> Outcome<usize> {
    Ok(read_events(&recorded.run()?)?.iter().filter(|event| event.kind == kind).count())
}

fn clock(recorded: &Recorded) -> Outcome<ClockInfo> {
    let opened = open_run(&recorded.run()?).map_err(|error| Failure(error.to_string()))?;
    let clock = opened.description.boxes.first().and_then(|info| info.clock.clone());
    clock.ok_or_else(|| Failure("run.toml says nothing of the clock".into()))
}

/// The box answers pings, so its clock is known as that of any other.
#[test]
fn a_pass_is_written_whole_from_where_the_recorder_came() -> Outcome<()> {
    let (recorded, verified) = pass("--seed 1")?;
    assert_eq!((verified.rows_lost, verified.sent_after_last), (0, 0));
    assert!(verified.rows_written > 15 * RATE_HZ, "{verified:?}");
    assert_eq!((count(&recorded, "gap")?, count(&recorded, "ended")?), (0, 1));
    assert_eq!(clock(&recorded)?.fitted_to, FittedTo::Pings);
    Ok(())
}

#[test]
fn lines_that_are_lost_are_counted_and_lines_that_come_twice_are_written_once() -> Outcome<()> {
    let (_, verified) = pass("--seed 2 --drop-frames 0.03 --dup 0.1")?;
    assert!(verified.rows_lost > 20, "{verified:?}");
    Ok(())
}

/// Few enough that two wrong bits in one row, which a checksum of one byte can miss, are not to be expected.
#[test]
fn wrong_bits_cost_rows_and_never_change_one() -> Outcome<()> {
    let (recorded, verified) = pass("--seed 3 --flip-bits 0.00001")?;
    assert!(verified.rows_lost > 0, "{verified:?}");
    assert_eq!(count(&recorded, "restart")?, 0);
    Ok(())
}

#[test]
fn a_cable_put_back_a_reset_and_a_wrap_of_the_clock() -> Outcome<()> {
    let words = "--seed 4 --unplug-at 9 --unplug-for 4 --reset-at 19 --clock-start 0xFF800000 --jitter-ms 2";
    let (recorded, verified) = pass(words)?;
    assert!(verified.rows_lost > 2 * RATE_HZ, "{verified:?}");
    assert_eq!((count(&recorded, "port-back")?, count(&recorded, "reset")?), (1, 1));
    Ok(())
}

/// Each in its form, in one run.
#[test]
fn a_text_box_and_a_binary_box_side_by_side() -> Outcome<()> {
    let field =
        Field::new()?.with_box("--text --speed-up 8 --rate-hz 100 --channels pull --name front --seed 6");
    let (_, truth) = field.other("rear");
    let rear = "--channels tail,depth --name rear --rate-hz 100 --speed-up 8 --working-s 20 --seed 7 --drop-frames 0.02";
    let other = field.start_other("rear", rear)?;
    let ports = field.ports_with(&["rear"]);
    let recorded = field.record(&ports)?.to_the_end()?;
    other.wait(SOON)?.expect_code(0)?;
    let run = recorded.run()?;
    assert_eq!(verify_joined_late(&run, &recorded.field.truth())?.rows_lost, 0);
    assert!(verify_box(&run, "rear", &truth)?.rows_lost > 0);
    Ok(())
}

/// In real time, for arrivals are all there is to go by.
#[test]
fn a_box_that_can_do_no_more_than_print_is_followed_by_its_arrivals() -> Outcome<()> {
    let field =
        Field::new()?.with_box("--text --deaf --speed-up 1 --rate-hz 100 --seed 5 --drop-frames 0.01");
    let mut recording = field.record("")?;
    recording.until_lines(8 * RATE_HZ)?;
    let recorded = recording.end_with(Signal::INT)?;
    let verified = verify_joined_late(&recorded.run()?, &recorded.field.truth())?;
    assert!(verified.rows_lost > 0, "{verified:?}");
    let clock = clock(&recorded)?;
    assert_eq!((clock.fitted_to, clock.run_time), (FittedTo::Arrivals, RunTime::Host));
    assert!(clock.residual_ms < 5.0 && (clock.box_s_per_host_s - 1.0).abs() < 1e-3, "{clock:?}");
    let checked = run(Program::Hitchwright, ["check".into(), recorded.run()?], 3 * SOON)?.expect_code(0)?;
    assert!(checked.stdout.contains("by how rows arrive"), "{}", checked.stdout);
    Ok(())
}

#[test]
fn what_is_wrong_with_text_is_said() -> Outcome<()> {
    let cases: [(&'static [u8], &[&str]); 6] = [
        (b"pull 1200 tail 35\r\n", &["lines of text", "README"]),
        (b"$PHTWR,500,12000000,1200,-35*00\r\n", &["$PHTWR", "*00", "*57"]),
        (b"$PHTWR,500,12000000,1200,-35*57\r\n", &["$PHTWH", "$PHTWC"]),
        (b"$PHTWR,500,12000000,1200,-35\r\n", &["$PHTWR", "two hexadecimal digits"]),
        (b"$PHTWH,1,0,,0.1,50000,1,b,1*2A\n", &["$PHTWH", "field"]),
        (b"$GNRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W*74\r\n", &["GNSS", "--gnss"]),
    ];
    let said = cases.map(|(noise, parts)| (std::thread::spawn(move || said_of(noise)), parts));
    for (said, parts) in said {
        let said = said.join().map_err(|_| Failure("the recorder could not be asked".into()))??;
        assert_has(&said, parts);
    }
    Ok(())
}

/// A box that prints is told to start, pinged and stopped in sentences.
#[test]
fn a_text_box_is_spoken_to_in_sentences() -> Outcome<()> {
    let hello = b"$PHTWH,1,0,,0.1.0,50000,1,printer,3*32\r\n\
                       $PHTWC,0,1,24,50000,pull*43\r\n\
                       $PHTWC,1,2,12,50000,tail*51\r\n\
                       $PHTWC,2,3,12,50000,depth*2E\r\n";
    let line = Pty::open()?;
    let field = Field::new()?.on_line(&line)?;
    line.say_again_and_again(hello)?;
    let recorded = field.record("--duration 1.5s")?.wait()?;
    // It says who it is and prints no row.
    recorded.ended.expect_code(1)?;
    let heard = line.heard();
    let heard = String::from_utf8_lossy(&heard);
    for sentence in ["\n$PHTWG*5C\r\n", "\n$PHTWP,", "\n$PHTWX*43\r\n"] {
        assert!(heard.contains(sentence), "{sentence:?} is not in {heard:?}");
    }
    Ok(())
}
