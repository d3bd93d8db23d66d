//! What is held against a description and passes, and what does not.

use super::*;
use crate::identify::identify;
use crate::invented_plow::{figures, plow, setting};

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
        mean_m: -0.034,
        ends_m: (0.0, 0.1),
        rate_n_per_m: 25_000.0,
        reversed_load_n: 850.0,
    };
    let witness = Witness { table: Some(table), measured_gain: None };
    let (cause, suspects) = contradiction(held(8_000.0, 0.0, &witness));
    assert_eq!(cause, Contradiction::OutsideTable { below: true });
    assert_eq!(suspects[0].entry, Entry::TailReversed, "{suspects:?}");
    let beyond = TableReadings { below_share: 0.0, beyond_share: 1.0, mean_m: 0.15, ..table };
    let witness = Witness { table: Some(beyond), measured_gain: None };
    let (cause, _) = contradiction(held(8_000.0, 900.0, &witness));
    assert_eq!(cause, Contradiction::OutsideTable { below: false });
}
