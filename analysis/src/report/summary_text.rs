//! A summary for the terminal.

use super::columns::{indented, text};
use super::figure_rows::figure_rows;
use super::words::calibration;
use super::words::causes::causes_text;
use super::words::draft::draft_remarks;
use super::words::headline::{Large, advice_lines};
use super::words::inputs::next_measurement;
use super::words::notices::run_notices;
use super::words::own;
use super::words::run::{INTERVALS_ARE_OF, bobbing_notes, travel_line, wheel_turn};
use super::words::verdict::reasons;
use crate::report::units::Units;
use crate::summary::Summary;
use ingest::plow::Plow;
use ingest::safety::BEFORE_HANDS;
use page::content::FigureRow;

/// The text of a summary, with its line ends.
pub fn summary_text(summary: &Summary, plow: &Plow, units: Units) -> String {
    let (run, part, quality) = (&summary.run, summary.working_part, &summary.quality);
    let large = Large::of_run(plow, &summary.verdict, &summary.advice);
    let beside = large.beside(&summary.verdict, plow).map(|other| format!(", {other}")).unwrap_or_default();
    let mut lines = vec![
        format!("{}: {}, setting {}", run.id, run.plow, run.setting),
        format!(
            "working part {:.1} s to {:.1} s of the run, {} rows at {:.1} Hz",
            part.from_s, part.to_s, quality.readings, quality.rate_hz
        ),
        format!("\nverdict: {}{beside}", large.line()),
    ];
    lines.extend(indented(large.neighbor.into_iter().chain(reasons(&summary.verdict, plow, units))));
    lines.push("\nwhat to do".to_owned());
    lines.extend(indented(advice_lines(&summary.advice, plow, units)));
    lines.push(String::new());
    lines.extend(causes_text(summary, plow, units));
    if !summary.next_measurements.is_empty() {
        lines.push(format!("\nwhat would tighten the balance index\n  {BEFORE_HANDS}"));
        let parts = plow.part_names();
        let next = summary.next_measurements.iter().map(|one| next_measurement(one, &parts, units));
        lines.extend(indented(next));
    }
    lines.push("\nfigures, each with its 95 % interval".to_owned());
    lines.push(format!("  {INTERVALS_ARE_OF}"));
    lines.extend(indented(figure_rows(summary, units).iter().map(figure_line)));
    lines.extend(bobbing_notes(summary).map(|notes| format!("  bobbing: {notes}")));
    lines
        .extend(indented(travel_line(summary).into_iter().chain(summary.wheel_turns.iter().map(wheel_turn))));
    let draft = summary.draft.iter().flat_map(|draft| draft_remarks(draft, units));
    lines.extend(draft.map(|remark| format!("  draft: {remark}")));
    let mut readings = run_notices(summary, plow, units);
    readings.extend(calibration::remarks(&summary.calibration, units));
    if !readings.is_empty() {
        lines.push("\nreadings".to_owned());
        lines.extend(indented(readings));
    }
    if !summary.own_columns.is_empty() {
        lines.push(format!("\n{}", own::HEADING));
        lines.extend(indented(summary.own_columns.iter().map(own::own_line)));
    }
    text(lines)
}

fn figure_line(row: &FigureRow) -> String {
    let unit = if row.unit.is_empty() { String::new() } else { format!(" {}", row.unit) };
    let interval = if row.interval.is_empty() { String::new() } else { format!("  ({})", row.interval) };
    format!("{:<24}{:>10}{unit}{interval}", row.name, row.value)
}
