//! Whether description and readings of a run can both be right, and if not, which entry is the likeliest to be
//! wrong.
//!
//! The readings ask for a height of the soil force, for the load that was not measured, and for a gain from pull
//! to tail load. Before the run each of these is known to some width: from the soil's prior and from the stated
//! uncertainty of every input. [`Conflict`] is the squared distance of what was asked for from what was known, in
//! that width (Mahalanobis distance of the prior-predictive distribution; Box 1980, Journal of the Royal
//! Statistical Society A 143, 383-430; Evans & Moshonov 2006, Bayesian Analysis 1, 893-914; both from memory).
//! The width is propagated to first order (GUM 5.1.2) by differences over one standard uncertainty.
//!
//! [`Suspect`] then asks of each entry alone how far it would have to move for the distance to vanish; [`rests_on()`]
//! how far off each may be, unseen, before the balance would be quite another.

mod entries;
mod measure;
mod rests_on;
mod suspects;

pub use entries::{Entry, Unit};
pub use measure::{Conflict, Part, TableReadings, Witness};
pub use rests_on::{Moved, Resting, rests_on};
pub use suspects::Suspect;

use super::identify::{Contradiction, Identified, IdentifyError};
use super::inputs::RunFigures;
use ingest::plow::{Plow, Setting};

/// The statics of a run where description and readings can both be right; else a contradiction with its suspects.
///
/// # Errors
/// The error that came in, a contradiction among them with its suspects named; [`IdentifyError::Contradiction`]
/// where the figures came from the few draws that could be.
pub fn held_against(
    (plow, setting): (&Plow, &Setting),
    run: &RunFigures,
    witness: &Witness,
    identified: Result<Identified, IdentifyError>,
) -> Result<Identified, IdentifyError> {
    let of = || measure::Held::of(plow, setting, run, *witness);
    match identified {
        Ok(found) => match of().and_then(|held| Some((held.conflict()?, held))) {
            Some((conflict, held)) if conflict.is_contradiction() => Err(IdentifyError::Contradiction {
                kept: found.draws.len(),
                tried: found.draws.tried(),
                cause: conflict.cause(),
                suspects: suspects::suspects(&held, (plow, setting)),
            }),
            _ => Ok(found),
        },
        Err(IdentifyError::Contradiction { kept, tried, cause, .. }) => {
            let suspects = of().map(|held| suspects::suspects(&held, (plow, setting))).unwrap_or_default();
            let cause = match witness.table {
                Some(table) if table.is_outside() => Contradiction::OutsideTable { below: table.below() },
                _ => cause,
            };
            Err(IdentifyError::Contradiction { kept, tried, cause, suspects })
        }
        other => other,
    }
}

#[cfg(test)]
mod tests;
