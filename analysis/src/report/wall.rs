//! A statics calculation as the content of the wall diagram, and its view from above.

use super::force_diagram::{force_diagram, force_scale, scales};
use super::statics_page::statics_diagram;
use super::words::advice::{moves, no_move};
use super::words::plow::{pull_from, tried_holes};
use super::words::top_view::{VERTICAL_FIRST, the_move};
use crate::report::units::{Units, signed};
use ingest::plow::Plow;
use ingest::safety::CAUTIONS;
use jiff::civil::Date;
use page::force_diagram::ForceDiagram;
use page::wall_content::{BeforeAfter, PlanArrow, PlanM, Then, TopPanel, WallContent};
use statics::advice::{Advice, Expected};
use statics::predict::{PinShift, Prediction};
use statics::report::StaticsReport;
use statics::side::{Loads, StaticsError};
use statics::top::report::TopReport;
use statics::top::{TopForce, TopForceKind, TopPoint};
use statics::verdict::Class;

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
    let asked = report.what_if.as_ref();
    let tried = asked.map(|asked| format!(". Tried: {}", tried_holes(asked, &report.parts, units)));
    let after = match asked.map(|asked| (&asked.now, &asked.then)).or(advised) {
        Some((now, then)) => Some(after_the_move(plow, report, (now, then), units)?),
        None => None,
    };
    let to_check = expected.advice.first().filter(|one| matches!(one, Advice::CheckFirst { .. }));
    let what_moves = match (advised, expected.advice.iter().find(|one| Some(*one) != to_check)) {
        (Some((now, then)), Some(advice)) => moves(plow, (now, then), advice, units),
        (_, Some(advice)) => no_move(advice).to_owned(),
        (_, None) => String::new(),
    };
    let what_moves = match to_check {
        Some(_) => {
            format!("First check the description, which has what is unusual. If it is right: {what_moves}")
        }
        None => what_moves,
    };
    let largest_n = [report.loads.pull.n(), report.side.weight.n()].into_iter().fold(0.0, f64::max);
    let after_loads = after.as_ref().map(|(_, loads)| loads);
    Ok(WallContent {
        title: format!(
            "Setting: {}. Expected: {}{}",
            report.setting,
            match expected.class {
                // "Drawbar not shown" was read as one that is left out of the drawing.
                Class::NotShown => "no verdict".to_owned(),
                class => format!("drawbar {}", class.label()),
            },
            tried.unwrap_or_default()
        )
        .into(),
        date: Some(date),
        plow: plow.name.clone(),
        facts: format!(
            "{} plow, {} shares, pull {} ({}); expected, not measured",
            report.parts.kind,
            plow.bottoms.share,
            units.force_n(report.loads.pull.n()),
            pull_from(report.along)
        ),
        now: ForceDiagram {
            force_scale: force_scale(largest_n, units),
            ..statics_diagram(plow, report, units)
        },
        what_moves,
        figures: figures(report, after_loads, units),
        after: after.map(|(diagram, _)| diagram),
        then: if asked.is_some() { Then::Tried } else { Then::Advised },
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

/// The view from above as the sheet has it, with what it says below it.
pub(super) fn top_panel(plow: &Plow, top: &TopReport, units: Units) -> TopPanel {
    let point = |at: TopPoint| PlanM { x_m: at.x.m(), y_m: at.y.m() };
    let (pulled, tractor) = (&top.view.plow, &top.view.tractor);
    let half_cut_m = plow.total_cut_m() / 2.0;
    let rear_x_m = pulled.pin.x.m() + tractor.hitch_behind.m();
    let front_x_m = rear_x_m + tractor.wheelbase.m();
    let across = |x_m: f64, half_m: f64| {
        [half_m, -half_m].map(|off_m| PlanM { x_m, y_m: tractor.middle_y.m() + off_m }).to_vec()
    };
    let along =
        |from_m: f64, to_m: f64| [from_m, to_m].map(|x_m| PlanM { x_m, y_m: tractor.middle_y.m() }).to_vec();
    let tail_x_m = plow.tail.x().si();
    let box_of = |low_m: f64, high_m: f64, half_m: f64| {
        let corners = [(low_m, 1.0), (high_m, 1.0), (high_m, -1.0), (low_m, -1.0), (low_m, 1.0)];
        corners.map(|(x_m, side)| PlanM { x_m, y_m: side * half_m }).to_vec()
    };
    let (length_scale, _) = scales(units);
    let sizes_n =
        top.plow_forces.iter().chain(&top.tractor_forces).map(|force| force.x.n().hypot(force.y.n()));
    let force_scale = force_scale(sizes_n.fold(0.0, f64::max), units);
    let lead = (pulled.pin.y.m() - pulled.centre.y.m()) / (pulled.pin.x.m() - pulled.centre.x.m());
    let far_x_m = rear_x_m + top.forces.tractor.dynamic_centre.m();
    // The pull on the tractor is the one on the plow turned about: drawn too, it would cover the plow.
    let on_tractor = top.tractor_forces.iter().filter(|force| force.kind != TopForceKind::Pull);
    let arrows = top.plow_forces.iter().chain(on_tractor);
    TopPanel {
        outlines: vec![
            box_of(tail_x_m, 0.0_f64.max(pulled.centre.x.m()), half_cut_m),
            across(rear_x_m, tractor.track.m() / 2.0),
            across(front_x_m, tractor.track.m() / 2.0),
            along(pulled.pin.x.m(), front_x_m),
        ],
        edges: vec![(pulled.wall_y.m(), "furrow wall".to_owned())],
        pull_line: (
            point(pulled.centre),
            PlanM { x_m: far_x_m, y_m: pulled.centre.y.m() + lead * (far_x_m - pulled.centre.x.m()) },
        ),
        points: vec![
            (point(pulled.pin), "pin".to_owned()),
            (point(pulled.centre), "center of resistance".to_owned()),
        ],
        arrows: arrows.filter_map(|force| arrow(force, units)).collect(),
        sentences: vec![the_move(top, units), VERTICAL_FIRST.to_owned()],
        length_scale,
        force_scale,
    }
}

/// A force that is too small to see has no arrow.
fn arrow(force: &TopForce, units: Units) -> Option<PlanArrow> {
    let name = match force.kind {
        TopForceKind::Soil => "soil",
        TopForceKind::Landside => "wall on landsides",
        TopForceKind::LandsideFriction => "friction",
        TopForceKind::Pull => "level pull",
        TopForceKind::LeftDrive => "left drive",
        TopForceKind::RightDrive => "right drive",
        TopForceKind::FrontAxle => "front wheels",
        TopForceKind::RearAxle => "rear wheels",
    };
    let size_n = force.x.n().hypot(force.y.n());
    (size_n > 1.0).then(|| PlanArrow {
        at: PlanM { x_m: force.at.x.m(), y_m: force.at.y.m() },
        x_n: force.x.n(),
        y_n: force.y.n(),
        label: format!("{name} {}", units.force_n(size_n)),
    })
}
