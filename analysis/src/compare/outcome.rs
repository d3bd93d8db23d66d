//! What a comparison comes to as a whole: which setting is better, by which figures, and what must be known before
//! believing it.

use super::conclusion::{ALPHA, ConclusionClass, FigureComparison, least_p};
use super::figures::{Better, ComparedFigure, Conditions, Layout, PassFigures};
use schemars::JsonSchema;
use serde::Serialize;
use statics::verdict::Class;
use std::collections::BTreeSet;
use strum::VariantArray;

/// One of the two sides of a comparison.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
pub enum Side {
    /// The runs named first.
    A,
    /// The runs they are held against.
    B,
}

/// The answer to "which setting is better?".
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Answer {
    /// Every shown figure that tells better from worse speaks for this side.
    Better(Side),
    /// Some speak for one side, some for the other.
    EachBetterAtSomething,
    /// Figures differ, but none that tells better from worse.
    DifferOnly,
    /// No figure is shown to differ.
    NoDifferenceShown,
    /// Fewer than three passes of a setting: nothing can be shown.
    TooFewPasses,
}

/// How many runs of a side have a verdict.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
pub struct ClassCount {
    /// The verdict.
    pub class: Class,
    /// Runs that have it.
    pub runs: usize,
}

/// A figure that is shown to differ.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
pub struct ShownFigure {
    /// Which.
    pub figure: ComparedFigure,
    /// The side it speaks for; none where more of it is neither better nor worse.
    pub better: Option<Side>,
}

/// The comparison in short; headline, table, terminal and JSON all follow from it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Outcome {
    /// Which setting is better.
    pub answer: Answer,
    /// Name of the better setting, where there is one.
    pub better_setting: Option<String>,
    /// Figures that are shown to differ, the weightiest first.
    pub shown: Vec<ShownFigure>,
    /// Verdicts of the runs of A, from flat to steep.
    pub classes_a: Vec<ClassCount>,
    /// Verdicts of the runs of B.
    pub classes_b: Vec<ClassCount>,
}

impl Outcome {
    /// From the figures compared and the runs that they are of.
    pub(super) fn of(
        (a, b): (&[PassFigures], &[PassFigures]),
        layout: &Layout,
        figures: &[FigureComparison],
    ) -> Self {
        let shown: Vec<ShownFigure> = figures
            .iter()
            .filter(|figure| figure.conclusion.class == ConclusionClass::Shown)
            .map(|figure| ShownFigure { figure: figure.figure, better: better_side(figure, a.first()) })
            .collect();
        let speaks_for = |side: Side| shown.iter().any(|figure| figure.better == Some(side));
        let answer = match (speaks_for(Side::A), speaks_for(Side::B)) {
            _ if *layout == Layout::TooFew => Answer::TooFewPasses,
            (true, true) => Answer::EachBetterAtSomething,
            (true, false) => Answer::Better(Side::A),
            (false, true) => Answer::Better(Side::B),
            (false, false) if shown.is_empty() => Answer::NoDifferenceShown,
            (false, false) => Answer::DifferOnly,
        };
        let better_setting = match answer {
            Answer::Better(Side::A) => a.first(),
            Answer::Better(Side::B) => b.first(),
            _ => None,
        };
        Self {
            answer,
            better_setting: better_setting.map(|run| run.setting.clone()),
            shown,
            classes_a: counted(a),
            classes_b: counted(b),
        }
    }
}

/// The side that a figure which is shown to differ speaks for.
fn better_side(compared: &FigureComparison, run: Option<&PassFigures>) -> Option<Side> {
    let less = if compared.difference.value < 0.0 { Side::A } else { Side::B };
    match compared.figure.better() {
        Better::Lower => Some(less),
        Better::Neither => None,
        Better::NearerToBalance => nearer_to_balance(compared, run?),
    }
}

/// On one side of 0 the smaller index is the nearer one. Across 0 only the class tells: +0.4 and −0.5 are both
/// leaning, and neither is the better.
fn nearer_to_balance(compared: &FigureComparison, run: &PassFigures) -> Option<Side> {
    if run.balance.leans_on_tractor {
        return None;
    }
    let (a, b) = (compared.mean_a, compared.mean_b);
    let steps = |index: f64| match Class::of(index, &run.balance.limits) {
        Class::Balanced => 0,
        Class::LeaningFlat | Class::LeaningSteep => 1,
        Class::TooFlat | Class::TooSteep | Class::NotShown => 2,
    };
    let order = if a * b >= 0.0 { a.abs().total_cmp(&b.abs()) } else { usize::cmp(&steps(a), &steps(b)) };
    match order {
        std::cmp::Ordering::Less => Some(Side::A),
        std::cmp::Ordering::Greater => Some(Side::B),
        std::cmp::Ordering::Equal => None,
    }
}

