//! `calibrate`: known loads on a virtual box through a real port, and pairs from a file.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a helper of tests fails as a test does")]

use std::ffi::OsString;
use std::fs;
use std::path::Path;
use std::time::Duration;

use hitchwright_tests::Outcome;
use hitchwright_tests::binaries::Program;
use hitchwright_tests::calibration_session::CalibrationSession;
use hitchwright_tests::command::{assert_has, text_of};
use hitchwright_tests::field::{Field, SOON};
use hitchwright_tests::process::{Ended, Signal, run};
use hitchwright_tests::pty::Pty;
use hitchwright_tests::run_folder::run_in;
use ingest::plow::read_plow;
use sample_runs::sensors::Sensor;
use serde_json::Value;

/// A box on a bench: the pass lasts longer than any test.
const BENCH: &str = "--speed-up 1 --working-s 900 --noise 40 --hold pull=12840";

fn calibrate(args: &[&str]) -> Outcome<Ended> {
    run(Program::Hitchwright, ["calibrate"].iter().chain(args), SOON)
}

#[test]
fn known_loads_give_the_boxs_own_line_and_go_into_the_description_with_its_comments() -> Outcome<()> {
    let field = Field::new()?.with_box(BENCH);
    let (port, plow, pairs) = (field.port(), field.plow(), field.path("pairs.csv"));
    let before = fs::read_to_string(&plow).unwrap() + "# the end\n";
    let before = before.replacen("channel = \"pull\"", "channel = \"pull\" # the pin on the left", 1);
    fs::write(&plow, &before).unwrap();
    let args =
        ["--port", text_of(&port), "--measures", "pull", "--plow", text_of(&plow), "--update", "--json"];
    let args = [&args[..], &["--date", "2027-04-11", "--reference", "0.1 %", "-o", text_of(&pairs)]].concat();
    let mut session = CalibrationSession::start(field.start_box()?, Sensor::PULL, &args)?;
    session.take_all(&[0.0, 2000.0, 4000.0, 6000.0, 8000.0], "N")?;
    // Typed wrongly, thought better of, taken anew: none of it costs the calibration.
    session.talk.say("6000")?;
    session.talk.wait_for_line("has no unit", SOON)?;
    session.take("7000 N")?;
    session.talk.say("undo")?;
    session.talk.wait_for_line("forgotten: 7000 N", SOON)?;
    session.take_all(&[6000.0, 4000.0, 2000.0], "N")?;
    session.take("again")?;
    session.take_all(&[0.0], "N")?;
    let (ended, _sensor_box) = session.done()?;
    let ended = ended.expect_code(0)?;
    for caution in ["under a hung load", "safety chain", "box \"virtual-box\""] {
        assert!(ended.stderr.contains(caution), "{caution}: {}", ended.stderr);
    }
    assert!(!ended.stderr.contains("WARNING: not steady"), "{}", ended.stderr);

    let json: Value = serde_json::from_str(&ended.stdout).unwrap();
    let report = &json["report"];
    let number = |value: &Value| value.as_f64().unwrap_or_else(|| panic!("{value}"));
    let interval = &report["slope_interval_unit_per_count"];
    let half = (number(&interval["high"]) - number(&interval["low"])) / 2.0;
    // Three half-widths of seven degrees of freedom: seven standard errors.
    let off = number(&report["slope_unit_per_count"]) - 1.0 / Sensor::PULL.counts_per_unit;
    assert!(off.abs() <= 3.0 * half, "{off:e}, {half:e}");
    assert!(half < 1e-3 / Sensor::PULL.counts_per_unit, "{half:e}");
    assert!((number(&report["zero_count"]) - Sensor::PULL.zero_count).abs() < 60.0, "{report}");
    assert_eq!(report["taken"].as_array().unwrap().len(), 9);

    // The description: another calibration, and nothing else.
    let after = fs::read_to_string(&plow).unwrap();
    assert_has(&after, &["# the end\n", "# the pin on the left", "# The plow of the whole-program tests."]);
    let (old, new) = (field.path("plow.toml.old"), read_plow(&plow).unwrap());
    assert_eq!(fs::read_to_string(&old).unwrap(), before);
    let old = read_plow(&old).unwrap();
    assert_eq!((&new.sensors[1..], new.sensors.len()), (&old.sensors[1..], 3));
    assert_eq!(new.sensors[0].calibration.date, "2027-04-11");
    assert_eq!(new.sensors[0].calibration.points.len(), 9);
    assert_eq!(new.sensors[0].count_limits, old.sensors[0].count_limits);
    let same = |plow: &ingest::plow::Plow| ingest::plow::Plow { sensors: Vec::new(), ..plow.clone() };
    assert_eq!(same(&new), same(&old));
    assert!(ended.stderr.contains("before: measures pull, 2027-03-01, 2 steps"), "{}", ended.stderr);
    run(Program::Hitchwright, ["statics", text_of(&plow)], SOON)?.expect_code(0)?;

    // The pairs that were kept give the same once more, from the file alone.
    let args = ["--pairs", text_of(&pairs), "--measures", "pull", "--reference", "0.1 %", "--json"];
    let again: Value = serde_json::from_str(&calibrate(&args)?.expect_code(0)?.stdout).unwrap();
    let off =
        number(&again["report"]["slope_unit_per_count"]) / number(&report["slope_unit_per_count"]) - 1.0;
    assert!(off.abs() < 1e-9, "{off:e}");
    Ok(())
}

