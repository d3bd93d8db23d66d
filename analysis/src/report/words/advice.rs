//! What to do next, in orders that a plowman follows; each that brings hands near the plow begins with its caution.

use super::entries::entry_alone;
use super::plow::hole_named;
use super::{counted, load_change, some_of};
use crate::report::units::{Units, probability_percent, signed_interval};
use ingest::plow::{Hole, PartNames, Plow};
use ingest::quantity::Length;
use ingest::safety::BEFORE_HANDS;
use ingest::{engine_off_and_blocked, nobody_between, raised_on_stands};
use statics::advice::{Advice, Measure, Reach, Remeasure, Stay, USUAL_TRACTOR_HITCH};
use statics::predict::Prediction;

const SHARES_FIRST: &str = concat!(
    "Shares first: the soil lifts the plow, and no hitch cures that. ",
    raised_on_stands!("point or replace the shares. Then record again and set the hitch afterwards.")
);

/// What to do and what it should bring, of each; what costs work or money holds only if an entry to be checked is right.
pub fn orders(advice: &[Advice], parts: &PartNames, units: Units) -> Vec<(String, Option<String>)> {
    let is_checked = matches!(advice.first(), Some(Advice::CheckFirst { .. }));
    let costs = |one: &Advice| {
        matches!(one, Advice::MovePins { .. } | Advice::SharesFirst { .. } | Advice::NoHoleHelps)
    };
    let one = |one: &Advice| {
        let only_if = if is_checked && costs(one) { "Only if that is right: " } else { "" };
        (format!("{only_if}{}", order(one, parts, units)), expectation(one, parts, units))
    };
    advice.iter().map(one).collect()
}

/// What to do, and why.
pub fn order(advice: &Advice, parts: &PartNames, units: Units) -> String {
    let order = match advice {
        Advice::MovePins { now, prediction, reach, rests_on } => {
            let first = rests_on.as_ref().map(|on| entry_alone(on, parts));
            return move_pins((now.as_ref(), prediction.as_ref()), *reach, first, parts, units);
        }
        Advice::CheckFirst { entries } => {
            let entries: Vec<&str> = entries.iter().map(String::as_str).collect();
            return format!(
                "{BEFORE_HANDS} First check {}, which is unusual: what is said here rests on it.",
                some_of(&entries)
            );
        }
        Advice::Stay { why: Stay::Balanced, .. } => "Leave the hitch in these holes.",
        Advice::Stay { why: Stay::LeansAsMeant, .. } => {
            "Leave the hitch in these holes: a mounted plow is meant to lean on the tractor (common practice, no \
             source)."
        }
        Advice::Stay { why: Stay::Bobs, .. } => concat!(
            "Leave the hitch in these holes: on the mean the load is right. Drive slower for a trial. ",
            engine_off_and_blocked!("see to the tail wheel first, its spring, bearing and roundness.")
        ),
        Advice::SharesFirst { rests_on } => {
            let Some(on) = rests_on else { return SHARES_FIRST.to_owned() };
            let entry = entry_alone(on, parts);
            return format!("First check {entry}. {BEFORE_HANDS} Only if it is right: {SHARES_FIRST}");
        }
        Advice::Measure { what: Measure::APass } => {
            "Move nothing yet: the description alone does not decide. Record a test pass in this setting; it shows \
             which way to go."
        }
        Advice::Measure { what: Measure::First { how } } => {
            let first = how.map_or("Check the description of the plow and the readings.", measure);
            return format!("Change nothing on the hitch yet. {first}");
        }
        Advice::Measure { what: Measure::Better { how } } => measure(*how),
        Advice::NoHoleHelps => {
            "No pair of holes in the description is shown to be better. If the plow or tractor has other holes, add \
             them; else the drawbar's length or the shares have to change."
        }
    };
    order.to_owned()
}

