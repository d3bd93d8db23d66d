//! A verdict as it is stated.

use super::class::{Class, ClassProbabilities};
use super::reasons::{GainAgreement, Reason};
use crate::entries::{Entry, Unit};
use crate::run_refusal::Suspect;
use serde::Serialize;

/// The verdict.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Verdict {
    /// The class.
    pub class: Class,
    /// Chance of each class; `None` if there are no draws.
    pub chances: Option<ClassProbabilities>,
    /// Whether the measured gain agrees with the statics.
    pub gain: GainAgreement,
    /// Why, the weightiest first.
    pub reasons: Vec<Reason>,
    /// Whether description and readings cannot both be right; no class is stated then.
    pub contradicted: bool,
    /// Entries that would explain that, the most suspicious first.
    pub suspects: Vec<Suspect>,
    /// Whether the class would stand though one entry of the description or one sensor were off by a usual slip
    /// ([`Self::resting_on`]); a class that is not firm is told as what it looks like.
    pub firm: bool,
    /// Chance that what is shown would be otherwise with one entry off by a usual slip that the readings do not tell;
    /// `None` where nothing is shown, or no slip can be tried.
    pub other_by_slip: Option<f64>,
    /// Entries that the class rests on, unseen by the readings, the weightiest first.
    pub rests_on: Vec<RestsOn>,
}

impl Verdict {
    /// The class that has a fair chance beside the stated one, and that chance.
    #[must_use]
    pub fn runner_up(&self) -> Option<(Class, f64)> {
        self.chances?.runner_up(self.class)
    }

    /// The entry that a class which is not firm rests on most; `None` where it is firm, where none is stated, and where
    /// the entry is not known.
    #[must_use]
    pub fn if_as_described(&self) -> Option<&RestsOn> {
        self.rests_on.first().filter(|_| !self.firm)
    }
}

/// An entry that the class rests on.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RestsOn {
    /// Which.
    pub entry: Entry,
    /// Smallest error of it alone that makes what is shown false, in `unit`: what is true less what is stated; 0 for
    /// another setting.
    pub by: f64,
    /// The unit of `by`.
    pub unit: Unit,
    /// The class of the balance index that would be.
    pub class: Class,
    /// The part of [`Verdict::other_by_slip`] that falls on this entry.
    pub other_share: f64,
}
