//! How far off each entry alone may be before the balance would be quite another, unseen by the readings.

use super::entries::{Entry, Unit};
use super::measure::{DISTANCE_2_MAX, Held, Witness};
use super::suspects::{Tried, distance_2, setting_tried, slip_sd, with};
use crate::statics::identify::identify_shifted;
use crate::statics::inputs::{Input, RunFigures};
use ingest::plow::{Plow, Setting};

/// An entry that, wrong by so much, would have led to quite another balance.
#[derive(Clone, Debug, PartialEq)]
pub struct Moved {
    /// Which.
    pub entry: Entry,
    /// By how much the truth is off what is stated, in `unit`; 0 where nothing moves.
    pub by: f64,
    /// The unit of `by`.
    pub unit: Unit,
    /// The same in usual slips of that entry; 1 for another setting (by choice, as all of [`Entry`]'s slips).
    pub slips: f64,
    /// The balance index that would be.
    pub balance_index: f64,
}

/// Half slips tried to either side.
const HALF_SLIPS: i32 = 6;
/// Halvings of the half slip in which the balance turns.
const HALVINGS: usize = 6;
/// Draws for a median that is looked at against limits a tenth apart.
const DRAWS: usize = 200;
const SEED: u64 = 1;
/// Entries told.
const TOLD: usize = 3;

/// The entries, at most three, whose smallest error for which `is_other` holds of the balance index is within
/// three usual slips, the smallest in slips first. Errors that the readings would contradict are left out. Each error
/// is solved as the run was, with all that was drawn moved by it.
#[must_use]
pub fn rests_on(
    (plow, setting): (&Plow, &Setting),
    run: &RunFigures,
    witness: &Witness,
    is_other: impl Fn(f64) -> bool,
) -> Vec<Moved> {
    let Some(held) = Held::of(plow, setting, run, *witness) else { return Vec::new() };
    let solved = |tried: Tried| {
        if distance_2(&held, &tried) > DISTANCE_2_MAX {
            return None;
        }
        let shift = tried.inputs.minus(&held.spreads.centres());
        let found = identify_shifted(plow, setting, run, (DRAWS, SEED), Some(shift)).ok()?;
        Some(found.balance_index.value)
    };
    let others = plow.settings.iter().filter(|(_, other)| *other != setting);
    let named = others.filter_map(|(name, other)| {
        let balance_index = solved(setting_tried(&held, plow, other, setting)?)?;
        let entry = Entry::Setting(name.clone());
        is_other(balance_index).then_some(Moved {
            entry,
            by: 0.0,
            unit: Unit::None,
            slips: 1.0,
            balance_index,
        })
    });
    // The slope of the soil is no entry: nobody writes it down.
    let typed = Entry::MOVING.into_iter().filter(|entry| *entry != Entry::Input(Input::SoilSlope));
    let moving = typed.filter_map(|entry| {
        let sd = slip_sd(&held, &entry)?;
        let index = |slips: f64| solved(with(&held, &entry, slips * sd)?);
        let one_way = |way: f64| smallest(|slips| index(way * slips), &is_other).map(|(s, b)| (way * s, b));
        let both = [one_way(1.0), one_way(-1.0)].into_iter().flatten();
        let (slips, balance_index) = both.min_by(|one, other| one.0.abs().total_cmp(&other.0.abs()))?;
        let unit = entry.unit();
        Some(Moved { entry, by: slips * sd, unit, slips: slips.abs(), balance_index })
    });
    let mut all: Vec<Moved> = named.chain(moving).collect();
    all.sort_by(|one, other| one.slips.total_cmp(&other.slips));
    all.truncate(TOLD);
    all
}

/// The smallest move in slips from which on the balance is another, with that balance; `None` if the readings tell
/// before, or there is none.
fn smallest(index: impl Fn(f64) -> Option<f64>, is_other: impl Fn(f64) -> bool) -> Option<(f64, f64)> {
    let mut low = 0.0;
    for place in 1..=HALF_SLIPS {
        let mut high = f64::from(place) / 2.0;
        let mut found = match index(high) {
            Some(b) if is_other(b) => Some(b),
            Some(_) => {
                low = high;
                continue;
            }
            // The readings tell of this error, or it cannot be: a smaller one may do.
            None => None,
        };
        for _ in 0..HALVINGS {
            let middle = (low + high) / 2.0;
            match index(middle) {
                Some(b) if is_other(b) => (high, found) = (middle, Some(b)),
                Some(_) => low = middle,
                None => high = middle,
            }
        }
        return Some((high, found?));
    }
    None
}
