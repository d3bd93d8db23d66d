//! Several boxes and several recorders, from the ports to the summary, and the places that a run can and cannot go to.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a helper of tests fails as a test does")]

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use hitchwright_tests::binaries::Program;
use hitchwright_tests::command::{assert_has, hitchwright, json_of, stdout_of, text_of};
use hitchwright_tests::field::{Field, SOON};
use hitchwright_tests::pdf::pages_of;
use hitchwright_tests::process::run;
use hitchwright_tests::receiver::start_receiver;
use hitchwright_tests::recording::said_of;
use hitchwright_tests::run_folder::{read_events, runs_in};
use hitchwright_tests::snapshot::snapshot;
use hitchwright_tests::verify::verify_box;
use hitchwright_tests::{Failure, Outcome};
use ingest::open_run::open_run;
use ingest::rebuild::rebuild;
use sample_runs::sensors::Sensor;
use serde_json::Value;

const PULL_BOX: &str = "--channels pull --name drawbar --rate-hz 400 --speed-up 20 --working-s 40 --seed 71";
const REAR_BOX: &str =
    "--channels tail,depth --name rear --rate-hz 100 --speed-up 20 --working-s 40 --seed 72";
const FRONT_BOX: &str = "--channels front-load --name front --rate-hz 50 --speed-up 20 --working-s 40 --seed 73 --unplug-at 20 --unplug-for 4";

fn report(command: &str, run: &Path) -> Outcome<Value> {
    json_of([command, text_of(run), "--json"])
}

fn notices<'a>(summary: &'a Value, kind: &str) -> Vec<&'a Value> {
    let all = summary["quality"]["notices"].as_array().into_iter().flatten();
    all.filter(|notice| notice["kind"] == kind).collect()
}

/// Pull on one box, tail wheel and depth on another: all figures are there, and they are those of the pass. A
/// third box that is gone for a while takes nothing from them.
#[test]
fn pull_on_one_box_and_tail_on_another_make_a_full_summary() -> Outcome<()> {
    let sensors = [Sensor::PULL, Sensor::TAIL, Sensor::DEPTH, Sensor::FRONT_LOAD];
    let field = Field::new()?.with_sensors(&sensors)?.with_box(PULL_BOX);
    let [rear_truth, front_truth] = ["rear", "front"].map(|name| field.other(name).1);
    let others = [field.start_other("rear", REAR_BOX)?, field.start_other("front", FRONT_BOX)?];
    let ports = field.ports_with(&["rear", "front"]);
    let recorded = field.record(&ports)?.to_the_end()?;
    for other in others {
        other.wait(SOON)?.expect_code(0)?;
    }
    let run = recorded.run()?;
    assert_eq!(recorded.verify()?.rows_lost, 0);
    assert_eq!(verify_box(&run, "rear", &rear_truth)?.rows_lost, 0);
    assert!(verify_box(&run, "front", &front_truth)?.rows_lost > 0);

    // Boxes 20 times as fast as the computer's clock each go by their own clock, and are not joined.
    let sentence = hitchwright(["summary", text_of(&run)], 1)?.stderr;
    assert!(sentence.contains("pull_n comes from box drawbar, whose clock runs apart"), "{sentence}");
    // These two boxes are in fact equally fast: the rest of this test takes them so.
    let description = run.join("run.toml");
    let recorded_toml = fs::read_to_string(&description).unwrap();
    fs::write(&description, recorded_toml.replace("\"box-alone\"", "\"host\"")).unwrap();
    let summary = report("summary", &run)?;
    assert_eq!(summary["quality"]["gaps"], 0, "{}", summary["quality"]);
    let rate_hz = summary["quality"]["rate_hz"].as_f64().unwrap();
    assert!((rate_hz - 100.0).abs() < 1.0, "{rate_hz}");
    for figure in ["/pull/p95_n", "/depth/sd_mm", "/tail_load/lifted_share", "/statics/balance_index"] {
        assert!(summary.pointer(figure).is_some_and(|f| f["low"].is_f64()), "{figure}: {summary}");
    }
    // The mean pull of its box's own rows over the working part, which were held against the truth above.
    let [from_s, to_s] = ["from_s", "to_s"].map(|end| summary["working_part"][end].as_f64().unwrap());
    let text = fs::read_to_string(run.join("plow.csv")).unwrap();
    let rows = text.lines().skip(1).filter_map(|line| line.split_once(','));
    let pulls: Vec<f64> = rows
        .filter_map(|(t, pull)| Some((t.parse::<f64>().ok()?, pull.parse::<f64>().ok()?)))
        .filter(|(t, _)| (from_s..=to_s).contains(t))
        .map(|(_, pull)| pull)
        .collect();
    let mean = pulls.iter().sum::<f64>() / pulls.len() as f64;
    let told = summary["pull"]["mean_n"]["value"].as_f64().unwrap();
    assert!((told / mean - 1.0).abs() < 1e-3, "{told} N, not {mean} N");
    let missing = notices(&summary, "channel_missing");
    assert!(missing.iter().any(|one| one["channel"] == "front-load"), "{missing:?}");

    fs::write(&description, recorded_toml).unwrap();
    let checked = report("check", &run)?;
    assert_eq!(checked["rebuilds"], true);
    let files: Vec<_> = checked["tables"].as_array().unwrap().iter().map(|table| &table["file"]).collect();
    assert_eq!(files, ["plow.csv", "rear.csv", "front.csv"]);
    let text = stdout_of(["check", text_of(&run)])?;
    assert_has(&text, &["box rear", "box drawbar", "runs apart from the computer's", "reconnects"]);
    // Without its raw bytes a run is checked all the same, and it is said what that cannot show.
    fs::remove_file(run.join("rear.wire")).unwrap();
    let text = stdout_of(["check", text_of(&run)])?;
    assert!(text.contains("rear.wire: there is no such file: without the raw bytes"), "{text}");
    assert_eq!(report("check", &run)?["rebuilds"], Value::Null);
    Ok(())
}

