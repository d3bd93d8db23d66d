//! The verdict of a run: a class, how sure it is, and why.

mod class;
mod reasons;
mod stated;

pub use class::{CHANCE_MIN, Class, ClassProbabilities, NEIGHBOURHOOD_CHANCE_MIN, SIDE_CHANCE_MIN};
pub use reasons::{GainAgreement, Indicators, REJECTED_SHARE_TOLD, Reason};
pub use stated::{FIRM_OTHER_SHARE_MAX, RestsOn, Verdict};

use crate::identify::{Identified, IdentifyError};
use ingest::plow::{Limits, Plow};

/// The verdict on a run from its statics (or the error that took their place).
///
/// The class is the one that the draws support ([`ClassProbabilities::stated`]). A lifted share over the limit cannot be
/// balanced: if the draws say so all the same, the verdict is "leaning flat" where the flat side has 95 %
/// (the load is shown to lie there), and "not shown" otherwise.
pub fn verdict(plow: &Plow, identified: &Result<Identified, IdentifyError>, signs: &Indicators) -> Verdict {
    let found = match identified {
        Ok(found) => found,
        Err(error) => {
            let reasons = reasons::without_statics(error, signs, &plow.limits);
            let (contradicted, suspects) = match error {
                IdentifyError::Contradiction { suspects, .. } => (true, suspects.clone()),
                IdentifyError::Unbelievable(_) => (true, Vec::new()),
                _ => (false, Vec::new()),
            };
            return Verdict { reasons, contradicted, suspects, ..Verdict::default() };
        }
    };
    let chances = ClassProbabilities::of(&found.draws, &plow.limits);
    let class = with_lifting(chances.stated(), &chances, signs, &plow.limits);
    let gain = reasons::gain_agreement(found, signs, &plow.limits);
    let reasons = reasons::with_statics(plow, found, signs, (class, &chances, gain));
    Verdict { class, chances: Some(chances), gain, reasons, ..Verdict::default() }
}

fn with_lifting(class: Class, chances: &ClassProbabilities, signs: &Indicators, limits: &Limits) -> Class {
    if class != Class::Balanced || signs.lifted_over(limits.lifted_share).is_none() {
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