fn counted(runs: &[PassFigures]) -> Vec<ClassCount> {
    let count = |class: Class| ClassCount {
        class,
        runs: runs.iter().filter(|run| run.balance.class == class).count(),
    };
    let classes = Class::SHOWN.into_iter().chain([Class::NotShown]);
    classes.map(count).filter(|count| count.runs > 0).collect()
}

/// One such thing.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[serde(tag = "kind", rename_all = "snake_case")]
#[allow(missing_docs, reason = "names of fields say what they are, and their unit")]
pub enum ComparisonWarning {
    /// The field's own variation from pass to pass is not covered by the intervals.
    FewPasses { passes_a: usize, passes_b: usize },
    /// The passes were not laid out in alternating order.
    NotAlternating,
    /// So few passes give the permutation test a least p above the level of the tests.
    PermutationBound { least_p: f64 },
    /// Runs were recorded in a setting that nobody had confirmed.
    SettingAssumed { runs: usize },
    /// The runs of a side were not all made with one setting.
    MixedSettings { side: Side },
    /// Something besides the setting is not the same in all runs.
    NotTheSame { what: Condition, names: Vec<String> },
    /// A and B have the same holes.
    SameHoles,
    /// The two sides have no figure in common.
    NothingInCommon,
    /// A figure is left out, which some runs cannot give.
    LeftOut { figure: ComparedFigure, runs: usize },
    /// Readings of these runs cannot be right, so that nothing is compared while they are among the others.
    CannotBe { runs: Vec<String> },
}

/// What has to be the same for a difference to be the setting's.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Condition {
    /// The plow.
    Plow,
    /// The condition of the shares.
    Shares,
    /// The field.
    Field,
}

