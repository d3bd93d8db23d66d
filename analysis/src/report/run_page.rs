//! A run as the content of its page.

use super::figure_rows::figure_rows;
use super::force_diagram::force_diagram;
use super::run_charts;
use super::words::calibration;
use super::words::capital;
use super::words::causes::{causes_lines, order_of_work};
use super::words::headline::{Large, what_to_do};
use super::words::notices::run_notices;
use super::words::own;
use super::words::run::{bobbing_notes, cautions, working_part};
use super::words::verdict::reasons;
use crate::report::units::Units;
use crate::summary::{Analysed, Summary};
use ingest::plow::Plow;
use page::chart_content::Gauge;
use page::content::{Fact, Foot, Head, RunContent, Verdict};
use page::force_diagram::ForceDiagram;
use statics::draw::Draw;
use statics::identify::Identified;
use stats::Estimate;

/// The content of a run's page.
pub fn run_content(analysed: &Analysed, units: Units) -> RunContent {
    let summary = &analysed.summary;
    let plow = &analysed.description.plow;
    let draw = analysed.identified.as_ref().ok().and_then(|found| typical_draw(found, summary));
    let depth_m = summary.depth.mean_mm.value / 1000.0;
    let large = Large::of_run(plow, &summary.verdict, &summary.advice);
    let (note, shares_first) = (large.beside(&summary.verdict, plow), large.is_shares_first());
    RunContent {
        head: head(summary, plow.part_names().puller),
        verdict: Verdict {
            subject: large.subject.into(),
            word: large.word.into(),
            look: large.look,
            neighbor: large.neighbor.map(Into::into),
            note: note.map(Into::into),
            reasons: reasons(&summary.verdict, plow, units).into(),
        },
        gauge: summary.statics.as_ref().map(|statics| gauge(&statics.balance_index, plow, shares_first)),
        forces: draw.zip(analysed.identified.as_ref().ok()).map(|(draw, found)| {
            let diagram = force_diagram(plow, &draw.side, &draw.loads, None, depth_m, units);
            let diagram = ForceDiagram { shares_first, ..diagram };
            with_figures_of_the_table(diagram, plow, found, summary, units)
        }),
        depth: run_charts::depth_strip(analysed, units),
        tail_load: run_charts::load_strip(analysed, units),
        spectrum: run_charts::spectrum(analysed, units),
        pull_tail: run_charts::scatter(analysed, draw, units),
        figures: figure_rows(summary, units),
        advice: what_to_do(&summary.advice, plow, units),
        causes: causes_lines(summary, plow, units).into(),
        order_of_work: order_of_work(summary.causes.order_of_work, plow).into(),
        quality: quality(summary, plow, units).into(),
        own_heading: capital(own::HEADING).into(),
        own_columns: summary.own_columns.iter().map(own::own_line).collect::<Vec<_>>().into(),
        cautions: cautions(summary, plow).into(),
        foot: run_foot(summary),
    }
}

/// The draw nearest to the figures told beside it: the diagram shows one plow that can be, not a mixture.
/// Pull, loads and e are in it because the diagram names them, and a reader sets them against the table.
fn typical_draw<'a>(found: &'a Identified, summary: &Summary) -> Option<&'a Draw> {
    let off = |value: f64, figure: &Estimate| {
        ((value - figure.value) / (figure.high - figure.low).max(1e-9)).powi(2)
    };
    let distance = |draw: &&Draw| {
        off(draw.loads.bounded_balance_index(), &found.balance_index)
            + off(draw.side.soil_slope, &found.soil_slope)
            + off(draw.loads.pull.n(), &summary.pull.mean_n)
            + off(draw.loads.tail_load.n(), &found.tail_load.si())
            + off(draw.loads.front_load.n(), &found.front_load.si())
            + off(draw.loads.pull_line_offset.m(), &found.pull_line_offset.si())
    };
    found.draws.iter().min_by(|one, other| distance(one).total_cmp(&distance(other)))
}

/// The figures beside the arrows are those of the table: the draw is only near them.
fn with_figures_of_the_table(
    mut diagram: ForceDiagram,
    plow: &Plow,
    found: &Identified,
    summary: &Summary,
    units: Units,
) -> ForceDiagram {
    let parts = plow.part_names();
    let label = |name: &str, n: f64| format!("{name} {}", units.force_n(n));
    diagram.pull.label = label("pull", summary.pull.mean_n.value);
    diagram.front_load.label = label(parts.front_load, found.front_load.value.n());
    diagram.tail_load.label = label(parts.tail_load, found.tail_load.value.n());
    diagram
}

pub(super) fn gauge(b: &Estimate, plow: &Plow, set_aside: bool) -> Gauge {
    let (limits, parts) = (&plow.limits, plow.part_names());
    Gauge {
        value: b.value,
        low: b.low,
        high: b.high,
        balanced: limits.balanced,
        leaning: limits.leaning,
        front: parts.front,
        tail: parts.tail,
        set_aside,
    }
}

fn head(summary: &Summary, puller: &str) -> Head {
    let run = &summary.run;
    let tractor_hole = format!("hole at the {puller}");
    let facts = [
        ("hole at the plow", Some(&run.plow_hole)),
        (&tractor_hole, Some(&run.tractor_hole)),
        ("shares", Some(&run.share.to_string())),
        ("field", run.field.as_ref()),
        ("soil", run.soil.as_ref()),
        ("note", run.note.as_ref()),
    ];
    let facts = facts.into_iter().filter_map(|(name, value)| Some(Fact::new(name, value?))).collect();
    Head { title: (&run.setting).into(), plow: (&run.plow).into(), facts, date: run.day() }
}

fn quality(summary: &Summary, plow: &Plow, units: Units) -> Vec<String> {
    let mut lines = vec![working_part(summary)];
    lines.extend(run_notices(summary, plow, units));
    lines.extend(calibration::remarks(&summary.calibration, units));
    lines.extend(bobbing_notes(summary));
    lines
}

fn run_foot(summary: &Summary) -> Foot {
    let run = &summary.run;
    let calibrated: Vec<String> =
        run.calibrated.iter().map(|(channel, day)| format!("{channel} {day}")).collect();
    let mut provenance = vec![
        format!("run {}, {}", run.id, run.started),
        format!("recorded with {}, analyzed with {}", run.recorded_with, run.analysed_with),
    ];
    if !calibrated.is_empty() {
        provenance.push(format!("calibrated: {}", calibrated.join(", ")));
    }
    super::foot(provenance)
}
