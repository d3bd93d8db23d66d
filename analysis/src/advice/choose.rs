//! Which holes to choose: those that bring b toward 0, the tractor's before the plow's.

use super::USUAL_TRACTOR_HITCH_M;
use crate::statics::predict::Prediction;
use ingest::plow::Plow;
use std::cmp::Ordering;

/// A move is worth the walk if it is better in four of five draws.
const BETTER_CHANCE_MIN: f64 = 0.8;

/// Indices closer than this are as good as each other.
const INDEX_STEP: f64 = 0.05;

/// The choice and up to one other way, best first; empty if no pair of holes is shown to be better than now.
///
/// Order of preference among pairs that bring b into the balanced band: the tractor's hole alone, within its usual
/// heights; then any hole at the plow that clears the ground, the lowest first, the tractor's within its usual
/// heights; then the same outside of them. Within a kind, the smallest |b|, then the shortest way. If nothing
/// reaches the band, the pair with the smallest |b|, usual heights first.
pub(super) fn choose<'a>(
    plow: &Plow,
    predictions: &'a [Prediction],
    now: Option<&Prediction>,
) -> Vec<&'a Prediction> {
    let Some(now) = now else { return Vec::new() };
    let clears = |candidate: &Prediction| {
        let lowest_m = plow.plow_hitch.clearance_z.map_or(f64::NEG_INFINITY, |z| z.m());
        // A hole that is in use clears by trial.
        candidate.plow_hole == now.plow_hole || candidate.plow_z_m >= lowest_m
    };
    let mut candidates: Vec<&Prediction> = predictions
        .iter()
        .filter(|candidate| !candidate.is_now && clears(candidate))
        .filter(|candidate| candidate.better_chance >= BETTER_CHANCE_MIN)
        .collect();
    let balanced = plow.limits.balanced;
    candidates.sort_by(|a, b| compare(a, b, now, balanced));
    let Some(first) = candidates.first().copied() else { return Vec::new() };
    // The other way moves the other end, so that it is a real choice.
    let other = candidates.iter().copied().find(|candidate| {
        moves_plow(candidate, now) != moves_plow(first, now) && reaches(candidate, balanced)
    });
    std::iter::once(first).chain(other).collect()
}

/// Whether the tractor's hole is within the usual heights.
pub(super) fn usual_height(prediction: &Prediction) -> bool {
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

fn compare(a: &Prediction, b: &Prediction, now: &Prediction, balanced: f64) -> Ordering {
    let misses = |c: &Prediction| !reaches(c, balanced);
    let index = |c: &Prediction| (c.balance_index.value.abs() / INDEX_STEP).round();
    let way_m = |c: &Prediction| (c.plow_z_m - now.plow_z_m).abs() + (c.tractor_z_m - now.tractor_z_m).abs();
    misses(a)
        .cmp(&misses(b))
        .then_with(|| (!usual_height(a)).cmp(&!usual_height(b)))
        .then_with(|| {
            if misses(a) {
                return Ordering::Equal;
            }
            // Among holes that reach the band only: the tractor's end first, then the lowest at the plow.
            let plow_end = |c: &Prediction| moves_plow(c, now);
            let height = || match plow_end(a) {
                true => a.plow_z_m.total_cmp(&b.plow_z_m),
                false => Ordering::Equal,
            };
            plow_end(a).cmp(&plow_end(b)).then_with(height)
        })
        .then_with(|| index(a).total_cmp(&index(b)))
        .then_with(|| way_m(a).total_cmp(&way_m(b)))
}
