//! What other holes would do, by the same draws: so a prediction carries the run's whole uncertainty.
//!
//! The soil force stays as it was (draft part, slope and line): what a hitch moves is the line of pull, the
//! loads and the pull's vertical part. Depth and suction that change with the new attitude are not in it, so
//! a prediction is for the next trial pass, not instead of one.

use super::draw::Draw;
use super::identify::IdentifyError;
use super::inputs::Inputs;
use super::plow_model::{Links, PlowModel};
use super::refusal::StaticsErrorKind;
use super::samples::Samples;
use super::side::{Loads, SideView, StaticsError};
use super::soil::SoilHeight;
use ingest::plow::{Hole, Plow, Setting};
use ingest::quantity::{Force, Length, Quantity, in_si};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use schemars::JsonSchema;
use serde::Serialize;
use stats::Estimate;
use std::collections::BTreeMap;

/// Draws a prediction uses; more would not change what a plowman reads.
const PREDICTION_DRAWS_MAX: usize = 2_000;

/// Draws of a plow without a run.
const PLOW_DRAWS: usize = 2_000;

/// A pair of holes has figures if the plow can be there in this share of the draws, and at its middle.
const CAN_BE_MIN: f64 = 0.5;

/// No move leads to holes in which more than one case in twenty cannot be, by choice; tables name them apart.
pub const CANNOT_BE_MAX: f64 = 0.05;

/// What is known of the force along a plow without a run.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
pub enum Along {
    /// The pull along the drawbar, in the holes of the setting.
    #[serde(rename = "pull_n", serialize_with = "in_si")]
    Pull(Force),
    /// The draft of the soil alone, whatever the holes.
    #[serde(rename = "soil_draft_n", serialize_with = "in_si")]
    SoilDraft(Force),
}

impl From<Force> for Along {
    fn from(pull: Force) -> Self {
        Self::Pull(pull)
    }
}

/// A plow with what is known of it, draw by draw: whatever holes it stands in, this is the same.
#[derive(Clone, Copy, Debug)]
pub struct State {
    /// What was drawn, heights of the pins as in the setting.
    pub inputs: Inputs<f64>,
    /// Draft of the soil.
    pub soil_draft: Force,
}

impl From<&Draw> for State {
    fn from(draw: &Draw) -> Self {
        Self { inputs: draw.inputs, soil_draft: draw.side.soil_draft }
    }
}

impl State {
    /// The plow with both pins moved and the same soil force. The shift is the difference of the holes' nominal
    /// heights: what is wrong with a height is mostly the level it was taken from, and that moves with it.
    ///
    /// # Errors
    /// [`StaticsError`] if the plow cannot be in these holes.
    pub fn with_pins(&self, plow_model: &PlowModel, shift: PinShift) -> Result<SideView, StaticsError> {
        let side = plow_model.side_view(&self.moved_inputs(shift))?;
        Ok(SideView { soil_draft: self.soil_draft, ..side })
    }

    fn moved_inputs(&self, shift: PinShift) -> Inputs<f64> {
        let mut inputs = self.inputs;
        inputs.plow_hole_height += shift.plow.m();
        inputs.tractor_hole_height += shift.tractor.m();
        inputs
    }

    /// Its loads with both pins moved.
    ///
    /// # Errors
    /// As [`State::with_pins`], and [`StaticsError`] if the plow cannot be there.
    pub fn moved(&self, plow_model: &PlowModel, shift: PinShift) -> Result<Loads, StaticsError> {
        self.with_pins(plow_model, shift)?.loads()
    }
}

/// Where a pin is or might be.
#[derive(Clone, Debug, PartialEq)]
pub struct PinPlace {
    /// What the place is called: a hole's name, or where it lies among the holes.
    pub name: String,
    /// Height above the land.
    pub z: Length,
}

impl PinPlace {
    /// A hole.
    pub fn of(hole: &Hole) -> Self {
        Self { name: hole.name.clone(), z: hole.z.value }
    }
}

