//! The estimate from several runs as text for a terminal.

use super::words::next_measurement::next_measurement;
use crate::report::units::{Units, signed_interval};
use ingest::plow::PartNames;
use ingest::safety::BEFORE_HANDS;
use statics::joint::{Joint, RunAnswer};
use std::fmt::Write;

/// The whole report; lines end with a newline.
pub fn joint_text(joint: &Joint, parts: &PartNames, units: Units) -> String {
    let mut out = String::new();
    // Writing to a string cannot fail, so the results are dropped.
    let _ = write_all(&mut out, joint, parts, units);
    out
}

fn write_all(out: &mut String, joint: &Joint, parts: &PartNames, units: Units) -> std::fmt::Result {
    let count = joint.runs.len();
    let runs = if count == 1 { "1 run".to_owned() } else { format!("{count} runs") };
    writeln!(
        out,
        "{runs} taken together: one plow, one soil that varies from pass to pass (95 % intervals)"
    )?;
    writeln!(out, "\n  soil slope               {}", signed_interval(&joint.soil_slope))?;
    let below = joint.soil_height.si().scaled(-1.0);
    writeln!(out, "  soil acts below the land {}", units.height_interval(&below))?;
    for run in &joint.runs {
        writeln!(out, "\n{}, setting {}", run.run, run.setting)?;
        writeln!(out, "  {:<18} {:<32} line of pull above steady point", "", "balance index")?;
        row(out, "all runs", &run.together, units)?;
        match &run.alone {
            Some(alone) => row(out, "this run alone", alone, units)?,
            None => writeln!(out, "  this run alone     contradicts itself; see its summary")?,
        }
    }
    if !joint.next_measurements.is_empty() {
        writeln!(out, "\nWhat would tighten the balance index of {} most\n  {BEFORE_HANDS}", joint.widest)?;
        for one in &joint.next_measurements {
            writeln!(out, "  {}", next_measurement(one, parts, units))?;
        }
    }
    writeln!(
        out,
        "\nReadings this far apart have a chance of {:.2} if plow and soil are as described; {:.0} effective \
         draws.",
        joint.probability, joint.effective_draws
    )
}

fn row(out: &mut String, name: &str, answer: &RunAnswer, units: Units) -> std::fmt::Result {
    writeln!(
        out,
        "  {name:<18} {:<32} {}",
        signed_interval(&answer.balance_index),
        units.height_interval(&answer.pull_line_offset.si())
    )
}
