//! Which holes to choose: those that bring b toward 0, the tractor's before the plow's.

use super::USUAL_TRACTOR_HITCH_M;
use crate::statics::predict::Prediction;
use ingest::plow::{Kind, Plow};
use std::cmp::Ordering;

/// A move is worth the walk if it is better in four of five draws.
const BETTER_CHANCE_MIN: f64 = 0.8;

/// Indices closer than this are as good as each other.
const INDEX_STEP: f64 = 0.05;

/// The choice and up to one other way, best first; empty if no pair of holes is shown to be better than now.
///
/// Pairs that bring b into the balanced band come first, and among them those with the tractor's hole at a
/// usual height. Then the tractor's end alone, the smallest |b| and the shortest way; then, with the plow's
/// end moved too, those well inside the band (half of it) by the shortest way, the lower hole at the plow if
/// two ways are as short. Lowest-at-the-plow before shortest-way lost: it asked for moves at both ends far
/// beyond what a prediction from one run is good for. Holes at the plow under the clearance are out. If
/// nothing reaches the band, the smallest |b|, usual heights first.
pub(super) fn choose<'a>(
    plow: &Plow,
    predictions: &'a [Prediction],
    now: Option<&Prediction>,
) -> Vec<&'a Prediction> {
    let Some(now) = now else { return Vec::new() };
    let mut candidates: Vec<&Prediction> = predictions
        .iter()
        .filter(|candidate| !candidate.is_now && clears(plow, candidate, now))
        .filter(|candidate| candidate.better_chance >= BETTER_CHANCE_MIN)
        .collect();
    let balanced = plow.limits.balanced;
    candidates.sort_by(|a, b| compare(plow, (a, b), now, balanced));
    let Some(first) = candidates.first().copied() else { return Vec::new() };
    // The other way moves the other end, so that it is a real choice.
    let other = candidates.iter().copied().find(|candidate| {
        moves_plow(candidate, now) != moves_plow(first, now) && reaches(candidate, balanced)
    });
    std::iter::once(first).chain(other).collect()
}

/// Whether the hitch at the plow clears what is under it.
pub(super) fn clears(plow: &Plow, candidate: &Prediction, now: &Prediction) -> bool {
    let lowest_m = plow.plow_hitch.clearance_z.map_or(f64::NEG_INFINITY, |z| z.m());
    // A hole that is in use clears by trial.
    candidate.plow_hole == now.plow_hole || candidate.plow_z_m >= lowest_m
}

/// Whether the tractor's hole is within the usual heights, which are those of a drawbar's pin.
pub(super) fn usual_height(plow: &Plow, prediction: &Prediction) -> bool {
    if plow.kind() != Kind::Trailed {
        return true;
    }
    let (low_m, high_m) = USUAL_TRACTOR_HITCH_M;
    // A millimetre: holes are given in inches or in whole millimetres.
    (low_m - 1e-3..=high_m + 1e-3).contains(&prediction.tractor_z_m)
}

fn moves_plow(candidate: &Prediction, now: &Prediction) -> bool {
    candidate.plow_hole != now.plow_hole
}

fn reaches(candidate: &Prediction, balanced: f64) -> bool {
    candidate.balance_index.value.abs() <= balanced
}

fn compare(plow: &Plow, (a, b): (&Prediction, &Prediction), now: &Prediction, balanced: f64) -> Ordering {
    let misses = |c: &Prediction| !reaches(c, balanced);
    let outside = |c: &Prediction| !reaches(c, balanced / 2.0);
    let index = |c: &Prediction| (c.balance_index.value.abs() / INDEX_STEP).round();
    // To the millimetre: ways as long as each other differ in the last bit.
    let way_mm = |c: &Prediction| {
        let way_m = (c.plow_z_m - now.plow_z_m).abs() + (c.tractor_z_m - now.tractor_z_m).abs();
        (way_m * 1000.0).round()
    };
    let by_index = || index(a).total_cmp(&index(b)).then_with(|| way_mm(a).total_cmp(&way_mm(b)));
    let by_way = || {
        let ways = outside(a).cmp(&outside(b)).then_with(|| way_mm(a).total_cmp(&way_mm(b)));
        ways.then_with(|| a.plow_z_m.total_cmp(&b.plow_z_m))
    };
    let first = misses(a).cmp(&misses(b)).then_with(|| (!usual_height(plow, a)).cmp(&!usual_height(plow, b)));
    first.then_with(|| match (misses(a), moves_plow(a, now), moves_plow(b, now)) {
        (true, _, _) | (false, false, false) => by_index(),
        (false, true, true) => by_way(),
        (false, moved_a, moved_b) => moved_a.cmp(&moved_b),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::statics::predict::hole_table;
    use crate::verdict::studies::invented_plow::{plow, setting};
    use ingest::quantity::{Length, Quantity};

    fn predictions(plow: &Plow) -> Vec<Prediction> {
        hole_table(plow, &setting("8", "3"), 8_000.0, 1).unwrap()
    }

    fn chosen<'a>(plow: &Plow, predictions: &'a [Prediction]) -> Vec<&'a Prediction> {
        choose(plow, predictions, predictions.iter().find(|prediction| prediction.is_now))
    }

    #[test]
    fn no_hole_below_the_clearance_is_chosen_unless_it_is_in_use() {
        let mut plow = plow();
        let all = predictions(&plow);
        assert!(chosen(&plow, &all)[0].plow_z_m < 6.5 * 0.0254, "it would go below the clearance to come");
        plow.plow_hitch.clearance_z = Some(Length::from_si(6.5 * 0.0254));
        let chosen_now = chosen(&plow, &all);
        assert!(!chosen_now.is_empty());
        assert!(chosen_now.iter().all(|choice| choice.plow_z_m >= 6.5 * 0.0254), "{chosen_now:?}");
        plow.plow_hitch.clearance_z = Some(Length::from_si(1.0));
        assert!(chosen(&plow, &all).iter().all(|choice| choice.plow_hole == "8"));
    }

    #[test]
    fn what_is_not_shown_to_be_better_is_not_chosen() {
        let plow = plow();
        let mut all = predictions(&plow);
        assert!(!chosen(&plow, &all).is_empty());
        all.iter_mut().for_each(|prediction| prediction.better_chance = 0.5);
        assert!(chosen(&plow, &all).is_empty());
    }
}
