//! The verdict of a run: a class, how sure it is, and why.

mod class;
mod reasons;
mod rests_on;

pub use class::{Chances, Class};
pub use reasons::{GainAgreement, REJECTED_SHARE_TOLD, Reason};
pub use rests_on::RestsOn;

use crate::contradiction::Suspect;
use crate::identify::{Identified, IdentifyError};
use ingest::plow::{Limits, Plow};
use serde::Serialize;
use stats::Estimate;

/// What the verdict takes from the signals besides the statics.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Indicators {
    /// Share of the working part with the load that the pass is judged by under 5 % of its static value.
    pub lifted_share: f64,
    /// Whether that load is the front's, not the tail's.
    pub front_lifted: bool,
    /// Low-frequency gain from pull to tail load, N per N of pull along the drawbar; `None` where coherence
    /// does not support one.
    pub measured_gain: Option<Estimate>,
}

/// The verdict.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Verdict {
    /// The class.
    pub class: Class,
    /// Chance of each class; `None` if there are no draws.
    pub chances: Option<Chances>,
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

/// The verdict on a run from its statics (or the error that took their place).
///
/// The class is the one that the draws support ([`Chances::stated`]). A lifted share over the limit cannot be
/// balanced: if the draws say so all the same, the verdict is "leaning flat" where the flat side has 95 %
/// (the load is shown to lie there), and "not shown" otherwise.
#[must_use]
pub fn verdict(plow: &Plow, identified: &Result<Identified, IdentifyError>, signs: &Indicators) -> Verdict {
    let not_shown = Verdict {
        class: Class::NotShown,
        chances: None,
        gain: GainAgreement::NotCompared,
        reasons: Vec::new(),
        contradicted: false,
        suspects: Vec::new(),
        firm: false,
        other_by_slip: None,
        rests_on: Vec::new(),
    };
    let found = match identified {
        Ok(found) => found,
        Err(error) => {
            let reasons = reasons::without_statics(error, signs, &plow.limits);
            return match error {
                IdentifyError::Contradiction { suspects, .. } => {
                    Verdict { reasons, contradicted: true, suspects: suspects.clone(), ..not_shown }
                }
                _ => Verdict { reasons, ..not_shown },
            };
        }
    };
    let chances = Chances::of(&found.draws, &plow.limits);
    let class = with_lifting(chances.stated(), &chances, signs, &plow.limits);
    let gain = reasons::gain_agreement(found, signs, &plow.limits);
    let reasons = reasons::with_statics(plow, found, signs, (class, &chances, gain));
    Verdict { class, chances: Some(chances), gain, reasons, ..not_shown }
}

impl Verdict {
    /// The class that has a fair chance beside the stated one, and that chance.
    #[must_use]
    pub fn runner_up(&self) -> Option<(Class, f64)> {
        self.chances?.runner_up(self.class)
    }
}

fn with_lifting(class: Class, chances: &Chances, signs: &Indicators, limits: &Limits) -> Class {
    if class != Class::Balanced || signs.lifted_share <= limits.lifted_share {
        class
    } else if chances.flat_side >= class::SIDE_CHANCE_MIN {
        Class::LeaningFlat
    } else {
        // Lifting is the tail wheel's: it never speaks for the steep side.
        Class::NotShown
    }
}

#[cfg(test)]
pub(crate) mod studies;
