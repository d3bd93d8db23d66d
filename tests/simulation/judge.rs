//! Holds what a world left against what its boxes know.

use std::path::Path;

use firmware_protocol::Form;
use held::run_folder::{RunEvent, Table, events_of, table_of};
use held::truth::{Fate, TrueRow, Truth};
use held::verify::{Verified, hold, hold_rows, is_of_box};
use ingest::rebuild::rebuild_from;
use ingest::recorder::RecordError;
use ingest::run_toml::RunDescription;

use crate::disk::DiskFault;
use crate::fixes::fixes_hold;
use crate::plan::{BoxFault, BoxPlan, DRIFT_MAX_PPM, Ending, Plan};
use crate::repaired::{Repaired, repaired};
use crate::sensor_box::SENSORS;
use crate::told::{self, steps_alone, told};
use crate::world::Left;

/// How far a row's time may be from the box's, in s: by pings, and by arrivals, besides the jitter of the line
/// and a ms of the simulation, whose clocks go in steps of one.
pub const TIME_ERROR_MAX_S: [f64; 2] = [0.003, 0.021];

/// A row that was sampled so shortly before the run is its first, at 0, and those after it are late by as much; that is
/// worked off in seconds.
pub const START_SLACK_S: f64 = 0.005;

/// A sleep is as long as the box says, at the rate that its pings showed before it; in a simulation that goes in steps of
/// 1 ms it takes a minute to be known as well as this. Before that it is what crystals are off by.
const RATE_ERROR_MAX: [f64; 2] = [50e-6, DRIFT_MAX_PPM * 1e-6];
const RATE_KNOWN_AFTER_S: f64 = 60.0;

/// What was seen in a world, or what is wrong with it.
#[derive(Clone, Copy, Debug, Default)]
pub struct Seen {
    pub rows_written: usize,
    pub rows_lost: usize,
    /// Power cuts whose runs were repaired.
    pub repaired: usize,
    /// Rows of receivers.
    pub fixes: usize,
}

impl Seen {
    pub fn add(&mut self, other: Self) {
        self.rows_written += other.rows_written;
        self.rows_lost += other.rows_lost;
        self.repaired += other.repaired;
        self.fixes += other.fixes;
    }
}

