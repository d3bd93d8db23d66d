//! What a stated class rests on: entries that, wrong, would make it false without the readings telling.

use super::contradicted::entry_words;
use super::{Class, Verdict};
use crate::statics::contradiction::{Entry, Unit, Witness, rests_on};
use crate::statics::inputs::RunFigures;
use crate::units_out::Units;
use ingest::plow::{PartNames, Plow, Setting};
use serde::Serialize;

/// An entry that the class rests on.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RestsOn {
    /// Which.
    pub entry: Entry,
    /// Smallest error of it alone that makes the class false, in `unit`: what is true less what is stated; 0 for
    /// another setting.
    pub by: f64,
    /// The unit of `by`.
    pub unit: Unit,
    /// The class that it would be.
    pub class: Class,
}

/// A class is false where it is off by more than its neighbor: neither "balanced" for too flat nor one side for the
/// other. To be off by one is within what a statement claims ([`super::Chances::stated`]).
fn is_false(stated: Class, other: Class) -> bool {
    let place = |class| Class::SHOWN.into_iter().position(|shown| shown == class);
    matches!((place(stated), place(other)), (Some(one), Some(other)) if one.abs_diff(other) > 1)
}

impl Verdict {
    /// The verdict with what its class rests on, in data and as a reason; unchanged where no class is stated.
    #[must_use]
    pub fn resting_on(
        mut self,
        (plow, setting): (&Plow, &Setting),
        run: &RunFigures,
        witness: &Witness,
        units: Units,
    ) -> Self {
        if self.class == Class::NotShown {
            return self;
        }
        let class_of = |balance_index: f64| Class::of(balance_index, &plow.limits);
        let moved = rests_on((plow, setting), run, witness, |b| is_false(self.class, class_of(b)));
        let told = moved.into_iter().map(|moved| RestsOn {
            class: class_of(moved.balance_index),
            entry: moved.entry,
            by: moved.by,
            unit: moved.unit,
        });
        self.rests_on = told.collect();
        self.because.extend(sentence(&self.rests_on, &plow.part_names(), units));
        self
    }
}

fn sentence(all: &[RestsOn], parts: &PartNames, units: Units) -> Option<String> {
    let one = |on: &RestsOn| match entry_words(&on.entry, (on.by, on.unit), parts, units) {
        (words, Some(moved)) => format!("{words} ({moved}, and it would be {})", on.class),
        (_, None) => match &on.entry {
            Entry::Setting(name) => format!("the setting named (with {name} it would be {})", on.class),
            _ => format!("the sign of the {}'s sensor (turned, it would be {})", parts.tail, on.class),
        },
    };
    let told: Vec<String> = all.iter().map(one).collect();
    (!told.is_empty()).then(|| {
        format!(
            "This rests on what is described being so, and the readings would not tell: {}.",
            told.join("; ")
        )
    })
}
