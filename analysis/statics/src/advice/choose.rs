//! Which holes to move to: one choice, in the order of the trade, the same for every output.
//!
//! The order of the trade (common practice, no source): the hitch at the plow as low as it clears, then the
//! tractor's hitch within its usual heights; raising the plow's end is the last thing and has a reason.
//!
//! For a tractor that slips: holes that put more on its drive wheels and leave the plow in balance. Both ends up or down
//! by as much keep the drawbar's angle, and with it the load on the tractor: what loads it is a steeper line of pull
//! through the same point at the weight, so both ends are moved, by different steps.

use crate::predict::{CANNOT_BE_MAX, Prediction};
use crate::verdict::Class;
use ingest::plow::{Kind, Limits, Plow};
use ingest::quantity::Length;
use schemars::JsonSchema;
use serde::Serialize;
use std::cmp::Ordering;

/// Usual heights of a tractor hitch with the tractor's wheels out of the furrow, 10 to 15 in: common
/// practice, no source.
pub const USUAL_TRACTOR_HITCH: (Length, Length) = (Length::from_m(0.254), Length::from_m(0.381));

/// A move is worth the walk if it is better in four of five draws.
pub const BETTER_CHANCE_MIN: f64 = 0.8;

/// Indices closer than this are as good as each other.
const INDEX_STEP: f64 = 0.05;

/// Pins are moved by no more than this in all from one pass, m (6 in, by choice): a prediction leaves out what
/// the new attitude does to depth and suction.
pub const FARTHEST_M: f64 = 0.1525;

/// Under this share more than now it is not worth a walk, by choice.
const GAIN_MIN_SHARE: f64 = 0.05;
/// Chance of a tail off the ground that is put up with, by choice.
const TAIL_OFF_CHANCE_MAX: f64 = 0.025;

/// How a move stands to what is wanted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Reach {
    /// It is expected to bring the balance index into the wanted band.
    IntoTheBand,
    /// It brings it in, but only with the plow's end raised: the tractor's end does not reach it within its usual
    /// heights.
    IntoTheBandByRaisingThePlow,
    /// A step on the way: nothing that one pass can predict reaches the band.
    OnTheWay,
    /// It needs the tractor's end outside its usual heights.
    OutsideUsualHeights,
}

/// The move chosen.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Choice<'a> {
    pub to: &'a Prediction,
    pub reach: Reach,
}

/// Balance indices that are left alone: the balanced band, and for a plow that hangs on links that meet also a
/// lean on the tractor, which is usual there (common practice, no source).
pub(super) fn wanted_band(plow: &Plow) -> (f64, f64) {
    let Limits { balanced, leaning, .. } = plow.limits;
    match plow.kind() {
        Kind::Mounted => (-balanced, leaning),
        Kind::Trailed | Kind::SemiMounted | Kind::Walking => (-balanced, balanced),
    }
}

/// The pair of holes to move to; `None` if none is shown to be better than now.
///
/// A pair is a candidate if the plow can hardly fail to stand in it, it clears the land, is nearer to balance in four draws of five, is not farther away than
/// one pass can predict, and is not expected to end beyond leaning on the other side. Among candidates the
/// [`Reach`] decides first; then which ends move, in the order of the trade; then the smaller index; then the
/// shorter way. Pairs that do not reach the band go as near to it as they can.
pub(super) fn choose<'a>(plow: &Plow, predictions: &'a [Prediction], now: &Prediction) -> Option<Choice<'a>> {
    let candidates = predictions.iter().filter(|candidate| {
        !candidate.is_now
            && candidate.cannot_be_probability <= CANNOT_BE_MAX
            && clears(plow, candidate, now)
            && candidate.better_probability >= BETTER_CHANCE_MIN
            && distance_m(candidate, now) <= FARTHEST_M
            && stays_on_this_side(plow, candidate, now)
    });
    let choices = candidates.map(|to| Choice { to, reach: reach(plow, to, now) });
    choices.min_by(|one, other| order(plow, now, one, other))
}

/// Whether the hitch at the plow clears what is under it.
pub(super) fn clears(plow: &Plow, candidate: &Prediction, now: &Prediction) -> bool {
    let lowest_m = plow.plow_hitch.clearance_z.map_or(f64::NEG_INFINITY, |z| z.m());
    // A hole that is in use clears by trial.
    candidate.plow_hole == now.plow_hole || candidate.plow_z.m() >= lowest_m
}

