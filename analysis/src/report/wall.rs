//! A statics calculation as the content of the wall diagram.

use super::force_diagram::force_diagram;
use super::scale_bars::force_scale;
use super::statics_page::statics_diagram;
use super::wall_top::top_panel;
use super::words::advice::hole_named;
use crate::report::units::{Units, signed};
use ingest::plow::{Hole, Plow};
use ingest::safety::CAUTIONS;
use jiff::civil::Date;
use page::force_diagram::ForceDiagram;
use page::wall_content::{BeforeAfter, WallContent};
use statics::advice::{Advice, Expected, Reach};
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

/// Why nothing is moved, in large letters.
fn no_move(advice: &Advice) -> &'static str {
    match advice {
        Advice::Stay { .. } => "Leave the pins in these holes.",
        Advice::SharesFirst => "Shares first, then the hitch.",
        Advice::Measure { .. } => "Move nothing yet: record a test pass in this setting first.",
        Advice::MovePins { .. } | Advice::NoHoleHelps => "No pair of these holes is shown to be better.",
    }
}

/// What is moved, by how many holes.
fn moves(plow: &Plow, (now, then): (&Prediction, &Prediction), advice: &Advice, units: Units) -> String {
    let end = |name: &str, holes: &[Hole], from: (&str, f64), to: (&str, f64)| {
        if from.0 == to.0 {
            return None;
        }
        let between = |z_m: f64| z_m > from.1.min(to.1) && z_m <= from.1.max(to.1);
        let count = holes.iter().filter(|hole| between(hole.z.si())).count();
        let way = if to.1 > from.1 { "up" } else { "down" };
        let unit = if count == 1 { "hole" } else { "holes" };
        Some(format!(
            "{name} {count} {unit} {way}, {} to {} ({})",
            hole_named(from.0),
            hole_named(to.0),
            units.height(to.1)
        ))
    };
    let tractor = end(
        &format!("{} end", plow.part_names().puller),
        &plow.tractor_hitch.holes,
        (&now.tractor_hole, now.tractor_z.m()),
        (&then.tractor_hole, then.tractor_z.m()),
    );
    let plow_end = end(
        "plow end",
        &plow.plow_hitch.holes,
        (&now.plow_hole, now.plow_z.m()),
        (&then.plow_hole, then.plow_z.m()),
    );
    let ends: Vec<String> = [plow_end, tractor].into_iter().flatten().collect();
    let beside = match advice {
        Advice::MovePins { reach: Reach::OnTheWay, .. } => {
            "; a step on the way, still outside the balanced band"
        }
        Advice::MovePins { reach: Reach::OutsideUsualHeights, .. } => {
            "; outside the usual heights of a tractor hitch"
        }
        _ => "",
    };
    format!("Move: {}{beside}", ends.join("; "))
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