/// How far both pins are moved up.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct PinShift {
    /// At the plow.
    pub plow: Length,
    /// At the tractor.
    pub tractor: Length,
}

/// What a pair of holes does.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Prediction {
    /// Hole at the plow.
    pub plow_hole: String,
    /// Hole at the tractor.
    pub tractor_hole: String,
    /// Height of the hole at the plow.
    #[serde(rename = "plow_z_m", serialize_with = "in_si")]
    pub plow_z: Length,
    /// Height of the hole at the tractor.
    #[serde(rename = "tractor_z_m", serialize_with = "in_si")]
    pub tractor_z: Length,
    /// Whether these are the holes of the setting.
    pub is_now: bool,
    /// e.
    #[serde(rename = "pull_line_offset_m")]
    pub pull_line_offset: Estimate<Length>,
    /// b, within ±1: a wheel cannot be more than off the ground.
    pub balance_index: Estimate,
    /// Front load, 0 where the front wheels are off the ground.
    #[serde(rename = "front_load_n")]
    pub front_load: Estimate<Force>,
    /// Tail load, 0 where the tail wheel is off the ground.
    #[serde(rename = "tail_load_n")]
    pub tail_load: Estimate<Force>,
    /// Pull along the drawbar.
    #[serde(rename = "pull_n")]
    pub pull: Estimate<Force>,
    /// Load that the plow puts on the tractor.
    #[serde(rename = "tractor_load_n")]
    pub tractor_load: Estimate<Force>,
    /// Probability that the tail wheel is off the ground on the mean.
    #[serde(rename = "tail_off_chance")]
    pub tail_off_probability: f64,
    /// Probability that b is nearer to 0 than with the holes of the setting.
    #[serde(rename = "better_chance")]
    pub better_probability: f64,
    /// Probability that the plow cannot be there: it would be lifted off all that carries it, or there is no line of
    /// pull. The other figures are of the cases that can be.
    #[serde(rename = "cannot_be_chance")]
    pub cannot_be_probability: f64,
    /// What most of those cases are, if there are any.
    pub cannot_be: Option<StaticsErrorKind>,
}

/// A pair of holes without figures: most cases cannot be.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct NoChoice {
    /// Hole at the plow.
    pub plow_hole: String,
    /// Hole at the tractor.
    pub tractor_hole: String,
    /// Height of the hole at the plow.
    #[serde(rename = "plow_z_m", serialize_with = "in_si")]
    pub plow_z: Length,
    /// Height of the hole at the tractor.
    #[serde(rename = "tractor_z_m", serialize_with = "in_si")]
    pub tractor_z: Length,
    /// Probability that the plow cannot be there.
    #[serde(rename = "cannot_be_chance")]
    pub cannot_be_probability: f64,
    /// What most of those cases are.
    pub cannot_be: StaticsErrorKind,
}

/// All pairs of holes of a description.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct HolePairs {
    /// Those with figures, in the order of the description (plow holes first).
    pub predictions: Vec<Prediction>,
    /// The others, in that order.
    pub no_choice: Vec<NoChoice>,
}

/// All pairs of holes, those of `setting` among them.
pub fn predict_all(plow: &Plow, predictor: &Predictor) -> HolePairs {
    let mut pairs = HolePairs::default();
    for plow_place in plow.plow_hitch.holes.iter().map(PinPlace::of) {
        for tractor_place in plow.tractor_hitch.holes.iter().map(PinPlace::of) {
            match predictor.at(&plow_place, &tractor_place) {
                Ok(prediction) => pairs.predictions.push(prediction),
                Err(why) => pairs.no_choice.push(why),
            }
        }
    }
    pairs
}

/// What is known of a plow in one setting, ready to be moved to other places: the one answer to what holes would do.
pub struct Predictor<'a> {
    pub(super) setting: &'a Setting,
    plow_model: PlowModel,
    states: &'a [State],
    middle: Option<&'a State>,
    /// b of each state in the setting, where it can be.
    now: Vec<Option<f64>>,
}