/// What the next pass should show after a move, if the prediction holds.
pub fn expectation(advice: &Advice, parts: &PartNames, units: Units) -> Option<String> {
    match advice {
        Advice::MovePins { now, prediction, .. } => Some(next_pass(now, prediction, parts, units)),
        Advice::CheckFirst { .. }
        | Advice::Stay { .. }
        | Advice::SharesFirst { .. }
        | Advice::Measure { .. }
        | Advice::NoHoleHelps => None,
    }
}

const fn measure(how: Remeasure) -> &'static str {
    match how {
        Remeasure::Soil => concat!(
            "Record a pass with a front-load channel, or give the height of the soil force in the description if a \
             run with that channel has shown it. ",
            engine_off_and_blocked!("fit the sensor.")
        ),
        Remeasure::Weight => {
            engine_off_and_blocked!("weigh the plow on a scale, and give the ± of the scale.")
        }
        Remeasure::WeightPlace => engine_off_and_blocked!(
            "weigh front wheels and tail wheel apart on level ground; their shares give the place of the weight."
        ),
        Remeasure::TailLoad => engine_off_and_blocked!(
            "put known weights on the tail and set the sensor's readings against them (of a tail wheel's spring, its \
             load table), and check its zero with the wheel jacked off the ground."
        ),
        Remeasure::Pull => concat!(
            "Calibrate the pull sensor against a known load, and check its zero with the drawbar slack, ",
            nobody_between!(),
            "."
        ),
        Remeasure::FrontLoad => engine_off_and_blocked!(
            "calibrate the front-load channel against a scale under both front wheels."
        ),
        Remeasure::LinkForces => engine_off_and_blocked!(
            "calibrate the cells in the links against known loads, pulling and pushing, and check their zeros with \
             the plow set down."
        ),
        Remeasure::DrawbarAngle => engine_off_and_blocked!(
            "set the inclinometer on the drawbar to zero again with a spirit level, and see that it sits firmly."
        ),
        Remeasure::PinHeights => engine_off_and_blocked!(
            "check that the setting names the right holes, and measure the heights of both hitch pins again: shares and \
             furrow wheels on a level floor, what runs on the land on blocks as thick as the working depth, heights from \
             the top of the blocks. To get it onto the blocks, chock the wheels of the other end, lift it with a jack on firm \
             ground, push them under with a piece of wood, and keep hands and feet clear until it stands."
        ),
        Remeasure::Lengths => engine_off_and_blocked!(
            "measure the lengths along the plow and the drawbar again with a steel tape, and give their ±."
        ),
        Remeasure::Friction => {
            "Drag the plow, out of the soil and with nobody near it, over bare ground once: that pull over its weight is the friction."
        }
        Remeasure::RollingResistance => {
            "Pull the lifted plow, with nobody near it, over the field once: that pull over its weight is the rolling resistance."
        }
    }
}

/// The move from `now` to a choice of holes; right only if the entry that it `rests_on` is, so that this is checked first.
fn move_pins(
    (now, then): (&Prediction, &Prediction),
    reach: Reach,
    rests_on: Option<String>,
    parts: &PartNames,
    units: Units,
) -> String {
    let way = |from_m: f64, to_m: f64| if to_m > from_m { "up" } else { "down" };
    let mut moves = Vec::new();
    if then.plow_hole != now.plow_hole {
        moves.push(format!(
            "the {}'s end at the plow {} from hole {} to hole {} ({} above the land)",
            parts.member,
            way(now.plow_z.m(), then.plow_z.m()),
            hole_named(&now.plow_hole),
            hole_named(&then.plow_hole),
            units.given_height(then.plow_z)
        ));
    }
    if then.tractor_hole != now.tractor_hole {
        moves.push(format!(
            "the {}'s end at the {} {} from hole {} to hole {} ({} above the land)",
            parts.member,
            parts.puller,
            way(now.tractor_z.m(), then.tractor_z.m()),
            hole_named(&now.tractor_hole),
            hole_named(&then.tractor_hole),
            units.given_height(then.tractor_z)
        ));
    }
    let moves = moves.join(" and ");
    let mut text = match rests_on {
        Some(entry) => format!("{BEFORE_HANDS} First check {entry}. If it is right, move {moves}."),
        None => format!("{BEFORE_HANDS} Move {moves}."),
    };
    match reach {
        Reach::IntoTheBand => {}
        Reach::IntoTheBandByRaisingThePlow => text.push_str(&format!(
            " The end at the plow is raised because the end at the {} does not reach balance within its usual heights.",
            parts.puller
        )),
        Reach::OnTheWay => text.push_str(
            " That is a step on the way and still outside the balanced band: the next pass shows what is left.",
        ),
        Reach::OutsideUsualHeights => {
            text.push_str(&format!(
                " That tractor hitch is outside the usual {} to {} (common practice, tractor wheels out of the furrow).",
                units.height(USUAL_TRACTOR_HITCH.0.m()),
                units.height(USUAL_TRACTOR_HITCH.1.m())
            ));
        }
    }
    text
}