pub fn judge(plan: &Plan, left: &Left) -> Result<Seen, String> {
    let ended = match &left.recorded {
        Some(Ok(_) | Err(RecordError::NoRows { .. })) => true,
        None | Some(Err(RecordError::Unwritten { .. })) => false,
        // Before the run began: nothing may be left.
        Some(Err(_)) if left.files.is_empty() => {
            return Ok(Seen::default());
        }
        Some(Err(error)) => return Err(format!("refused, but files are left: {error}")),
    };
    let Some(run_toml) = left.files.get("run.toml") else {
        return if plan.ending == Ending::PowerCut && left.files.is_empty() {
            Ok(Seen::default())
        } else {
            Err("no run.toml".to_owned())
        };
    };
    let text = String::from_utf8(run_toml.clone()).map_err(|error| error.to_string())?;
    let description: RunDescription = ingest::run_toml::read_run_toml_text(&text, "run.toml".as_ref())
        .map_err(|error| error.to_string())?;
    if let Some(Ok(recorded)) = &left.recorded
        && recorded.folder != left.folder
    {
        return Err(format!(
            "said to be in {}, but is in {}",
            recorded.folder.display(),
            left.folder.display()
        ));
    }
    if left.folder != Path::new(&description.run.id) {
        return Err(format!("{} has a run.toml of {}", left.folder.display(), description.run.id));
    }
    let wires: Vec<_> = description
        .wire_files()
        .into_iter()
        .map(|name| (name.clone().into(), left.files.get(&name).cloned().unwrap_or_default()))
        .collect();
    let rebuilt = rebuild_from(&description, None, &wires).map_err(|error| error.to_string())?;
    let mut seen = Seen::default();
    let text_of = |name: &str| {
        let file = rebuilt.files.iter().find(|file| file.name == name).ok_or(format!("no {name}"))?;
        String::from_utf8(file.bytes.clone()).map_err(|error| error.to_string())
    };
    if ended && left.is_unsynced && plan.disk.iter().all(|trouble| trouble.fault != DiskFault::Lies) {
        return Err("ended properly, and not all of it is on the disk".to_owned());
    }
    // A disk that said it had all of it may have lost some to a power cut after the end.
    let is_whole = ended && !left.is_cut;
    let repaired = if is_whole { None } else { Some(repaired(left, &description)?) };
    seen.repaired = usize::from(repaired.is_some());
    for file in rebuilt.files.iter().filter(|_| is_whole) {
        let on_disk = left.files.get(&file.name).ok_or(format!("no {}", file.name))?;
        if *on_disk != file.bytes {
            return Err(format!(
                "{}: {} bytes on the disk, {} rebuilt",
                file.name,
                on_disk.len(),
                file.bytes.len()
            ));
        }
    }
    let events = events_of(&text_of("events.csv")?)?;
    for (number, (info, known)) in description.boxes.iter().zip(&left.known).enumerate() {
        let of_box = |what: String| format!("{}.csv: {what}", info.file);
        let text = text_of(&format!("{}.csv", info.file))?;
        if text.is_empty() {
            continue;
        }
        let table = table_of(&text).map_err(of_box)?;
        let channels =
            left.channels[number].iter().map(|at| SENSORS[*at].channel.replace('-', "_")).collect();
        let mut truth = Truth { channels, rows: known.rows.clone() };
        let box_plan = &plan.boxes[number];
        if box_plan.form == Form::Text {
            truth.rows.chunk_by_mut(|a, b| a.boot == b.boot).for_each(may_be_dropped);
        }
        // What was sampled before the run is not part of it: a box that prints does so from power-up on, and one
        // that says no hello is told to start.
        if let Some(began_s) = began_s(left) {
            let before = |row: &&mut TrueRow| row.host_s < began_s + 1e-3 * box_plan.jitter_ms;
            truth.rows.iter_mut().take_while(before).for_each(|row| row.fate = Fate::Lost);
        }
        let error_max_s = TIME_ERROR_MAX_S[usize::from(!box_plan.answers)]
            + 1e-3 * box_plan.jitter_ms
            + sleep_error_max_s(plan, box_plan)
            + if begins_at_0(&table) { START_SLACK_S } else { 0.0 };
        let mut its_events = events.clone();
        its_events.retain(|event| is_of_box(event, &info.file));
        let Verified { rows_written, rows_lost, sent_after_last, .. } =
            hold(&table, &its_events, &truth, error_max_s).map_err(of_box)?;
        // What was on its way when the box was told to stop has to come, but for the last milliseconds of one that
        // hears nothing; a power cut costs a second.
        let unheard = if box_plan.answers { 0 } else { 1 + box_plan.rate_mhz as usize / 200_000 };
        if is_whole && sent_after_last > unheard {
            return Err(of_box(format!("{sent_after_last} rows were sent after the last one")));
        }
        if !is_whole && let Some(since_s) = lost_since_s(plan, left, &truth) {
            let gone = truth.rows.iter().rev().take_while(|row| row.host_s > since_s).count();
            if sent_after_last > gone {
                return Err(of_box(format!(
                    "a power cut took {sent_after_last} rows, more than the {gone} since {since_s:.1} s"
                )));
            }
        }
        if let Some(repaired) = &repaired {
            repaired_holds(repaired, &info.file, &text, &truth).map_err(of_box)?;
        }
        seen.rows_written += rows_written;
        seen.rows_lost += rows_lost;
    }
    if let (Some(receiver), Some(began_s)) = (&plan.receiver, began_s(left)) {
        // The last epoch is over with the next, and what a power cut takes was judged by the boxes.
        let slept_s: f64 =
            plan.sleeps.iter().filter(|(at_s, _)| *at_s <= left.until_s).map(|(_, for_s)| for_s).sum();
        let until_s = if is_whole { left.until_s + slept_s - 1.0 } else { 0.0 };
        let text = match &repaired {
            Some(repaired) => repaired.text_of("gnss.csv")?,
            None => text_of("gnss.csv")?,
        };
        if !text.is_empty() {
            let table = table_of(&text).map_err(|why| format!("gnss.csv: {why}"))?;
            seen.fixes = fixes_hold(plan, receiver, (began_s, until_s), &table, &left.epochs)
                .map_err(|why| format!("gnss.csv: {why}"))?;
        }
    }
    // No crystal of these boxes is off by a thousandth, and a computer that slept is no crystal.
    if let Some(apart) = events.iter().find(|event| event.kind == "clocks-apart") {
        return Err(format!("said to run apart: {apart:?}"));
    }
    if is_whole {
        steps_are_written(plan, left, &events)?;
    }
    if let Some(began_s) = began_s(left) {
        let Left { notices, known, epochs, .. } = left;
        let runs = vec![(began_s, plan.lasts_s)];
        told(plan, &told::Seen { notices, live_s: began_s, runs, known, epochs })?;
    }
    Ok(seen)
}