/// Twice the same box, by name, serial number and channels: each has its own file, and of each column the
/// first is used, with a notice.
#[test]
fn boxes_of_one_name_are_kept_apart() -> Outcome<()> {
    const TWIN: &str = "--name twin --serial VB-0009 --rate-hz 100 --speed-up 20 --working-s 20";
    let field = Field::new()?.with_box(&format!("{TWIN} --seed 74"));
    let [truth, third_truth] = ["second", "third"].map(|name| field.other(name).1);
    let second = field.start_other("second", &format!("{TWIN} --seed 75"))?;
    let third = field.start_other("third", &format!("{TWIN} --seed 76"))?;
    let ports = field.ports_with(&["second", "third"]);
    let recorded = field.record(&ports)?.to_the_end()?;
    second.wait(SOON)?.expect_code(0)?;
    third.wait(SOON)?.expect_code(0)?;
    let alike = recorded.ended.stderr.matches("same name or serial number").count();
    assert_eq!(alike, 2, "{}", recorded.ended.stderr);
    let run = recorded.run()?;
    recorded.verify()?;
    verify_box(&run, "twin", &truth)?;
    verify_box(&run, "twin-2", &third_truth)?;
    let texts: BTreeMap<&str, String> = ["plow.csv", "twin.csv", "twin-2.csv"]
        .map(|name| (name, fs::read_to_string(run.join(name)).unwrap()))
        .into();
    assert!(texts["plow.csv"] != texts["twin.csv"] && texts["twin.csv"] != texts["twin-2.csv"]);
    let summary = report("summary", &run)?;
    let doubled = notices(&summary, "doubled");
    let ends = |path: &Value, name: &str| path.as_str().is_some_and(|path| path.ends_with(name));
    for name in ["/twin.csv", "/twin-2.csv"] {
        let of_pull = |one: &&&Value| {
            one["channel"] == "pull" && ends(&one["path"], name) && ends(&one["used"], "/plow.csv")
        };
        assert_eq!(doubled.iter().filter(of_pull).count(), 1, "{name}: {doubled:?}");
    }
    Ok(())
}

