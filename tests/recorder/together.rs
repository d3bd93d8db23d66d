//! More than one box, more than one recorder, and the places that a run can and cannot go to.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a helper of tests fails as a test does")]

use std::fs;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use hitchwright_tests::binaries::Program;
use hitchwright_tests::command::assert_has;
use hitchwright_tests::field::{Field, SOON};
use hitchwright_tests::process::run;
use hitchwright_tests::recording::said_of;
use hitchwright_tests::run_folder::{read_events, runs_in};
use hitchwright_tests::snapshot::snapshot;
use hitchwright_tests::verify::verify_box;
use hitchwright_tests::{Failure, Outcome};
use ingest::open_run::open_run;
use ingest::rebuild::rebuild;
use sample_runs::sensors::Sensor;

const SECOND_BOX: &str = "--channels front-load,pitch --name tractor --serial VB-0002 --rate-hz 100 \
                          --speed-up 20 --working-s 20 --seed 31";

#[test]
fn a_box_that_is_unplugged_does_not_touch_the_other() -> Outcome<()> {
    let field = Field::new()?.with_sensors(&Sensor::ALL)?.with_box("--seed 30");
    let (_, truth) = field.other("second");
    let second = field.start_other("second", &format!("{SECOND_BOX} --unplug-at 10 --unplug-for 3"))?;
    let ports = field.ports_with(&["second"]);
    let recorded = field.record(&ports)?.to_the_end()?;
    second.wait(SOON)?.expect_code(0)?;
    let run = recorded.run()?;
    let first = recorded.verify()?;
    assert_eq!((first.rows_lost, first.rows_written), (0, first.rows_sampled));
    let other = verify_box(&run, "tractor", &truth)?;
    assert!(other.rows_lost > 0 && other.rows_written > 1000, "{other:?}");
    let back: Vec<_> =
        read_events(&run)?.into_iter().filter(|event| event.kind == "port-back").map(|e| e.detail).collect();
    assert!(matches!(&back[..], [one] if one.starts_with("box=tractor")), "{back:?}");
    Ok(())
}

#[test]
fn a_second_recorder_is_told_within_a_second_who_has_the_port() -> Outcome<()> {
    let mut recording = Field::new()?.with_box("--working-s 60").record("")?;
    recording.until_lines(100)?;
    let began = Instant::now();
    let second = run(Program::Recorder, recording.field.recorder_args(""), SOON)?.expect_code(1)?;
    assert!(began.elapsed() < Duration::from_secs(1), "{:?}", began.elapsed());
    let said = second.stderr.lines().last().unwrap_or_default();
    let port = recording.field.port().display().to_string();
    assert_has(said, &[&port, &recording.recorder.pid().to_string()]);
    // Under the name that the link leads to, it is the same port.
    let device = fs::canonicalize(recording.field.port()).unwrap();
    let mut args = recording.field.recorder_args("");
    for arg in &mut args {
        if *arg == *recording.field.port() {
            *arg = device.clone().into();
        }
    }
    let third = run(Program::Recorder, args, SOON)?.expect_code(1)?;
    assert!(third.stderr.contains("busy"), "{}", third.stderr);
    let recorded = recording.to_the_end()?;
    assert_eq!(recorded.verify()?.rows_lost, 0);
    Ok(())
}

#[test]
fn a_folder_that_is_there_is_left_as_it_is() -> Outcome<()> {
    let field = Field::new()?.with_box("");
    let mine = field.path("mine");
    fs::create_dir(&mine).unwrap();
    fs::write(mine.join("plow.csv"), "mine").unwrap();
    let sensor_box = field.start_box()?;
    for there in [mine.clone(), mine.join("plow.csv")] {
        let before = snapshot(&mine)?;
        let mut args = field.recorder_args("");
        let at = args.iter().position(|arg| arg == "--out").unwrap();
        args[at] = "--into".into();
        args[at + 1] = there.clone().into();
        let ended = run(Program::Recorder, args, SOON)?.expect_code(1)?;
        let said = ended.stderr.lines().last().unwrap_or_default();
        assert!(said.contains(there.to_str().unwrap()) && said.contains("exists already"), "{said}");
        assert_eq!(snapshot(&mine)?, before);
    }
    drop(sensor_box);
    Ok(())
}

