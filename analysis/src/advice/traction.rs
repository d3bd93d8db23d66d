//! Holes that put more on the tractor's drive wheels and leave the plow in balance: for a tractor that slips.
//!
//! Both ends up or down by as much keep the drawbar's angle, and with it the load on the tractor: what loads it is a
//! steeper line of pull through the same point at the weight, so both ends are moved, by different steps.

use super::Expected;
use super::choose::{clears, usual_height};
use crate::statics::predict::Prediction;
use crate::units_out::{Units, signed_interval};
use crate::verdict::Class;
use ingest::plow::{Kind, Plow};
use ingest::safety::BEFORE_HANDS;

/// Under this share more than now it is not worth a walk, by choice.
const GAIN_MIN_SHARE: f64 = 0.05;
/// Chance of a tail off the ground that is put up with, by choice.
const TAIL_OFF_CHANCE_MAX: f64 = 0.025;

/// The pair that loads the tractor most, of those at a usual height, clear of the land, with a balance index in
/// the balanced band and the tail on the ground; `None` if none loads it 5 % more than now.
#[must_use]
pub fn most_traction<'a>(plow: &Plow, predictions: &'a [Prediction]) -> Option<&'a Prediction> {
    let now = predictions.iter().find(|prediction| prediction.is_now)?;
    let now_n = now.tractor_load_n.value;
    let stands = |candidate: &&Prediction| {
        candidate.balance_index.value.abs() <= plow.limits.balanced
            && candidate.tail_off_probability <= TAIL_OFF_CHANCE_MAX
            && usual_height(plow, candidate)
            && clears(plow, candidate, now)
            && candidate.tractor_load_n.value - now_n > GAIN_MIN_SHARE * now_n.abs()
    };
    let load = |candidate: &&Prediction| candidate.tractor_load_n.value;
    predictions.iter().filter(stands).max_by(|one, other| load(one).total_cmp(&load(other)))
}

/// The same as a line for a terminal, with what it costs; empty if there is no such pair, or the plow is not
/// expected to be in balance.
#[must_use]
pub fn traction_text(plow: &Plow, expected: &Expected, predictions: &[Prediction], units: Units) -> String {
    // A plow that is out of balance, or may be, is set right first; a team has no drive wheels.
    if expected.class != Class::Balanced || plow.kind() == Kind::Walking {
        return String::new();
    }
    let parts = plow.part_names();
    let now = predictions.iter().find(|prediction| prediction.is_now);
    let Some((now, then)) = now.zip(most_traction(plow, predictions)) else { return String::new() };
    let tail_n = then.tail_load_n.value - now.tail_load_n.value;
    let clearance = plow.plow_hitch.clearance_z.map_or_else(String::new, |lowest| {
        format!(", {} left under the hitch at the plow", units.height(then.plow_z_m - lowest.m()))
    });
    format!(
        "\nIf the drive wheels slip: hole {} at the tractor with hole {} at the plow is in balance (index {}) and \
         puts {} more on the tractor; {} {} on the {}{clearance}. {BEFORE_HANDS}\n",
        then.tractor_hole,
        then.plow_hole,
        signed_interval(&then.balance_index),
        units.force_n(then.tractor_load_n.value - now.tractor_load_n.value),
        units.force_n(tail_n.abs()),
        if tail_n < 0.0 { "less" } else { "more" },
        parts.tail
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::statics::invented_plow::{plow, setting};
    use crate::statics::predict::{Nominal, PinShift, hole_table, nominal};

    #[test]
    fn the_pair_named_is_balanced_and_no_other_such_pair_loads_the_tractor_more() {
        let plow = plow();
        let table = hole_table(&plow, &setting("8", "3"), 8_000.0, 1).unwrap();
        let now = table.iter().find(|row| row.is_now).unwrap();
        let found = most_traction(&plow, &table).unwrap();
        assert!(found.tractor_load_n.value > now.tractor_load_n.value);
        assert!(found.balance_index.value.abs() <= 0.25 && found.tail_off_probability <= 0.025);
        let other =
            table.iter().filter(|row| row.balance_index.value.abs() <= 0.25 && usual_height(&plow, row));
        for row in other.filter(|row| row.tail_off_probability <= 0.025 && clears(&plow, row, now)) {
            assert!(row.tractor_load_n.value <= found.tractor_load_n.value, "{row:?}");
        }
        let expected = |class| Expected { class, advice: Vec::new() };
        let said = traction_text(&plow, &expected(Class::Balanced), &table, Units::Si);
        assert!(said.contains("more on the tractor") && said.contains("tail wheel"), "{said}");
        // Out of balance, it would be taken for the move.
        assert_eq!(traction_text(&plow, &expected(Class::TooFlat), &table, Units::Si), "");
    }

    #[test]
    fn in_the_holes_that_load_the_tractor_most_nothing_is_said() {
        let plow = plow();
        let table = hole_table(&plow, &setting("8", "3"), 8_000.0, 1).unwrap();
        let found = most_traction(&plow, &table).unwrap();
        let there = setting(&found.plow_hole, &found.tractor_hole);
        let table = hole_table(&plow, &there, 8_000.0, 1).unwrap();
        let expected = Expected { class: Class::Balanced, advice: Vec::new() };
        let text = traction_text(&plow, &expected, &table, Units::Us);
        assert_eq!(text, "");
    }

    /// The drawbar's length is fixed, so both ends up by as much keep its slope to the last bit of it.
    #[test]
    fn both_ends_up_by_as_much_keep_the_angle() {
        let now: Nominal = nominal(&plow(), &setting("4", "4"), 8_000.0).unwrap();
        let stay = now.moved(PinShift::default()).unwrap();
        let up = now.moved(PinShift { plow_m: 0.05, tractor_m: 0.05 }).unwrap();
        assert!((up.drawbar_slope - stay.drawbar_slope).abs() < 1e-12);
        assert!((up.pull_line_offset_m - stay.pull_line_offset_m - 0.05).abs() < 0.01);
    }
}
