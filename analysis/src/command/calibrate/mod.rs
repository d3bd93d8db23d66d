//! `calibrate`: known loads or lengths, step by step, to the calibration of one channel.

mod bench;
mod change;
mod dialogue;
mod pairs;

use super::args::CalibrateArgs;
use super::output::{self, CommandError, Done};
use bench::BoxBench;
use change::Change;
use dialogue::Dialogue;
use ingest::calibration::{CalibrationReport, Observation, Reference, report};
use ingest::plow::Sensor;
use ingest::quantity::units_of_reader;
use ingest::safety::CALIBRATION_CAUTIONS;
use pairs::{PairsFile, ValueReader};
use schemars::JsonSchema;
use serde::Serialize;
use std::io::Write;

/// What `--json` prints.
#[derive(Serialize, JsonSchema)]
pub(super) struct Calibrated<'a> {
    /// Channel of the box.
    channel: &'a str,
    /// Day of the calibration, `YYYY-MM-DD`.
    date: &'a str,
    /// What the steps give.
    report: &'a CalibrationReport,
    /// The entry for `plow.toml`.
    sensor_toml: &'a str,
}

pub(super) fn calibrate(args: &CalibrateArgs) -> Result<Done, CommandError> {
    let mut values = ValueReader::new(args.measures, args.unit.as_deref()).map_err(CommandError::Usage)?;
    // What is typed wrongly is said before the first load is hung.
    Reference::parse(args.reference.as_deref(), args.measures)
        .map_err(|error| CommandError::Usage(error.to_string()))?;
    let change = args.plow.as_deref().map(Change::prepare).transpose()?;
    values.units = match &change {
        Some(change) => change.units,
        None => units_of_reader(None, None).map_err(CommandError::Usage)?.unwrap_or_default(),
    };
    let (channel, taken) = match &args.pairs {
        Some(path) => {
            let channel = args.channel.clone().unwrap_or_else(|| args.measures.name().to_owned());
            (channel, pairs::read(path, &values)?)
        }
        None => take_live(args, values)?,
    };
    let report = report(args.measures, &taken, args.fit, args.reference.as_deref())?;
    finish(args, change, &channel, &report)
}

/// The steps from a live box.
fn take_live(args: &CalibrateArgs, values: ValueReader) -> Result<(String, Vec<Observation>), CommandError> {
    let file = args.output.as_deref().map(PairsFile::create).transpose()?;
    // clap has seen to it that there is a port where there are no pairs.
    let port = args.port.as_deref().ok_or_else(|| CommandError::Usage("--port is missing".to_owned()))?;
    let mut bench = BoxBench::open(port, args)?;
    let mut talk = std::io::stderr();
    // Somebody who reads no more is no reason to stop: errors of stderr are let go, here and in the dialogue.
    for caution in CALIBRATION_CAUTIONS {
        let _ = writeln!(talk, "{caution}");
    }
    let _ = writeln!(talk, "\n{}", bench.introduction());
    let channel = bench.channel().to_owned();
    let mut lines = std::io::stdin().lines();
    let mut dialogue = Dialogue { values, fit: args.fit, reference: args.reference.as_deref(), file };
    let taken = dialogue.run(&mut lines, &mut talk, &mut bench)?;
    Ok((channel, taken.ok_or_else(|| CommandError::failed("given up; nothing was changed"))?))
}

/// Prints everything, and changes the description if that was asked for. What was measured is printed even
/// if the description cannot be written.
fn finish(
    args: &CalibrateArgs,
    change: Option<Change>,
    channel: &str,
    report: &CalibrationReport,
) -> Result<Done, CommandError> {
    let date = args.date.unwrap_or_else(|| jiff::ZonedDateTime::now().date()).to_string();
    let before = change.as_ref().and_then(|change| change.sensor(channel));
    let limits = before.and_then(|sensor: &Sensor| sensor.count_limits);
    let sensor = report.to_sensor(channel, &date, limits);
    let entry = sensor.to_toml_entry();
    let mut done = Done::report(if args.json {
        output::json(&Calibrated { channel, date: &date, report, sensor_toml: &entry })?
    } else {
        let for_hand = if change.is_some() { String::new() } else { format!("\nfor plow.toml:\n\n{entry}") };
        format!("channel \"{channel}\", {date}\n{}{for_hand}", report.text())
    });
    let Some(change) = change else { return Ok(done) };
    done.remarks.extend(change.says(&sensor));
    let absurd = report.absurdities();
    if !args.update {
        done.remarks
            .push(format!("nothing was changed; --update puts this into the description:\n\n{entry}"));
    } else if !args.accept && !absurd.is_empty() {
        done.unsound = true;
        done.remarks.push(format!(
            "hitchwright: nothing was changed: the calibration has {}; check the values typed, their unit, and that \
             nothing but the load moves the sensor, and take it again; if it is to be used as it is, --accept puts \
             it in. The entry is:\n\n{entry}",
            absurd.join(" and ")
        ));
    } else {
        match change.write(&sensor) {
            Ok(kept) => done.remarks.push(kept),
            Err(error) => {
                done.unsound = true;
                done.remarks.push(format!("hitchwright: {error}; the entry is:\n\n{entry}"));
            }
        }
    }
    Ok(done)
}
