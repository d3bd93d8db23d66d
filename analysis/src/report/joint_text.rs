//! The estimate from several runs as text for a terminal.

use super::columns::{indented, row, text};
use super::words::counted;
use super::words::inputs::next_measurement;
use crate::report::units::{Units, signed_interval};
use ingest::plow::PartNames;
use ingest::safety::BEFORE_HANDS;
use statics::joint::{Joint, RunAnswer};

/// Widths of name and balance index.
const COLUMNS: [isize; 2] = [18, 32];

/// The whole report; lines end with a newline.
pub fn joint_text(joint: &Joint, parts: &PartNames, units: Units) -> String {
    let below = joint.soil_height.si().scaled(-1.0);
    let mut lines = vec![
        format!(
            "{} taken together: one plow, one soil that varies from pass to pass (95 % intervals)\n",
            counted(joint.runs.len(), "run", "runs")
        ),
        format!("  soil slope               {}", signed_interval(&joint.soil_slope)),
        format!("  soil acts below the land {}", units.height_interval(&below)),
    ];
    let answer = |name: &str, answer: &RunAnswer| {
        let offset = units.height_interval(&answer.pull_line_offset.si());
        row(&COLUMNS, &[&name, &signed_interval(&answer.balance_index), &offset])
    };
    for run in &joint.runs {
        lines.push(format!("\n{}, setting {}", run.run, run.setting));
        lines.extend(indented([
            row(&COLUMNS, &[&"", &"balance index", &"line of pull above steady point"]),
            answer("all runs", &run.together),
            run.alone.as_ref().map_or_else(
                || row(&COLUMNS, &[&"this run alone", &"contradicts itself; see its summary"]),
                |alone| answer("this run alone", alone),
            ),
        ]));
    }
    if !joint.next_measurements.is_empty() {
        lines.push(format!(
            "\nWhat would tighten the balance index of {} most\n  {BEFORE_HANDS}",
            joint.widest
        ));
        lines.extend(indented(joint.next_measurements.iter().map(|one| next_measurement(one, parts, units))));
    }
    lines.push(format!(
        "\nReadings this far apart have a chance of {:.2} if plow and soil are as described; {:.0} effective draws.",
        joint.probability, joint.effective_draws
    ));
    text(lines)
}