#[test]
fn what_cannot_be_right_is_warned_of() -> Outcome<()> {
    // Little noise, so that the wrong channel shows by it; and a second, in which some frames are sure to be lost
    // and a load that moves is not missed.
    let field = Field::new()?.with_box(&BENCH.replace("--noise 40", "--noise 1 --drop-frames 0.2"));
    let port = field.port();
    let args = "--measures pull --channel pull --unit N --seconds 1".split(' ');
    let args: Vec<&str> = ["--port", text_of(&port)].into_iter().chain(args).collect();
    let mut session = CalibrationSession::start(field.start_box()?, Sensor::PULL, &args)?;
    session.take("0")?;
    session.talk.wait_for_line("rows were lost meanwhile", SOON)?;
    // The load was forgotten, or the wrong sensor is looked at.
    session.take("500")?;
    session.talk.wait_for_line("is this the right channel", SOON)?;
    session.put_on(500.0)?;
    session.take("again")?;
    // It still swings.
    session.put_on(1000.0)?;
    session.talk.say("1000")?;
    session.talk.wait_for_line("listening", SOON)?;
    std::thread::sleep(Duration::from_millis(150));
    session.put_on(1100.0)?;
    session.talk.wait_for_line("WARNING: not steady", SOON)?;
    // Beyond the converter.
    session.put_on(1e6)?;
    session.take("1e6")?;
    session.talk.wait_for_line("the converter is at its end", SOON)?;
    session.talk.say("undo")?;
    let (ended, _sensor_box) = session.done()?;
    let ended = ended.expect_code(0)?;
    assert!(ended.stdout.contains("[[sensors]]\nchannel = \"pull\"\n"), "{}", ended.stdout);
    // It was taken all the same, and the report says so.
    assert!(ended.stdout.contains("step 3 (1000 N) was not steady: "), "{}", ended.stdout);
    Ok(())
}

#[test]
fn a_cable_that_slips_costs_one_step() -> Outcome<()> {
    let field = Field::new()?.with_box(BENCH);
    let port = field.port();
    let args = ["--port", text_of(&port), "--measures", "pull"];
    let mut session = CalibrationSession::start(field.start_box()?, Sensor::PULL, &args)?;
    session.take_all(&[0.0, 1000.0], "N")?;
    // The box dies, and the port goes with it.
    fs::remove_file(field.truth()).unwrap();
    session.sensor_box.signal(Signal::KILL)?;
    session.talk.say("2000 N")?;
    session.talk.wait_for_line("the steps before are kept", SOON)?;
    session.sensor_box = field.start_box()?;
    session.take_all(&[2000.0, 0.0], "N")?;
    let (ended, _sensor_box) = session.done()?;
    let ended = ended.expect_code(0)?;
    assert!(ended.stdout.contains("4 steps at 3 values"), "{}", ended.stdout);
    Ok(())
}