/// All of the runs and the figures that both sides have.
pub(super) fn warnings(
    (a, b): (&[PassFigures], &[PassFigures]),
    layout: &Layout,
    figures: &[FigureComparison],
) -> Vec<ComparisonWarning> {
    let mut warnings = Vec::new();
    let cannot_be = a.iter().chain(b).filter(|run| run.cannot_be).map(|run| run.run.clone());
    let cannot_be: Vec<String> = cannot_be.collect();
    let all_believed = cannot_be.is_empty();
    warnings.extend((!all_believed).then_some(ComparisonWarning::CannotBe { runs: cannot_be }));
    let least = least_p(a.len(), b.len(), *layout == Layout::Blocks);
    warnings.extend(match layout {
        Layout::TooFew => Some(ComparisonWarning::FewPasses { passes_a: a.len(), passes_b: b.len() }),
        Layout::Independent => Some(ComparisonWarning::NotAlternating),
        Layout::Blocks => None,
    });
    if *layout != Layout::TooFew && least > ALPHA {
        warnings.push(ComparisonWarning::PermutationBound { least_p: least });
    }
    for (side, runs) in [(Side::A, a), (Side::B, b)] {
        let mixed = runs.iter().any(|run| runs.first().is_some_and(|first| first.setting != run.setting));
        warnings.extend(mixed.then_some(ComparisonWarning::MixedSettings { side }));
    }
    let all = || a.iter().chain(b).map(|run| &run.conditions);
    let assumed = all().filter(|of| of.setting_assumed).count();
    warnings.extend((assumed > 0).then_some(ComparisonWarning::SettingAssumed { runs: assumed }));
    let kinds = |of: fn(&Conditions) -> Option<&str>| all().filter_map(of).collect::<BTreeSet<_>>();
    for (what, kinds) in [
        (Condition::Plow, kinds(|of| Some(&of.plow))),
        (Condition::Shares, kinds(|of| Some(&of.share))),
        (Condition::Field, kinds(|of| of.field.as_deref())),
    ] {
        if kinds.len() > 1 {
            let names = kinds.into_iter().map(str::to_owned).collect();
            warnings.push(ComparisonWarning::NotTheSame { what, names });
        }
    }
    let holes: BTreeSet<_> = all().map(|of| &of.holes).collect();
    warnings.extend((holes.len() == 1).then_some(ComparisonWarning::SameHoles));
    warnings.extend(figures.is_empty().then_some(ComparisonWarning::NothingInCommon));
    let runs = a.len() + b.len();
    warnings.extend(ComparedFigure::VARIANTS.iter().filter_map(|figure| {
        let have_it = a.iter().chain(b).filter(|run| run.figures.contains_key(figure)).count();
        let left_out = ComparisonWarning::LeftOut { figure: *figure, runs: runs - have_it };
        (all_believed && have_it > 0 && have_it < runs).then_some(left_out)
    }));
    warnings
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::compare::tests::pass;
    use crate::compare::{Balance, Comparison, compare};

    /// Runs of a setting, every other hour, with a balance index and a mean tail load each.
    fn runs(setting: &str, first_hour: u32, index: &[f64], tail_n: &[f64]) -> Vec<PassFigures> {
        let run = |((b, tail_n), block): ((&f64, &f64), u32)| {
            let figures = [(ComparedFigure::BalanceIndex, *b), (ComparedFigure::TailMeanN, *tail_n)];
            let balance = Balance { class: Class::of(*b, &Default::default()), ..Balance::default() };
            PassFigures { balance, ..pass(setting, first_hour + 2 * block, &figures) }
        };
        index.iter().zip(tail_n).zip(0..).map(run).collect()
    }

    fn compared(a: (&[f64], &[f64]), b: (&[f64], &[f64])) -> Comparison {
        compare(&runs("flat", 1, a.0, a.1), &runs("middle", 2, b.0, b.1)).unwrap()
    }

    /// Found on three passes too flat against three balanced: the headline was "no difference shown" above a
    /// table that said "mean tail load: shown".
    #[test]
    fn three_too_flat_against_three_balanced_say_which_is_better() {
        let comparison = compared(
            (&[0.90, 0.93, 0.95], &[420.0, 431.0, 415.0]),
            (&[0.02, 0.08, -0.01], &[1100.0, 1093.0, 1108.0]),
        );
        let Outcome { answer, better_setting, shown, classes_a, classes_b } = comparison.outcome;
        assert_eq!(answer, Answer::Better(Side::B));
        assert_eq!(better_setting.as_deref(), Some("middle"));
        assert_eq!(shown[0], ShownFigure { figure: ComparedFigure::BalanceIndex, better: Some(Side::B) });
        assert_eq!(shown[1], ShownFigure { figure: ComparedFigure::TailMeanN, better: None });
        assert_eq!(classes_a, [ClassCount { class: Class::TooFlat, runs: 3 }]);
        assert_eq!(classes_b, [ClassCount { class: Class::Balanced, runs: 3 }]);
    }

    #[test]
    fn what_differs_without_being_better_is_not_called_better() {
        let comparison = compared(
            (&[0.05, 0.02, 0.04], &[420.0, 431.0, 415.0]),
            (&[0.04, 0.03, 0.05], &[1100.0, 1093.0, 1108.0]),
        );
        assert_eq!(comparison.outcome.answer, Answer::DifferOnly);
        assert_eq!(comparison.outcome.better_setting, None);
    }

    #[test]
    fn as_far_off_on_the_other_side_is_no_better() {
        let comparison = compared(
            (&[0.40, 0.42, 0.41], &[420.0, 431.0, 415.0]),
            (&[-0.45, -0.44, -0.46], &[421.0, 430.0, 416.0]),
        );
        assert_eq!(comparison.outcome.answer, Answer::DifferOnly);
    }

    #[test]
    fn a_plow_that_leans_on_the_tractor_is_not_judged_by_the_index() {
        let lean = |mut runs: Vec<PassFigures>| {
            runs.iter_mut().for_each(|run| run.balance.leans_on_tractor = true);
            runs
        };
        let a = lean(runs("flat", 1, &[0.6, 0.62, 0.61], &[420.0, 431.0, 415.0]));
        let b = lean(runs("middle", 2, &[0.1, 0.12, 0.11], &[421.0, 430.0, 416.0]));
        assert_eq!(compare(&a, &b).unwrap().outcome.answer, Answer::DifferOnly);
    }

    #[test]
    fn two_passes_are_too_few() {
        let comparison = compared((&[0.9, 0.9], &[1.0, 2.0]), (&[0.0, 0.0], &[1.0, 2.0]));
        assert_eq!(comparison.outcome.answer, Answer::TooFewPasses);
    }
}
