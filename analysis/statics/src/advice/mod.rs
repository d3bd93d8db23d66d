//! What to do next: which holes, shares first, stay, or what to measure. Every output that names a move takes it
//! from here.

mod choose;

pub use choose::{BETTER_CHANCE_MIN, FARTHEST_M, Reach, USUAL_TRACTOR_HITCH, more_traction};

use crate::contradiction::Entry;
use crate::identify::{Contradiction, Identified, IdentifyError};
use crate::inputs::Input;
use crate::predict::{Prediction, Predictor, State, predict_all};
use crate::refusal::Impossible;
use crate::verdict::{Class, RestsOn, Verdict};
use ingest::plow::{Plow, Setting};
use schemars::JsonSchema;
use serde::Serialize;
use stats::Estimate;

/// Measurements advised where nothing is shown.
const MEASUREMENTS_MAX: usize = 2;

/// One piece of advice.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema, strum::EnumDiscriminants)]
#[serde(tag = "step", rename_all = "snake_case")]
#[strum_discriminants(name(Step), derive(PartialOrd, Ord), doc = "What kind of advice.")]
pub enum Advice {
    /// Check entries of the description that are unusual: what follows holds only if they are right.
    CheckFirst {
        /// The entries as a sentence names them, each with its value; the weightiest first.
        entries: Vec<String>,
    },
    /// Put the pins into these holes.
    MovePins {
        /// The holes as they are.
        now: Box<Prediction>,
        /// The holes to move to, and what is predicted of them.
        prediction: Box<Prediction>,
        /// How far the move goes.
        reach: Reach,
        /// The entry to check before: right it has to be for the move to be.
        rests_on: Option<RestsOn>,
    },
    /// Leave the hitch as it is.
    Stay {
        /// Why.
        why: Stay,
        /// What is predicted of the holes as they are; none where the run's own figures decide.
        prediction: Option<Box<Prediction>>,
    },
    /// See to the shares, and to the hitch afterwards.
    SharesFirst {
        /// The entry to check before: right it has to be for the soil to be shown to lift.
        rests_on: Option<RestsOn>,
    },
    /// Measure, and record again.
    Measure {
        /// What.
        what: Measure,
    },
    /// No hole of the description helps.
    NoHoleHelps,
}

/// Why the hitch is left as it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Stay {
    /// It is balanced.
    Balanced,
    /// It leans on the tractor, as a plow that hangs on links is meant to.
    LeansAsMeant,
    /// The load is right on the mean, and it bobs.
    Bobs,
}

/// What to measure.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Measure {
    /// A test pass: the description alone does not decide.
    APass,
    /// What contradicts the rest, before anything is changed; `None` if that is not known.
    First {
        /// How to measure it.
        how: Option<Remeasure>,
    },
    /// What leaves the class open.
    Better {
        /// How to measure it.
        how: Remeasure,
    },
}

/// A measurement that gives inputs of the statics better than they are.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Remeasure {
    /// A pass with a front-load channel, or the height of the soil force from one.
    Soil,
    /// The whole plow on a scale.
    Weight,
    /// Front and tail on scales apart.
    WeightPlace,
    /// The sensor of the tail load against known weights.
    TailLoad,
    /// The pull sensor against a known load.
    Pull,
    /// The front-load channel against a scale.
    FrontLoad,
    /// The cells in the links against known loads.
    LinkForces,
    /// The inclinometer against a spirit level.
    DrawbarAngle,
    /// The heights of the hitch pins.
    PinHeights,
    /// The lengths along plow and drawbar.
    Lengths,
    /// The drag of the plow out of the soil.
    Friction,
    /// The pull of the lifted plow.
    RollingResistance,
}

