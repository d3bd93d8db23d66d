//! How far each entry alone would have to move, and which is the likeliest to be wrong.

use super::measure::PriorPredictive;
use crate::entries::Entry;
use crate::inputs::{Input, Inputs};
use crate::refusal::Suspect;
use ingest::plow::{Plow, Setting};
use stats::Estimate;

/// Places tried to either side, and how many slips far they reach.
const STEPS: i32 = 60;
const REACH_SLIPS: f64 = 3.0;
/// An entry is a suspect if it takes away this share of the distance.
const TAKES_SHARE: f64 = 0.5;
/// A move as good as the best by this much in squared distance is preferred if it is smaller.
const AS_GOOD: f64 = 0.1;
/// What readings outside the load table weigh against an entry that does not bring them back.
const OUTSIDE_TABLE: f64 = 16.0;

/// The likeliest first.
pub(super) fn suspects(held: &PriorPredictive, (plow, setting): (&Plow, &Setting)) -> Vec<Suspect> {
    let now = distance_2(held, &Tried::as_stated(held));
    let others = plow.settings.iter().filter(|(_, other)| *other != setting);
    let discrete = others
        .map(|(name, other)| (Entry::Setting(name.clone()), setting_tried(held, plow, other, setting)))
        .chain(reversed(held).map(|tried| (Entry::TailReversed, tried)));
    let mut found: Vec<Suspect> = discrete
        .map(|(entry, tried)| {
            let left = distance_2(held, &tried);
            let (unit, suspicion) = (entry.unit(), entry.slip().probability * (-0.5 * left).exp());
            Suspect { entry, moves_by: 0.0, unit, moves_by_u: None, suspicion, left }
        })
        .chain(Entry::MOVING.into_iter().filter_map(|entry| moved(held, entry)))
        .filter(|suspect| {
            suspect.left <= (1.0 - TAKES_SHARE) * now || now.is_infinite() && suspect.left.is_finite()
        })
        .collect();
    let all: f64 = found.iter().map(|suspect| suspect.suspicion).sum();
    if all > 0.0 {
        found.iter_mut().for_each(|suspect| suspect.suspicion /= all);
    }
    found.sort_by(|one, other| other.suspicion.total_cmp(&one.suspicion));
    found
}

/// What would be true if an entry were another.
pub(super) struct Tried {
    pub inputs: Inputs<f64>,
    gain: Option<Estimate>,
    outside_table: bool,
}

impl Tried {
    fn as_stated(held: &PriorPredictive) -> Self {
        let outside_table = held.witness.outside_table().is_some();
        Self { inputs: held.distributions.centres(), gain: held.witness.measured_gain, outside_table }
    }
}

pub(super) fn distance_2(held: &PriorPredictive, tried: &Tried) -> f64 {
    let off = held.off(&tried.inputs, tried.gain);
    let distance_2 = off.map_or(f64::INFINITY, |off| held.distance_2(&off));
    distance_2 + if tried.outside_table { OUTSIDE_TABLE } else { 0.0 }
}

pub(super) fn setting_tried(held: &PriorPredictive, plow: &Plow, other: &Setting, stated: &Setting) -> Tried {
    let centres = |setting| Inputs::of_plow(plow, setting).centres();
    let (there, here) = (centres(other), centres(stated));
    let mut tried = Tried::as_stated(held);
    for pin in [Input::PlowHoleHeight, Input::TractorHoleHeight] {
        // Beside the other hole's height the pin stands as it does beside this one's.
        tried.inputs[pin] = tried.inputs[pin] + there[pin] - here[pin];
    }
    tried
}

fn reversed(held: &PriorPredictive) -> Option<Tried> {
    let table = held.witness.table?;
    let mut inputs = held.distributions.centres();
    inputs.tail_load = table.reversed_load.n();
    Some(Tried { inputs, gain: None, outside_table: !table.holds(-table.mean.m()) })
}

/// The entry moved by so much.
pub(super) fn with(held: &PriorPredictive, entry: &Entry, by: f64) -> Option<Tried> {
    let mut tried = Tried::as_stated(held);
    entry.move_input(&mut tried.inputs, by);
    match entry {
        Entry::Input(_) | Entry::PullZero => {}
        Entry::PullGain => tried.gain = tried.gain.map(|gain| gain.scaled(1.0 / (1.0 + by))),
        Entry::LoadTable => tried.gain = tried.gain.map(|gain| gain.scaled(1.0 + by)),
        Entry::TailZero => {
            let table = held.witness.table?;
            if held.witness.outside_table() == Some(true) {
                // Below the table's start no load was told: the move starts from there.
                let above_start_m = table.mean.m() + by - table.ends.0.m();
                tried.inputs.tail_load = table.rate.n_per_m() * above_start_m.max(0.0);
            } else {
                tried.inputs.tail_load = (tried.inputs.tail_load + table.rate.n_per_m() * by).max(0.0);
            }
            tried.outside_table = tried.outside_table && !table.holds(table.mean.m() + by);
        }
        Entry::TailReversed | Entry::Setting(_) => return None,
    }
    Some(tried)
}

/// The usual slip of an entry in its unit; `None` where this run does not use it.
pub(super) fn slip_sd(held: &PriorPredictive, entry: &Entry) -> Option<f64> {
    let stated = held.distributions.centres();
    let applies = match entry {
        Entry::Input(input) => held.distributions[*input].standard_uncertainty() > 0.0,
        Entry::TailZero => held.witness.table.is_some(),
        Entry::LoadTable => stated.tail_load > 0.0,
        _ => true,
    };
    let unit = if *entry == Entry::PullZero { stated.pull.abs() } else { 1.0 };
    applies.then(|| entry.slip().sd * unit)
}

fn moved(held: &PriorPredictive, entry: Entry) -> Option<Suspect> {
    let stated = held.distributions.centres();
    let sd = slip_sd(held, &entry)?;
    let step = REACH_SLIPS * sd / f64::from(STEPS);
    let places = (-STEPS..=STEPS).map(|place| f64::from(place) * step);
    let tries = places.filter_map(|by| Some((by, distance_2(held, &with(held, &entry, by)?))));
    let mut tries: Vec<(f64, f64)> = tries.filter(|(_, left)| left.is_finite()).collect();
    let evidence: f64 =
        tries.iter().map(|(by, left)| (-0.5 * ((by / sd).powi(2) + left)).exp() * step / sd).sum::<f64>()
            / std::f64::consts::TAU.sqrt();
    let best = tries.iter().map(|(_, left)| *left).fold(f64::INFINITY, f64::min);
    tries.retain(|(_, left)| *left <= best + AS_GOOD);
    let (by, left) = tries.into_iter().min_by(|one, other| one.0.abs().total_cmp(&other.0.abs()))?;
    let known_to = |input: Input| held.distributions[input].standard_uncertainty();
    let u = match &entry {
        Entry::Input(Input::Weight) => known_to(Input::Weight) / stated.weight,
        Entry::Input(input) => known_to(*input),
        Entry::PullZero => known_to(Input::Pull),
        Entry::PullGain => known_to(Input::Pull) / stated.pull,
        Entry::LoadTable => known_to(Input::TailLoad) / stated.tail_load,
        Entry::TailZero => known_to(Input::TailLoad) / held.witness.table?.rate.n_per_m(),
        Entry::TailReversed | Entry::Setting(_) => return None,
    };
    let (unit, suspicion) = (entry.unit(), entry.slip().probability * evidence);
    let moves_by_u = (u > 0.0).then(|| by.abs() / u);
    Some(Suspect { entry, moves_by: by, unit, moves_by_u, suspicion, left })
}