/// When the run began, if it did.
fn began_s(left: &Left) -> Option<f64> {
    left.notices.iter().find(|(_, line)| line == "began").map(|(at_s, _)| *at_s)
}

/// A sentence whose number follows on nothing is held until the next: all that came of a boot, it is dropped as its
/// specification says.
pub fn may_be_dropped(boot: &mut [TrueRow]) {
    let mut sent = boot.iter_mut().filter(|row| row.fate == Fate::Sent);
    if let (Some(alone), None) = (sent.next(), sent.next()) {
        alone.fate = Fate::Lost;
    }
}

/// Since when rows may be missing after a power cut, in s by the computer's clock: a second before, or before the disk
/// began to lie. Nobody knows where it failed besides.
fn lost_since_s(plan: &Plan, left: &Left, truth: &Truth) -> Option<f64> {
    if plan.disk.iter().any(|trouble| trouble.fault != DiskFault::Lies) || !plan.folder_gone_s.is_empty() {
        return None;
    }
    let last_sent = truth.rows.iter().rfind(|row| row.fate == Fate::Sent)?;
    let lies = plan.disk.iter().filter(|lie| lie.from_s < left.until_s && left.until_s < lie.until_s + 1.0);
    Some(lies.map(|lie| lie.from_s).fold(last_sent.host_s.min(left.until_s), f64::min) - 1.0)
}

/// The rows after a repair are those that the raw bytes prove, and perhaps more of the table's, each true.
pub fn repaired_holds(repaired: &Repaired, file: &str, proved: &str, truth: &Truth) -> Result<(), String> {
    let after = repaired.text_of(&format!("{file}.csv"))?;
    if after == proved {
        return Ok(());
    }
    let (after, proved) = (table_of(&after)?, table_of(proved)?);
    if after.rows.len() < proved.rows.len() {
        return Err(format!("{} rows after a repair of {}", after.rows.len(), proved.rows.len()));
    }
    hold_rows(&after, truth)
}

pub fn begins_at_0(table: &Table) -> bool {
    table.rows.first().and_then(|row| row.first()).is_some_and(|t_s| t_s.value == 0.0)
}

fn sleep_error_max_s(plan: &Plan, sensor_box: &BoxPlan) -> f64 {
    let boots =
        sensor_box.faults.iter().filter(|(_, fault)| *fault == BoxFault::Reset).map(|(at_s, _)| *at_s);
    let anew: Vec<f64> = boots.chain([0.0]).chain(plan.sleeps.iter().map(|(at_s, _)| *at_s)).collect();
    let error_s = |(at_s, for_s): &(f64, f64)| {
        let since_s = anew.iter().map(|anew_s| at_s - anew_s).filter(|since_s| *since_s > 0.0);
        let known = since_s.fold(f64::INFINITY, f64::min) > RATE_KNOWN_AFTER_S;
        for_s * RATE_ERROR_MAX[usize::from(!known)]
    };
    plan.sleeps.iter().map(error_s).sum()
}

/// Each of them is an event of its size.
fn steps_are_written(plan: &Plan, left: &Left, events: &[RunEvent]) -> Result<(), String> {
    let Some(began_s) = began_s(left) else { return Ok(()) };
    let written: Vec<f64> = events
        .iter()
        .filter(|event| event.kind == "clock-step")
        .filter_map(|event| event.detail.split_once("step_s=")?.1.parse().ok())
        .collect();
    for (at_s, by_s) in steps_alone(plan).filter(|(at_s, _)| *at_s > began_s && *at_s + 0.5 < plan.lasts_s) {
        if !written.iter().any(|step_s| (step_s - by_s).abs() < 0.01) {
            return Err(format!("a step by {by_s:.3} s at {at_s:.1} s, but events are {written:?}"));
        }
    }
    Ok(())
}