/// Whether the tractor's hole is within the usual heights, which are those of a drawbar's pin.
pub(super) fn usual_height(plow: &Plow, prediction: &Prediction) -> bool {
    if plow.kind() != Kind::Trailed {
        return true;
    }
    let (low_m, high_m) = (USUAL_TRACTOR_HITCH.0.m(), USUAL_TRACTOR_HITCH.1.m());
    // A millimetre: holes are given in inches or in whole millimetres.
    (low_m - 1e-3..=high_m + 1e-3).contains(&prediction.tractor_z.m())
}

/// How far both pins are moved, together, m.
fn distance_m(candidate: &Prediction, now: &Prediction) -> f64 {
    (candidate.plow_z.m() - now.plow_z.m()).abs() + (candidate.tractor_z.m() - now.tractor_z.m()).abs()
}

/// Whether the whole interval stays short of "too steep" for a plow that is flat now, and the other way round.
fn stays_on_this_side(plow: &Plow, candidate: &Prediction, now: &Prediction) -> bool {
    let index = &candidate.balance_index;
    let leaning = plow.limits.leaning;
    if now.balance_index.value > 0.0 { index.low >= -leaning } else { index.high <= leaning }
}

fn reach(plow: &Plow, to: &Prediction, now: &Prediction) -> Reach {
    let (low, high) = wanted_band(plow);
    let outside = to.tractor_hole != now.tractor_hole && !usual_height(plow, to);
    let reaches = (low..=high).contains(&to.balance_index.value);
    match (outside, reaches) {
        (true, _) => Reach::OutsideUsualHeights,
        (false, false) => Reach::OnTheWay,
        (false, true) if raises_the_plow(plow, to, now) => Reach::IntoTheBandByRaisingThePlow,
        (false, true) => Reach::IntoTheBand,
    }
}

/// Only a drawbar's end at the plow is kept low; the clevis of a walking plow and a top link go where they are
/// wanted.
fn raises_the_plow(plow: &Plow, to: &Prediction, now: &Prediction) -> bool {
    plow.kind() == Kind::Trailed && to.plow_z.m() > now.plow_z.m()
}

/// Which ends move, the one that the trade tries first as 0.
fn ends(plow: &Plow, to: &Prediction, now: &Prediction) -> u8 {
    let (at_plow, at_tractor) = (to.plow_hole != now.plow_hole, to.tractor_hole != now.tractor_hole);
    let flat = now.balance_index.value > 0.0;
    match (plow.kind(), at_plow, at_tractor) {
        // Too flat: the plow's end goes down, and the tractor's up where that is not enough.
        (Kind::Trailed, true, false) if flat => 0,
        (Kind::Trailed, true, true) if flat => 1,
        (Kind::Trailed, ..) if flat => 2,
        // Too steep: the tractor's end goes down.
        (Kind::Trailed, false, true) => 0,
        (Kind::Trailed, ..) => 1,
        (_, true, true) => 1,
        _ => 0,
    }
}

fn order(plow: &Plow, now: &Prediction, one: &Choice, other: &Choice) -> Ordering {
    let (low, high) = wanted_band(plow);
    let middle = f64::midpoint(low, high);
    let index = |choice: &Choice| ((choice.to.balance_index.value - middle).abs() / INDEX_STEP).round();
    // To the millimeter: ways as long as each other differ in the last bit.
    let way_mm = |choice: &Choice| (distance_m(choice.to, now) * 1000.0).round();
    let by = |of: &dyn Fn(&Choice) -> f64| of(one).total_cmp(&of(other));
    let by_ends = || ends(plow, one.to, now).cmp(&ends(plow, other.to, now));
    let by_index_and_way =
        || by(&index).then_with(|| by(&way_mm)).then_with(|| by(&|choice| choice.to.plow_z.m()));
    one.reach.cmp(&other.reach).then_with(|| match one.reach {
        Reach::IntoTheBand | Reach::IntoTheBandByRaisingThePlow => by_ends().then_with(by_index_and_way),
        Reach::OnTheWay => raises_the_plow(plow, one.to, now)
            .cmp(&raises_the_plow(plow, other.to, now))
            .then_with(by_index_and_way),
        Reach::OutsideUsualHeights => by_index_and_way(),
    })
}

