//! What other programs on the same computer can do to a recording.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a helper of tests fails as a test does")]

use std::collections::BTreeSet;
use std::fs::{self, File};
use std::io::Read;
use std::time::{Duration, Instant};

use firmware_protocol::{Channel, ChannelKind, Frame, Hello, Label, Mark, MarkSource, encode};
use hitchwright_tests::field::{Field, SOON};
use hitchwright_tests::pty::Pty;
use hitchwright_tests::run_folder::{read_events, runs_in};
use hitchwright_tests::synthetic::bytes_in_wire;
use hitchwright_tests::{Failure, Outcome};
use rustix::fs::{Mode, OFlags};
use rustix::termios::{InputModes, LocalModes, OptionalActions, Termios, tcgetattr, tcsetattr};

/// Another program sets the port for a person who types, as terminals and port listers do.
fn for_typing(settings: &mut Termios) {
    settings.local_modes |= LocalModes::ICANON | LocalModes::ECHO | LocalModes::ISIG | LocalModes::IEXTEN;
    settings.input_modes |= InputModes::ICRNL | InputModes::IXON | InputModes::BRKINT;
}

/// Another program sets it for seven bits.
fn for_seven_bits(settings: &mut Termios) {
    settings.input_modes |= InputModes::ISTRIP;
}

/// Records while the port's settings are changed under way. Every row lost must be counted, and the end of the
/// pass must be there without a gap: a pass of 40 s in a quarter of the time, changed after a few of them.
fn pass_with_settings_changed(change: fn(&mut Termios)) -> Outcome<()> {
    let field = Field::new()?.with_box("--seed 41 --working-s 40 --speed-up 4");
    let mut recording = field.record("")?;
    recording.until_lines(200)?;
    let port = fs::canonicalize(recording.field.port()).unwrap();
    let line = rustix::fs::open(&port, OFlags::RDWR | OFlags::NOCTTY, Mode::empty()).unwrap();
    let mut settings = tcgetattr(&line).unwrap();
    change(&mut settings);
    tcsetattr(&line, OptionalActions::Now, &settings).unwrap();
    let changed = Instant::now();
    // Held open until it is well again: a port that everybody has closed would lose the change by itself.
    let well_again = std::iter::repeat_with(|| {
        std::thread::sleep(Duration::from_millis(50));
        tcgetattr(&line).unwrap()
    })
    .find(|now| {
        now.local_modes != settings.local_modes
            || now.input_modes != settings.input_modes
            || changed.elapsed() > SOON
    })
    .is_some_and(|_| changed.elapsed() < SOON);
    assert!(well_again, "the settings were never put right");
    let took = changed.elapsed();
    drop(line);
    let recorded = recording.to_the_end()?;
    let verified = recorded.verify()?;
    assert!(verified.rows_lost > 0, "the change did no harm, so nothing was shown: {verified:?}");
    let last_gap_s = read_events(&recorded.run()?)?
        .iter()
        .filter(|event| event.kind == "gap")
        .map(|event| event.t_s)
        .fold(0.0, f64::max);
    println!("put right after {took:?}; last gap at {last_gap_s:.1} s of run time; {verified:?}");
    assert_eq!(verified.sent_after_last, 0);
    assert!(last_gap_s < 30.0, "still losing rows at {last_gap_s} s");
    Ok(())
}

#[test]
fn a_port_set_for_typing_by_another_program_is_put_right() -> Outcome<()> {
    pass_with_settings_changed(for_typing)
}

#[test]
fn a_port_set_to_seven_bits_by_another_program_is_put_right() -> Outcome<()> {
    pass_with_settings_changed(for_seven_bits)
}

/// A recorder that ends takes no byte from the line that it does not write down: whoever reads on has the next one.
#[test]
fn what_is_not_written_down_stays_on_the_line() -> Outcome<()> {
    let line = Pty::open()?;
    let field = Field::new()?.on_line(&line)?;
    let flags = OFlags::RDWR | OFlags::NOCTTY | OFlags::NONBLOCK;
    let mut next = File::from(rustix::fs::open(line.port(), flags, Mode::empty()).unwrap());
    let channel =
        |name, kind| Channel { name: Label::new(name).unwrap(), kind, adc_bits: 16, rate_mhz: 1000 };
    let table =
        [("pull", ChannelKind::Pull), ("tail", ChannelKind::TailDeflection), ("depth", ChannelKind::Depth)]
            .map(|(name, kind)| channel(name, kind));
    let hello = Hello::new(1, (1, 0, 0), 1000, Label::default(), Label::default(), &table).unwrap();
    let said: Vec<u8> = std::iter::once(Frame::Hello(hello))
        .chain(
            (0..800)
                .map(|number| Frame::Mark(Mark { clock_us: number, source: MarkSource::Button, number: 1 })),
        )
        .flat_map(|frame| encode(&frame).as_bytes().to_vec())
        .collect();
    let speaker = line.say_in_drips(said.clone())?;
    let recorded = field.record("--duration 0.3s")?.wait()?;
    let run_folder = recorded.run()?;
    // It sends marks and no rows.
    let ended = recorded.ended.expect_code(1)?;
    assert!(ended.stderr.contains("holds no row: the box answered, but sent none"), "{}", ended.stderr);
    let written = bytes_in_wire(&run_folder)?;
    assert!(said.starts_with(&written) && written.len() < said.len(), "{} of {}", written.len(), said.len());
    let mut rest = Vec::new();
    while !speaker.is_finished() {
        // It ends with "nothing there yet", after all that was there.
        let _ = next.read_to_end(&mut rest);
        std::thread::sleep(Duration::from_millis(5));
    }
    let _ = next.read_to_end(&mut rest);
    let gone = said.len() - written.len() - rest.len();
    assert!(rest == said[written.len()..], "{gone} bytes between the recorder and the next reader are gone");
    Ok(())
}

/// Ten recorders on one folder, begun within the same second with the same setting: ten runs, each whole and each
/// another box's.
#[test]
fn ten_recorders_on_one_folder_make_ten_runs() -> Outcome<()> {
    let fields: Vec<_> = (0..10)
        .map(|k| Ok(Field::new()?.with_box(&format!("--seed {} --serial {k} --working-s 3", 50 + k))))
        .collect::<Outcome<_>>()?;
    let together = tempfile::tempdir().unwrap();
    let out = together.path().to_str().unwrap();
    let recordings: Vec<_> = fields
        .into_iter()
        .map(|field| field.record(&format!("--duration 3s --out {out}")))
        .collect::<Outcome<_>>()?;
    for recording in recordings {
        recording.recorder.wait(SOON)?.expect_code(0)?;
    }
    let runs = runs_in(together.path())?;
    assert_eq!(runs.len(), 10, "{runs:?}");
    let mut serials = BTreeSet::new();
    for run in &runs {
        let opened = ingest::open_run::open_run(run).map_err(|error| Failure(error.to_string()))?;
        assert!(opened.description.ended_properly() && opened.notices.is_empty(), "{:?}", opened.notices);
        serials.insert(opened.description.boxes[0].serial.clone());
        let counters = opened.description.boxes[0].counters.unwrap();
        let lines = fs::read_to_string(run.join("plow.csv")).unwrap().lines().count();
        assert_eq!(lines as u64, counters.rows + 1, "{}", run.display());
    }
    assert_eq!(serials.len(), 10, "{serials:?}");
    Ok(())
}