impl Remeasure {
    /// The measurement that gives an input better.
    pub const fn of(input: Input) -> Self {
        match input {
            Input::SoilSlope | Input::SoilHeight => Self::Soil,
            Input::Weight => Self::Weight,
            Input::WeightPlace => Self::WeightPlace,
            Input::TailLoad => Self::TailLoad,
            Input::Pull => Self::Pull,
            Input::FrontLoad => Self::FrontLoad,
            Input::LowerLinksForce | Input::TopLinkForce => Self::LinkForces,
            Input::DrawbarAngle => Self::DrawbarAngle,
            Input::PlowHoleHeight
            | Input::TractorHoleHeight
            | Input::LowerLinkPlowHeight
            | Input::LowerLinkTractorHeight => Self::PinHeights,
            Input::TailPlace
            | Input::PlowHitchPlace
            | Input::MemberLength
            | Input::LowerLinkLength
            | Input::BottomsPlace => Self::Lengths,
            Input::TailResistance | Input::SoleFriction => Self::Friction,
            Input::RollingResistance => Self::RollingResistance,
        }
    }
}

/// Advice with the check of what is unusual in the description before it.
fn checked_first(plow: &Plow, advice: Vec<Advice>) -> Vec<Advice> {
    let entries: Vec<String> = plow.questions().into_iter().map(|doubt| doubt.entry).collect();
    let check = (!entries.is_empty()).then_some(Advice::CheckFirst { entries });
    check.into_iter().chain(advice).collect()
}

/// Advice on a run, the first thing to do first; never empty.
pub fn advise(
    plow: &Plow,
    setting: &Setting,
    identified: &Result<Identified, IdentifyError>,
    verdict: &Verdict,
) -> Vec<Advice> {
    checked_first(plow, advice_as_described(plow, setting, identified, verdict))
}

fn advice_as_described(
    plow: &Plow,
    setting: &Setting,
    identified: &Result<Identified, IdentifyError>,
    verdict: &Verdict,
) -> Vec<Advice> {
    let found = match identified {
        Ok(found) => found,
        Err(error) => {
            return vec![Advice::Measure { what: Measure::First { how: suspect(error).map(Remeasure::of) } }];
        }
    };
    if found.lifts_shown() {
        return vec![Advice::SharesFirst { rests_on: verdict.if_as_described().cloned() }];
    }
    let states: Vec<State> = found.draws.iter().map(State::from).collect();
    let predictions = predict_all(plow, &Predictor::of(plow, setting, &states, None)).predictions;
    match verdict.class {
        Class::NotShown => measure_next(found, verdict),
        class => vec![by_class(plow, (class, verdict.if_as_described()), &predictions)],
    }
}

/// What the description of a plow alone leads one to expect in one setting, and what to do about it.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Expected {
    /// The class to expect.
    pub class: Class,
    /// What to do, the first thing first; never empty.
    pub advice: Vec<Advice>,
}

impl Expected {
    /// The pair of holes to move to, where a move is advised.
    pub fn move_to(&self) -> Option<&Prediction> {
        moved_to(&self.advice)
    }
}

/// The pair of holes that advice names to move to, if it names one.
pub fn moved_to(advice: &[Advice]) -> Option<&Prediction> {
    advice.iter().find_map(|one| match one {
        Advice::MovePins { prediction, .. } => Some(prediction.as_ref()),
        Advice::CheckFirst { .. }
        | Advice::Stay { .. }
        | Advice::SharesFirst { .. }
        | Advice::Measure { .. }
        | Advice::NoHoleHelps => None,
    })
}

/// What to expect of a plow by its description, from the predictions of all its pairs of holes, and what to do. As
/// with a run, a class is stated only where it is off by one class at most, and only then pins are moved.
pub fn expect(plow: &Plow, predictions: &[Prediction]) -> Expected {
    let now = predictions.iter().find(|prediction| prediction.is_now);
    let class = now.map_or(Class::NotShown, |now| expected_class(&now.balance_index, plow));
    let advice = match class {
        Class::NotShown => Advice::Measure { what: Measure::APass },
        class => by_class(plow, (class, None), predictions),
    };
    Expected { class, advice: checked_first(plow, vec![advice]) }
}

