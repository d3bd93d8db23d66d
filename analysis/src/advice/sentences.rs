//! Advice in words.

use super::USUAL_TRACTOR_HITCH_M;
use super::choose::{Choice, Reach};
use crate::statics::inputs::Input;
use crate::statics::predict::Prediction;
use crate::units_out::{Units, chance, signed_interval};
use ingest::plow::PartNames;
use ingest::safety::BEFORE_HANDS;
use ingest::{engine_off_and_blocked, nobody_between, raised_on_stands};

pub(super) const STAY: &str = "Leave the hitch in these holes.";

pub(super) const STAY_LEANING: &str = "Leave the hitch in these holes: a mounted plow is meant to lean on the \
    tractor (common practice, no source).";

pub(super) const RECORD_A_PASS: &str = "Move nothing yet: the description alone does not decide. Record a test \
    pass in this setting; it shows which way to go.";

pub(super) const BOBS: &str = concat!(
    "Leave the hitch in these holes: on the mean the load is right. Drive slower for a trial. ",
    engine_off_and_blocked!("see to the tail wheel first, its spring, bearing and roundness.")
);

pub(super) const SHARES_FIRST: &str = concat!(
    "Shares first: the soil lifts the plow, and no hitch cures that. ",
    raised_on_stands!("point or replace the shares. Then record again and set the hitch afterwards.")
);

pub(super) const NO_HOLE_HELPS: &str = "No pair of holes in the description is shown to be better. If the \
    plow or tractor has other holes, add them; else the drawbar's length or the shares have to change.";

/// What to check when the measurements contradict each other.
pub(super) fn check_first(suspect: Option<Input>) -> String {
    let first = suspect.map_or("Check the description of the plow and the readings.", measure);
    format!("Change nothing on the hitch yet. {first}")
}

/// How to measure an input better.
pub(super) fn measure(input: Input) -> &'static str {
    match input {
        Input::SoilSlope | Input::SoilHeight => {
            concat!(
                "Record a pass with a front-load channel, or give the height of the soil force in the description if a \
                 run with that channel has shown it. ",
                engine_off_and_blocked!("fit the sensor.")
            )
        }
        Input::Weight => engine_off_and_blocked!("weigh the plow on a scale, and give the ± of the scale."),
        Input::WeightPlace => {
            engine_off_and_blocked!(
                "weigh front wheels and tail wheel apart on level ground; their shares give the place of the weight."
            )
        }
        Input::TailLoad => {
            engine_off_and_blocked!(
                "put known weights on the tail and set the sensor's readings against them (of a tail wheel's spring, its \
                 load table), and check its zero with the wheel jacked off the ground."
            )
        }
        Input::Pull => {
            concat!(
                "Calibrate the pull sensor against a known load, and check its zero with the drawbar slack, ",
                nobody_between!(),
                "."
            )
        }
        Input::FrontLoad => {
            engine_off_and_blocked!(
                "calibrate the front-load channel against a scale under both front wheels."
            )
        }
        Input::LowerLinksForce | Input::TopLinkForce => {
            engine_off_and_blocked!(
                "calibrate the cells in the links against known loads, pulling and pushing, and check their zeros with \
                 the plow set down."
            )
        }
        Input::DrawbarAngle => {
            engine_off_and_blocked!(
                "set the inclinometer on the drawbar to zero again with a spirit level, and see that it sits firmly."
            )
        }
        Input::PlowHoleHeight
        | Input::TractorHoleHeight
        | Input::LowerLinkPlowHeight
        | Input::LowerLinkTractorHeight => {
            engine_off_and_blocked!(
                "measure the heights of both hitch pins again: shares and furrow wheels on a level floor, what runs on \
                 the land on blocks as thick as the working depth, heights from the top of the blocks; and check \
                 that the setting names the right holes."
            )
        }
        Input::TailPlace
        | Input::PlowHitchPlace
        | Input::MemberLength
        | Input::LowerLinkLength
        | Input::BottomsPlace => {
            engine_off_and_blocked!(
                "measure the lengths along the plow and the drawbar again with a steel tape, and give their ±."
            )
        }
        Input::TailResistance | Input::SoleFriction => {
            "Drag the plow, out of the soil and with nobody near it, over bare ground once: that pull over its weight is the friction."
        }
        Input::RollingResistance => {
            "Pull the lifted plow, with nobody near it, over the field once: that pull over its weight is the rolling resistance."
        }
    }
}

