//! What other holes would do, by the same draws: so a prediction carries the run's whole uncertainty.
//!
//! The soil force stays as it was (draft part, slope and line): what a hitch moves is the line of pull, the
//! loads and the pull's vertical part. Depth and suction that change with the new attitude are not in it, so
//! a prediction is for the next trial pass, not instead of one.

use super::draw::Draw;
use super::identify::IdentifyError;
use super::inputs::Inputs;
use super::plow_model::{Links, PlowModel};
use super::samples::Samples;
use super::side::{Loads, SideView, StaticsError};
use super::soil::SoilHeight;
use ingest::plow::{Hole, Plow, Setting};
use ingest::quantity::{Force, Length, in_si};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use schemars::JsonSchema;
use serde::Serialize;
use stats::Estimate;

/// Draws a prediction uses; more would not change what a plowman reads.
const PREDICTION_DRAWS_MAX: usize = 2_000;

/// Draws of a plow without a run.
const PLOW_DRAWS: usize = 2_000;

/// A plow in one setting with what is known of it, draw by draw.
#[derive(Clone, Copy, Debug)]
pub struct State {
    /// The plow with its soil force.
    pub side: SideView,
    /// What it was made from.
    pub inputs: Inputs<f64>,
}

impl From<&Draw> for State {
    fn from(draw: &Draw) -> Self {
        Self { side: draw.side, inputs: draw.inputs }
    }
}

impl State {
    /// The plow with both pins moved and the same soil force. The shift is the difference of the holes' nominal
    /// heights: what is wrong with a height is mostly the level it was taken from, and that moves with it.
    ///
    /// # Errors
    /// [`StaticsError`] if the plow cannot be in these holes.
    pub fn with_pins(&self, plow_model: &PlowModel, shift: PinShift) -> Result<SideView, StaticsError> {
        let SideView { plow_hitch, tractor_hitch, front, .. } =
            plow_model.side_view(&self.moved_inputs(shift))?;
        Ok(SideView { plow_hitch, tractor_hitch, front, ..self.side })
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
}

/// All pairs of holes, those of `setting` among them, in the order of the description (plow holes first).
///
/// # Errors
/// [`IdentifyError::NotFinite`] if a pair leaves nothing on the wheels in
/// every draw, or `states` is empty.
pub fn predict_all(
    plow: &Plow,
    setting: &Setting,
    states: &[State],
) -> Result<Vec<Prediction>, IdentifyError> {
    let predictor = Predictor::of(plow, setting, states);
    let mut all = Vec::new();
    for plow_place in plow.plow_hitch.holes.iter().map(PinPlace::of) {
        let tractor_places = plow.tractor_hitch.holes.iter().map(PinPlace::of);
        // A pair that would put the drawbar on end, or lift the plow, is no choice and no row.
        all.extend(tractor_places.filter_map(|tractor_place| predictor.at(&plow_place, &tractor_place)));
    }
    if all.is_empty() { Err(IdentifyError::NotFinite) } else { Ok(all) }
}

/// What is known of a plow in one setting, ready to be moved to other places.
pub struct Predictor<'a> {
    setting: &'a Setting,
    plow_model: PlowModel,
    states: &'a [State],
    /// b of each state in the setting, where it can be.
    now: Vec<Option<f64>>,
}

impl<'a> Predictor<'a> {
    /// For a plow that stands as `states` have it, of which the first 2,000 are used.
    pub fn of(plow: &Plow, setting: &'a Setting, states: &'a [State]) -> Self {
        let states = states.get(..PREDICTION_DRAWS_MAX).unwrap_or(states);
        let plow_model = PlowModel::of(plow);
        let index =
            |state: &State| Some(state.moved(&plow_model, PinShift::default()).ok()?.bounded_balance_index());
        let now = states.iter().map(index).collect();
        Self { setting, plow_model, states, now }
    }

