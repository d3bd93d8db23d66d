//! `summary RUN... --csv`: runs as one table, a row each, of the figures of `summary --json`; behind them the user's own
//! columns that any run has.

use super::output::CommandError;
use super::schema::{has_interval, schema_for};
use crate::summary::{OwnFigures, Summary};
use serde_json::Value;
use std::collections::BTreeSet;
use std::path::Path;

/// What stands in the columns, by its place in the JSON; a figure has its interval in two columns more. A new one goes to
/// the end, so that scripts which go by the number of a column stay right.
const COLUMNS: &[&str] = &[
    "run/id",
    "run/started",
    "run/plow",
    "run/setting",
    "run/plow_hole",
    "run/tractor_hole",
    "run/field",
    "run/soil",
    "run/share",
    "run/note",
    "run/state",
    "working_part/from_s",
    "working_part/to_s",
    "quality/rate_hz",
    "quality/readings",
    "quality/gaps",
    "quality/missing_share",
    "verdict/class",
    "verdict/firm",
    "verdict/contradicted",
    "verdict/chances/too_flat",
    "verdict/chances/leaning_flat",
    "verdict/chances/balanced",
    "verdict/chances/leaning_steep",
    "verdict/chances/too_steep",
    "pull/mean_n",
    "pull/sd_n",
    "pull/p5_n",
    "pull/p95_n",
    "depth/mean_mm",
    "depth/sd_mm",
    "depth/variance_mm2",
    "depth/p5_mm",
    "depth/p95_mm",
    "depth/drift_mm_per_min",
    "judged_by",
    "tail_load/static_n",
    "tail_load/mean_n",
    "tail_load/sd_n",
    "tail_load/cv",
    "tail_load/lifted_share",
    "tail_load/longest_lift_s",
    "front_load/static_n",
    "front_load/mean_n",
    "front_load/sd_n",
    "front_load/cv",
    "front_load/lifted_share",
    "front_load/longest_lift_s",
    "top_link/mean_n",
    "top_link/sd_n",
    "bobbing/frequency_hz",
    "bobbing/rms_n",
    "bobbing/damping_ratio",
    "pull_to_tail/gain_n_per_n",
    "pull_to_tail/coherence",
    "statics/balance_index",
    "statics/soil_slope",
    "statics/pull_line_offset_mm",
    "statics/wheel_load_at_m",
    "statics/tail_share",
    "statics/front_load_n",
    "statics/expected_gain_n_per_n",
    "draft/draft_n",
    "draft/specific_draft_n_per_cm2",
    "draft/drawbar_power_w",
    "draft/soil_class",
    "travel/mean_mps",
    "travel/distance_m",
];

/// A column: its place in the JSON, and whether it is a figure with an interval.
struct Column {
    path: &'static str,
    has_interval: bool,
}

/// Runs as a table.
pub(super) struct Table {
    columns: Vec<Column>,
    rows: Vec<Row>,
}

/// A run: its cells, and the figures of the user's own columns.
struct Row {
    cells: Vec<String>,
    own: Vec<OwnFigures>,
}

impl Table {
    pub(super) fn new() -> Self {
        let schema = schema_for::<Summary>();
        let column = |path: &&'static str| Some(Column { path, has_interval: has_interval(&schema, path)? });
        Self { columns: COLUMNS.iter().filter_map(column).collect(), rows: Vec::new() }
    }

    /// Adds a run; one that cannot be analyzed has its folder alone.
    pub(super) fn add(&mut self, folder: &Path, summary: Option<&Summary>) -> Result<(), CommandError> {
        let own = summary.map(|summary| summary.own_columns.clone()).unwrap_or_default();
        let summary = summary.map(serde_json::to_value).transpose()?.unwrap_or_default();
        let cells = self.columns.iter().flat_map(|Column { path, has_interval }| {
            let found = summary.pointer(&format!("/{path}")).unwrap_or(&Value::Null);
            let inside: &[&str] = if *has_interval { &["value", "low", "high"] } else { &[""] };
            inside.iter().map(move |key| {
                cell(found.get(key).unwrap_or(if *has_interval { &Value::Null } else { found }))
            })
        });
        let cells = std::iter::once(folder.display().to_string()).chain(cells).collect();
        self.rows.push(Row { cells, own });
        Ok(())
    }

    /// The names of the columns: keys of the JSON, joined, so that each ends in its unit; of the user's own, its column with
    /// what it is of it.
    fn names(&self, own: &BTreeSet<&str>) -> Vec<String> {
        let of_columns = self.columns.iter().flat_map(|Column { path, has_interval }| {
            let name = path.replace('/', "_");
            let ends = [format!("{name}_low"), format!("{name}_high")];
            std::iter::once(name).chain(ends.into_iter().filter(|_| *has_interval))
        });
        let of_own = own.iter().flat_map(|own| ["mean", "sd", "unit"].map(|what| format!("{own}_{what}")));
        std::iter::once("folder".to_owned()).chain(of_columns).chain(of_own).collect()
    }

    /// The file.
    pub(super) fn into_text(self) -> Result<String, CommandError> {
        let own = self.rows.iter().flat_map(|row| &row.own);
        let own: BTreeSet<&str> = own.map(|own| own.column.as_str()).collect();
        let mut csv = csv::Writer::from_writer(Vec::new());
        csv.write_record(self.names(&own))?;
        for row in &self.rows {
            let figures = own.iter().flat_map(|wanted| {
                let found = row.own.iter().find(|own| own.column == *wanted);
                let number = |of: Option<f64>| of.map(|number| number.to_string()).unwrap_or_default();
                found
                    .map_or_else(Default::default, |own| [number(own.mean), number(own.sd), own.unit.clone()])
            });
            csv.write_record(row.cells.iter().cloned().chain(figures))?;
        }
        let bytes = csv.into_inner().map_err(|error| CommandError::failed(error.to_string()))?;
        Ok(String::from_utf8(bytes)?)
    }
}

/// As JSON writes it; what is not known is empty.
fn cell(value: &Value) -> String {
    match value {
        Value::Null => String::new(),
        Value::String(text) => text.clone(),
        other => other.to_string(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_column_is_a_key_of_the_summary() {
        let schema = schema_for::<Summary>();
        let unknown = COLUMNS.iter().filter(|path| has_interval(&schema, path).is_none());
        assert_eq!(unknown.collect::<Vec<_>>(), [&""; 0]);
    }

    /// Its cells are as many as the names.
    #[test]
    fn a_run_that_cannot_be_analyzed_has_its_folder_alone() {
        let mut table = Table::new();
        table.add(Path::new("runs/a, \"b\""), None).unwrap();
        let text = table.into_text().unwrap();
        let (names, row) = text.split_once('\n').unwrap();
        let empty = row.strip_prefix("\"runs/a, \"\"b\"\"\"").unwrap().trim_end();
        assert_eq!(empty, ",".repeat(names.matches(',').count()));
    }
}