fn next_pass(now: &Prediction, then: &Prediction, parts: &PartNames, units: Units) -> String {
    format!(
        "The next pass should show: balance index {}, {} {}, {} {}, {} on the {}; better than now with a chance of {}.",
        signed_interval(&then.balance_index),
        parts.tail,
        units.force_interval(&then.tail_load.si()),
        parts.front,
        units.force_interval(&then.front_load.si()),
        load_change(then.tractor_load.value.n() - now.tractor_load.value.n(), units),
        parts.puller,
        probability_percent(then.better_probability)
    )
}

/// A pair of holes with more on the drive wheels, and what it costs.
pub fn traction((now, then): (&Prediction, &Prediction), plow: &Plow, units: Units) -> String {
    let clearance = plow.plow_hitch.clearance_z.map_or_else(String::new, |lowest| {
        format!(", {} left under the hitch at the plow", units.height(then.plow_z.m() - lowest.m()))
    });
    format!(
        "If the drive wheels slip: hole {} at the tractor with hole {} at the plow is in balance (index {}) and puts \
         {} more on the tractor; {} on the {}{clearance}. {BEFORE_HANDS}",
        then.tractor_hole,
        then.plow_hole,
        signed_interval(&then.balance_index),
        units.force_n(then.tractor_load.value.n() - now.tractor_load.value.n()),
        load_change(then.tail_load.value.n() - now.tail_load.value.n(), units),
        plow.part_names().tail
    )
}

/// Why nothing is moved, in large letters.
pub(in crate::report) fn no_move(advice: &Advice) -> &'static str {
    match advice {
        Advice::CheckFirst { .. } => "Move nothing yet: check the description first.",
        Advice::Stay { .. } => "Leave the pins in these holes.",
        Advice::SharesFirst { .. } => "Shares first, then the hitch.",
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
    let end = |name: &str, holes: &[Hole], from: (&str, Length), to: (&str, Length)| {
        if from.0 == to.0 {
            return None;
        }
        let (from_m, to_m) = (from.1.m(), to.1.m());
        let between = |z_m: f64| z_m > from_m.min(to_m) && z_m <= from_m.max(to_m);
        let count = counted(holes.iter().filter(|hole| between(hole.z.si())).count(), "hole", "holes");
        let way = if to_m > from_m { "up" } else { "down" };
        Some(format!(
            "{name} {count} {way}, {} to {} ({})",
            hole_named(from.0),
            hole_named(to.0),
            units.given_height(to.1)
        ))
    };
    let tractor = end(
        &format!("{} end", plow.part_names().puller),
        &plow.tractor_hitch.holes,
        (&now.tractor_hole, now.tractor_z),
        (&then.tractor_hole, then.tractor_z),
    );
    let plow_end =
        end("plow end", &plow.plow_hitch.holes, (&now.plow_hole, now.plow_z), (&then.plow_hole, then.plow_z));
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
