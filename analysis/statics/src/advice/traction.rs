//! Holes that put more on the tractor's drive wheels and leave the plow in balance: for a tractor that slips.
//!
//! Both ends up or down by as much keep the drawbar's angle, and with it the load on the tractor: what loads it is a
//! steeper line of pull through the same point at the weight, so both ends are moved, by different steps.

use super::Expected;
use super::choose::{clears, usual_height};
use crate::predict::Prediction;
use crate::verdict::Class;
use ingest::plow::{Kind, Plow};

/// Under this share more than now it is not worth a walk, by choice.
const GAIN_MIN_SHARE: f64 = 0.05;
/// Chance of a tail off the ground that is put up with, by choice.
const TAIL_OFF_CHANCE_MAX: f64 = 0.025;

/// The pair in use and the one to change to for a tractor that slips; `None` if there is none, or if the plow is not
/// expected to be in balance: one that is out of balance, or may be, is set right first, and a team has no drive wheels.
pub fn more_traction<'a>(
    plow: &Plow,
    expected: &Expected,
    predictions: &'a [Prediction],
) -> Option<(&'a Prediction, &'a Prediction)> {
    if expected.class != Class::Balanced || plow.kind() == Kind::Walking {
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
    use crate::predict::{Nominal, PinShift, hole_table, nominal};
    use ingest::quantity::{Force, Length};

    #[test]
    fn the_pair_named_is_balanced_and_no_other_such_pair_loads_the_tractor_more() {
        let plow = plow();
        let table = hole_table(&plow, &setting("8", "3"), Force::from_n(8_000.0), 1).unwrap();
        let now = table.iter().find(|row| row.is_now).unwrap();
        let found = most_traction(&plow, &table).unwrap();
        assert!(found.tractor_load.value.n() > now.tractor_load.value.n());
        assert!(found.balance_index.value.abs() <= 0.25 && found.tail_off_probability <= 0.025);
        let other =
            table.iter().filter(|row| row.balance_index.value.abs() <= 0.25 && usual_height(&plow, row));
        for row in other.filter(|row| row.tail_off_probability <= 0.025 && clears(&plow, row, now)) {
            assert!(row.tractor_load.value.n() <= found.tractor_load.value.n(), "{row:?}");
        }
        let expected = |class| Expected { class, advice: Vec::new() };
        assert_eq!(more_traction(&plow, &expected(Class::Balanced), &table), Some((now, found)));
        // Out of balance, it would be taken for the move.
        assert_eq!(more_traction(&plow, &expected(Class::TooFlat), &table), None);
    }

    #[test]
    fn in_the_holes_that_load_the_tractor_most_nothing_is_said() {
        let plow = plow();
        let table = hole_table(&plow, &setting("8", "3"), Force::from_n(8_000.0), 1).unwrap();
        let found = most_traction(&plow, &table).unwrap();
        let there = setting(&found.plow_hole, &found.tractor_hole);
        let table = hole_table(&plow, &there, Force::from_n(8_000.0), 1).unwrap();
        let expected = Expected { class: Class::Balanced, advice: Vec::new() };
        assert_eq!(more_traction(&plow, &expected, &table), None);
    }

    /// The drawbar's length is fixed, so both ends up by as much keep its slope to the last bit of it.
    #[test]
    fn both_ends_up_by_as_much_keep_the_angle() {
        let now: Nominal = nominal(&plow(), &setting("4", "4"), Force::from_n(8_000.0)).unwrap();
        let moved =
            |up: Length| now.with_pins(PinShift { plow: up, tractor: up }).unwrap().0.loads().unwrap();
        let (stay, up) = (moved(Length::from_m(0.0)), moved(Length::from_m(0.05)));
        assert!((up.drawbar_slope - stay.drawbar_slope).abs() < 1e-12);
        assert!((up.pull_line_offset.m() - stay.pull_line_offset.m() - 0.05).abs() < 0.01);
    }
}
