//! How often intervals hold the truth and verdicts are right, over many studies.

use crate::identify::identify;
use crate::invented_plow::{QUIET, setting_of};
use crate::verdict::studies::truths::{Field, SHARP, study};
use crate::verdict::{Class, verdict};
use ingest::plow::ShareCondition;
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;

const DRAWS: usize = 600;

#[derive(Default, Debug)]
struct Score {
    studies: usize,
    covered: usize,
    shown: usize,
    right: usize,
    bold_and_wrong: usize,
    mean_half_width: f64,
}

fn score(field: Field, index: f64, studies: usize, seed: u64) -> Score {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let mut score = Score::default();
    while score.studies < studies {
        let Some(study) = study(field, index, &mut rng) else { continue };
        score.studies += 1;
        let holes = setting_of(&study.described, "4", "4");
        let found = identify(&study.described, &holes, &study.run, DRAWS, score.studies as u64);
        let class = verdict(&study.described, &found, &QUIET).class;
        let b_true = study.side.loads().unwrap().balance_index;
        let class_true = Class::of(b_true, &study.described.limits);
        if let Ok(found) = &found {
            score.covered += usize::from(found.balance_index.holds(b_true));
            score.mean_half_width += found.balance_index.half_width() / studies as f64;
        }
        score.shown += usize::from(class != Class::NotShown);
        score.right += usize::from(class == class_true);
        score.bold_and_wrong += usize::from(class.apart(class_true).is_some_and(|apart| apart > 1));
    }
    score
}

/// Percent of all studies that count for `part`.
fn percent(scores: &[Score], part: fn(&Score) -> usize) -> f64 {
    let sum = |part: fn(&Score) -> usize| scores.iter().map(part).sum::<usize>() as f64;
    100.0 * sum(part) / sum(|score| score.studies)
}

/// Three sensors, tape and scale: 95 % intervals hold the truth, nearly every run gets a class, none a bold
/// wrong one.
#[test]
fn decent_measurements_get_a_class_and_it_holds() {
    let far = [0.8, 0.42, 0.0, -0.42, -0.8].map(|b| score(SHARP, b, 30, 1));
    assert!(percent(&far, |s| s.covered) >= 93.0, "{far:?}");
    assert_eq!(percent(&far, |s| s.bold_and_wrong), 0.0, "{far:?}");
    assert!(percent(&far, |s| s.shown) >= 95.0, "{far:?}");
    assert!(percent(&far, |s| s.right) >= 90.0, "in the middle of a class: {far:?}");
}

/// On the limits of the classes, where a statement off by one is fair and one off by two is not.
#[test]
fn runs_on_a_limit_are_never_called_off_by_two() {
    let near = [0.61, 0.24, -0.24, -0.61].map(|b| score(SHARP, b, 25, 2));
    assert_eq!(percent(&near, |s| s.bold_and_wrong), 0.0, "{near:?}");
    assert!(percent(&near, |s| s.covered) >= 93.0, "{near:?}");
}

/// The owner says "worn" of shares that are sharp: the prior is wrong by 0.08 to 0.28 and must not win.
#[test]
fn a_wrong_share_condition_does_not_make_a_bold_verdict() {
    let field = Field { share: ShareCondition::Worn, ..SHARP };
    let scores = [0.8, 0.0, -0.8].map(|b| score(field, b, 30, 3));
    assert_eq!(percent(&scores, |s| s.bold_and_wrong), 0.0, "{scores:?}");
    assert!(percent(&scores, |s| s.covered) >= 88.0, "{scores:?}");
}

/// A front-load channel needs no assumption about the soil and at least halves the interval.
#[test]
fn a_front_load_channel_narrows_the_balance() {
    let without = score(SHARP, 0.0, 30, 4);
    let with = score(Field { front_measured: true, ..SHARP }, 0.0, 30, 4);
    assert!(with.mean_half_width < 0.5 * without.mean_half_width, "{with:?} {without:?}");
    assert_eq!(with.right, 30, "{with:?}");
    assert!(with.covered >= 27, "{with:?}");
}
