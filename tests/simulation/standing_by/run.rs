//! Holds one run of a recorder that stands by against what the boxes know.

use std::path::{Path, PathBuf};

use firmware_protocol::Form;
use held::run_folder::{RunEvent, events_of, table_of};
use held::truth::{Fate, TrueRow, Truth};
use held::verify::{hold, is_of_box};
use ingest::rebuild::rebuild_from;
use ingest::run_toml::{RunDescription, read_run_toml_text};
use ingest::wire_file::{Record, WireEvent, WireReader};

use super::plan::Stand;
use super::world::{Ended, Left, RunLeft};
use crate::disk::DiskFault;
use crate::fixes::fixes_hold;
use crate::judge::{START_SLACK_S, TIME_ERROR_MAX_S, begins_at_0, may_be_dropped, repaired_holds};
use crate::plan::{DRIFT_MAX_PPM, Plan};
use crate::repaired::repaired_of;
use crate::sensor_box::SENSORS;
use crate::told::steps_alone;
use crate::world::wall_clock_at;

/// The clock of the simulation goes in steps of so many s.
const STEP_S: f64 = 0.001;

/// What was seen of a run.
#[derive(Clone, Copy, Debug)]
pub struct SeenRun {
    /// Its time 0, in s; `None` where that was never on the disk.
    pub began_s: Option<f64>,
    /// When it ended, in s; `None` of one that was cut off.
    pub ended_s: Option<f64>,
    pub rows: usize,
    pub rows_lost: usize,
    pub is_repaired: bool,
}

/// Holds a run against what the boxes know. It may begin from `earliest_s` on.
pub fn judge_run(
    stand: &Stand,
    left: &Left,
    run: &RunLeft,
    (ended, earliest_s): (Option<&Ended>, f64),
) -> Result<SeenRun, String> {
    let plan = &stand.plan;
    let run_toml = run.files.get("run.toml").ok_or("no run.toml")?;
    let text = String::from_utf8(run_toml.clone()).map_err(|error| error.to_string())?;
    let description = read_run_toml_text(&text, "run.toml".as_ref()).map_err(|error| error.to_string())?;
    if run.folder != Path::new(&description.run.id) {
        return Err(format!("{} has a run.toml of {}", run.folder.display(), description.run.id));
    }
    let wires: Vec<_> = description
        .wire_files()
        .into_iter()
        .map(|name| (PathBuf::from(&name), run.files.get(&name).cloned().unwrap_or_default()))
        .collect();
    let rebuilt = rebuild_from(&description, None, &wires).map_err(|error| error.to_string())?;
    let text_of = |name: &str| {
        let file = rebuilt.files.iter().find(|file| file.name == name).ok_or(format!("no {name}"))?;
        String::from_utf8(file.bytes.clone()).map_err(|error| error.to_string())
    };
    let has_ended = matches!(ended, Some(Ended::Whole | Ended::WithoutRows));
    if has_ended && run.is_unsynced && plan.disk.iter().all(|trouble| trouble.fault != DiskFault::Lies) {
        return Err("ended properly, and not all of it is on the disk".to_owned());
    }
    let is_whole = has_ended && !run.is_cut;
    if let Some(file) =
        rebuilt.files.iter().find(|file| is_whole && run.files.get(&file.name) != Some(&file.bytes))
    {
        return Err(format!("{} is not what its raw bytes give", file.name));
    }
    let repaired = if is_whole { None } else { Some(repaired_of(&run.files, run.is_cut, &description)?) };
    let records: Vec<_> =
        wires.first().map(|(_, bytes)| WireReader::new(bytes).collect()).unwrap_or_default();
    let time_of = |is_it: fn(&WireEvent) -> bool| {
        let found = records.iter().find(|record: &&Record| is_it(&record.what));
        found.map(|record| record.host_us as f64 / 1e6)
    };
    let Some(began_s) = time_of(|what| *what == WireEvent::Started).filter(|_| !records.is_empty()) else {
        // The beginning was never on the disk.
        return match is_whole {
            true => Err("it never began".to_owned()),
            false => Ok(SeenRun { began_s: None, ended_s: None, rows: 0, rows_lost: 0, is_repaired: true }),
        };
    };
    let ended_s = time_of(|what| matches!(what, WireEvent::Ended(_)));
    if is_whole && ended_s.is_none() {
        return Err("it never ended".to_owned());
    }
    if began_s < earliest_s {
        return Err(format!("it begins at {began_s}, in the run before, which ends at {earliest_s}"));
    }
    started_is_right(plan, &description, began_s)?;
    let events = events_of(&text_of("events.csv")?)?;
    let marks = events.iter().filter(|event| event.kind == "mark" && event.detail.contains("host")).count();
    if marks > 1 + plan.passes.len() {
        return Err(format!("{marks} marks of the person"));
    }
    let never = ["not-kept", "box-dropped", "clocks-apart"];
    if let Some(event) = events.iter().find(|event| never.contains(&event.kind.as_str())) {
        return Err(format!("nothing of the kind: {event:?}"));
    }
    if let Some(ended_s) = ended_s.filter(|_| is_whole) {
        steps_are_written(plan, &events, (began_s, ended_s))?;
    }
    let (mut rows, mut rows_lost) = (0, 0);
    for (number, (info, known)) in description.boxes.iter().zip(&left.known).enumerate() {
        let of_box = |what: String| format!("{}.csv: {what}", info.file);
        let text = text_of(&format!("{}.csv", info.file))?;
        if text.is_empty() {
            continue;
        }
        let table = table_of(&text).map_err(of_box)?;
        let channels =
            left.channels[number].iter().map(|at| SENSORS[*at].channel.replace('-', "_")).collect();
        let own = &plan.boxes[number];
        let mut all = known.rows.clone();
        if own.form == Form::Text {
            all.chunk_by_mut(|a, b| a.boot == b.boot).for_each(may_be_dropped);
        }
        // What was sampled well before the run is none of it.
        let long_before = all.iter().take_while(|row| row.host_s <= began_s - 1.0).count();
        let mut truth = Truth { channels, rows: all.split_off(long_before) };
        let error_s = TIME_ERROR_MAX_S[usize::from(!own.answers)]
            + 1e-3 * own.jitter_ms
            + sleep_error_max_s(plan, began_s);
        let may_be_before = |row: &&mut TrueRow| row.host_s < began_s + error_s + START_SLACK_S + STEP_S;
        truth.rows.iter_mut().take_while(may_be_before).for_each(|row| row.fate = Fate::Lost);
        let mut its_events = events.clone();
        its_events.retain(|event| is_of_box(event, &info.file));
        let late_s = if begins_at_0(&table) { START_SLACK_S } else { 0.0 };
        let verified = hold(&table, &its_events, &truth, error_s + late_s).map_err(of_box)?;
        // What was sampled well before the end and sent has to be there; a power cut costs a second.
        let frame_s = (1 + own.rows_per_frame) as f64 * 1e3 / f64::from(own.rate_mhz);
        let due_s =
            ended_s.filter(|_| is_whole).map(|ended_s| ended_s - frame_s - 0.05 - 1e-3 * own.jitter_ms);
        let after =
            truth.rows.iter().rev().filter(|row| row.fate == Fate::Sent).take(verified.sent_after_last);
        if let Some(row) = after.into_iter().find(|row| due_s.is_some_and(|due_s| row.host_s < due_s)) {
            return Err(of_box(format!(
                "a row of {:.3} s is missing before the end at {ended_s:?} s",
                row.host_s
            )));
        }
        if let Some(repaired) = &repaired {
            repaired_holds(repaired, &info.file, &text, &truth).map_err(of_box)?;
        }
        rows += verified.rows_written;
        rows_lost += verified.rows_lost;
    }
    if let Some(receiver) = &plan.receiver {
        let text = match &repaired {
            Some(repaired) => repaired.text_of("gnss.csv")?,
            None => text_of("gnss.csv")?,
        };
        // The last epoch is over with the next, and what a power cut takes was judged by the boxes.
        let own_s = |host_s: f64| {
            host_s
                + plan.sleeps.iter().filter(|(at_s, _)| *at_s <= host_s).map(|(_, for_s)| for_s).sum::<f64>()
        };
        let until_s = ended_s.filter(|_| is_whole).map_or(0.0, |ended_s| own_s(ended_s) - 1.0);
        // Without any raw bytes, a table without a whole line is said to be beyond repair.
        if !text_of("gnss.csv")?.is_empty() {
            let table = table_of(&text).map_err(|why| format!("gnss.csv: {why}"))?;
            let fixes = fixes_hold(plan, receiver, (own_s(began_s), until_s), &table, &left.epochs);
            fixes.map_err(|why| format!("gnss.csv: {why}"))?;
        }
    }
    Ok(SeenRun { began_s: Some(began_s), ended_s, rows, rows_lost, is_repaired: repaired.is_some() })
}

