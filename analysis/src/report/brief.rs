//! A run or a comparison in the few lines that a phone has room for: the sentences of the whole report, fewer of them.
//! What says how sure it is, and the caution of an order, stay.

use super::columns::text;
use super::figure_rows::brief_rows;
use super::words::comparison::{
    Headline, IN_BRACKETS, headline, method_line, not_shown, shown_means, sides, warnings,
};
use super::words::headline::{Large, advice_lines};
use super::words::notices::{assumed, further, run_notices};
use super::words::verdict::brief_reasons;
use crate::compare::Comparison;
use crate::report::units::Units;
use crate::summary::Summary;
use ingest::plow::Plow;
use page::content::{FigureRow, VerdictLook};
use schemars::JsonSchema;
use serde::Serialize;

/// Notices that are told in full.
const NOTICES_TOLD: usize = 3;

/// The same in each unit system, so that what a program reads does not hang on its reader.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, JsonSchema)]
pub struct InBothUnits<T> {
    /// In mm, N and km/h.
    pub si: T,
    /// In in, lbf and mph.
    pub us: T,
}

impl<T> InBothUnits<T> {
    /// From what is told in one.
    pub fn of(told: impl Fn(Units) -> T) -> Self {
        Self { si: told(Units::Si), us: told(Units::Us) }
    }
}

/// A report in brief.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Brief {
    /// What it is of: run and setting, or both settings with their runs.
    pub of: String,
    /// The answer: the verdict in large letters with what else it may be, or which setting is better.
    pub headline: String,
    /// How a verdict is drawn, which says how far off and how sure it is; null for a comparison.
    pub look: Option<VerdictLook>,
    /// What to do first, as it stands among the lines, with its caution; null for a comparison.
    pub order: Option<String>,
    /// What else is told, the weightiest first.
    pub lines: Vec<String>,
}

impl Brief {
    /// Of a run: what the verdict means, what to do (each order with its caution) and what the next pass should show
    /// then, the balance index and what holds the verdict back, lifted time and depth, and what is not as it should be
    /// with the readings.
    pub fn of_run(summary: &Summary, plow: &Plow, units: Units) -> Self {
        let large = Large::of_run(plow, &summary.verdict, &summary.advice);
        let beside = large.beside(&summary.verdict, plow).map(|other| format!(", {other}"));
        // It stands in the verdict's place.
        let assumed = assumed(summary);
        let mut notices = run_notices(summary, plow, units);
        notices.retain(|told| Some(told) != assumed.as_ref());
        let more = notices.len().saturating_sub(NOTICES_TOLD);
        let told = notices.into_iter().take(NOTICES_TOLD).chain((more > 0).then(|| further(more)));
        let not_confirmed = if assumed.is_some() { ", setting not confirmed" } else { "" };
        let headline = format!("{}{}{not_confirmed}", large.line(), beside.unwrap_or_default());
        let order = advice_lines(&summary.advice, plow, units).next();
        let look = Some(large.look);
        let lines = assumed
            .into_iter()
            .chain(large.neighbor)
            .chain(advice_lines(&summary.advice, plow, units))
            .chain(brief_reasons(&summary.verdict, plow, units))
            .chain(brief_rows(summary, units).into_iter().map(|row| figure(&row)))
            .chain(told.map(note));
        let of = format!("{}, setting {}", summary.run.id, summary.run.setting);
        Self { of, headline, look, order, lines: lines.collect() }
    }

    /// Of a comparison: which setting is better or that it is not shown, by which figures, and what must be known
    /// before believing it.
    pub fn of_comparison(comparison: &Comparison, units: Units) -> Self {
        let Headline { headline, reasons } = headline(comparison, units);
        let method = format!("method: {}", method_line(comparison));
        let in_field_words =
            shown_means(&comparison.layout).into_iter().flat_map(|shown| [shown, IN_BRACKETS]);
        let warnings = warnings(comparison).into_iter().map(note);
        let lines = reasons
            .into_iter()
            .chain(not_shown(comparison, units))
            .chain(in_field_words.map(str::to_owned))
            .chain(warnings)
            .chain([method]);
        Self { of: sides(comparison), headline, look: None, order: None, lines: lines.collect() }
    }

    /// The lines with their line ends.
    pub fn text(&self) -> String {
        text([&self.of, &self.headline].into_iter().chain(&self.lines).cloned())
    }
}

fn note(what: String) -> String {
    format!("note: {what}")
}

/// A figure in one line: `lifted time 2.4 % (0.0 to 29.5)`.
fn figure(row: &FigureRow) -> String {
    let mut line = format!("{} {}", row.name, row.value);
    if !row.unit.is_empty() {
        line.push_str(&format!(" {}", row.unit));
    }
    if !row.interval.is_empty() {
        line.push_str(&format!(" ({})", row.interval));
    }
    line
}
