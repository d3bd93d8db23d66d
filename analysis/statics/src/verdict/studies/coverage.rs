//! How often intervals hold the truth and verdicts are right, over many studies.

use crate::identify::identify;
use crate::invented_plow::QUIET;
use crate::invented_plow::setting_of;
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
        let found = identify(
            &study.described,
            &setting_of(&study.described, "4", "4"),
            &study.run,
            DRAWS,
            score.studies as u64,
        );
        let verdict = verdict(&study.described, &found, &QUIET);
        let b_true = study.side.loads().unwrap().balance_index;
        let class_true = Class::of(b_true, &study.described.limits);
        if let Ok(found) = &found {
            score.covered += usize::from(found.balance_index.holds(b_true));
            score.mean_half_width +=
                (found.balance_index.high - found.balance_index.low) / 2.0 / studies as f64;
        }
        let (class, shown) = (verdict.class, verdict.class != Class::NotShown);
        score.shown += usize::from(shown);
        score.right += usize::from(class == class_true);
        let place = |class| Class::SHOWN.iter().position(|c| *c == class).unwrap() as i32;
        if shown && (place(class) - place(class_true)).abs() > 1 {
            score.bold_and_wrong += 1;
        }
    }
    score
}

fn add(scores: &[Score]) -> Score {
    let sum = |part: fn(&Score) -> usize| scores.iter().map(part).sum();
    Score {
        studies: sum(|s| s.studies),
        covered: sum(|s| s.covered),
        shown: sum(|s| s.shown),
        right: sum(|s| s.right),
        bold_and_wrong: sum(|s| s.bold_and_wrong),
        mean_half_width: scores.iter().map(|s| s.mean_half_width).sum::<f64>() / scores.len() as f64,
    }
}

/// Three sensors, tape and scale: 95 % intervals hold the truth, nearly every run gets a class, none a bold
/// wrong one.
#[test]
fn decent_measurements_get_a_class_and_it_holds() {
    let far: Vec<Score> = [0.8, 0.42, 0.0, -0.42, -0.8].map(|b| score(SHARP, b, 30, 1)).into();
    let all = add(&far);
    assert!(all.covered * 100 >= all.studies * 93, "{far:?}");
    assert_eq!(all.bold_and_wrong, 0, "{far:?}");
    assert!(all.shown * 100 >= all.studies * 95, "{far:?}");
    assert!(all.right * 100 >= all.studies * 90, "in the middle of a class: {far:?}");
}

/// On the limits of the classes, where a statement off by one is fair and one off by two is not.
#[test]
fn runs_on_a_limit_are_never_called_off_by_two() {
    let near: Vec<Score> = [0.61, 0.24, -0.24, -0.61].map(|b| score(SHARP, b, 25, 2)).into();
    let all = add(&near);
    assert_eq!(all.bold_and_wrong, 0, "{near:?}");
    assert!(all.covered * 100 >= all.studies * 93, "{near:?}");
}

/// The owner says "worn" of shares that are sharp: the prior is wrong by 0.08 to 0.28 and must not win.
#[test]
fn a_wrong_share_condition_does_not_make_a_bold_verdict() {
    let field = Field { share: ShareCondition::Worn, ..SHARP };
    let scores: Vec<Score> = [0.8, 0.0, -0.8].map(|b| score(field, b, 30, 3)).into();
    let all = add(&scores);
    assert_eq!(all.bold_and_wrong, 0, "{scores:?}");
    assert!(all.covered * 100 >= all.studies * 88, "{scores:?}");
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