/// The name of a hole as far as a sentence has room for it: an order is whole on every page, however long the names.
pub(crate) fn hole_named(name: &str) -> String {
    const MOST: usize = 24;
    if name.chars().count() <= MOST {
        return name.to_owned();
    }
    name.chars().take(MOST - 1).chain(['…']).collect()
}

/// The move from `now` to a choice of holes; right only if the entry that it `rests_on` is, so that this is checked first.
pub(super) fn move_pins(
    (now, choice): (&Prediction, Choice),
    rests_on: Option<&str>,
    parts: &PartNames,
    units: Units,
) -> String {
    let then = choice.to;
    let way = |from_m: f64, to_m: f64| if to_m > from_m { "up" } else { "down" };
    let mut moves = Vec::new();
    if then.plow_hole != now.plow_hole {
        moves.push(format!(
            "the plow's end {} from hole {} to hole {} ({} above the land)",
            way(now.plow_z_m, then.plow_z_m),
            hole_named(&now.plow_hole),
            hole_named(&then.plow_hole),
            units.height(then.plow_z_m)
        ));
    }
    if then.tractor_hole != now.tractor_hole {
        moves.push(format!(
            "the {}'s end of the {} {} from hole {} to hole {} ({} above the land)",
            parts.puller,
            parts.member,
            way(now.tractor_z_m, then.tractor_z_m),
            hole_named(&now.tractor_hole),
            hole_named(&then.tractor_hole),
            units.height(then.tractor_z_m)
        ));
    }
    let moves = moves.join(" and ");
    let mut text = match rests_on {
        Some(entry) => format!("First check {entry}. If it is right, move {moves}."),
        None => format!("Move {moves}."),
    };
    match choice.reach {
        Reach::IntoTheBand => {}
        Reach::IntoTheBandByRaisingThePlow => text.push_str(&format!(
            " The plow's end is raised because the {}'s end does not reach balance within its usual heights.",
            parts.puller
        )),
        Reach::OnTheWay => text.push_str(
            " That is a step on the way and still outside the balanced band: the next pass shows what is left.",
        ),
        Reach::OutsideUsualHeights => {
            text.push(' ');
            text.push_str(&outside_usual(units));
        }
    }
    text.push(' ');
    text.push_str(BEFORE_HANDS);
    text
}

/// What the next pass should show if the prediction holds.
pub(super) fn next_pass(now: &Prediction, then: &Prediction, parts: &PartNames, units: Units) -> String {
    let gained_n = then.tractor_load_n.value - now.tractor_load_n.value;
    format!(
        "The next pass should show: balance index {}, {} {}, {} {}, {} {} on the {}; better than now with a chance \
         of {}.",
        signed_interval(&then.balance_index),
        parts.tail,
        units.force_interval(&then.tail_load_n),
        parts.front,
        units.force_interval(&then.front_load_n),
        units.force_n(gained_n.abs()),
        if gained_n < 0.0 { "less" } else { "more" },
        parts.puller,
        chance(then.better_probability)
    )
}

fn outside_usual(units: Units) -> String {
    let (low_m, high_m) = USUAL_TRACTOR_HITCH_M;
    format!(
        "That tractor hitch is outside the usual {} to {} (common practice, tractor wheels out of the furrow).",
        units.height(low_m),
        units.height(high_m)
    )
}
