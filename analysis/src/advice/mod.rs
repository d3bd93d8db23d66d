//! What to do next: which holes, shares first, stay, or what to measure. Every output that names a move takes it
//! from here.

mod choose;
mod sentences;
pub mod traction;

pub use choose::Reach;
pub(crate) use sentences::hole_named;

use crate::statics::contradiction::Entry;
use crate::statics::draw::Impossible;
use crate::statics::identify::{Contradiction, Identified, IdentifyError};
use crate::statics::inputs::Input;
use crate::statics::predict::{Prediction, State, predict_all};
use crate::stats::Estimate;
use crate::units_out::Units;
use crate::verdict::{Class, Verdict};
use ingest::plow::{Plow, Setting};
use serde::Serialize;

/// Usual heights of a tractor hitch with the tractor's wheels out of the furrow, 10 to 15 in: common
/// practice, no source.
pub const USUAL_TRACTOR_HITCH_M: (f64, f64) = (0.254, 0.381);

/// What kind of advice.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Step {
    /// Put the pins into these holes.
    MovePins,
    /// Leave the hitch as it is.
    Stay,
    /// See to the shares, and to the hitch afterwards.
    SharesFirst,
    /// Measure this better, and record again.
    Measure,
    /// No hole of the description helps.
    NoHoleHelps,
}

/// One piece of advice.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Advice {
    /// What kind.
    pub step: Step,
    /// What is predicted of it, for pins to be moved and for staying.
    pub prediction: Option<Prediction>,
    /// How far a move of the pins goes; for moves alone.
    pub reach: Option<Reach>,
    /// What to do and why, in one unit system.
    pub sentence: String,
    /// What the next pass should show after a move, in one unit system.
    pub expectation: Option<String>,
}

/// Advice on a run, the first thing to do first; never empty.
#[must_use]
pub fn advise(
    plow: &Plow,
    setting: &Setting,
    identified: &Result<Identified, IdentifyError>,
    verdict: &Verdict,
    units: Units,
) -> Vec<Advice> {
    let found = match identified {
        Ok(found) => found,
        Err(error) => return vec![plain(Step::Measure, sentences::check_first(suspect(error)))],
    };
    if found.lifts_shown() {
        return vec![plain(Step::SharesFirst, sentences::SHARES_FIRST.to_owned())];
    }
    let states: Vec<State> = found.draws.iter().map(State::from).collect();
    let predictions = predict_all(plow, setting, &states).unwrap_or_default();
    match verdict.class {
        Class::NotShown => measure_next(found, verdict),
        class => {
            let rests_on = verdict.if_as_described(&plow.part_names());
            vec![by_class(plow, (class, rests_on.as_deref()), &predictions, units)]
        }
    }
}

/// What the description of a plow alone leads one to expect in one setting, and what to do about it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Expected {
    /// The class to expect.
    pub class: Class,
    /// What to do, the first thing first; never empty.
    pub advice: Vec<Advice>,
}

impl Expected {
    /// The pair of holes to move to, where a move is advised.
    #[must_use]
    pub fn move_to(&self) -> Option<&Prediction> {
        moved_to(&self.advice)
    }
}

/// The pair of holes that advice names to move to, if it names one.
#[must_use]
pub fn moved_to(advice: &[Advice]) -> Option<&Prediction> {
    advice.iter().find(|one| one.step == Step::MovePins)?.prediction.as_ref()
}

/// What to expect of a plow by its description, from the predictions of all its pairs of holes, and what to do. As
/// with a run, a class is stated only where it is off by one class at most, and only then pins are moved.
#[must_use]
pub fn expect(plow: &Plow, predictions: &[Prediction], units: Units) -> Expected {
    let now = predictions.iter().find(|prediction| prediction.is_now);
    let class = now.map_or(Class::NotShown, |now| expected_class(&now.balance_index, plow));
    let advice = match class {
        Class::NotShown => plain(Step::Measure, sentences::RECORD_A_PASS.to_owned()),
        class => by_class(plow, (class, None), predictions, units),
    };
    Expected { class, advice: vec![advice] }
}

/// The class of the middle, if both ends of the interval are in it or beside it: the rule of a run's verdict,
/// at most one class off.
fn expected_class(b: &Estimate, plow: &Plow) -> Class {
    let place = |index: f64| Class::SHOWN.iter().position(|class| *class == Class::of(index, &plow.limits));
    match (place(b.low), place(b.value), place(b.high)) {
        (Some(low), Some(middle), Some(high)) if low.abs_diff(middle) <= 1 && high.abs_diff(middle) <= 1 => {
            Class::of(b.value, &plow.limits)
        }
        _ => Class::NotShown,
    }
}

fn plain(step: Step, sentence: String) -> Advice {
    Advice { step, prediction: None, reach: None, sentence, expectation: None }
}

