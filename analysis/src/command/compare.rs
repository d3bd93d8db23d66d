//! `compare`: runs of one setting against runs of another.

use super::args::CompareArgs;
use super::output::{self, CommandError, Done, PageTarget};
use super::summary::all_analysed;
use crate::compare::{
    Balance, ComparedFigure, Comparison, Conditions, OwnMean, PassFigures, compare as compare_runs,
};
use crate::report::{Brief, InBothUnits, comparison_content, comparison_text};
use crate::summary::{Analysed, OwnFigures};
use page::Sheets;
use stats::Estimate;
use std::collections::BTreeMap;
use std::path::PathBuf;

pub(super) fn compare(args: &CompareArgs) -> Result<Done, CommandError> {
    let page = PageTarget::of(&args.page)?;
    named_once(&[&args.runs, &args.against])?;
    let asked = args.report.how.units;
    let (a, b) = (all_analysed(&args.runs, asked)?, all_analysed(&args.against, asked)?);
    let comparison = compared(&a, &b)?;
    let units = args.report.how.units(a.first().map(|run| &run.description.plow))?;
    let mut done = Done::report(match (args.report.brief, args.report.how.json) {
        (false, true) => output::json(&comparison)?,
        (false, false) => comparison_text(&comparison, units),
        (true, true) => output::json(&InBothUnits::of(|units| Brief::of_comparison(&comparison, units)))?,
        (true, false) => Brief::of_comparison(&comparison, units).text(),
    });
    let all = a.iter().chain(&b).map(|run| &run.summary.run);
    let first = all.min_by(|one, other| one.started.cmp(&other.started));
    if let Some((page, first)) = page.zip(first) {
        let content = comparison_content(&comparison, &first.plow, first.day(), units);
        let path = page.write(&content, Sheets::One)?;
        done.remarks.push(format!("page: {path}"));
    }
    Ok(done)
}

/// The runs of one setting against those of the other.
pub(super) fn compared(a: &[Analysed], b: &[Analysed]) -> Result<Comparison, CommandError> {
    let figures = |side: &[Analysed]| side.iter().map(pass_figures).collect::<Vec<_>>();
    Ok(compare_runs(&figures(a), &figures(b))?)
}

/// A run that counts twice would make an estimate or a difference look surer than it is, whatever way its folder is
/// written.
pub(super) fn named_once(sides: &[&[PathBuf]]) -> Result<(), CommandError> {
    let mut seen = BTreeMap::new();
    for (side, runs) in sides.iter().enumerate() {
        for run in *runs {
            // A folder that is not there gets its own message when it is read.
            let folder = run.canonicalize().unwrap_or_else(|_| run.clone());
            let how = match seen.insert(folder, side) {
                None => continue,
                Some(other) if other == side => "is named twice",
                Some(_) => "stands on both sides of the comparison",
            };
            return Err(CommandError::Usage(format!("{} {how}", run.display())));
        }
    }
    Ok(())
}

/// The figures of a run that are compared.
fn pass_figures(run: &Analysed) -> PassFigures {
    let (summary, plow) = (&run.summary, &run.description.plow);
    let none = Estimate { value: 0.0, low: 0.0, high: 0.0 };
    // A run without bobbing has none of it, which is a figure like any other.
    let bobbing = summary.bobbing.as_ref().map_or(none, |bobbing| bobbing.rms_n);
    let mut figures = BTreeMap::from([
        (ComparedFigure::DepthSdMm, summary.depth.sd_mm),
        (ComparedFigure::DepthMeanMm, summary.depth.mean_mm),
        (ComparedFigure::PullMeanN, summary.pull.mean_n),
    ]);
    if let Some(load) = &summary.tail_load {
        figures.extend(load.lifted_share.map(|share| (ComparedFigure::LiftedShare, share)));
        figures.insert(ComparedFigure::BobbingRmsN, bobbing);
        figures.insert(ComparedFigure::TailMeanN, load.mean_n);
        figures.extend(load.cv.map(|cv| (ComparedFigure::TailCv, cv)));
    }
    if let Some(statics) = &summary.statics {
        figures.insert(ComparedFigure::BalanceIndex, statics.balance_index);
    }
    PassFigures {
        run: summary.run.id.clone(),
        setting: summary.run.setting.clone(),
        started: summary.run.started.clone(),
        conditions: Conditions {
            plow: summary.run.plow.clone(),
            share: summary.run.share.to_string(),
            field: summary.run.field.clone(),
            holes: (summary.run.plow_hole.clone(), summary.run.tractor_hole.clone()),
        },
        balance: Balance {
            class: summary.verdict.class,
            limits: plow.limits,
            leans_on_tractor: plow.kind() == ingest::plow::Kind::Mounted,
        },
        figures,
        own: summary.own_columns.iter().filter_map(own_mean).collect(),
    }
}

fn own_mean(own: &OwnFigures) -> Option<OwnMean> {
    let OwnFigures { column, name, unit, mean, .. } = own.clone();
    Some(OwnMean { column, name, unit, mean: mean? })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Found when one folder, written in two ways, was compared with itself.
    #[test]
    fn a_run_counts_once_however_it_is_written() {
        let named = |runs: &[&str], against: &[&str]| {
            let [runs, against] =
                [runs, against].map(|paths| paths.iter().map(PathBuf::from).collect::<Vec<_>>());
            named_once(&[&runs, &against]).map_err(|error| error.to_string())
        };
        assert!(named(&["src"], &["./src/../src"]).unwrap_err().contains("both sides"));
        assert!(named(&["src", "./src"], &["tests"]).unwrap_err().contains("named twice"));
        assert!(named(&["src"], &["."]).is_ok());
    }
}