#[test]
fn what_cannot_be_calibrated_is_refused_before_a_load_is_hung() -> Outcome<()> {
    let field = Field::new()?.with_box("--speed-up 1");
    let _sensor_box = field.start_box()?;
    let silent = Pty::open()?;
    let (port, dead, plow) = (field.port(), silent.port().to_owned(), field.plow());
    let (port, dead, plow) = (text_of(&port), text_of(&dead), text_of(&plow));
    let cases: &[(&[&str], i32, &str)] = &[
        (&["--measures", "pull", "--channel", "pul"], 1, "it has \"pull\" (pull), \"tail\" (tail)"),
        (&["--measures", "pull", "--channel", "tail"], 1, "measures tail, not pull"),
        (&["--measures", "pitch"], 1, "no channel for pitch"),
        (&["--measures", "weight"], 2, "possible values: pull, tail, depth"),
        (&["--measures", "pull", "--unit", "mm"], 2, "is no unit of a force"),
        (&["--measures", "pull", "--reference", "good"], 2, "accuracy of the reference"),
        (&["--measures", "pull", "--seconds", "0"], 2, "0.1 to 60 s"),
        (&["--measures", "pull", "--date", "yesterday"], 2, "yesterday"),
        (&["--measures", "pull", "-o", plow], 1, "is there already"),
        (&["--measures", "pull", "--plow", "none.toml"], 1, "none.toml"),
        (&["--measures", "pull", "--update"], 2, "--plow"),
    ];
    for (words, code, part) in cases {
        let ended = calibrate(&[&["--port", port], *words].concat())?.expect_code(*code)?;
        assert!(ended.stderr.contains(part), "{words:?}: {part:?} is not in {}", ended.stderr);
        assert_eq!(ended.stdout, "", "{words:?}");
    }
    let ended = calibrate(&["--port", dead, "--measures", "pull"])?.expect_code(1)?;
    assert!(ended.stderr.contains(dead) && ended.stderr.contains("switched on"), "{}", ended.stderr);
    // Nobody at the keyboard, no value: no calibration, and no change.
    let before = fs::read(field.plow()).unwrap();
    let ended =
        calibrate(&["--port", port, "--measures", "pull", "--plow", plow, "--update"])?.expect_code(1)?;
    assert!(ended.stderr.contains("at least two"), "{}", ended.stderr);
    assert_eq!(fs::read(field.plow()).unwrap(), before);
    Ok(())
}

#[test]
fn pairs_from_a_file_give_a_line_or_a_table_and_are_named_by_line_when_they_are_wrong() -> Outcome<()> {
    let field = Field::new()?;
    let (pairs, plow) = (field.path("pairs.csv"), field.plow());
    let (pairs, plow) = (text_of(&pairs), text_of(&plow));
    fs::write(pairs, "count,value\n1000,0\n2000,100\n3100,200 mm\n2050,100\n1010,0\n").unwrap();
    let words = ["--pairs", pairs, "--measures", "depth", "--unit", "mm", "--date", "2027-04-11"];
    let said = calibrate(&words)?.expect_code(0)?.stdout;
    assert!(said.contains("straight line through 5 steps at 3 values"), "{said}");
    assert!(said.contains("[[sensors]]\nchannel = \"depth\"\nmeasures = \"depth\"\n"), "{said}");

    let table = [&words[..], &["--fit", "table", "--plow", plow]].concat();
    let before = fs::read(plow).unwrap();
    let ended = calibrate(&table)?.expect_code(0)?;
    assert!(ended.stderr.contains("nothing was changed; --update"), "{}", ended.stderr);
    assert_eq!(fs::read(plow).unwrap(), before);
    for old in ["plow.toml.old", "plow.toml.old-2"] {
        let now = fs::read(plow).unwrap();
        let ended = calibrate(&[&table[..], &["--update"]].concat())?.expect_code(0)?;
        assert!(ended.stderr.contains(old), "{}", ended.stderr);
        assert_eq!(fs::read(field.path(old)).unwrap(), now);
    }
    let plow_now = read_plow(Path::new(plow)).unwrap();
    let depth = plow_now.sensors.iter().find(|sensor| sensor.channel == "depth").unwrap();
    assert!(!depth.calibration.fit.is_line());
    assert_eq!(depth.calibration.points.len(), 5);

    for (wrong, part) in [
        ("count,value\n1000,0\n", "at least two"),
        ("count,value\n1000,0\n2000,1 lbf\n", "line 3: 'lbf' in '1 lbf' is no unit of a length"),
        ("count\n1000\n", "no column 'value'"),
    ] {
        fs::write(pairs, wrong).unwrap();
        let ended = calibrate(&words)?.expect_code(1)?;
        assert!(ended.stderr.contains(part), "{part:?} is not in {}", ended.stderr);
    }
    Ok(())
}

