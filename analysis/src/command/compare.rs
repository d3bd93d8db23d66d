//! `compare`: runs of one setting against runs of another.

use super::args::CompareArgs;
use super::output::{self, PageTarget};
use super::summary::all_analysed;
use super::{CommandError, Done};
use crate::compare::{ComparedFigure, PassFigures, compare as compare_runs};
use crate::page::render_comparison;
use crate::report::{comparison_content, comparison_text, day_of};
use crate::stats::Estimate;
use crate::summary::{Analysed, Summary};
use crate::units_out::Units;

pub(super) fn compare(args: &CompareArgs) -> Result<Done, CommandError> {
    let units = Units::from(args.report.units);
    let page = PageTarget::of(&args.page)?;
    if let Some(twice) = args.runs.iter().find(|run| args.against.contains(run)) {
        let twice = twice.display();
        return Err(CommandError::Usage(format!("{twice} stands on both sides of the comparison")));
    }
    let (a, b) = (all_analysed(&args.runs, units)?, all_analysed(&args.against, units)?);
    let figures = |side: &[Analysed]| side.iter().map(|run| pass_figures(&run.summary)).collect::<Vec<_>>();
    let comparison = compare_runs(&figures(&a), &figures(&b)).map_err(CommandError::failed)?;
    let mut done = Done::report(if args.report.json {
        output::json(&comparison)?
    } else {
        comparison_text(&comparison, units)
    });
    if let Some(page) = page {
        let all = a.iter().chain(&b).map(|run| &run.summary);
        let first = all.min_by(|one, other| one.run.started.cmp(&other.run.started));
        let (plow, day) = first.map(|s| (s.run.plow.as_str(), day_of(&s.run.started))).unwrap_or_default();
        let content = comparison_content(&comparison, plow, day, units);
        let path = page.write(|paper, format| render_comparison(&content, paper, format))?;
        done.remarks.push(format!("page: {path}"));
    }
    Ok(done)
}

/// The figures of a run that are compared.
pub(super) fn pass_figures(summary: &Summary) -> PassFigures {
    let none = Estimate { value: 0.0, low: 0.0, high: 0.0 };
    // A run without bobbing has none of it, which is a figure like any other.
    let bobbing = summary.bobbing.as_ref().map_or(none, |bobbing| bobbing.rms_n);
    let mut figures = std::collections::BTreeMap::from([
        (ComparedFigure::DepthSdMm, summary.depth.sd_mm),
        (ComparedFigure::LiftedShare, summary.tail_load.lifted_share),
        (ComparedFigure::BobbingRmsN, bobbing),
        (ComparedFigure::TailMeanN, summary.tail_load.mean_n),
        (ComparedFigure::DepthMeanMm, summary.depth.mean_mm),
        (ComparedFigure::PullMeanN, summary.pull.mean_n),
    ]);
    if let Some(cv) = summary.tail_load.cv {
        figures.insert(ComparedFigure::TailCv, cv);
    }
    PassFigures {
        run: summary.run.id.clone(),
        setting: summary.run.setting.clone(),
        started: summary.run.started.clone(),
        figures,
    }
}
