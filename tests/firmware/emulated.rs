//! The reference firmware in a system emulator: recorded by the real program, and spoken to directly. Every row that
//! comes is held against what the firmware must have sent.

use std::collections::BTreeSet;
use std::ffi::OsStr;
use std::fs;
use std::path::{Path, PathBuf};
use std::time::Duration;

use firmware_protocol::{Frame, Hello, Mark, MarkSource};
use hitchwright_tests::binaries::Program;
use hitchwright_tests::emulator::{EmulatedLine, Emulator, LONG};
use hitchwright_tests::field::Field;
use hitchwright_tests::process::{Ended, Running, Signal, run, wait_until};
use hitchwright_tests::run_folder::{read_events, runs_in};
use hitchwright_tests::synthetic::{Boot, boots_in, bytes_in_wire, frames_in, write_truth};
use hitchwright_tests::verify::{Verified, verify_bent};
use hitchwright_tests::{Failure, Outcome};
use ingest::assemble::RunCounters;
use ingest::run_toml::{BoxInfo, read_run_toml};

/// Largest slope of run time against the box clock, by `ingest/src/clock/`.
const BEND_MAX: f64 = 500e-6;

/// A run of the firmware being recorded.
struct Recording {
    field: Field,
    emulator: Emulator,
    /// A second handle on the box's line, which reads nothing while the recorder does.
    line: EmulatedLine,
    recorder: Running,
}

impl Recording {
    fn start(options: &[&str]) -> Outcome<Self> {
        let field = Field::new()?;
        let emulator = Emulator::start(&field, options)?;
        let line = emulator.line()?;
        let args = [vec!["record".into()], field.recorder_args("")].concat();
        let recorder = Running::start(Program::Hitchwright, args)?;
        Ok(Self { field, emulator, line, recorder })
    }

    /// Waits until the run has at least this many rows.
    fn until_rows(&mut self, rows: usize) -> Outcome<()> {
        let runs = self.field.runs();
        wait_until(&format!("{rows} rows"), LONG, || {
            if !self.emulator.running.is_running()? || !self.recorder.is_running()? {
                return Err(Failure("the emulator or the recorder has ended".into()));
            }
            let run = runs_in(&runs)?.into_iter().next();
            let text = run.and_then(|run| fs::read(run.join("plow.csv")).ok()).unwrap_or_default();
            Ok((text.iter().filter(|byte| **byte == b'\n').count() > rows).then_some(()))
        })
    }

    /// Ends the recorder as a person does.
    fn end(mut self) -> Outcome<Recorded> {
        self.recorder.signal(Signal::INT)?;
        let ended = self.recorder.wait(LONG)?.expect_code(0)?;
        let run = runs_in(&self.field.runs())?.pop().ok_or_else(|| Failure("no run folder".into()))?;
        let bytes = bytes_in_wire(&run)?;
        let boots = boots_in(&frames_in(&bytes))?;
        write_truth(&boots, &self.field.truth())?;
        let boots: Vec<Boot> = boots.into_values().collect();
        let verified = verify_bent(&run, &self.field.truth())?;
        let description = read_run_toml(&run.join("run.toml")).map_err(|e| Failure(e.to_string()))?;
        assert!(description.ended_properly());
        let Ok([sensor_box]) = <[BoxInfo; 1]>::try_from(description.boxes) else {
            return Err(Failure("not one box".into()));
        };
        let counters = sensor_box.counters.unwrap_or_default();
        // The emulator finds its port open in the middle of a frame, or before or after one.
        assert!(counters.frames_damaged <= 1, "{counters:?}");
        assert_eq!((counters.frames_unknown, counters.frames_refused), (0, 0));
        // All that run time is bent against the box clock, and the last digits that are written.
        let lasted_s = boots.iter().map(box_time_s).sum::<f64>();
        assert!(verified.time_error_s <= BEND_MAX * lasted_s + 2e-6, "{verified:?}");
        let kinds = read_events(&run)?.into_iter().map(|event| event.kind).collect();
        let Self { field, emulator, line, .. } = self;
        Ok(Recorded {
            _field: field,
            _emulator: emulator,
            line,
            ended,
            run,
            bytes,
            boots,
            verified,
            kinds,
            sensor_box,
            counters,
        })
    }
}

/// From the first row to the last.
fn box_time_s(boot: &Boot) -> f64 {
    let ends = boot.rows.values().next().zip(boot.rows.values().next_back());
    ends.map_or(0.0, |(first, last)| f64::from(last.wrapping_sub(*first)) / 1e6)
}

/// A run that is over: all of its rows are known to be those that the firmware made.
struct Recorded {
    _field: Field,
    _emulator: Emulator,
    line: EmulatedLine,
    ended: Ended,
    run: PathBuf,
    /// All that came from the box.
    bytes: Vec<u8>,
    boots: Vec<Boot>,
    verified: Verified,
    kinds: Vec<String>,
    sensor_box: BoxInfo,
    counters: RunCounters,
}