/// Advice on a plow whose class is shown; where that rests on an entry, a move begins with checking it.
fn by_class(
    plow: &Plow,
    (class, rests_on): (Class, Option<&str>),
    predictions: &[Prediction],
    units: Units,
) -> Advice {
    let Some(now) = predictions.iter().find(|prediction| prediction.is_now) else {
        return plain(Step::NoHoleHelps, sentences::NO_HOLE_HELPS.to_owned());
    };
    let (low, high) = choose::wanted_band(plow);
    let leans = class != Class::Balanced
        && (low..=high).contains(&now.balance_index.value)
        && high > plow.limits.balanced;
    if class == Class::Balanced || leans {
        let sentence = if leans { sentences::STAY_LEANING } else { sentences::STAY };
        return Advice { prediction: Some(now.clone()), ..plain(Step::Stay, sentence.to_owned()) };
    }
    match choose::choose(plow, predictions, now) {
        Some(choice) => Advice {
            step: Step::MovePins,
            prediction: Some(choice.to.clone()),
            reach: Some(choice.reach),
            sentence: sentences::move_pins((now, choice), rests_on, &plow.part_names(), units),
            expectation: Some(sentences::next_pass(now, choice.to, &plow.part_names(), units)),
        },
        None => plain(Step::NoHoleHelps, sentences::NO_HOLE_HELPS.to_owned()),
    }
}

/// The input that a contradiction points to: that of the most suspicious entry, else of what is farthest off.
fn suspect(error: &IdentifyError) -> Option<Input> {
    let IdentifyError::Contradiction { cause, suspects, .. } = error else { return None };
    Some(match suspects.first().map(|suspect| &suspect.entry) {
        Some(Entry::Input(input)) => *input,
        Some(Entry::PullGain | Entry::PullZero) => Input::Pull,
        Some(Entry::LoadTable | Entry::TailZero | Entry::TailReversed) => Input::TailLoad,
        Some(Entry::Setting(_)) => Input::PlowHoleHeight,
        None => match cause {
            Contradiction::Impossible(Impossible::PullTooSmall) => Input::Pull,
            Contradiction::Impossible(Impossible::Geometry) => Input::WeightPlace,
            Contradiction::SoilHeight { .. } => Input::PlowHoleHeight,
            Contradiction::SoilSlope { .. } => Input::Weight,
            Contradiction::Impossible(Impossible::TailLoadBelowZero | Impossible::FrontLoadBelowZero)
            | Contradiction::OutsideTable { .. }
            | Contradiction::Gain { .. } => Input::TailLoad,
        },
    })
}

fn measure_next(found: &Identified, verdict: &Verdict) -> Vec<Advice> {
    let balanced_on_the_mean = verdict.chances.is_some_and(|chances| chances.stated() == Class::Balanced);
    if balanced_on_the_mean {
        return vec![plain(Step::Stay, sentences::BOBS.to_owned())];
    }
    let mut told: Vec<Advice> = Vec::new();
    for share in &found.ranking {
        let sentence = sentences::measure(share.input);
        // Soil slope and soil height ask for the same measurement.
        if told.len() < 2 && told.iter().all(|advice| advice.sentence != sentence) {
            told.push(plain(Step::Measure, sentence.to_owned()));
        }
    }
    if told.is_empty() {
        told.push(plain(Step::Measure, sentences::measure(Input::SoilSlope).to_owned()));
    }
    told
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::statics::invented_plow::{plow, setting};
    use crate::statics::predict::hole_table;

    /// Found on a description without a ±: the page said "leaning flat" in large letters of a plow that might
    /// as well have been balanced or too flat by far.
    #[test]
    fn a_class_that_may_be_off_by_two_is_not_stated() {
        let class = |low, value, high| expected_class(&Estimate { value, low, high }, &plow());
        assert_eq!(class(0.56, 0.9, 1.0), Class::TooFlat);
        assert_eq!(class(0.11, 0.5, 1.0), Class::LeaningFlat);
        assert_eq!(class(-0.1, 0.7, 1.0), Class::NotShown);
        assert_eq!(class(-0.7, -0.1, 0.2), Class::NotShown);
    }

    /// Found on walls and maps: they ordered a move for plows whose page said that they are balanced, or that
    /// nothing is shown.
    #[test]
    fn a_plow_that_is_balanced_or_not_shown_is_not_moved() {
        let plow = plow();
        let mut table = hole_table(&plow, &setting("8", "3"), 8_000.0, 1).unwrap();
        let at = table.iter().position(|row| row.is_now).unwrap();
        for (low, value, high, class, step) in
            [(-0.2, 0.1, 0.3, Class::Balanced, Step::Stay), (-0.9, 0.1, 0.9, Class::NotShown, Step::Measure)]
        {
            table[at].balance_index = Estimate { value, low, high };
            let expected = expect(&plow, &table, Units::Si);
            assert_eq!((expected.class, expected.advice[0].step), (class, step));
            assert_eq!(expected.move_to(), None);
        }
    }
}
