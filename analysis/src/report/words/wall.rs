//! What the wall sheet says of the move, in large letters.

use super::advice::hole_named;
use crate::report::units::Units;
use ingest::plow::{Hole, Plow};
use statics::advice::{Advice, Reach};
use statics::predict::Prediction;

/// Why nothing is moved, in large letters.
pub(in crate::report) fn no_move(advice: &Advice) -> &'static str {
    match advice {
        Advice::Stay { .. } => "Leave the pins in these holes.",
        Advice::SharesFirst => "Shares first, then the hitch.",
        Advice::Measure { .. } => "Move nothing yet: record a test pass in this setting first.",
        Advice::MovePins { .. } | Advice::NoHoleHelps => "No pair of these holes is shown to be better.",
    }
}

/// What is moved, by how many holes.
pub(in crate::report) fn moves(
    plow: &Plow,
    (now, then): (&Prediction, &Prediction),
    advice: &Advice,
    units: Units,
) -> String {
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
