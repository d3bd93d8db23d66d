//! `compare`: runs of one setting against runs of another.

use super::args::CompareArgs;
use super::output::{self, CommandError, Done, PageTarget};
use super::runs::{named_once, named_runs, rows_once};
use super::summary::all_analysed;
use crate::compare::{
    Balance, ComparedFigure, Comparison, Conditions, OwnMean, PassFigures, compare as compare_runs,
};
use crate::report::{Brief, InBothUnits, comparison_content, comparison_text};
use crate::summary::{Analysed, OwnFigures};
use page::Sheets;
use signals::run::Notice;
use statics::identify::IdentifyError;
use stats::Estimate;
use std::collections::BTreeMap;

pub(super) fn compare(args: &CompareArgs) -> Result<Done, CommandError> {
    let page = PageTarget::of(&args.page)?;
    let (runs, against) = (named_runs(&args.runs)?, named_runs(&args.against)?);
    named_once(&[&runs, &against])?;
    let asked = args.report.how.units;
    let (a, b) = (all_analysed(&runs, asked)?, all_analysed(&against, asked)?);
    rows_once(&[&a, &b])?;
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
    let cannot_be = matches!(run.identified, Err(IdentifyError::Unbelievable(_)));
    if cannot_be {
        figures.clear();
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
            setting_assumed: summary
                .quality
                .notices
                .iter()
                .any(|notice| matches!(notice, Notice::SettingAssumed { .. })),
        },
        balance: Balance {
            class: summary.verdict.class,
            limits: plow.limits,
            leans_on_tractor: plow.kind() == ingest::plow::Kind::Mounted,
        },
        figures,
        own: summary.own_columns.iter().filter_map(own_mean).collect(),
        cannot_be,
    }
}

fn own_mean(own: &OwnFigures) -> Option<OwnMean> {
    let OwnFigures { column, name, unit, mean, .. } = own.clone();
    Some(OwnMean { column, name, unit, mean: mean? })
}
