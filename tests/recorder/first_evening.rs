//! The first evening of a stranger with a box: is it there, what do its counts mean, does it record?
#![allow(clippy::unwrap_used, clippy::panic, reason = "a helper of tests fails as a test does")]

use std::ffi::OsString;
use std::fs;
use std::path::Path;

use hitchwright_tests::Outcome;
use hitchwright_tests::binaries::Program;
use hitchwright_tests::calibration_session::CalibrationSession;
use hitchwright_tests::command::{assert_has, text_of};
use hitchwright_tests::field::{Field, SOON};
use hitchwright_tests::process::run;
use hitchwright_tests::run_folder::run_in;
use sample_runs::sensors::Sensor;

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
