//! The free body of a plow as the content of a diagram.

use super::scale_bars::scales;
use crate::report::units::Units;
use ingest::plow::{Front, Plow, Tail};
use page::force_diagram::{Arrow, ForceDiagram, ForceN, PointM, Support, SupportLook};
use statics::plow_model::Links;
use statics::side::{Loads, SideView};

/// The forces on a plow, to scale, with their names and sizes in the reader's units.
pub(super) fn force_diagram(
    plow: &Plow,
    side: &SideView,
    loads: &Loads,
    links: Option<&Links>,
    depth_m: f64,
    units: Units,
) -> ForceDiagram {
    let point = |at: statics::side::Point| PointM { x_m: at.x.m(), z_m: at.z.m() };
    let arrow = |name: &str, x_n: f64, z_n: f64| Arrow {
        force: ForceN { x_n, z_n },
        label: format!("{name} {}", units.force_n(x_n.hypot(z_n))),
    };
    let parts = plow.part_names();
    let (front, tail) = loads.carried_loads();
    let (front_n, tail_n) = (front.n(), tail.n());
    let above = if loads.pull_line_offset.m() < 0.0 { "below" } else { "above" };
    let offset = units.height(loads.pull_line_offset.m().abs());
    let (length_scale, force_scale) = scales(units);
    ForceDiagram {
        front: Support { contact: point(side.front.at), look: front_look(plow) },
        tail: Support { contact: point(side.tail.at), look: tail_look(plow) },
        members: match links {
            Some(links) => [links.lower, links.top].map(|(a, b)| (point(a), point(b))).to_vec(),
            None => vec![(point(side.plow_hitch), point(side.tractor_hitch))],
        },
        // The weight acts along a vertical line; it is drawn high up on it, clear of the lines that cross lower.
        weight_at: PointM { x_m: side.weight_x.m(), z_m: side.plow_hitch.z.m() + 0.6 },
        plow_hitch: point(side.plow_hitch),
        tractor_hitch: point(side.tractor_hitch),
        tractor_hitch_name: format!("{} hitch", parts.puller),
        soil_at: point(side.soil_at),
        shares_first: false,
        steady: Some(point(loads.steady_point)),
        depth_m,
        weight: arrow("weight", 0.0, -side.weight.n()),
        pull: arrow("pull", loads.pull_x.n(), loads.drawbar_slope * loads.pull_x.n()),
        soil: arrow("soil", -side.soil_draft.n(), side.soil_slope * side.soil_draft.n()),
        front_load: arrow(parts.front_load, 0.0, front_n),
        tail_load: arrow(parts.tail_load, 0.0, tail_n),
        offset_label: Some(format!("e = {offset} {above}")),
        length_scale,
        force_scale,
    }
}

fn front_look(plow: &Plow) -> SupportLook {
    match plow.front {
        Front::Wheels(wheels) => SupportLook::Wheel { diameter_m: wheels.diameter.m() },
        Front::Sole(_) => SupportLook::Sole,
        Front::LowerLinks | Front::MeetingLinks(_) => SupportLook::Pin,
    }
}

fn tail_look(plow: &Plow) -> SupportLook {
    match &plow.tail {
        Tail::Wheel(wheel) => SupportLook::Wheel { diameter_m: wheel.diameter.m() },
        Tail::RollingLandside(_) => SupportLook::RollingLandside,
        Tail::Heel(_) => SupportLook::Sole,
    }
}