/// The pair in use and the one to change to for a tractor that slips; `None` if there is none, or if the class to
/// expect is not balanced: one that is out of balance, or may be, is set right first, and a team has no drive wheels.
pub fn more_traction<'a>(
    plow: &Plow,
    class: Class,
    predictions: &'a [Prediction],
) -> Option<(&'a Prediction, &'a Prediction)> {
    if class != Class::Balanced || plow.kind() == Kind::Walking {
        return None;
    }
    predictions.iter().find(|prediction| prediction.is_now).zip(most_traction(plow, predictions))
}

/// The pair that loads the tractor most, of those at a usual height, clear of the land, with a balance index in
/// the balanced band and the tail on the ground; `None` if none loads it 5 % more than now.
fn most_traction<'a>(plow: &Plow, predictions: &'a [Prediction]) -> Option<&'a Prediction> {
    let now = predictions.iter().find(|prediction| prediction.is_now)?;
    let now_n = now.tractor_load.value.n();
    let stands = |candidate: &&Prediction| {
        candidate.balance_index.value.abs() <= plow.limits.balanced
            && candidate.cannot_be_probability <= CANNOT_BE_MAX
            && candidate.tail_off_probability <= TAIL_OFF_CHANCE_MAX
            && usual_height(plow, candidate)
            && clears(plow, candidate, now)
            && candidate.tractor_load.value.n() - now_n > GAIN_MIN_SHARE * now_n.abs()
    };
    let load = |candidate: &&Prediction| candidate.tractor_load.value.n();
    predictions.iter().filter(stands).max_by(|one, other| load(one).total_cmp(&load(other)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::invented_plow::{plow, setting};
    use crate::predict::{PinShift, hole_table, nominal};
    use ingest::quantity::{Force, Length};
    use stats::Estimate;

    fn all_from(plow: &Plow, holes: (&str, &str)) -> Vec<Prediction> {
        hole_table(plow, &setting(holes.0, holes.1), Force::from_n(8_000.0), 1).unwrap().predictions
    }

    /// Predictions from these holes, as sure as those of a run with every load measured.
    fn predictions(plow: &Plow, holes: (&str, &str)) -> Vec<Prediction> {
        let mut all = all_from(plow, holes);
        for prediction in &mut all {
            prediction.balance_index = Estimate::around(prediction.balance_index.value, 0.05).unwrap();
        }
        all
    }

    fn chosen<'a>(plow: &Plow, predictions: &'a [Prediction]) -> Option<Choice<'a>> {
        choose(plow, predictions, predictions.iter().find(|prediction| prediction.is_now).unwrap())
    }

    #[test]
    fn too_flat_lowers_the_plows_end_first() {
        let plow = plow();
        let all = predictions(&plow, ("7", "3"));
        let Choice { to, reach } = chosen(&plow, &all).unwrap();
        assert_eq!((to.tractor_hole.as_str(), reach), ("3", Reach::IntoTheBand), "{to:?}");
        assert!(to.plow_z.m() < 7.0 * 0.0254 && to.balance_index.value.abs() <= 0.25, "{to:?}");
    }

    #[test]
    fn with_the_plow_as_low_as_it_clears_the_tractors_end_goes_up_within_its_usual_heights() {
        let mut plow = plow();
        plow.plow_hitch.clearance_z = Some(Length::from_m(6.0 * 0.0254));
        let all = predictions(&plow, ("6", "3"));
        let to = chosen(&plow, &all).unwrap().to;
        assert_eq!(to.plow_hole, "6");
        assert!(to.tractor_z.m() > 12.0 * 0.0254 && usual_height(&plow, to), "{to:?}");
    }

    #[test]
    fn too_steep_lowers_the_tractors_end_and_raises_the_plows_only_for_a_reason() {
        let mut plow = plow();
        let all = predictions(&plow, ("2", "5"));
        let now = all.iter().find(|prediction| prediction.is_now).unwrap();
        assert!(now.balance_index.value < -0.25, "{now:?}");
        let Choice { to, reach } = chosen(&plow, &all).unwrap();
        assert_eq!((to.plow_hole.as_str(), reach), ("2", Reach::IntoTheBand), "{to:?}");
        // Without another hole at the tractor there is only the plow's end.
        plow.tractor_hitch.holes.retain(|hole| hole.name == "5");
        let all = predictions(&plow, ("2", "5"));
        let Choice { to, reach } = chosen(&plow, &all).unwrap();
        assert_eq!(reach, Reach::IntoTheBandByRaisingThePlow, "{to:?}");
    }

    #[test]
    fn no_farther_than_one_pass_can_predict() {
        let plow = plow();
        let mut all = predictions(&plow, ("9", "1"));
        let now = all.iter().find(|prediction| prediction.is_now).unwrap().clone();
        let Choice { to, .. } = chosen(&plow, &all).unwrap();
        assert!(distance_m(to, &now) <= FARTHEST_M, "{to:?}");
        // Where nothing within reach is in the band, the step is as near to it as it can be.
        for one in all.iter_mut().filter(|one| !one.is_now) {
            one.balance_index = Estimate::around(one.balance_index.value.max(0.3), 0.05).unwrap();
        }
        assert_eq!(chosen(&plow, &all).unwrap().reach, Reach::OnTheWay);
    }

    #[test]
    fn a_prediction_that_may_end_on_the_other_side_is_not_taken() {
        let plow = plow();
        let mut all = predictions(&plow, ("8", "3"));
        assert!(chosen(&plow, &all).is_some());
        for one in all.iter_mut().filter(|one| !one.is_now) {
            one.balance_index.low = -0.7;
        }
        assert_eq!(chosen(&plow, &all), None);
    }

    #[test]
    fn no_hole_below_the_clearance_is_chosen_unless_it_is_in_use() {
        let mut plow = plow();
        let all = predictions(&plow, ("8", "3"));
        let to = chosen(&plow, &all).unwrap().to;
        assert!(to.plow_z.m() < 6.5 * 0.0254, "it would go below the clearance to come");
        plow.plow_hitch.clearance_z = Some(Length::from_m(6.5 * 0.0254));
        assert!(chosen(&plow, &all).unwrap().to.plow_z.m() >= 6.5 * 0.0254);
        plow.plow_hitch.clearance_z = Some(Length::from_m(1.0));
        assert!(chosen(&plow, &all).is_none_or(|choice| choice.to.plow_hole == "8"));
    }

    #[test]
    fn what_is_not_shown_to_be_better_is_not_chosen() {
        let plow = plow();
        let mut all = predictions(&plow, ("8", "3"));
        assert!(chosen(&plow, &all).is_some());
        all.iter_mut().for_each(|prediction| prediction.better_probability = 0.5);
        assert_eq!(chosen(&plow, &all), None);
    }

    #[test]
    fn the_pair_named_is_balanced_and_no_other_such_pair_loads_the_tractor_more() {
        let plow = plow();
        let table = all_from(&plow, ("8", "3"));
        let now = table.iter().find(|row| row.is_now).unwrap();
        let found = most_traction(&plow, &table).unwrap();
        assert!(found.tractor_load.value.n() > now.tractor_load.value.n());
        assert!(found.balance_index.value.abs() <= 0.25 && found.tail_off_probability <= 0.025);
        let other =
            table.iter().filter(|row| row.balance_index.value.abs() <= 0.25 && usual_height(&plow, row));
        for row in other.filter(|row| row.tail_off_probability <= 0.025 && clears(&plow, row, now)) {
            assert!(row.tractor_load.value.n() <= found.tractor_load.value.n(), "{row:?}");
        }
        assert_eq!(more_traction(&plow, Class::Balanced, &table), Some((now, found)));
        // Out of balance, it would be taken for the move.
        assert_eq!(more_traction(&plow, Class::TooFlat, &table), None);
    }

    #[test]
    fn in_the_holes_that_load_the_tractor_most_nothing_is_said() {
        let plow = plow();
        let table = all_from(&plow, ("8", "3"));
        let found = most_traction(&plow, &table).unwrap();
        let table = all_from(&plow, (&found.plow_hole, &found.tractor_hole));
        assert_eq!(more_traction(&plow, Class::Balanced, &table), None);
    }

    /// The drawbar's length is fixed, so both ends up by as much keep its slope to the last bit of it.
    #[test]
    fn both_ends_up_by_as_much_keep_the_angle() {
        let now = nominal(&plow(), &setting("4", "4"), Force::from_n(8_000.0)).unwrap();
        let moved =
            |up: Length| now.with_pins(PinShift { plow: up, tractor: up }).unwrap().0.loads().unwrap();
        let (stay, up) = (moved(Length::from_m(0.0)), moved(Length::from_m(0.05)));
        assert!((up.drawbar_slope - stay.drawbar_slope).abs() < 1e-12);
        assert!((up.pull_line_offset.m() - stay.pull_line_offset.m() - 0.05).abs() < 0.01);
    }
}