/// Found: a calibration with a non-linearity of 60 % of full scale went into the description without a word.
#[test]
fn an_absurd_calibration_is_put_in_only_if_it_is_accepted() -> Outcome<()> {
    let field = Field::new()?;
    let (pairs, plow) = (field.path("pairs.csv"), field.plow());
    let (pairs, plow) = (text_of(&pairs), text_of(&plow));
    let words = ["--pairs", pairs, "--measures", "depth", "--unit", "mm", "--plow", plow, "--update"];
    let before = fs::read(plow).unwrap();
    // The second value was typed in another unit than the others.
    fs::write(pairs, "count,value\n1000,0\n2000,25.4\n3000,2\n4000,3\n").unwrap();
    let ended = calibrate(&words)?.expect_code(1)?;
    assert_has(
        &ended.stderr,
        &["nothing was changed", "a non-linearity of ", "an uncertainty of ", "--accept", "[[sensors]]"],
    );
    assert!(ended.stdout.contains("non-linearity"), "what was measured is shown: {}", ended.stdout);
    assert_eq!(fs::read(plow).unwrap(), before);
    let ended = calibrate(&[&words[..], &["--accept"]].concat())?.expect_code(0)?;
    assert!(ended.stderr.contains("has the new calibration"), "{}", ended.stderr);
    assert_ne!(fs::read(plow).unwrap(), before);
    // With the value in its own unit there is nothing to accept.
    fs::write(pairs, "count,value\n1000,0\n2000,1\n3000,2\n4000,3\n").unwrap();
    calibrate(&words)?.expect_code(0)?;
    assert!(calibrate(&[&words[..8], &["--accept"]].concat())?.expect_code(2)?.stderr.contains("--update"));
    Ok(())
}

/// Mean of a column of a CSV, over the lines that `counts` lets through.
fn mean(csv: &Path, column: &str, counts: impl Fn(&str) -> bool) -> f64 {
    let text = fs::read_to_string(csv).unwrap();
    let mut lines = text.lines();
    let place = lines.next().unwrap().split(',').position(|name| name == column).unwrap();
    let values: Vec<f64> = lines
        .filter(|line| counts(line))
        .map(|line| line.split(',').nth(place).unwrap().parse().unwrap())
        .collect();
    values.iter().sum::<f64>() / values.len() as f64
}

/// The first evening of a stranger with a box: is it there, what do its counts mean, does it record?
#[test]
fn from_a_box_on_the_table_to_a_checked_run() -> Outcome<()> {
    // A plow that was measured, with no sensor in its description yet.
    let bench_box = "--speed-up 1 --working-s 900 --noise 20";
    let field = Field::new()?.with_sensors(&[])?.with_box(bench_box);
    let (port, plow) = (field.port(), field.plow());
    let (port, plow) = (text_of(&port), text_of(&plow));

    let mut sensor_box = field.start_box()?;
    let said = run(Program::Hitchwright, ["ports", "--port", port], SOON)?.expect_code(0)?.stdout;
    assert_has(&said, &["sensor box \"virtual-box\"", "pull", "tail", "depth", "none lost"]);

    let loads: [(Sensor, &[f64], &str); 3] = [
        (Sensor::PULL, &[0.0, 4000.0, 8000.0, 12_000.0, 8000.0, 4000.0, 0.0], "N"),
        (Sensor::TAIL, &[0.0, 40.0, 80.0, 120.0, 80.0, 40.0, 0.0], "mm"),
        (Sensor::DEPTH, &[0.0, 100.0, 200.0, 300.0, 200.0, 100.0, 0.0], "mm"),
    ];
    for (sensor, readings, unit) in loads {
        let args = ["--port", port, "--measures", sensor.channel, "--plow", plow, "--update"];
        let mut session = CalibrationSession::start(sensor_box, sensor, &args)?;
        session.take_all(readings, unit)?;
        let (ended, same_box) = session.done()?;
        ended.expect_code(0)?;
        sensor_box = same_box;
    }
    drop(sensor_box);

    // The next morning, on the plow.
    fs::remove_file(field.truth()).unwrap();
    let field = field.with_box("--seed 7");
    let sensor_box = field.start_box()?;
    let mut args = vec![OsString::from("record")];
    args.extend(field.recorder_args("--stop-when-gone 1s"));
    run(Program::Hitchwright, args, SOON * 6)?.expect_code(0)?;
    sensor_box.wait(SOON)?.expect_code(0)?;
    let folder = run_in(&field.runs())?;
    let said = run(Program::Hitchwright, ["check", text_of(&folder)], SOON)?.expect_code(0)?.stdout;
    assert!(said.contains("ended properly") && said.contains("byte for byte"), "{said}");
    // The readings are those of the plow, as well as a calibration in a noise of 20 counts can make them.
    for (sensor, allowed) in [(Sensor::PULL, 5.0), (Sensor::TAIL, 0.1), (Sensor::DEPTH, 0.5)] {
        let written = mean(&folder.join("plow.csv"), sensor.column, |_| true);
        let truth = mean(&field.truth(), &format!("true_{}", sensor.column), |line| line.contains(",sent,"));
        assert!((written - truth).abs() < allowed, "{}: {written} is not {truth}", sensor.channel);
    }
    Ok(())
}