/// The run says when its time 0 was by the wall clock, as that stood at some moment in the seconds after.
fn started_is_right(plan: &Plan, description: &RunDescription, began_s: f64) -> Result<(), String> {
    let steps = plan.steps();
    let asked_s = steps.iter().map(|(at_s, _)| *at_s).filter(|at_s| *at_s > began_s).chain([began_s]);
    let mut started = asked_s.map(|asked_s| {
        let by_then = steps.iter().copied().filter(|(at_s, _)| *at_s <= asked_s);
        let steps: Vec<_> = by_then.map(|(_, by_s)| (0.0, by_s)).collect();
        let zero = wall_clock_at(began_s, &steps).to_zoned_datetime(jiff::tz::TimeZone::system());
        zero.strftime("%Y-%m-%dT%H:%M:%S%:z").to_string()
    });
    if started.any(|started| started == description.run.started) {
        return Ok(());
    }
    Err(format!("it says that it started {}, its time 0 is {began_s} s", description.run.started))
}

/// Steps of the wall clock while the run lasted are events of their size.
fn steps_are_written(plan: &Plan, events: &[RunEvent], (began_s, ended_s): (f64, f64)) -> Result<(), String> {
    let written: Vec<f64> = events
        .iter()
        .filter(|event| event.kind == "clock-step")
        .filter_map(|event| event.detail.split_once("step_s=")?.1.parse().ok())
        .collect();
    let mut in_run = steps_alone(plan).filter(|(at_s, _)| *at_s > began_s && *at_s + 0.5 < ended_s);
    match in_run.find(|(_, by_s)| !written.iter().any(|step_s| (step_s - by_s).abs() < 0.01)) {
        Some((at_s, by_s)) => {
            Err(format!("a step by {by_s:.3} s at {at_s:.1} s, but events are {written:?}"))
        }
        None => Ok(()),
    }
}

/// A sleep is as long as the box says, whose crystal may be off, and may not be known yet.
fn sleep_error_max_s(plan: &Plan, began_s: f64) -> f64 {
    let in_run = plan.sleeps.iter().filter(|(at_s, _)| *at_s > began_s - 1.0);
    in_run.map(|(_, for_s)| for_s * DRIFT_MAX_PPM * 1e-6).sum()
}