impl Recorded {
    fn count(&self, kind: &str) -> usize {
        self.kinds.iter().filter(|it| *it == kind).count()
    }
}

#[test]
#[ignore = "needs the cross compiler and the emulator: apt install gcc-arm-none-eabi qemu-system-arm"]
fn a_run_recorded_from_the_firmware_has_every_row() -> Outcome<()> {
    let mut recording = Recording::start(&[])?;
    recording.until_rows(1000)?;
    let recorded = recording.end()?;
    run(Program::Hitchwright, [OsStr::new("check"), recorded.run.as_os_str()], LONG)?.expect_code(0)?;

    let [boot] = &recorded.boots[..] else { return Err(Failure(format!("{:?}", recorded.boots))) };
    // 5 s at 200 rows a second, from the first one on.
    assert!(boot.rows.len() >= 1000 && boot.rows.contains_key(&0), "{} rows", boot.rows.len());
    assert_eq!(boot.intervals, [(0, 5000)]);
    let verified = recorded.verified;
    assert_eq!(
        (verified.rows_written, verified.rows_lost, verified.sent_after_last),
        (boot.rows.len(), 0, 0)
    );
    assert_eq!((recorded.counters.gaps, recorded.counters.rows_dropped_in_box), (0, 0));
    assert_eq!(recorded.count("ended"), 1);
    assert!(recorded.ended.stdout.contains("0 rows lost in 0 gaps"), "{}", recorded.ended.stdout);
    let BoxInfo { name, serial, firmware, boot, row_rate_hz, channels, clock, .. } = recorded.sensor_box;
    assert_eq!((&*name, &*serial, &*firmware), ("reference box", "emulated-1", "1.0.0"));
    assert_eq!((boot, row_rate_hz, channels.len()), (1, 200.0, 3));
    assert!(clock.is_some(), "pings were answered");
    Ok(())
}

/// The rate is raised in mid-run to one that 115200 baud do not carry, and lowered again: what the box says that it
/// dropped, what the recorder finds missing and what the numbers of the rows tell is the same number.
#[test]
#[ignore = "needs the cross compiler and the emulator: apt install gcc-arm-none-eabi qemu-system-arm"]
fn rows_that_the_line_cannot_carry_are_counted_alike_by_box_and_recorder() -> Outcome<()> {
    let mut recording = Recording::start(&[])?;
    recording.until_rows(200)?;
    recording.line.send(&Frame::Rate { row_rate_mhz: 1_000_000 })?;
    recording.until_rows(3200)?;
    recording.line.send(&Frame::Rate { row_rate_mhz: 200_000 })?;
    // More than the ring and a frame hold, and then more than a second, for the status after the last gap.
    recording.until_rows(3200 + 600)?;
    let recorded = recording.end()?;
    let [boot] = &recorded.boots[..] else { return Err(Failure(format!("{:?}", recorded.boots))) };
    let intervals: Vec<u32> = boot.intervals.iter().map(|(_, interval_us)| *interval_us).collect();
    assert_eq!(intervals, [5000, 1000, 5000]);
    let missing = boot.rows_missing();
    // 1000 rows of three channels are 13,140 bytes, of which the line carries 11,520: an eighth is lost, once the ring
    // is full.
    let fast = boot.intervals[2].0 - boot.intervals[1].0;
    assert!((fast / 20..fast / 5).contains(&missing), "{missing} of {fast} rows");
    assert_eq!(boot.rows_dropped, missing);
    assert_eq!(recorded.verified.rows_lost, missing as usize);
    let RunCounters { rows_lost, rows_dropped_in_box, gaps, .. } = recorded.counters;
    assert_eq!((rows_lost, rows_dropped_in_box), (u64::from(missing), u64::from(missing)));
    assert_eq!(usize::try_from(gaps).ok(), Some(recorded.count("gap")));
    assert!(gaps > 1 && recorded.count("box-dropped") > 1);
    Ok(())
}

