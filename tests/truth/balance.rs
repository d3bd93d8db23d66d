//! The analysis against what the virtual plow knows to be true: 10 seeds of 4 cases, with a description
//! that is as wrong as a tape measure and a scale make it.

use crate::{pass, summary, told};
use analysis::summary::Summary;
use hitchwright_tests::virtual_run::virtual_run;
use sample_runs::plow::{Case, Truth};
use statics::verdict::Class;
use stats::Estimate;
use std::sync::LazyLock;

/// One run as the tests below look at it.
struct Told {
    name: String,
    case: Case,
    true_b: f64,
    b: Estimate,
    class: Class,
}

impl Told {
    fn of(case: Case, seed: u64, truth: &Truth, said: &Summary) -> Self {
        let b = said.statics.as_ref().unwrap().balance_index;
        let (name, class) = (format!("{} {seed}", case.name()), said.verdict.class);
        let true_b = truth.balance_index;
        println!("{name:<15}: true {true_b:+.3}, told {b:?} {class}");
        Self { name, case, true_b, b, class }
    }
}

fn passes() -> impl Iterator<Item = (Case, u64)> {
    Case::ALL.into_iter().flat_map(|case| (1..=10).map(move |seed| (case, seed)))
}

/// Both tests look at the runs without the height; they are analysed once.
static WITHOUT: LazyLock<Vec<Told>> = LazyLock::new(|| {
    let without = |(case, seed)| {
        let (run, truth) = virtual_run(case, seed, false);
        Told::of(case, seed, &truth, &summary(run))
    };
    passes().map(without).collect()
});

/// What holds with and without the height of the soil force.
fn honest(all: &[Told]) {
    let held = all.iter().filter(|t| t.b.holds(t.true_b)).count();
    assert!(held >= 36, "the interval held the true b in {held} of {}", all.len());
    for Told { name, case, true_b, class, .. } in all {
        let steep = matches!(class, Class::LeaningSteep | Class::TooSteep);
        let flat = matches!(class, Class::LeaningFlat | Class::TooFlat);
        match case {
            Case::TooFlat => assert!(!steep && *class != Class::Balanced, "{name}: {class}"),
            Case::Balanced => assert!(!matches!(class, Class::TooFlat | Class::TooSteep), "{name}: {class}"),
            Case::TooSteep | Case::WornShares => {}
        }
        let wrong_side = *true_b > 0.6 && steep || *true_b < -0.6 && flat;
        assert!(!wrong_side, "{name}: true b {true_b:.2}, called {class}");
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
    let with = |(case, seed)| Told::of(case, seed, &pass(case, seed).1, told(case, seed));
    let with: Vec<Told> = passes().map(with).collect();
    honest(&with);
    let width = |all: &[Told]| all.iter().map(|t| t.b.high - t.b.low).sum::<f64>() / all.len() as f64;
    assert!(width(&with) < width(&WITHOUT), "{} {}", width(&with), width(&WITHOUT));
    let right = with.iter().filter(|t| (t.b.value - t.true_b).abs() < 0.25).count();
    assert!(right >= 36, "the middle was within 0.25 of the truth in {right} of {}", with.len());
}
