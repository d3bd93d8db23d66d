//! Whether description and readings of a run can both be right, and if not, which entry is the likeliest to be
//! wrong.
//!
//! The readings ask for a height of the soil force, for the load that was not measured, and for a gain from pull
//! to tail load. Before the run each of these is known to some width: from the soil's prior and from the stated
//! uncertainty of every input. What is judged is the squared distance of what was asked for from what was known, in
//! that width (Mahalanobis distance of the prior-predictive distribution; Box 1980, Journal of the Royal
//! Statistical Society A 143, 383-430; Evans & Moshonov 2006, Bayesian Analysis 1, 893-914).
//! The width is propagated to first order (GUM 5.1.2) by differences over one standard uncertainty.
//!
//! [`Suspect`] then asks of each entry alone how far it would have to move for the distance to vanish; [`rests_on()`]
//! how far off each may be, unseen, before the balance would be quite another.

mod measure;
mod rests_on;
mod suspects;

pub use super::entries::{Entry, Unit};
pub use super::refusal::Suspect;
pub use measure::{DISTANCE_2_MAX, TableReadings, TableTally, Witness};
pub use rests_on::{Moved, Resting, SLIPS_SEED, rests_on};

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
    let of = || measure::PriorPredictive::of(plow, setting, run, *witness);
    match identified {
        Ok(found) => match of().and_then(|held| Some((held.contradiction()?, held))) {
            Some((cause, held)) => Err(IdentifyError::Contradiction {
                kept: found.draws.len(),
                tried: found.draws.tried(),
                cause,
                suspects: suspects::suspects(&held, (plow, setting)),
            }),
            None => Ok(found),
        },
        Err(IdentifyError::Contradiction { kept, tried, cause, .. }) => {
            let suspects = of().map(|held| suspects::suspects(&held, (plow, setting))).unwrap_or_default();
            let cause = witness.outside_table().map_or(cause, |below| Contradiction::OutsideTable { below });
            Err(IdentifyError::Contradiction { kept, tried, cause, suspects })
        }
        other => other,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::identify::identify;
    use crate::invented_plow::{figures, plow, setting};
    use ingest::quantity::{Force, Length, SpringRate};

    fn held(pull_n: f64, tail_n: f64, witness: &Witness) -> Result<Identified, IdentifyError> {
        let (plow, holes) = (plow(), setting("4", "4"));
        let run = figures(pull_n, tail_n, &plow);
        held_against((&plow, &holes), &run, witness, identify(&plow, &holes, &run, 500, 3))
    }

    fn contradiction(result: Result<Identified, IdentifyError>) -> (Contradiction, Vec<Suspect>) {
        match result.map(|found| found.balance_index) {
            Err(IdentifyError::Contradiction { cause, suspects, .. }) => (cause, suspects),
            other => panic!("{other:?}"),
        }
    }

    #[test]
    fn a_sound_run_passes() {
        assert!(held(8_000.0, 900.0, &Witness::default()).is_ok());
    }

    /// The tail wheel would carry far more than is left on the ground.
    #[test]
    fn a_load_that_cannot_be_has_suspects_in_order() {
        let (_, suspects) = contradiction(held(8_000.0, 9_000.0, &Witness::default()));
        assert!(!suspects.is_empty());
        assert!(suspects.windows(2).all(|two| two[0].suspicion >= two[1].suspicion), "{suspects:?}");
        let table = suspects.iter().find(|suspect| suspect.entry == Entry::LoadTable).unwrap();
        assert!(table.moves_by < 0.0 && table.moves_by_u.unwrap() > 3.0, "{table:?}");
    }

    /// Deflections of −34 mm on a table from 0 to 100 mm: no load is told, so that the statics alone might be content.
    #[test]
    fn readings_below_the_table_are_a_contradiction_and_the_sign_is_suspected_first() {
        let table = TableReadings {
            below_share: 1.0,
            beyond_share: 0.0,
            mean: Length::from_m(-0.034),
            ends: (Length::from_m(0.0), Length::from_m(0.1)),
            rate: SpringRate::from_n_per_m(25_000.0),
            reversed_load: Force::from_n(850.0),
        };
        let read = |table| Witness { table: Some(table), measured_gain: None };
        let (cause, suspects) = contradiction(held(8_000.0, 0.0, &read(table)));
        assert_eq!(cause, Contradiction::OutsideTable { below: true });
        assert_eq!(suspects[0].entry, Entry::TailReversed, "{suspects:?}");
        let beyond =
            TableReadings { below_share: 0.0, beyond_share: 1.0, mean: Length::from_m(0.15), ..table };
        let (cause, _) = contradiction(held(8_000.0, 900.0, &read(beyond)));
        assert_eq!(cause, Contradiction::OutsideTable { below: false });
    }
}
