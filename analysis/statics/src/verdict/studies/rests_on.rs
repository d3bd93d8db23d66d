//! What a class is said to rest on, against moving that entry and solving again.

use crate::contradiction::{Entry, Witness};
use crate::identify::identify;
use crate::inputs::{Input, MeanForce, RunFigures};
use crate::invented_plow::{QUIET, plow, setting};
use crate::verdict::studies::truths::run_of;
use crate::verdict::{Class, Reason, Verdict, verdict};
use ingest::plow::{Plow, Setting};
use ingest::quantity::{Force, Length, Quantity};
use stats::Estimate;

fn judged(plow: &Plow, holes: &Setting, run: &RunFigures) -> Verdict {
    let found = identify(plow, holes, run, 2_000, 11);
    let witness = (&Witness::default(), &found);
    verdict(plow, &found, &QUIET).resting_on((plow, holes), run, witness)
}

/// Description or readings with one entry put right; `None` for entries that this test does not move.
fn put_right(
    (entry, by): (&Entry, f64),
    (plow, holes): (&mut Plow, &mut Setting),
    run: &mut RunFigures,
) -> Option<()> {
    let times =
        |force: &mut MeanForce, factor: f64| force.mean = Estimate::from_si(force.mean.si().scaled(factor));
    let add = |length: &mut Length| *length = Length::from_m(length.si() + by);
    match entry {
        Entry::Input(Input::WeightPlace) => add(&mut plow.weight.x.value),
        Entry::Input(Input::Weight) => {
            plow.weight.total.value = Force::from_n(plow.weight.total.si() * (1.0 + by));
        }
        Entry::Input(Input::PlowHoleHeight) => {
            plow.plow_hitch.holes.iter_mut().for_each(|h| add(&mut h.z.value));
            add(&mut holes.plow_hole.z.value);
        }
        Entry::Input(Input::TractorHoleHeight) => {
            plow.tractor_hitch.holes.iter_mut().for_each(|h| add(&mut h.z.value));
            add(&mut holes.tractor_hole.z.value);
        }
        Entry::LoadTable => times(run.tail_load.as_mut().unwrap(), 1.0 + by),
        Entry::PullGain => times(&mut run.pull, 1.0 + by),
        Entry::PullZero => {
            let factor = 1.0 + by / run.pull.mean.value.n();
            times(&mut run.pull, factor);
        }
        Entry::Setting(name) => *holes = plow.settings[name].clone(),
        _ => return None,
    }
    Some(())
}

/// A twentieth beyond the told error, because this solves with other draws. Only the class is compared: that of the
/// middle of the balance index.
#[test]
fn an_entry_off_by_what_is_told_makes_the_class_that_is_told() {
    let mut compared = 0;
    for (plow_hole, tractor_hole) in [("4", "4"), ("8", "3"), ("6", "3"), ("2", "6")] {
        for front_measured in [false, true] {
            let (plow, holes) = (plow(), setting(plow_hole, tractor_hole));
            let run = run_of(&plow, &holes, -0.10, front_measured);
            let told = judged(&plow, &holes, &run);
            // With the load on the front measured too, the soil and with it the holes have no say in the index.
            let holes_say =
                told.rests_on.iter().map(|on| &on.entry).any(|entry| {
                    matches!(entry, Entry::Input(Input::PlowHoleHeight | Input::TractorHoleHeight))
                });
            assert!(!front_measured || told.firm && !holes_say, "{told:?}");
            for on in &told.rests_on {
                let (mut plow, mut holes, mut run) = (plow.clone(), holes.clone(), run);
                let Some(()) = put_right((&on.entry, 1.05 * on.by), (&mut plow, &mut holes), &mut run) else {
                    continue;
                };
                let b = identify(&plow, &holes, &run, 2_000, 12).unwrap().balance_index.value;
                assert_eq!(Class::of(b, &plow.limits), on.class, "{on:?}: {b}");
                assert_ne!(on.class, told.class);
                compared += 1;
            }
        }
    }
    assert!(compared >= 4, "{compared}");
}

/// The last reason is what the class rests on; nothing rests on anything where no class is stated.
#[test]
fn the_class_says_what_it_rests_on() {
    let (plow, holes) = (plow(), setting("4", "4"));
    let run = run_of(&plow, &holes, -0.10, false);
    let told = judged(&plow, &holes, &run);
    assert_eq!(told.class, Class::Balanced);
    assert!(!told.rests_on.is_empty(), "{told:?}");
    let last = told.reasons.last().unwrap();
    assert!(
        matches!(last, Reason::Slips { soil_lifts: false, other_share } if Some(*other_share) == told.other_by_slip)
    );
    let not_shown = Verdict { class: Class::NotShown, rests_on: Vec::new(), ..told };
    let found = identify(&plow, &holes, &run, 2_000, 11);
    let witness = (&Witness::default(), &found);
    let again = not_shown.clone().resting_on((&plow, &holes), &run, witness);
    assert_eq!(again, not_shown);
}
