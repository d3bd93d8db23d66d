//! The top view as a panel of the wall diagram.

use super::scale_bars::{force_scale, scales};
use super::words::top_view::{VERTICAL_FIRST, the_move};
use crate::report::units::Units;
use ingest::plow::Plow;
use page::wall_content::{PlanArrow, PlanM, TopPanel};
use statics::top::report::TopReport;
use statics::top::{TopForce, TopForceKind, TopPoint};

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
    let box_of = |low_x_m: f64, high_x_m: f64, half_m: f64| {
        let corner = |x_m, y_m| PlanM { x_m, y_m };
        vec![
            corner(low_x_m, half_m),
            corner(high_x_m, half_m),
            corner(high_x_m, -half_m),
            corner(low_x_m, -half_m),
            corner(low_x_m, half_m),
        ]
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
