//! Rows that the recorder counted and that a stored table no longer holds: cut out of it, at an end or between.

use super::csv::{Table, usual_step};
use ingest::assemble::{EventKind, RunEvent};
use ingest::run_toml::{BoxInfo, RunDescription};
use schemars::JsonSchema;
use serde::Serialize;

/// A step longer than this many usual ones is a hole.
const HOLE_STEPS: f64 = 1.5;
/// Rows by which a gap of the recorder's and the hole in the table may differ: it counts whole rows.
const SLACK_ROWS: f64 = 3.0;

/// What is missing from one table.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct MissingRows {
    /// Name of the table.
    pub file: String,
    /// Rows that the recorder counted.
    pub counted: u64,
    /// Rows that are there.
    pub there: u64,
    /// Where: the times in s of the rows before and after each hole that no event explains.
    pub holes_s: Vec<(f64, f64)>,
}

/// What is missing from each table of a run that was ended properly; of others nobody counted.
pub(super) fn missing_rows(
    description: &RunDescription,
    tables: &[Table],
    events: &[RunEvent],
) -> impl Iterator<Item = MissingRows> {
    let several = description.boxes.len() > 1;
    let of_box = move |(info, table): (&BoxInfo, &Table)| {
        let counted = info.counters?.rows;
        let there = table.t_s.len() as u64;
        if there >= counted || there == 0 {
            return None;
        }
        let of_box: Vec<&RunEvent> =
            events.iter().filter(|event| !several || is_of_box(&event.detail, &info.file)).collect();
        let holes_s = holes(&table.t_s, counted - there, &of_box, description.run.lasted_s);
        Some(MissingRows { file: format!("{}.csv", info.file), counted, there, holes_s })
    };
    description.boxes.iter().zip(tables).filter_map(of_box)
}

/// Whether a detail such as `box=tractor; column=pull_n` is of the box of this file; `false` if it names none.
pub(super) fn is_of_box(detail: &str, file: &str) -> bool {
    detail.strip_prefix("box=").is_some_and(|rest| rest.split("; ").next() == Some(file))
}

fn holes(t_s: &[f64], missing: u64, events: &[&RunEvent], lasted_s: Option<f64>) -> Vec<(f64, f64)> {
    let (Some(step_s), Some(first_s), Some(last_s)) =
        (usual_step(t_s), t_s.first().copied(), t_s.last().copied())
    else {
        return Vec::new();
    };
    let time = |event: &RunEvent| event.t_us as f64 / 1e6;
    let explained = |from: f64, to: f64| {
        let within = |event: &&&RunEvent| (from - step_s..=to + step_s).contains(&time(event));
        let mut gaps_s = 0.0;
        for event in events.iter().filter(within) {
            match event.kind {
                EventKind::Gap => {
                    let lasted_s = detail_of(event, "lasted_s=").and_then(|text| text.parse().ok());
                    gaps_s += lasted_s.unwrap_or(0.0);
                }
                EventKind::Reset
                | EventKind::Restart
                | EventKind::PortGone
                | EventKind::PortBack
                | EventKind::WithoutReadings => {
                    return true;
                }
                _ => {}
            }
        }
        to - from <= gaps_s + SLACK_ROWS * step_s && gaps_s > 0.0
    };
    let mut holes = Vec::new();
    let mut rows_in = |from: f64, to: f64| {
        holes.push((from, to));
        ((to - from) / step_s - 1.0).round().max(0.0)
    };
    let mut left = missing as f64;
    for pair in t_s.windows(2) {
        if pair[1] - pair[0] > HOLE_STEPS * step_s && !explained(pair[0], pair[1]) {
            left -= rows_in(pair[0], pair[1]);
        }
    }
    // What is not missing between is missing at an end: the first row is an event, the end is told.
    let began = events.iter().find(|event| event.kind == EventKind::FirstRow).map(|event| time(event));
    if let Some(began) = began.filter(|began| left >= 0.5 && first_s - began > 0.5 * step_s) {
        left -= rows_in(began - step_s, first_s);
        if let Some(hole) = holes.last_mut() {
            hole.0 = began;
        }
        holes.rotate_right(1);
    }
    if left >= 0.5 {
        let end_s = last_s + left * step_s;
        holes.push((last_s, lasted_s.map_or(end_s, |lasted_s| end_s.min(lasted_s.max(last_s + step_s)))));
    }
    holes
}

/// What follows `key` in the detail of an event, such as `rows=3; lasted_s=0.030000`.
pub(super) fn detail_of<'a>(event: &'a RunEvent, key: &str) -> Option<&'a str> {
    event.detail.split(';').find_map(|part| part.trim().strip_prefix(key))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::run::{Run, load_run};
    use std::path::{Path, PathBuf};

    /// The stored run, copied, with the lines of plow.csv that `keep` says by their number (the header is 0).
    fn cut(folder: &Path, keep: impl Fn(usize) -> bool) -> Run {
        let stored = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../sample-runs/runs/balanced");
        for file in std::fs::read_dir(stored).unwrap() {
            let from: PathBuf = file.unwrap().path();
            std::fs::copy(&from, folder.join(from.file_name().unwrap())).unwrap();
        }
        let path = folder.join("plow.csv");
        let text = std::fs::read_to_string(&path).unwrap();
        let kept: Vec<&str> =
            text.lines().enumerate().filter(|(at, _)| keep(*at)).map(|(_, line)| line).collect();
        std::fs::write(&path, kept.join("\n") + "\n").unwrap();
        load_run(folder).unwrap()
    }

    #[test]
    fn rows_cut_out_anywhere_are_counted_and_placed() {
        let folder = tempfile::tempdir().unwrap();
        assert_eq!(cut(folder.path(), |_| true).missing_rows().count(), 0);
        // 50 rows a second: line n is at (n - 1) / 50 s.
        for (from, to, between_s) in [
            (1001, 1751, (19.98, 35.0)),
            (3001, 3502, (59.98, 70.0)),
            (1, 101, (0.0, 2.0)),
            (1501, 1502, (29.98, 30.02)),
        ] {
            let run = cut(folder.path(), |at| !(from..to).contains(&at));
            let found: Vec<&MissingRows> = run.missing_rows().collect();
            assert_eq!(found.len(), 1, "{from}: {found:?}");
            assert_eq!(found[0].counted - found[0].there, (to - from) as u64, "{found:?}");
            let [(a, b)] = found[0].holes_s[..] else { panic!("{from}: {found:?}") };
            assert!((a - between_s.0).abs() < 0.011 && (b - between_s.1).abs() < 0.011, "{from}: {found:?}");
            assert_eq!(found[0].counted, 3501);
        }
    }

    /// A gap that the recorder knew of is no row missing from the file.
    #[test]
    fn a_gap_with_its_event_is_none_of_these() {
        let gap =
            RunEvent { t_us: 2_000_000, kind: EventKind::Gap, detail: "rows=50; lasted_s=1.0".to_owned() };
        let t_s: Vec<f64> = (0..50).chain(100..200).map(|i| f64::from(i) * 0.02).collect();
        assert_eq!(holes(&t_s, 10, &[&gap], Some(4.18)), [(3.98, 4.18)]);
        assert_eq!(holes(&t_s, 50, &[], None).len(), 1);
    }
}