    /// What pins at these places would do; `None` if more than one draw in twenty cannot be there.
    pub fn at(&self, plow_place: &PinPlace, tractor_place: &PinPlace) -> Option<Prediction> {
        let Self { setting, plow_model, states, now } = self;
        let is_now =
            plow_place.name == setting.plow_hole.name && tractor_place.name == setting.tractor_hole.name;
        let shift = PinShift {
            plow: plow_place.z - setting.plow_hole.z.value,
            tractor: tractor_place.z - setting.tractor_hole.z.value,
        };
        let mut solved = Vec::with_capacity(states.len());
        let mut better = 0usize;
        for (state, now) in states.iter().zip(now) {
            if let Ok(loads) = state.moved(plow_model, shift) {
                better += usize::from(now.is_none_or(|b| loads.bounded_balance_index().abs() < b.abs()));
                solved.push(loads);
            }
        }
        let solved = Samples::new(solved, states.len());
        if solved.len() * 20 < states.len() * 19 {
            return None;
        }
        Some(Prediction {
            plow_hole: plow_place.name.clone(),
            tractor_hole: tractor_place.name.clone(),
            plow_z: plow_place.z,
            tractor_z: tractor_place.z,
            is_now,
            pull_line_offset: solved.estimate(|l| l.pull_line_offset)?,
            balance_index: solved.estimate(Loads::bounded_balance_index)?,
            front_load: solved.estimate(|l| l.carried_loads().0)?,
            tail_load: solved.estimate(|l| l.carried_loads().1)?,
            pull: solved.estimate(|l| l.pull)?,
            tractor_load: solved.estimate(|l| plow_model.tractor_load(l))?,
            tail_off_probability: solved.probability(|l| l.tail_load.n() <= 0.0)?,
            better_probability: better as f64 / solved.len() as f64,
        })
    }
}

/// What every pair of holes would do without a run, as [`plow_states`] has it.
///
/// # Errors
/// As [`plow_states`].
pub fn hole_table(
    plow: &Plow,
    setting: &Setting,
    pull: Force,
    seed: u64,
) -> Result<Vec<Prediction>, IdentifyError> {
    predict_all(plow, setting, &plow_states(plow, setting, pull, seed)?)
}

/// The plow as it may stand without a run: soil force from share condition and depth alone, at a pull along the
/// line of pull of `setting`; the same draws for the same `seed`.
///
/// # Errors
/// [`IdentifyError::NotFinite`]; [`IdentifyError::Statics`] if hardly any draw can be at this pull.
pub fn plow_states(
    plow: &Plow,
    setting: &Setting,
    pull: Force,
    seed: u64,
) -> Result<Samples<State>, IdentifyError> {
    if !pull.n().is_finite() {
        return Err(IdentifyError::NotFinite);
    }
    let plow_model = PlowModel::of(plow);
    let distributions = Inputs::of_plow(plow, setting);
    let height = SoilHeight::of(plow, plow.bottoms.depth);
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let mut states = Vec::with_capacity(PLOW_DRAWS);
    let (mut tried, mut error) = (0, None);
    while states.len() < PLOW_DRAWS && tried < 20 * PLOW_DRAWS {
        tried += 1;
        let mut inputs = distributions.draw(&mut rng);
        let z_m = height.distribution().draw(&mut rng);
        if height.likeliness(Length::from_m(z_m)) == 0.0 {
            continue;
        }
        inputs.soil_height = z_m;
        match plow_model.side_view(&inputs).and_then(|side| side.with_pull(pull)) {
            Ok(side) => states.push(State { side, inputs }),
            Err(why) => error = Some(why),
        }
    }
    match error {
        Some(why) if states.len() * 10 < PLOW_DRAWS => Err(IdentifyError::Statics(why)),
        _ => Ok(Samples::new(states, tried)),
    }
}

/// The plow of the description in one setting, every input at its middle.
#[derive(Clone, Copy, Debug)]
pub struct Nominal {
    /// Its structure.
    pub plow_model: PlowModel,
    /// The plow with its soil force.
    pub state: State,
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

/// The plow of the description in one setting at one pull, every input at its middle: what the force diagram
/// of `statics` shows.
///
/// # Errors
/// [`IdentifyError::Statics`] if it cannot be solved.
pub fn nominal(plow: &Plow, setting: &Setting, pull: Force) -> Result<Nominal, IdentifyError> {
    let mut inputs = Inputs::of_plow(plow, setting).centres();
    inputs.soil_height = SoilHeight::of(plow, plow.bottoms.depth).mean.m();
    let plow_model = PlowModel::of(plow);
    let links = plow_model.hangs_on_links().then(|| plow_model.links(&inputs)).transpose()?;
    let side = plow_model.side_view(&inputs)?.with_pull(pull)?;
    Ok(Nominal { plow_model, state: State { side, inputs }, links })
}
