//! Holds what a world left against what its boxes know.

use std::path::Path;

use firmware_protocol::Form;
use held::run_folder::{RunEvent, events_of, table_of};
use held::truth::{Fate, TrueRow, Truth};
use held::verify::{Verified, hold, is_of_box};
use ingest::rebuild::rebuild_from;
use ingest::recorder::RecordError;
use ingest::run_toml::RunDescription;

use crate::disk::{DiskFault, DiskTrouble};
use crate::plan::{BoxFault, BoxPlan, DRIFT_MAX_PPM, Ending, Plan};
use crate::sensor_box::SENSORS;
use crate::world::Left;

/// How far a row's time may be from the box's, in s: by pings, and by arrivals, besides the jitter of the line
/// and a ms of the simulation, whose clocks go in steps of one.
const TIME_ERROR_MAX_S: [f64; 2] = [0.003, 0.021];

/// A sleep is as long as the box says, at the rate that its pings showed before it; in a simulation that goes in steps of
/// 1 ms it takes a minute to be known as well as this. Before that it is what crystals are off by.
const RATE_ERROR_MAX: [f64; 2] = [50e-6, DRIFT_MAX_PPM * 1e-6];
const RATE_KNOWN_AFTER_S: f64 = 60.0;

/// What was seen in a world, or what is wrong with it.
#[derive(Clone, Copy, Debug, Default)]
pub struct Seen {
    pub rows_written: usize,
    pub rows_lost: usize,
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
    for file in &rebuilt.files {
        let on_disk = left.files.get(&file.name).ok_or(format!("no {}", file.name))?;
        // A power cut may leave more of the one than of the other.
        let whole = on_disk.iter().rposition(|byte| *byte == b'\n').map_or(0, |at| at + 1);
        let agree = if ended {
            *on_disk == file.bytes
        } else {
            on_disk[..whole].iter().zip(&file.bytes).all(|(a, b)| a == b)
        };
        if !agree {
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
            let before = |row: &&mut TrueRow| row.t_s < began_s + 1e-3 * box_plan.jitter_ms;
            truth.rows.iter_mut().take_while(before).for_each(|row| row.fate = Fate::Lost);
        }
        let error_max_s = TIME_ERROR_MAX_S[usize::from(!box_plan.answers)]
            + 1e-3 * box_plan.jitter_ms
            + sleep_error_max_s(plan, box_plan);
        let mut its_events = events.clone();
        its_events.retain(|event| is_of_box(event, &info.file));
        let Verified { rows_written, rows_lost, sent_after_last, .. } =
            hold(&table, &its_events, &truth, error_max_s).map_err(of_box)?;
        // What was on its way when the box was told to stop has to come, but for the last milliseconds of one that
        // hears nothing; a power cut costs a second.
        let unheard = if box_plan.answers { 0 } else { 1 + box_plan.rate_mhz as usize / 200_000 };
        if ended && sent_after_last > unheard {
            return Err(of_box(format!("{sent_after_last} rows were sent after the last one")));
        }
        if left.recorded.is_none() && plan.disk.is_empty() {
            let kept = truth.rows.iter().rposition(|row| row.fate == Fate::Sent);
            let last_s = kept.and_then(|at| truth.rows.get(at)).map_or(0.0, |row| row.t_s);
            let gone = truth.rows.iter().rev().take_while(|row| row.t_s > last_s - 1.0).count();
            if sent_after_last > gone {
                return Err(of_box(format!("a power cut took {sent_after_last} rows, more than a second's")));
            }
        }
        seen.rows_written += rows_written;
        seen.rows_lost += rows_lost;
    }
    // No crystal of these boxes is off by a thousandth, and a computer that slept is no crystal.
    if let Some(apart) = events.iter().find(|event| event.kind == "clocks-apart") {
        return Err(format!("said to run apart: {apart:?}"));
    }
    if ended {
        steps_are_written(plan, left, &events)?;
    }
    told(plan, left)?;
    Ok(seen)
}

