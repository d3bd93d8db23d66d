//! The free body of a plow as the content of a diagram, with the bars that say how long a length or a force is drawn.

use crate::report::units::Units;
use ingest::plow::{Front, Plow, Tail};
use ingest::quantity::Unit;
use page::force_diagram::{Arrow, ForceDiagram, ForceN, PointM, ScaleBar, Support, SupportLook};
use statics::plow_model::Links;
use statics::side::{Loads, Point, SideView};

/// The forces on a plow, to scale, with their names and sizes in the reader's units.
pub(super) fn force_diagram(
    plow: &Plow,
    side: &SideView,
    loads: &Loads,
    links: Option<&Links>,
    depth_m: f64,
    units: Units,
) -> ForceDiagram {
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
    let front_look = match plow.front {
        Front::Wheels(wheels) => SupportLook::Wheel { diameter_m: wheels.diameter.m(), sprung: false },
        Front::Sole(_) => SupportLook::Sole,
        Front::LowerLinks | Front::MeetingLinks(_) => SupportLook::Pin,
    };
    let tail_look = match &plow.tail {
        Tail::Wheel(wheel) => SupportLook::Wheel { diameter_m: wheel.diameter.m(), sprung: true },
        Tail::RollingLandside(_) => SupportLook::RollingLandside,
        Tail::Heel(_) => SupportLook::Sole,
    };
    ForceDiagram {
        front: Support { contact: point(side.front.at), look: front_look },
        tail: Support { contact: point(side.tail.at), look: tail_look },
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
        bottoms: usize::try_from(plow.bottoms.count).unwrap_or(usize::MAX),
        tried: None,
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

/// A point as a diagram has it.
pub(super) fn point(at: Point) -> PointM {
    PointM { x_m: at.x.m(), z_m: at.z.m() }
}

/// Bars for lengths and forces.
pub(super) fn scales(units: Units) -> (ScaleBar, ScaleBar) {
    match units {
        Units::Si => (
            ScaleBar { size: 0.5, label: "0.5 m".to_owned() },
            ScaleBar { size: 2000.0, label: "2 kN".to_owned() },
        ),
        Units::Us => (
            ScaleBar { size: 0.609_6, label: "2 ft".to_owned() },
            ScaleBar { size: 500.0 * Unit::POUND_FORCE.factor, label: "500 lbf".to_owned() },
        ),
    }
}

/// A bar for forces of a third of the largest one or less, by a round number of the reader's unit: long enough to
/// measure with, whatever the plow.
pub(super) fn force_scale(largest_n: f64, units: Units) -> ScaleBar {
    let unit_n = match units {
        Units::Si => 1.0,
        Units::Us => Unit::POUND_FORCE.factor,
    };
    let third = (largest_n / 3.0 / unit_n).max(1e-9);
    let ten = 10_f64.powf(third.log10().floor());
    let round = [5.0, 2.0, 1.0].into_iter().map(|lead| lead * ten).find(|size| *size <= third);
    let size = unit_n * round.unwrap_or(ten);
    ScaleBar { size, label: units.force_n(size) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        /// Found on the sheet of six bottoms: the arrow of the scale was too short to have a shaft.
        #[test]
        fn the_bar_of_forces_can_be_measured_with(largest_n in 20.0_f64..500_000.0, us in any::<bool>()) {
            let units = if us { Units::Us } else { Units::Si };
            let share = force_scale(largest_n, units).size / largest_n;
            prop_assert!((0.13..0.334).contains(&share), "{share}");
        }
    }

    #[test]
    fn the_bar_of_forces_says_a_round_number() {
        assert_eq!(force_scale(7_480.0, Units::Si).label, "2000 N");
        assert_eq!(force_scale(32_770.0, Units::Si).label, "10000 N");
        assert_eq!(force_scale(7_480.0, Units::Us).label, "500 lbf");
    }
}