/// A receiver beside the box, in real time, its fix gone for 4 s of the pass: speed and way are those driven, what is
/// missing is told, and the spectra stand against distance.
#[test]
fn a_receiver_gives_speed_way_and_spectra_against_distance() -> Outcome<()> {
    const SPEED_MPS: f64 = 1.6;
    let field = Field::new()?.with_box("--speed-up 1 --working-s 28 --rate-hz 100 --seed 77");
    let receiver =
        start_receiver(&field, "--rate-hz 5 --speed-mps 1.6 --no-fix-at 18 --no-fix-for 4 --lasts-s 60")?;
    let gnss = format!("--gnss {}", field.path("gnss").display());
    let recorded = field.record(&gnss)?.to_the_end()?;
    drop(receiver);
    let run = recorded.run()?;
    let summary = report("summary", &run)?;
    let figure = |pointer: &str| {
        summary.pointer(pointer).and_then(Value::as_f64).unwrap_or_else(|| panic!("{pointer}: {summary}"))
    };
    assert_eq!(summary["travel"]["speed_from"], "gnss.csv");
    let missing_s = figure("/travel/missing_s");
    assert!((3.8..4.6).contains(&missing_s), "{missing_s}");
    let lasted_s = figure("/working_part/to_s") - figure("/working_part/from_s");
    let distance_m = SPEED_MPS * (lasted_s - missing_s);
    assert!(
        (figure("/travel/distance_m") / distance_m - 1.0).abs() < 0.01,
        "{} not {distance_m}",
        summary["travel"]
    );
    // The receiver's places are of the same straight furrow as its speed.
    let ways = figure("/travel/places_m") / figure("/travel/between_places_m");
    assert!((ways - 1.0).abs() < 0.01, "{}", summary["travel"]);
    assert!((figure("/travel/mean_mps/value") - SPEED_MPS).abs() < 0.02, "{}", summary["travel"]);
    // Rows at 100 Hz lie 16 mm apart.
    assert!((figure("/per_metre/step_m") - 0.032).abs() < 0.001, "{}", summary["per_metre"]["step_m"]);
    let densities = summary["per_metre"]["depth_mm2_m"]["density"].as_array().unwrap();
    assert!(densities.len() > 20 && densities.iter().all(|density| density.as_f64().is_some()));
    let missing = notices(&summary, "speed_missing");
    let about_4_s = |one: &&Value| one["missing_s"].as_f64().is_some_and(|s| (3.95..5.0).contains(&s));
    assert!(missing.iter().any(about_4_s), "{missing:?}");
    let text = stdout_of(["summary", text_of(&run), "--units", "us"])?;
    assert_has(&text, &["speed by the GNSS receiver", "distance along the pass", "mph"]);
    // Three rows more in the table of figures, and still one page on either paper.
    for paper in ["a4", "letter"] {
        let page = recorded.field.path(&format!("{paper}.pdf"));
        hitchwright(["summary", text_of(&run), "--paper", paper, "-o", text_of(&page)], 0)?;
        assert_eq!(pages_of(&page)?, 1, "{paper}");
    }
    let checked = report("check", &run)?;
    assert_eq!(checked["rebuilds"], true);
    assert!(checked["gnss"]["fixes"].as_u64().is_some_and(|fixes| fixes > 100), "{}", checked["gnss"]);
    assert_eq!(checked["gnss"]["receiver"]["counters"]["no_fix_periods"], 1);
    let text = stdout_of(["check", text_of(&run)])?;
    assert!(text.contains("gnss.csv: ") && text.contains("epochs without fix (periods: 1)"), "{text}");
    Ok(())
}

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
    let runs = field.runs();
    let said = field.refused("--duration 87600000h")?;
    assert_has(said.lines().last().unwrap_or_default(), &["MB free", "needs", text_of(&runs)]);
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
    assert_has(&field.refused("")?, &["front-load", "pitch"]);
    Ok(())
}