/// A sentence whose number follows on nothing is held until the next: all that came of a boot, it is dropped as its
/// specification says.
fn may_be_dropped(boot: &mut [TrueRow]) {
    let mut sent = boot.iter_mut().filter(|row| row.fate == Fate::Sent);
    if let (Some(alone), None) = (sent.next(), sent.next()) {
        alone.fate = Fate::Lost;
    }
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

/// How long after `at_s` it is to be told that a box answers and brings no rows: once its patience is over, and it has
/// been heard to answer for half a second since then, or since its port was opened anew, which is told too.
fn answer_s(left: &Left, number: usize, at_s: f64, patience_s: f64) -> Option<f64> {
    let several = left.known.len() > 1;
    let name = if number == 0 { "plow: " } else { &format!("box-{number}: ") };
    let backs = left
        .notices
        .iter()
        .filter(|(_, line)| line.contains("port-back") && (!several || line.contains(name)));
    let from_s = backs.map(|(told_s, _)| *told_s).filter(|told_s| (at_s..at_s + patience_s).contains(told_s));
    let from_s = from_s.fold(at_s, f64::max);
    let mut words = left.known[number].words_s.iter().skip_while(|word_s| **word_s <= from_s);
    let first_s = *words.next()?;
    let word_s = words.find(|word_s| **word_s >= (first_s + 0.5).max(from_s + patience_s / 2.0))?;
    Some((from_s + patience_s).max(*word_s + 0.1) - at_s)
}

/// When the run began, if it did.
fn began_s(left: &Left) -> Option<f64> {
    left.notices.iter().find(|(_, line)| line == "began").map(|(at_s, _)| *at_s)
}

/// Steps of the wall clock of half a second and more, in time and out of each other's way.
fn steps_alone(plan: &Plan) -> impl Iterator<Item = (f64, f64)> {
    let steps = plan.steps();
    let others = steps.clone();
    steps.into_iter().filter(move |(at_s, by_s)| {
        let near = others.iter().filter(|(other_s, _)| (other_s - at_s).abs() < 0.3).count();
        by_s.abs() >= 0.5 && near == 1
    })
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

/// Each fault that costs rows was told to the person within its time.
fn told(plan: &Plan, left: &Left) -> Result<(), String> {
    let Some(began_s) = began_s(left) else { return Ok(()) };
    let is_told = |words: &str, from_s: f64, within_s: f64| {
        let is_over = from_s < began_s || from_s + within_s > plan.lasts_s - 0.5;
        let told = left.notices.iter().any(|(told_s, line)| {
            *told_s >= from_s - 0.2 && *told_s <= from_s + within_s && line.contains(words)
        });
        if is_over || told {
            Ok(())
        } else {
            Err(format!("not told as \"{words}\" within {within_s} s of {from_s:.1} s"))
        }
    };
    for (at_s, _) in steps_alone(plan) {
        is_told("clock-step", at_s, 0.5)?;
    }
    let sent_between = |from_s: f64, to_s: f64| {
        let mut rows = left.known.iter().flat_map(|known| &known.rows);
        rows.any(|row| row.fate == Fate::Sent && from_s <= row.host_s && row.host_s <= to_s)
    };
    for DiskTrouble { from_s, until_s, fault } in plan.disk.iter().copied() {
        let (within_s, words) = match fault {
            DiskFault::Full | DiskFault::SyncFails => (1.0, "the disk fails"),
            DiskFault::Stalls => (3.0, "the disk has not answered for"),
        };
        // A disk is not asked for anything while no box says anything.
        if until_s - from_s <= within_s || !sent_between(from_s, from_s + 0.25) {
            continue;
        }
        is_told(words, from_s, within_s)?;
        if from_s > began_s {
            is_told("the disk is well again", until_s, 1.0)?;
        }
    }
    for gone_s in &plan.folder_gone_s {
        // A disk that is busy or fails takes its time.
        if !plan.disk.iter().any(|trouble| trouble.from_s < gone_s + 2.0 && *gone_s < trouble.until_s + 1.0) {
            is_told("deleted or moved away", *gone_s, 1.0)?;
            is_told("the recording goes on in", *gone_s, 1.0)?;
        }
    }
    for (number, sensor_box) in plan.boxes.iter().enumerate() {
        let frame_s = 1e3 * sensor_box.rows_per_frame as f64 / f64::from(sensor_box.rate_mhz);
        let patience_s = f64::max(2.0, 1.0 + 3.5 * frame_s);
        for (at_s, fault) in &sensor_box.faults {
            let (within_s, words) = match fault {
                BoxFault::Unplugged(_) => (1.0, "port-gone"),
                BoxFault::Silent(for_s) if *for_s > 2.5 => (2.5, "port-gone"),
                // Rows that are seldom are missed later.
                BoxFault::NoRows(for_s) | BoxFault::WrongRows(for_s) => {
                    let Some(within_s) = answer_s(left, number, *at_s, patience_s) else { continue };
                    if within_s + 0.6 >= *for_s {
                        continue;
                    }
                    (within_s, "no-rows")
                }
                _ => continue,
            };
            // A sleep ends what lasts for a while, as the box's time goes on in it.
            if plan.sleeps.iter().any(|(sleep_s, _)| at_s - 1.0 < *sleep_s && *sleep_s < at_s + 12.0) {
                continue;
            }
            is_told(words, *at_s, within_s).map_err(|why| format!("{fault:?}: {why}"))?;
        }
    }
    Ok(())
}