impl<'a> Predictor<'a> {
    /// For a plow that stands as `states` have it, of which the first 2,000 are used. With a `middle`, which diagrams
    /// show, figures are those of it, and the states give their intervals; without one they are medians.
    pub fn of(plow: &Plow, setting: &'a Setting, states: &'a [State], middle: Option<&'a State>) -> Self {
        let states = states.get(..PREDICTION_DRAWS_MAX).unwrap_or(states);
        let plow_model = PlowModel::of(plow);
        let index =
            |state: &State| Some(state.moved(&plow_model, PinShift::default()).ok()?.bounded_balance_index());
        let now = states.iter().map(index).collect();
        Self { setting, plow_model, states, middle, now }
    }

    /// What pins at these places would do.
    ///
    /// # Errors
    /// [`NoChoice`] if the middle or most draws cannot be there.
    pub fn at(&self, plow_place: &PinPlace, tractor_place: &PinPlace) -> Result<Prediction, NoChoice> {
        let Self { setting, plow_model, states, now, .. } = self;
        let shift = PinShift {
            plow: plow_place.z - setting.plow_hole.z.value,
            tractor: tractor_place.z - setting.tractor_hole.z.value,
        };
        let mut solved = Vec::with_capacity(states.len());
        let mut refused = BTreeMap::<StaticsErrorKind, usize>::new();
        let mut better = 0usize;
        for (state, now) in states.iter().zip(now) {
            match state.moved(plow_model, shift) {
                Ok(loads) => {
                    better += usize::from(now.is_none_or(|b| loads.bounded_balance_index().abs() < b.abs()));
                    solved.push(loads);
                }
                Err(why) => *refused.entry(why.into()).or_default() += 1,
            }
        }
        let cannot_be = refused.into_iter().max_by_key(|(_, count)| *count).map(|(kind, _)| kind);
        let share = |count: usize| count as f64 / states.len().max(1) as f64;
        let no_choice = |cannot_be| NoChoice {
            plow_hole: plow_place.name.clone(),
            tractor_hole: tractor_place.name.clone(),
            plow_z: plow_place.z,
            tractor_z: tractor_place.z,
            cannot_be_probability: 1.0 - share(solved.len()),
            cannot_be,
        };
        let middle = match self.middle.map(|middle| middle.moved(plow_model, shift)).transpose() {
            Ok(middle) => middle,
            Err(why) => return Err(no_choice(why.into())),
        };
        let all = Samples::new(solved.clone(), states.len());
        let figures = Figures { all: &all, middle };
        let found = all.are_enough(CAN_BE_MIN, states.len()).then(|| {
            Some(Prediction {
                plow_hole: plow_place.name.clone(),
                tractor_hole: tractor_place.name.clone(),
                plow_z: plow_place.z,
                tractor_z: tractor_place.z,
                is_now: plow_place.name == setting.plow_hole.name
                    && tractor_place.name == setting.tractor_hole.name,
                pull_line_offset: figures.of(|l| l.pull_line_offset)?,
                balance_index: figures.of(Loads::bounded_balance_index)?,
                front_load: figures.of(|l| l.carried_loads().0)?,
                tail_load: figures.of(|l| l.carried_loads().1)?,
                pull: figures.of(|l| l.pull)?,
                tractor_load: figures.of(|l| plow_model.tractor_load(l))?,
                tail_off_probability: all.probability(|l| l.tail_load.n() <= 0.0)?,
                better_probability: share(better),
                cannot_be_probability: 1.0 - share(all.len()),
                cannot_be,
            })
        });
        found.flatten().ok_or_else(|| no_choice(cannot_be.unwrap_or(StaticsErrorKind::NotFinite)))
    }
}

/// Figures of a pair: draws, and the middle of everything if there is one.
struct Figures<'a> {
    all: &'a Samples<Loads>,
    middle: Option<Loads>,
}