/// A box whose line is too slow from the first row to the last. The recorder ends in the middle of it; what is on the
/// line then is read here, and the box started once more, so that the last gap too has a row behind it: every row is
/// either there or counted as dropped.
#[test]
#[ignore = "needs the cross compiler and the emulator: apt install gcc-arm-none-eabi qemu-system-arm"]
fn a_line_that_is_always_too_slow_loses_rows_and_never_the_count() -> Outcome<()> {
    let mut recording = Recording::start(&["-DBAUD=9600"])?;
    recording.until_rows(600)?;
    let mut recorded = recording.end()?;
    let [boot] = &recorded.boots[..] else { return Err(Failure(format!("{:?}", recorded.boots))) };
    // 2660 bytes a second were needed, and 960 are there.
    assert!(boot.rows_missing() as usize > boot.rows.len(), "{} rows missing", boot.rows_missing());
    assert_eq!(recorded.verified.rows_lost, boot.rows_missing() as usize);

    let line = &mut recorded.line;
    // Once the ring has run empty, the box says hello once a second, and how many rows it has dropped.
    line.wait_for("two hellos after the stop", 0, |frames| {
        (frames.iter().filter_map(hello).count() >= 2).then_some(())
    })?;
    let dropped = line.frames.iter().rev().find_map(rows_dropped).unwrap_or(0);
    let from = line.frames.len();
    line.send(&Frame::Start)?;
    line.wait_for("readings", from, |frames| (readings_in(frames) >= 1).then_some(()))?;
    let mut rows = BTreeSet::new();
    for frame in frames_in(&[&recorded.bytes[..], &line.bytes].concat()) {
        if let Frame::Readings(readings) = frame {
            rows.extend((readings.first_row..).take(readings.row_count()));
        }
    }
    let sampled = rows.last().map_or(0, |last| *last as usize + 1);
    assert_eq!(sampled - rows.len(), dropped as usize);
    Ok(())
}

#[test]
#[ignore = "needs the cross compiler and the emulator: apt install gcc-arm-none-eabi qemu-system-arm"]
fn a_reset_of_the_firmware_is_a_new_boot_in_the_same_run() -> Outcome<()> {
    let mut recording = Recording::start(&[])?;
    recording.until_rows(300)?;
    recording.emulator.reset()?;
    recording.until_rows(800)?;
    // The emulated button reads as pressed from power-up until it was used once.
    recording.emulator.press_button()?;
    recording.until_rows(1000)?;
    recording.emulator.press_button()?;
    recording.until_rows(1200)?;
    let recorded = recording.end()?;
    let [before, after] = &recorded.boots[..] else { return Err(Failure(format!("{:?}", recorded.boots))) };
    assert!(before.rows.len() >= 250 && after.rows.len() >= 800 && after.rows.contains_key(&0));
    assert_eq!((recorded.count("reset"), recorded.count("restart"), recorded.count("mark")), (1, 0, 1));
    assert_eq!((recorded.counters.resets, recorded.counters.rows_lost), (1, 0));
    Ok(())
}

fn hello(frame: &Frame) -> Option<Hello> {
    if let Frame::Hello(hello) = frame { Some(*hello) } else { None }
}

fn rows_dropped(frame: &Frame) -> Option<u32> {
    if let Frame::Status(status) = frame { Some(status.rows_dropped) } else { None }
}

fn readings_in(frames: &[Frame]) -> usize {
    frames.iter().filter(|frame| matches!(frame, Frame::Readings(_))).count()
}

/// The conversation of firmware-protocol/README.md, point by point.
#[test]
#[ignore = "needs the cross compiler and the emulator: apt install gcc-arm-none-eabi qemu-system-arm"]
fn the_firmware_keeps_to_the_conversation() -> Outcome<()> {
    let field = Field::new()?;
    let emulator = Emulator::start(&field, &[])?;
    let mut line = emulator.line()?;
    line.wait_for("three hellos", 0, |frames| (frames.iter().filter_map(hello).count() >= 3).then_some(()))?;
    let statuses = line.frames.iter().filter(|frame| matches!(frame, Frame::Status(_))).count();
    assert!(statuses >= 2 && readings_in(&line.frames) == 0, "{:?}", line.frames);

    // Before and after the start, a ping is answered with its token and a clock that goes on.
    let mut clocks = Vec::new();
    for token in [0, 0xDEAD_BEEF, u32::MAX] {
        let from = line.frames.len();
        line.send(&Frame::Ping { token })?;
        clocks.push(line.wait_for("the answer to a ping", from, |frames| {
            frames.iter().find_map(|frame| match frame {
                Frame::Time(time) if time.token == token => Some(time.clock_us),
                _ => None,
            })
        })?);
    }
    assert!(clocks.is_sorted() && clocks[2] - clocks[0] < 60_000_000, "{clocks:?}");

    // Each start is answered, and rows go on from one to the other.
    for _ in 0..2 {
        let from = line.frames.len();
        line.send(&Frame::Start)?;
        line.wait_for("hello and readings", from, |frames| {
            (frames.iter().find_map(hello).is_some() && readings_in(frames) >= 3).then_some(())
        })?;
    }
    // What is no frame, or none for a box, changes nothing.
    line.send_bytes(b"\0\x05garbage\0\0\xFF\xFE\xFD and more of it than any frame from a host has\0")?;
    line.send_bytes(&[0xA5; 1000])?;
    line.send_bytes(&[0])?;
    line.send(&Frame::Mark(Mark { clock_us: 0, source: MarkSource::Button, number: 1 }))?;
    line.send(&Frame::Stop)?;
    let from = line.frames.len();
    line.wait_for("two hellos after the stop", from, |frames| {
        (frames.iter().filter_map(hello).count() >= 2).then_some(())
    })?;
    // Between two hellos of a box that has stopped there are no readings: it has been silent for a second.
    let after_hello = line.frames.iter().rposition(|frame| hello(frame).is_some()).unwrap_or(0);
    let stopped = line.frames[..after_hello].iter().rposition(|frame| hello(frame).is_some()).unwrap_or(0);
    assert_eq!(readings_in(&line.frames[stopped..]), 0);

    // No row number was used up meanwhile.
    line.send(&Frame::Start)?;
    let from = line.frames.len();
    line.wait_for("readings", from, |frames| (readings_in(frames) >= 3).then_some(()))?;
    let firsts = line.frames.iter().filter_map(|frame| match frame {
        Frame::Readings(readings) => Some((readings.first_row, readings.row_count())),
        _ => None,
    });
    let mut next_row = 0;
    for (first_row, rows) in firsts {
        assert_eq!(first_row, next_row);
        next_row += u32::try_from(rows).unwrap_or(u32::MAX);
    }
    Ok(())
}