/// Whatever a setting is called, its run lies in the folder of the runs, under a plain name; the setting's
/// own name is in `run.toml`.
#[test]
fn names_of_settings_become_plain_names_of_folders() -> Outcome<()> {
    for (setting, slug) in [
        ("../../up/and away", "up-and-away"),
        ("/etc/low 🚜 hole", "etc-low-hole"),
        ("=1+1\u{1b}[31m", "1-1-31m"),
        ("NUL", "nul-"),
    ] {
        let field = Field::new()?.with_box("--working-s 3");
        let plow = fs::read_to_string(field.plow()).unwrap();
        let name = toml_string(setting);
        let renamed = plow.replace("[settings.as-found]", &format!("[settings.{name}]"));
        assert_ne!(renamed, plow);
        fs::write(field.plow(), renamed).unwrap();
        let before = snapshot(&field.path(""))?;
        let sensor_box = field.start_box()?;
        let mut args = field.recorder_args("--duration 0.3s");
        let at = args.iter().position(|arg| arg == "--setting").unwrap();
        args[at + 1] = setting.into();
        let ended = run(Program::Recorder, args, SOON)?.expect_code(0)?;
        drop(sensor_box);
        assert!(!ended.stdout.contains('\u{1b}') && !ended.stderr.contains('\u{1b}'), "{ended:?}");
        let runs = runs_in(&field.runs())?;
        let [run] = &runs[..] else { panic!("{runs:?}") };
        let folder = run.file_name().unwrap().to_str().unwrap();
        assert!(folder.ends_with(&format!("_{slug}")), "{folder}");
        // Nothing was written anywhere else in the field.
        let beside = |path: &&PathBuf| !before.contains_key(*path) && !path.starts_with(run);
        let after = snapshot(&field.path(""))?;
        assert_eq!(after.keys().filter(beside).collect::<Vec<_>>(), [&field.truth()]);
        let opened = open_run(run).map_err(|error| Failure(error.to_string()))?;
        assert_eq!(opened.description.run.setting_name, setting);
    }
    Ok(())
}

/// As TOML writes it: control characters by number.
fn toml_string(text: &str) -> String {
    let escaped = |c: char| match c {
        c if c.is_control() => format!("\\u{:04X}", u32::from(c)),
        c => c.to_string(),
    };
    format!("\"{}\"", text.chars().map(escaped).collect::<String>())
}

/// A run needs room. The size of the run is what is asked for, so that no disk has to be filled: no disk
/// holds the readings of 10,000 years.
#[test]
fn a_disk_with_too_little_room_is_refused() -> Outcome<()> {
    let field = Field::new()?.with_box("");
    let recorded = field.record("--duration 87600000h")?.wait()?;
    let ended = recorded.ended.expect_code(1)?;
    let said = ended.stderr.lines().last().unwrap_or_default();
    assert_has(said, &["MB free", "needs", recorded.field.runs().to_str().unwrap()]);
    assert_eq!(runs_in(&recorded.field.runs())?, Vec::<PathBuf>::new());
    Ok(())
}

/// Cut anywhere in its last kB, as a power cut may leave it, `plow.wire` gives the beginning of the run.
#[test]
fn every_beginning_of_the_wire_file_rebuilds() -> Outcome<()> {
    let recorded = Field::new()?.with_box("--seed 33 --working-s 5").record("")?.to_the_end()?;
    recorded.verify()?;
    let run = recorded.run()?;
    let wire = fs::read(run.join("plow.wire")).unwrap();
    let csv = fs::read_to_string(run.join("plow.csv")).unwrap();
    let rows = |text: &str| text.lines().count();
    let mut fewest = usize::MAX;
    let mut before = usize::MAX;
    for cut in (wire.len().saturating_sub(1024)..=wire.len()).rev() {
        fs::write(run.join("plow.wire"), &wire[..cut]).unwrap();
        let opened = open_run(&run).map_err(|error| Failure(format!("{cut}: {error}")))?;
        assert_eq!(opened.files.len(), 1);
        let rebuilt = rebuild(&run, None).map_err(|error| Failure(format!("{cut}: {error}")))?;
        let text = String::from_utf8(rebuilt.files[0].bytes.clone()).unwrap();
        assert!(csv.starts_with(&text), "{cut} bytes of plow.wire give rows that the run does not have");
        assert!(rows(&text) <= before, "{cut} bytes of plow.wire give more rows than {}", cut + 1);
        before = rows(&text);
        fewest = fewest.min(before);
    }
    assert!((1..rows(&csv)).contains(&fewest), "a kB less must cost rows, but not all: {fewest}");
    Ok(())
}

#[test]
fn a_port_without_a_sensor_box_is_told_apart() -> Outcome<()> {
    let silent = std::thread::spawn(|| said_of(b""));
    let noise = std::thread::spawn(|| said_of(b"\x81\x00\x7fgarbage\x00\x00\xFF"));
    let other = said_of(b"$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47\r\n")?;
    assert!(other.contains("GNSS") && other.contains("--gnss"), "{other}");
    let silent = silent.join().unwrap()?;
    assert!(silent.contains("nothing arrives"), "{silent}");
    let noise = noise.join().unwrap()?;
    assert!(noise.contains("bytes arrive") && noise.contains("baud"), "{noise}");
    Ok(())
}

#[test]
fn a_plow_without_a_sensor_on_any_box_names_the_channel() -> Outcome<()> {
    let field = Field::new()?.with_sensors(&Sensor::ALL)?.with_box("");
    let recorded = field.record("")?.wait()?;
    let ended = recorded.ended.expect_code(1)?;
    assert_has(&ended.stderr, &["front-load", "pitch"]);
    assert!(!Path::new(&recorded.field.runs()).join("plow.csv").exists());
    assert_eq!(runs_in(&recorded.field.runs())?, Vec::<PathBuf>::new());
    Ok(())
}
