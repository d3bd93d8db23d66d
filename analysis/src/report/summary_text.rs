//! A summary for the terminal.

use super::figure_rows::figure_rows;
use super::words::bobbing::bobbing_notes;
use super::words::calibration;
use super::words::causes::causes_text;
use super::words::draft::draft_remarks;
use super::words::headline::{Large, advice_lines};
use super::words::next_measurement::next_measurement;
use super::words::notices::run_notices;
use super::words::run::{INTERVALS_ARE_OF, travel_line, wheel_turn};
use super::words::verdict::reasons;
use crate::report::units::Units;
use crate::summary::Summary;
use ingest::plow::Plow;
use ingest::safety::BEFORE_HANDS;
use std::fmt::Write;

/// The text of a summary, with its line ends.
pub fn summary_text(summary: &Summary, plow: &Plow, units: Units) -> String {
    let mut text = String::new();
    // Writing to a String cannot fail; the results are dropped for that reason.
    let run = &summary.run;
    let part = summary.working_part;
    let _ = writeln!(text, "{}: {}, setting {}", run.id, run.plow, run.setting);
    let _ = writeln!(
        text,
        "working part {:.1} s to {:.1} s of the run, {} rows at {:.1} Hz",
        part.from_s, part.to_s, summary.quality.readings, summary.quality.rate_hz
    );
    let large = Large::of_run(plow, &summary.verdict, &summary.advice);
    let beside = large.beside(&summary.verdict, plow).map(|other| format!(", {other}")).unwrap_or_default();
    let _ = writeln!(text, "\nverdict: {}{beside}", large.line());
    if let Some(neighbor) = &large.neighbor {
        let _ = writeln!(text, "  {neighbor}");
    }
    for reason in reasons(&summary.verdict, plow, units) {
        let _ = writeln!(text, "  {reason}");
    }
    let _ = writeln!(text, "\nwhat to do");
    for line in advice_lines(&summary.advice, plow, units) {
        let _ = writeln!(text, "  {line}");
    }
    let _ = write!(text, "\n{}", causes_text(summary, plow, units));
    if !summary.next_measurements.is_empty() {
        let _ = writeln!(text, "\nwhat would tighten the balance index\n  {BEFORE_HANDS}");
        for one in &summary.next_measurements {
            let _ = writeln!(text, "  {}", next_measurement(one, &plow.part_names(), units));
        }
    }
    let _ = writeln!(text, "\nfigures, each with its 95 % interval");
    let _ = writeln!(text, "  {INTERVALS_ARE_OF}");
    for row in figure_rows(summary, units) {
        let unit = if row.unit.is_empty() { String::new() } else { format!(" {}", row.unit) };
        let interval = if row.interval.is_empty() { String::new() } else { format!("  ({})", row.interval) };
        let _ = writeln!(text, "  {:<24}{:>10}{unit}{interval}", row.name, row.value);
    }
    if let Some(notes) = bobbing_notes(summary) {
        let _ = writeln!(text, "  bobbing: {notes}");
    }
    if let Some(line) = travel_line(summary) {
        let _ = writeln!(text, "  {line}");
    }
    for turn in &summary.wheel_turns {
        let _ = writeln!(text, "  {}", wheel_turn(turn));
    }
    for remark in summary.draft.iter().flat_map(|draft| draft_remarks(draft, units)) {
        let _ = writeln!(text, "  draft: {remark}");
    }
    let mut readings = run_notices(summary, plow, units);
    readings.extend(calibration::remarks(&summary.calibration, units));
    if !readings.is_empty() {
        let _ = writeln!(text, "\nreadings");
        for notice in readings {
            let _ = writeln!(text, "  {notice}");
        }
    }
    text
}