/// Frames of one rate each, with every row in them as the firmware must have made it.
#[test]
#[ignore = "needs the cross compiler and the emulator: apt install gcc-arm-none-eabi qemu-system-arm"]
fn a_rate_holds_from_the_next_row_on_and_an_impossible_one_changes_nothing() -> Outcome<()> {
    let field = Field::new()?;
    let emulator = Emulator::start(&field, &["-DROW_RATE_MHZ=100000"])?;
    let mut line = emulator.line()?;
    line.wait_for("hello", 0, |frames| frames.iter().find_map(hello))?;
    line.send(&Frame::Start)?;
    line.wait_for("readings", 0, |frames| (readings_in(frames) >= 2).then_some(()))?;
    // 300 a second are no whole ms from row to row, 2000 are too many, and 0.5 too few: they leave what was.
    let asked_and_held_mhz = [
        (500_000, 500_000, 2000),
        (300_000, 500_000, 2000),
        (2_000_000, 500_000, 2000),
        (500, 500_000, 2000),
        (u32::MAX, 500_000, 2000),
        (333_333, 333_333, 3000),
        (50_000, 50_000, 20_000),
        (20_000, 20_000, 50_000),
    ];
    for (row_rate_mhz, held_mhz, interval_us) in asked_and_held_mhz {
        let from = line.frames.len();
        line.send(&Frame::Rate { row_rate_mhz })?;
        line.send(&Frame::Start)?;
        let said = line.wait_for("hello", from, |frames| frames.iter().find_map(hello))?;
        assert_eq!(said.row_rate_mhz, held_mhz, "after {row_rate_mhz}");
        line.wait_for("readings of this rate", from, |frames| {
            let at_rate =
                |frame: &&Frame| matches!(frame, Frame::Readings(r) if r.interval_us == interval_us);
            (frames.iter().filter(at_rate).count() >= 2).then_some(())
        })?;
    }
    let boots = boots_in(&line.frames)?;
    let Some(boot) = boots.get(&1) else { return Err(Failure(format!("{:?}", boots.keys()))) };
    let intervals: Vec<u32> = boot.intervals.iter().map(|(_, interval_us)| *interval_us).collect();
    assert_eq!(intervals, [10_000, 2000, 3000, 20_000, 50_000]);
    assert_eq!((boot.rows_missing(), boot.rows_dropped), (0, 0));
    let uptimes = line.frames.iter().filter_map(|frame| match frame {
        Frame::Status(status) => Some(status.uptime_ms),
        _ => None,
    });
    let uptimes: Vec<u32> = uptimes.collect();
    assert!(uptimes.windows(2).all(|two| two[1] - two[0] == 1000), "{uptimes:?}");
    Ok(())
}

/// The emulator goes with its handle, also when a test fails.
#[test]
#[ignore = "needs the cross compiler and the emulator: apt install gcc-arm-none-eabi qemu-system-arm"]
fn no_emulator_is_left_behind() -> Outcome<()> {
    let field = Field::new()?;
    let emulator = Emulator::start(&field, &[])?;
    let process = Path::new("/proc").join(emulator.running.pid().to_string());
    assert!(process.exists());
    let panicked = std::thread::spawn(move || {
        let _emulator = emulator;
        std::panic::resume_unwind(Box::new("as a failed assertion does"));
    });
    assert!(panicked.join().is_err());
    wait_until("the end of the emulator", Duration::from_secs(5), || Ok((!process.exists()).then_some(())))
}
