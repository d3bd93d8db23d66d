//! How far off each entry alone may be before the balance would be quite another, unseen by the readings, and how
//! often a usual slip is so far off.

use super::measure::{DISTANCE_2_MAX, PriorPredictive, Witness};
use super::suspects::{Tried, distance_2, setting_tried, slip_sd, with};
use crate::draw::Draw;
use crate::entries::Entry;
use crate::identify::identify_shifted;
use crate::inputs::{Input, RunFigures};
use ingest::plow::{Plow, Setting};

/// An entry that, wrong by so much, would have led to another balance.
#[derive(Clone, Debug, PartialEq)]
pub struct Moved {
    /// Which.
    pub entry: Entry,
    /// The smallest error, what is true less what is stated, in the unit of the entry; 0 where nothing moves.
    pub by: f64,
    /// The balance index that would be.
    pub balance_index: f64,
    /// The part of that chance which falls on this entry.
    pub other_share: f64,
}

/// What a balance rests on.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Resting {
    /// Chance of another balance with one entry off by a usual slip that the readings do not tell.
    pub other_share: f64,
    /// The entries of which such slips are, the likeliest first.
    pub entries: Vec<Moved>,
}

/// Half slips tried to either side.
const HALF_SLIPS: i32 = 6;
/// Halvings of the half slip in which the balance turns.
const HALVINGS: usize = 6;
/// Draws for a median that is looked at against limits a tenth apart.
const DRAWS: usize = 200;
/// Seed of these draws.
pub const SLIPS_SEED: u64 = 1;

/// What becomes of a balance where one entry is off: every entry by usual slips (normal, see [`Entry`]), weighed by
/// how often such a slip is made and by how well the readings agree with it, exp(−D²/2); those that the readings would
/// contradict are left out. Each error is solved as the run was, with all that was drawn moved by it. `is_other` is
/// asked of each draw, so that a share has what the measuring leaves open in it.
///
/// `None` where nothing is asked of the soil, so that the readings tell of no slip.
pub fn rests_on(
    (plow, setting): (&Plow, &Setting),
    run: &RunFigures,
    witness: &Witness,
    is_other: impl Fn(&Draw) -> bool,
) -> Option<Resting> {
    let held = PriorPredictive::of(plow, setting, run, *witness)?;
    let solved = |tried: Tried| {
        let distance_2 = distance_2(&held, &tried);
        if distance_2 > DISTANCE_2_MAX {
            return None;
        }
        let shift = tried.inputs.zip_with(held.distributions.centres(), |tried, stated| tried - stated);
        let found = identify_shifted(plow, setting, run, (DRAWS, SLIPS_SEED), Some(shift)).ok()?;
        Some(Solved {
            balance_index: found.balance_index.value,
            other_probability: found.draws.probability(&is_other)?,
            weight: (-0.5 * distance_2).exp(),
        })
    };
    let (mut unseen, mut false_there) = (0.0, 0.0);
    let mut entries = Vec::new();
    for (name, other) in plow.settings.iter().filter(|(_, other)| *other != setting) {
        let entry = Entry::Setting(name.clone());
        let Some(found) = solved(setting_tried(&held, plow, other, setting)) else { continue };
        let weight = entry.slip().probability * found.weight;
        let other_share = weight * found.other_probability;
        unseen += weight;
        false_there += other_share;
        if found.is_other() {
            entries.push(Moved { entry, by: 0.0, balance_index: found.balance_index, other_share });
        }
    }
    // The slope of the soil is no entry: nobody writes it down.
    for entry in Entry::MOVING.into_iter().filter(|entry| *entry != Entry::Input(Input::SoilSlope)) {
        let Some(sd) = slip_sd(&held, &entry) else { continue };
        let at = |half_slips: f64| solved(with(&held, &entry, half_slips / 2.0 * sd)?);
        let steps: Vec<(i32, Option<Solved>)> =
            (-HALF_SLIPS..=HALF_SLIPS).map(|step| (step, at(f64::from(step)))).collect();
        let usual = |step: i32| (-0.5 * (f64::from(step) / 2.0).powi(2)).exp();
        let all: f64 = steps.iter().map(|(step, _)| usual(*step)).sum();
        let mut other_share = 0.0;
        for (step, found) in &steps {
            let Some(found) = found else { continue };
            let weight = entry.slip().probability * usual(*step) / all * found.weight;
            unseen += weight;
            other_share += weight * found.other_probability;
        }
        false_there += other_share;
        let both = [1, -1].into_iter().filter_map(|way| smallest(way, &steps, at));
        let nearer = both.min_by(|one, other| one.0.abs().total_cmp(&other.0.abs()));
        if let Some((half_slips, balance_index)) = nearer {
            entries.push(Moved { entry, by: half_slips / 2.0 * sd, balance_index, other_share });
        }
    }
    if unseen > 0.0 {
        entries.iter_mut().for_each(|moved| moved.other_share /= unseen);
    }
    entries.sort_by(|one, other| other.other_share.total_cmp(&one.other_share));
    Some(Resting { other_share: if unseen > 0.0 { false_there / unseen } else { 0.0 }, entries })
}

/// What comes of an error that the readings do not contradict.
#[derive(Clone, Copy)]
struct Solved {
    /// b, its median.
    balance_index: f64,
    /// Share of the draws that are another balance.
    other_probability: f64,
    /// How well the readings agree with it.
    weight: f64,
}

impl Solved {
    fn is_other(&self) -> bool {
        self.other_probability > 0.5
    }
}

/// The smallest error one way from which on the balance is another, in half slips, with that balance; `None` if the
/// readings tell before, or there is none.
fn smallest(
    way: i32,
    steps: &[(i32, Option<Solved>)],
    at: impl Fn(f64) -> Option<Solved>,
) -> Option<(f64, f64)> {
    let mut low = 0.0;
    for step in (1..=HALF_SLIPS).map(|step| way * step) {
        let mut high = f64::from(step);
        let stored = steps.iter().find(|(one, _)| *one == step).and_then(|(_, solved)| *solved);
        if stored.is_some_and(|solved| !solved.is_other()) {
            low = high;
            continue;
        }
        // Where the readings tell of this error, or it cannot be, a smaller one may do.
        let mut found = stored;
        for _ in 0..HALVINGS {
            let middle = (low + high) / 2.0;
            match at(middle) {
                Some(solved) if solved.is_other() => (high, found) = (middle, Some(solved)),
                Some(_) => low = middle,
                None => high = middle,
            }
        }
        return Some((high, found?.balance_index));
    }
    None
}
