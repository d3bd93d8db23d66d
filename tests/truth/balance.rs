//! The analysis against what the virtual plow knows to be true: 10 seeds of 4 cases, with a description
//! that is as wrong as a tape measure and a scale make it.
//!
//! The virtual plow is invented; this shows that the analysis finds what is there, not that a real plow is so.

#![allow(clippy::unwrap_used)] // a run that cannot be analysed must stop the test

use analysis::summary::analyse;
use hitchwright_tests::virtual_run::virtual_run;
use sample_runs::plow::Case;
use statics::verdict::Class;
use std::sync::LazyLock;

/// One run as the tests below look at it.
struct Told {
    case: Case,
    seed: u64,
    true_b: f64,
    low: f64,
    value: f64,
    high: f64,
    class: Class,
}

/// Both tests look at the runs without the height; they are analysed once.
static WITHOUT: LazyLock<Vec<Told>> = LazyLock::new(|| told(false));

fn told(with_soil_height: bool) -> Vec<Told> {
    let mut all = Vec::new();
    for case in Case::ALL {
        for seed in 1..=10 {
            let (run, truth) = virtual_run(case, seed, with_soil_height);
            let analysed = analyse(run).unwrap();
            let b = analysed.summary.statics.as_ref().map(|statics| statics.balance_index);
            let (low, value, high) = b.map_or((f64::NAN, f64::NAN, f64::NAN), |b| (b.low, b.value, b.high));
            let class = analysed.summary.verdict.class;
            println!(
                "{:<12} {seed:>2}: true {:+.3}, told {value:+.3} ({low:+.3} to {high:+.3}) {class}",
                case.name(),
                truth.balance_index
            );
            all.push(Told { case, seed, true_b: truth.balance_index, low, value, high, class });
        }
    }
    all
}

/// What holds with and without the height of the soil force.
fn honest(all: &[Told]) {
    let held = all.iter().filter(|t| t.low <= t.true_b && t.true_b <= t.high).count();
    let name = |t: &Told| format!("{} {}", t.case.name(), t.seed);
    assert!(held >= 36, "the interval held the true b in {held} of {}", all.len());
    for t in all {
        match t.case {
            Case::TooFlat => assert!(
                !matches!(t.class, Class::Balanced | Class::LeaningSteep | Class::TooSteep),
                "{}: {}",
                name(t),
                t.class
            ),
            Case::Balanced => {
                assert!(!matches!(t.class, Class::TooFlat | Class::TooSteep), "{}: {}", name(t), t.class);
            }
            Case::TooSteep | Case::WornShares => {}
        }
        let wrong_side = t.true_b > 0.6 && matches!(t.class, Class::LeaningSteep | Class::TooSteep)
            || t.true_b < -0.6 && matches!(t.class, Class::LeaningFlat | Class::TooFlat);
        assert!(!wrong_side, "{}: true b {:.2}, called {}", name(t), t.true_b, t.class);
    }
}

#[test]
fn with_the_shares_condition_alone_the_truth_is_held() {
    let all = &*WITHOUT;
    honest(all);
    // "Not shown" always would be honest too, and useless.
    let answered = all.iter().filter(|t| t.class != Class::NotShown).count();
    assert!(answered >= 20, "a class was stated for {answered} of {} runs", all.len());
}

#[test]
fn with_the_height_of_the_soil_force_the_truth_is_held_more_closely() {
    let (with, without) = (told(true), &*WITHOUT);
    honest(&with);
    let width = |all: &[Told]| all.iter().map(|t| t.high - t.low).sum::<f64>() / all.len() as f64;
    assert!(width(&with) < width(without), "{} {}", width(&with), width(without));
    let right = with.iter().filter(|t| (t.value - t.true_b).abs() < 0.25).count();
    assert!(right >= 36, "the middle was within 0.25 of the truth in {right} of {}", with.len());
}
