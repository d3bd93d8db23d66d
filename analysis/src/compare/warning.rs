//! What the reader must know before believing a comparison.

use super::conclusion::ALPHA;
use super::figure::FigureComparison;
use super::figures::{ComparedFigure, Conditions, PassFigures};
use super::layout::Layout;
use super::outcome::Side;
use super::tests_of_figures::least_p;
use serde::Serialize;
use std::collections::BTreeSet;
use strum::VariantArray;

/// One such thing.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
#[allow(missing_docs, reason = "names of fields say what they are, and their unit")]
pub enum ComparisonWarning {
    /// The field's own variation from pass to pass is not covered by the intervals.
    FewPasses { passes_a: usize, passes_b: usize },
    /// The passes were not laid out in alternating order.
    NotAlternating,
    /// So few passes give the permutation test a least p above the level of the tests.
    PermutationBound { least_p: f64 },
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
}

/// What has to be the same for a difference to be the setting's.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
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
        (have_it > 0 && have_it < runs).then_some(left_out)
    }));
    warnings
}
