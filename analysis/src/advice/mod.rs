//! What to do next: which holes, shares first, stay, or what to measure.

mod choose;
mod sentences;
pub mod traction;

use crate::statics::contradiction::Entry;
use crate::statics::draw::Impossible;
use crate::statics::identify::{Contradiction, Identified, IdentifyError};
use crate::statics::inputs::Input;
use crate::statics::predict::{Prediction, Standing, predict_all};
use crate::units_out::Units;
use crate::verdict::{Class, Verdict};
use ingest::plow::{Plow, Setting};
use serde::Serialize;

/// Usual heights of a tractor hitch with the tractor's wheels out of the furrow, 10 to 15 in: common
/// practice, no source.
pub const USUAL_TRACTOR_HITCH_M: (f64, f64) = (0.254, 0.381);

/// What kind of advice.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Step {
    /// Put the pins into these holes.
    MovePins,
    /// The same balance by other holes, if the first choice does not suit.
    OrMovePins,
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
    /// Whether the tractor hitch would be outside its usual heights.
    pub outside_usual_height: bool,
    /// The whole of it in words, in one unit system.
    pub sentence: String,
}

/// Chance from which the soil is taken to lift the plow.
const LIFTS_CHANCE_SHOWN: f64 = 0.95;

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
    if found.lifts_chance >= LIFTS_CHANCE_SHOWN {
        return vec![plain(Step::SharesFirst, sentences::SHARES_FIRST.to_owned())];
    }
    let standings: Vec<Standing> = found.draws.iter().map(Standing::from).collect();
    let predictions = predict_all(plow, setting, &standings).unwrap_or_default();
    let now = predictions.iter().find(|prediction| prediction.is_now);
    match verdict.class {
        Class::Balanced => {
            vec![Advice { prediction: now.cloned(), ..plain(Step::Stay, sentences::STAY.to_owned()) }]
        }
        Class::NotShown => measure_next(found, verdict),
        _ => move_pins(plow, &predictions, now, units),
    }
}

fn plain(step: Step, sentence: String) -> Advice {
    Advice { step, prediction: None, outside_usual_height: false, sentence }
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

fn move_pins(plow: &Plow, predictions: &[Prediction], now: Option<&Prediction>, units: Units) -> Vec<Advice> {
    let chosen = choose::choose(plow, predictions, now);
    let (Some(now), false) = (now, chosen.is_empty()) else {
        return vec![plain(Step::NoHoleHelps, sentences::NO_HOLE_HELPS.to_owned())];
    };
    let parts = plow.part_names();
    let advice = |(place, prediction): (usize, &&Prediction)| {
        let step = if place == 0 { Step::MovePins } else { Step::OrMovePins };
        let outside_usual_height = !choose::usual_height(plow, prediction);
        let sentence = sentences::move_pins(step, now, prediction, outside_usual_height, (&parts, units));
        Advice { step, prediction: Some((*prediction).clone()), outside_usual_height, sentence }
    };
    chosen.iter().enumerate().map(advice).collect()
}

/// What to say of holes whose tractor's end is outside the usual heights.
#[must_use]
pub fn outside_usual_height(plow: &Plow, prediction: &Prediction, units: Units) -> Option<String> {
    (!choose::usual_height(plow, prediction)).then(|| sentences::outside_usual(units))
}