/// The class of the middle, if both ends of the interval are in it or beside it: the rule of a run's verdict,
/// at most one class off.
pub fn expected_class(b: &Estimate, plow: &Plow) -> Class {
    let [low, middle, high] = [b.low, b.value, b.high].map(|index| Class::of(index, &plow.limits));
    let beside = |end: Class| end.apart(middle).is_some_and(|apart| apart <= 1);
    if beside(low) && beside(high) { middle } else { Class::NotShown }
}

/// Advice on a plow whose class is shown; where that rests on an entry, a move begins with checking it.
fn by_class(plow: &Plow, (class, rests_on): (Class, Option<&RestsOn>), predictions: &[Prediction]) -> Advice {
    let Some(now) = predictions.iter().find(|prediction| prediction.is_now) else {
        return Advice::NoHoleHelps;
    };
    let (low, high) = choose::wanted_band(plow);
    let leans = class != Class::Balanced
        && (low..=high).contains(&now.balance_index.value)
        && high > plow.limits.balanced;
    if class == Class::Balanced || leans {
        let why = if leans { Stay::LeansAsMeant } else { Stay::Balanced };
        return Advice::Stay { why, prediction: Some(Box::new(now.clone())) };
    }
    match choose::choose(plow, predictions, now) {
        Some(choice) => Advice::MovePins {
            now: Box::new(now.clone()),
            prediction: Box::new(choice.to.clone()),
            reach: choice.reach,
            rests_on: rests_on.cloned(),
        },
        None => Advice::NoHoleHelps,
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
        return vec![Advice::Stay { why: Stay::Bobs, prediction: None }];
    }
    let mut asked: Vec<Remeasure> = Vec::new();
    for how in found.ranking.iter().map(|share| Remeasure::of(share.input)) {
        if asked.len() < MEASUREMENTS_MAX && !asked.contains(&how) {
            asked.push(how);
        }
    }
    if asked.is_empty() {
        asked.push(Remeasure::Soil);
    }
    asked.into_iter().map(|how| Advice::Measure { what: Measure::Better { how } }).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::invented_plow::{plow, setting};
    use crate::predict::hole_table;
    use ingest::quantity::Force;

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

    /// Found on a plow with the cut of both bottoms for that of one: "the drawbar's length or the shares have to change".
    #[test]
    fn what_is_unusual_is_checked_before_anything_else() {
        let sound = plow();
        let mut doubted = sound.clone();
        doubted.bottoms.cut_width = ingest::quantity::parse_quantity("28 in").unwrap();
        assert_eq!(checked_first(&sound, vec![Advice::NoHoleHelps]), [Advice::NoHoleHelps]);
        let entries = vec!["a width of cut of 28 in".to_owned()];
        let check = Advice::CheckFirst { entries };
        assert_eq!(checked_first(&doubted, vec![Advice::NoHoleHelps]), [check, Advice::NoHoleHelps]);
        let table = hole_table(&doubted, &setting("8", "3"), Force::from_n(8_000.0), 1).unwrap();
        assert!(matches!(expect(&doubted, &table.predictions).advice[0], Advice::CheckFirst { .. }));
    }

    /// Found on walls and maps: they ordered a move for plows whose page said that they are balanced, or that
    /// nothing is shown.
    #[test]
    fn a_plow_that_is_balanced_or_not_shown_is_not_moved() {
        let plow = plow();
        let mut table = hole_table(&plow, &setting("8", "3"), Force::from_n(8_000.0), 1).unwrap().predictions;
        let at = table.iter().position(|row| row.is_now).unwrap();
        for (low, value, high, class, step) in
            [(-0.2, 0.1, 0.3, Class::Balanced, Step::Stay), (-0.9, 0.1, 0.9, Class::NotShown, Step::Measure)]
        {
            table[at].balance_index = Estimate { value, low, high };
            let expected = expect(&plow, &table);
            assert_eq!((expected.class, Step::from(&expected.advice[0])), (class, step));
            assert_eq!(expected.move_to(), None);
        }
    }
}