impl Figures<'_> {
    fn of<Q: Quantity + PartialOrd>(&self, of: impl Fn(&Loads) -> Q) -> Option<Estimate<Q>> {
        let drawn = self.all.estimate(&of)?;
        let Some(middle) = self.middle.as_ref().map(of) else { return Some(drawn) };
        // Of a skewed figure the middle may lie outside of what 95 % of the draws have.
        let low = if middle < drawn.low { middle } else { drawn.low };
        let high = if middle > drawn.high { middle } else { drawn.high };
        Some(Estimate { value: middle, low, high })
    }
}

/// What every pair of holes would do without a run, and with it what is asked of any other place.
///
/// # Errors
/// As [`nominal`].
pub fn hole_table(
    plow: &Plow,
    setting: &Setting,
    along: impl Into<Along>,
    seed: u64,
) -> Result<HolePairs, IdentifyError> {
    let middle = nominal(plow, setting, along)?.state;
    let states = plow_states(plow, setting, middle.soil_draft, seed);
    Ok(predict_all(plow, &Predictor::of(plow, setting, &states, Some(&middle))))
}

/// The plow as it may be without a run: soil force from share condition and depth alone, at a draft of the soil. The
/// same draws for the same `seed`, whatever the holes: whether the plow can stand in them is asked of each pair.
pub fn plow_states(plow: &Plow, setting: &Setting, soil_draft: Force, seed: u64) -> Vec<State> {
    let distributions = Inputs::of_plow(plow, setting);
    let height = SoilHeight::of(plow, plow.bottoms.depth);
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let draws = (0..20 * PLOW_DRAWS).filter_map(|_| {
        let mut inputs = distributions.draw(&mut rng);
        inputs.soil_height = height.distribution().draw(&mut rng);
        let can_be = height.likeliness(Length::from_m(inputs.soil_height)) > 0.0;
        can_be.then_some(State { inputs, soil_draft })
    });
    draws.take(PLOW_DRAWS).collect()
}

/// The plow of the description in one setting, every input at its middle.
#[derive(Clone, Copy, Debug)]
pub struct Nominal {
    /// Its structure.
    pub plow_model: PlowModel,
    /// What it is made from.
    pub state: State,
    /// The plow with its soil force.
    pub side: SideView,
    /// Its links, if it hangs on links that meet.
    pub links: Option<Links>,
}

impl Nominal {
    /// The plow itself with the pins moved, and its links, for a diagram.
    ///
    /// # Errors
    /// As [`State::with_pins`].
    pub fn with_pins(&self, shift: PinShift) -> Result<(SideView, Option<Links>), StaticsError> {
        let side = self.state.with_pins(&self.plow_model, shift)?;
        let links = self.links.map(|_| self.plow_model.links(&self.state.moved_inputs(shift))).transpose()?;
        Ok((side, links))
    }
}

/// The plow of the description in one setting, every input at its middle: what the force diagram of `statics` shows.
///
/// # Errors
/// [`IdentifyError::Statics`] if it cannot be solved.
pub fn nominal(plow: &Plow, setting: &Setting, along: impl Into<Along>) -> Result<Nominal, IdentifyError> {
    let mut inputs = Inputs::of_plow(plow, setting).centres();
    inputs.soil_height = SoilHeight::of(plow, plow.bottoms.depth).mean.m();
    let plow_model = PlowModel::of(plow);
    let links = plow_model.hangs_on_links().then(|| plow_model.links(&inputs)).transpose()?;
    let side = plow_model.side_view(&inputs)?;
    let side = match along.into() {
        Along::Pull(pull) => side.with_pull(pull)?,
        Along::SoilDraft(soil_draft) => SideView { soil_draft, ..side },
    };
    side.loads()?;
    Ok(Nominal { plow_model, state: State { inputs, soil_draft: side.soil_draft }, side, links })
}
