//! A statics calculation as the content of the wall diagram.

use super::force_diagram::force_diagram;
use super::scale_bars::force_scale;
use super::statics_page::statics_diagram;
use super::wall_top::top_panel;
use super::words::wall::{moves, no_move};
use crate::report::units::{Units, signed};
use ingest::plow::Plow;
use ingest::safety::CAUTIONS;
use jiff::civil::Date;
use page::force_diagram::ForceDiagram;
use page::wall_content::{BeforeAfter, WallContent};
use statics::advice::Expected;
use statics::predict::{PinShift, Prediction};
use statics::report::StaticsReport;
use statics::side::{Loads, StaticsError};
use statics::top::report::TopReport;

/// The content of the wall diagram; `date` is the day it was made for.
///
/// # Errors
/// [`StaticsError`] if the plow cannot be in the holes advised, which the table of holes rules out.
pub fn wall_content(
    plow: &Plow,
    report: &StaticsReport,
    expected: &Expected,
    top: Option<&TopReport>,
    date: Date,
    units: Units,
) -> Result<WallContent, StaticsError> {
    let now = report.holes.iter().find(|hole| hole.is_now);
    let advised = now.zip(expected.move_to());
    let after = match advised {
        Some((now, then)) => Some(after_the_move(plow, report, (now, then), units)?),
        None => None,
    };
    let what_moves = match (advised, expected.advice.first()) {
        (Some((now, then)), Some(advice)) => moves(plow, (now, then), advice, units),
        (_, Some(advice)) => no_move(advice).to_owned(),
        (_, None) => String::new(),
    };
    let largest_n = [report.loads.pull.n(), report.side.weight.n()].into_iter().fold(0.0, f64::max);
    let after_loads = after.as_ref().map(|(_, loads)| loads);
    Ok(WallContent {
        title: format!("Setting: {}. Expected: drawbar {}", report.setting, expected.class.label()).into(),
        date: Some(date),
        plow: plow.name.clone(),
        facts: format!(
            "{} plow, {} shares, pull {}, expected, not measured",
            report.parts.kind,
            plow.bottoms.share,
            units.force_n(report.loads.pull.n())
        ),
        now: ForceDiagram {
            force_scale: force_scale(largest_n, units),
            ..statics_diagram(plow, report, units)
        },
        bottoms: usize::try_from(plow.bottoms.count).unwrap_or(usize::MAX),
        what_moves,
        figures: figures(report, after_loads, units),
        after: after.map(|(diagram, _)| diagram),
        top: top.map(|top| top_panel(plow, top, units)),
        safety: CAUTIONS.iter().map(|caution| (*caution).to_owned()).collect(),
        provenance: concat!(
            "hitchwright ",
            env!("CARGO_PKG_VERSION"),
            " statics, every figure at its middle"
        )
        .to_owned(),
    })
}

fn after_the_move(
    plow: &Plow,
    report: &StaticsReport,
    (now, then): (&Prediction, &Prediction),
    units: Units,
) -> Result<(ForceDiagram, Loads), StaticsError> {
    let shift = PinShift { plow: then.plow_z - now.plow_z, tractor: then.tractor_z - now.tractor_z };
    let (side, links) = report.nominal.with_pins(shift)?;
    let loads = side.loads()?;
    Ok((force_diagram(plow, &side, &loads, links.as_ref(), plow.bottoms.depth.m(), units), loads))
}

fn figures(report: &StaticsReport, after: Option<&Loads>, units: Units) -> Vec<BeforeAfter> {
    let row = |name: &str, of: &dyn Fn(&Loads) -> String| BeforeAfter {
        name: name.to_owned(),
        now: of(&report.loads),
        after: after.map(of).unwrap_or_default(),
    };
    vec![
        row(report.parts.front_load, &|loads| units.force_n(loads.carried_loads().0.n())),
        row(report.parts.tail_load, &|loads| units.force_n(loads.carried_loads().1.n())),
        row("pull-line offset e", &|loads| units.height(loads.pull_line_offset.m())),
        row("balance index b", &|loads| signed(loads.bounded_balance_index())),
    ]
}
