//! Whether the person was told of each fault that costs rows, within its time.

use held::truth::Fate;
use ingest::run_event::EventKind;

use crate::disk::{DiskFault, DiskTrouble};
use crate::plan::{BoxFault, Plan, ReceiverFault};
use crate::receiver::Came;
use crate::world::Left;

/// When the run began, if it did.
pub fn began_s(left: &Left) -> Option<f64> {
    left.notices.iter().find(|(_, line)| line == "began").map(|(at_s, _)| *at_s)
}

/// Steps of the wall clock of half a second and more, in time and out of each other's way.
pub fn steps_alone(plan: &Plan) -> impl Iterator<Item = (f64, f64)> {
    let steps = plan.steps();
    let others = steps.clone();
    steps.into_iter().filter(move |(at_s, by_s)| {
        let near = others.iter().filter(|(other_s, _)| (other_s - at_s).abs() < 0.3).count();
        by_s.abs() >= 0.5 && near == 1
    })
}

/// Each fault that costs rows was told to the person within its time.
pub fn told(plan: &Plan, left: &Left) -> Result<(), String> {
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
        is_told(EventKind::ClockStep.in_words(), at_s, 0.5)?;
    }
    let sent_between = |from_s: f64, to_s: f64| {
        let mut rows = left.known.iter().flat_map(|known| &known.rows);
        rows.any(|row| row.fate == Fate::Sent && from_s <= row.host_s && row.host_s <= to_s)
    };
    for DiskTrouble { from_s, until_s, fault } in plan.disk.iter().copied() {
        let (within_s, words) = match fault {
            DiskFault::Lies => continue,
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
    receiver_told(plan, left, is_told)?;
    for (number, sensor_box) in plan.boxes.iter().enumerate() {
        let frame_s = 1e3 * sensor_box.rows_per_frame as f64 / f64::from(sensor_box.rate_mhz);
        let patience_s = f64::max(2.0, 1.0 + 3.5 * frame_s);
        for (at_s, fault) in &sensor_box.faults {
            let (within_s, words) = match fault {
                BoxFault::Unplugged(_) => (1.0, EventKind::PortGone.in_words()),
                BoxFault::Silent(for_s) if *for_s > 2.5 => (2.5, EventKind::PortGone.in_words()),
                // Rows that are seldom are missed later.
                BoxFault::NoRows(for_s) | BoxFault::WrongRows(for_s) => {
                    let Some(within_s) = answer_s(left, number, *at_s, patience_s) else { continue };
                    if within_s + 0.6 >= *for_s {
                        continue;
                    }
                    (within_s, EventKind::NoRows.in_words())
                }
                _ => continue,
            };
            // A sleep ends what lasts for a while, as the box's time goes on in it.
            if plan.sleeps.iter().any(|(sleep_s, _)| at_s - 1.0 < *sleep_s && *sleep_s < at_s + 12.0) {
                continue;
            }
            // Rows that a bad line took before have been told, and are still missing.
            if words == EventKind::NoRows.in_words() && misses_rows(left, number, *at_s) {
                continue;
            }
            is_told(words, *at_s, within_s).map_err(|why| format!("{fault:?}: {why}"))?;
        }
    }
    Ok(())
}

/// Whether it was told before that a box brings no rows, and not yet that they are back.
fn misses_rows(left: &Left, number: usize, at_s: f64) -> bool {
    let mut last =
        left.notices.iter().rev().filter(|(told_s, line)| *told_s < at_s && is_of(left, number, line));
    last.find_map(|(_, line)| match line {
        line if line.contains(EventKind::NoRows.in_words()) => Some(true),
        line if line.contains(EventKind::RowsBack.in_words()) => Some(false),
        _ => None,
    })
    .unwrap_or(false)
}

/// Whether a line is of this box.
fn is_of(left: &Left, number: usize, line: &str) -> bool {
    let name = if number == 0 { "plow: " } else { &format!("box-{number}: ") };
    left.known.len() == 1 || line.contains(name)
}

/// The same of the receiver.
fn receiver_told(
    plan: &Plan,
    left: &Left,
    is_told: impl Fn(&str, f64, f64) -> Result<(), String>,
) -> Result<(), String> {
    let Some(receiver) = &plan.receiver else { return Ok(()) };
    for (at_s, fault) in &receiver.faults {
        let is_near = |other_s: f64| at_s - 14.0 < other_s && other_s < at_s + 14.0;
        // What is over another, or sleeps, is told later or not at all.
        if receiver.faults.iter().filter(|(other_s, _)| is_near(*other_s)).count() > 1
            || plan.sleeps.iter().any(|(sleep_s, _)| is_near(*sleep_s))
        {
            continue;
        }
        let (within_s, words) = match fault {
            ReceiverFault::Unplugged(_) => (1.0, EventKind::PortGone),
            ReceiverFault::Silent(for_s) if *for_s > 6.5 => (6.5, EventKind::PortGone),
            ReceiverFault::NoFix(for_s) => {
                // An epoch is over with the next.
                let slept = plan.sleeps.iter().filter(|(sleep_s, _)| sleep_s < at_s);
                let slept_s: f64 = slept.map(|(_, for_s)| for_s).sum();
                let mut without = left.epochs.iter().filter(|epoch| {
                    (*at_s..at_s + for_s).contains(&(epoch.t_s - slept_s))
                        && epoch.came == Came::Whole
                        && !epoch.has_fix
                });
                let Some(over) = without.nth(1) else { continue };
                (over.t_s - slept_s - at_s + 0.3, EventKind::NoFix)
            }
            _ => continue,
        };
        let words = format!("gnss: {}", words.in_words());
        is_told(&words, *at_s, within_s).map_err(|why| format!("{fault:?}: {why}"))?;
    }
    Ok(())
}

/// How long after `at_s` it is to be told that a box answers and brings no rows: once its patience is over, and it has
/// been heard to answer for half a second since then, or since its port was opened anew, which is told too.
fn answer_s(left: &Left, number: usize, at_s: f64, patience_s: f64) -> Option<f64> {
    let backs = left
        .notices
        .iter()
        .filter(|(_, line)| line.contains(EventKind::PortBack.in_words()) && is_of(left, number, line));
    let from_s = backs.map(|(told_s, _)| *told_s).filter(|told_s| (at_s..at_s + patience_s).contains(told_s));
    let from_s = from_s.fold(at_s, f64::max);
    let mut words = left.known[number].words_s.iter().skip_while(|word_s| **word_s <= from_s);
    let first_s = *words.next()?;
    let word_s = words.find(|word_s| **word_s >= (first_s + 0.5).max(from_s + patience_s / 2.0))?;
    Some((from_s + patience_s).max(*word_s + 0.1) - at_s)
}
