//! Setting A against setting B: is the difference more than the field's own variation?

mod conclusion;
mod figures;
mod outcome;
mod own;

pub use conclusion::{ALPHA, Conclusion, ConclusionClass, EffectMeasure, FigureComparison};
pub use figures::{Balance, Better, ComparedFigure, Conditions, Layout, OwnMean, PassFigures};
pub use outcome::{Answer, ClassCount, ComparisonWarning, Condition, Outcome, ShownFigure, Side};
pub use own::OwnComparison;

use conclusion::{SPLIT_SEED, between_runs, concluded, within_runs};
use figures::layout_of;
use outcome::warnings;
use schemars::JsonSchema;
use serde::Serialize;
use stats::{Estimate, StatsError};
use strum::VariantArray;

/// Setting A against setting B.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Comparison {
    /// Name of setting A.
    pub setting_a: String,
    /// Name of setting B.
    pub setting_b: String,
    /// The runs of A.
    pub names_a: Vec<String>,
    /// The runs of B.
    pub names_b: Vec<String>,
    /// How the passes were laid out, which decides the tests.
    pub layout: Layout,
    /// Which effect size the figures have; null for fewer than three runs each.
    pub effect_measure: Option<EffectMeasure>,
    /// What it comes to as a whole.
    pub outcome: Outcome,
    /// Each figure that both settings have.
    pub figures: Vec<FigureComparison>,
    /// What the reader must know before believing it.
    pub warnings: Vec<ComparisonWarning>,
    /// The means of the user's own columns side by side, untested; not there without any.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub own_columns: Vec<OwnComparison>,
    /// Seed of the random splits of the permutation test (ChaCha of 8 rounds), where there are too many to try all.
    pub split_seed: u64,
}

/// Compares the runs of A with those of B, figure by figure. With fewer than three runs of a setting
/// the intervals come from within the runs, and a warning says what they leave out.
///
/// # Errors
/// [`StatsError`] if a side has no run.
pub fn compare(a: &[PassFigures], b: &[PassFigures]) -> Result<Comparison, StatsError> {
    let (Some(first_a), Some(first_b)) = (a.first(), b.first()) else {
        return Err(StatsError::TooFew { what: "a comparison", needed: 1, found: 0 });
    };
    let (layout, of_a, of_b) = layout_of(a, b);
    let mut figures = Vec::new();
    for &figure in ComparedFigure::VARIANTS {
        let estimates = |runs: &[&PassFigures]| -> Option<Vec<Estimate>> {
            runs.iter().map(|run| run.figures.get(&figure).copied()).collect()
        };
        if let (Some(a), Some(b)) = (estimates(&of_a), estimates(&of_b)) {
            figures.push(match layout {
                Layout::TooFew => (within_runs(figure, &a, &b), None),
                _ => between_runs(figure, (&a, &b), &layout, &first_a.balance)
                    .map(|(figure, results)| (figure, Some(results)))?,
            });
        }
    }
    let figures = concluded(figures);
    let names = |runs: &[&PassFigures]| runs.iter().map(|run| run.run.clone()).collect();
    Ok(Comparison {
        setting_a: first_a.setting.clone(),
        setting_b: first_b.setting.clone(),
        names_a: names(&of_a),
        names_b: names(&of_b),
        outcome: Outcome::of((a, b), &layout, &figures),
        warnings: warnings((a, b), &layout, &figures),
        effect_measure: EffectMeasure::of(&layout),
        layout,
        figures,
        own_columns: own::side_by_side(a, b),
        split_seed: SPLIT_SEED,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::compare::{Balance, ConclusionClass, Condition, Conditions};

    /// A pass of a setting, driven at that hour, with these figures, each known to ±1.
    pub(super) fn pass(setting: &str, hour: u32, figures: &[(ComparedFigure, f64)]) -> PassFigures {
        let known = |value: f64| Estimate { value, low: value - 1.0, high: value + 1.0 };
        PassFigures {
            run: format!("{setting}-{hour}"),
            setting: setting.to_owned(),
            started: format!("2027-04-11T{hour:02}:00"),
            conditions: Conditions { holes: (setting.to_owned(), String::new()), ..Conditions::default() },
            balance: Balance::default(),
            figures: figures.iter().map(|(figure, value)| (*figure, known(*value))).collect(),
            own: Vec::new(),
            cannot_be: false,
        }
    }

    fn runs(setting: &str, hours: &[u32], depth_sd: &[f64]) -> Vec<PassFigures> {
        let run = |(hour, sd): (&u32, &f64)| pass(setting, *hour, &[(ComparedFigure::DepthSdMm, *sd)]);
        hours.iter().zip(depth_sd).map(run).collect()
    }

    #[test]
    fn a_clear_difference_in_blocks_is_shown() {
        let a = runs("a", &[1, 3, 5, 7, 9, 11], &[10.0, 10.4, 9.8, 10.1, 10.2, 9.9]);
        let b = runs("b", &[2, 4, 6, 8, 10, 12], &[15.0, 15.5, 14.6, 15.2, 15.1, 15.3]);
        let comparison = compare(&a, &b).unwrap();
        assert_eq!(comparison.layout, Layout::Blocks);
        let figure = &comparison.figures[0];
        assert_eq!(figure.conclusion.class, ConclusionClass::Shown);
        assert!(figure.difference.high < -4.0, "{figure:?}");
        assert_eq!(figure.p_permutation, Some(2.0 / 64.0));
    }

    /// Found on a mean pull whose paired p was 0.011 beside a g of −0.55 (−1.85 to 0.81): soil that differs from block
    /// to block, and within each hardly.
    #[test]
    fn the_effect_goes_with_the_test_that_counts() {
        let (a, b) = ([10.0, 14.0, 18.0, 12.0], [11.0, 14.9, 19.2, 13.1]);
        let blocks = compare(&runs("a", &[1, 3, 5, 7], &a), &runs("b", &[2, 4, 6, 8], &b)).unwrap();
        assert_eq!(blocks.effect_measure, Some(EffectMeasure::HedgesGZ));
        let figure = &blocks.figures[0];
        assert!(figure.p_paired.unwrap() < 0.05 && figure.effect_size.unwrap().high < 0.0, "{figure:?}");
        let apart = compare(&runs("a", &[1, 2, 3, 4], &a), &runs("b", &[5, 6, 7, 8], &b)).unwrap();
        assert_eq!(apart.effect_measure, Some(EffectMeasure::HedgesG));
        assert!(apart.figures[0].effect_size.unwrap().holds(0.0), "{:?}", apart.figures[0]);
    }

    #[test]
    fn one_run_each_is_never_shown_and_says_why() {
        let comparison = compare(&runs("a", &[1], &[10.0]), &runs("b", &[2], &[20.0])).unwrap();
        assert_eq!(comparison.figures[0].conclusion.class, ConclusionClass::NotShown);
        assert_eq!(comparison.warnings[0], ComparisonWarning::FewPasses { passes_a: 1, passes_b: 1 });
        assert!((comparison.figures[0].difference.value + 10.0).abs() < 1e-12);
    }

    /// Found when runs of two plows were compared without a word.
    #[test]
    fn other_plows_shares_or_fields_and_equal_holes_are_reported() {
        let not_the_same = |warning: &ComparisonWarning, wanted| matches!(warning, ComparisonWarning::NotTheSame { what, .. } if *what == wanted);
        let said = |change: fn(&mut Conditions)| {
            let mut b = runs("b", &[2], &[20.0]);
            change(&mut b[0].conditions);
            compare(&runs("a", &[1], &[10.0]), &b).unwrap().warnings
        };
        assert_eq!(said(|_| ()).len(), 1, "only that the passes are few");
        assert!(not_the_same(&said(|of| of.plow = "other".into())[1], Condition::Plow));
        assert!(not_the_same(&said(|of| of.share = "worn".into())[1], Condition::Shares));
        assert_eq!(said(|of| of.field = Some("east".into())).len(), 1, "one field told is no difference");
        assert_eq!(said(|of| of.setting_assumed = true)[1], ComparisonWarning::SettingAssumed { runs: 1 });
        assert_eq!(said(|of| of.holes = ("a".into(), String::new()))[1], ComparisonWarning::SameHoles);
    }

    /// Within noise: over 200 seeds of equal settings at most a few are called different.
    #[test]
    fn equal_settings_are_rarely_called_different() {
        use rand::{RngExt, SeedableRng};
        let mut wrong = 0;
        for seed in 0..200 {
            let mut dice = rand_chacha::ChaCha8Rng::seed_from_u64(seed);
            let mut draw = |n: usize| (0..n).map(|_| 10.0 + dice.random::<f64>()).collect::<Vec<_>>();
            let (a, b) = (runs("a", &[1, 3, 5, 7], &draw(4)), runs("b", &[2, 4, 6, 8], &draw(4)));
            let comparison = compare(&a, &b).unwrap();
            wrong += usize::from(comparison.figures[0].conclusion.class == ConclusionClass::Shown);
        }
        assert!(wrong <= 14, "{wrong} of 200");
    }

    /// Four figures that go together, as those of one plow do, over 3 to 6 blocks of unlike soil: the chance of
    /// *any* of them being called different is under 5 %. (By resampled figures of the virtual plow, seven a
    /// pass: 5 to 20 in 500 with 3, 4, 5 and 6 passes.)
    #[test]
    fn no_figure_of_equal_settings_is_shown_more_often_than_it_says() {
        use rand::SeedableRng;
        use rand_distr::{Distribution, StandardNormal};
        let figures = &ComparedFigure::VARIANTS[..4];
        let mut wrong = 0;
        for seed in 0..240 {
            let mut dice = rand_chacha::ChaCha8Rng::seed_from_u64(seed);
            let mut next = || -> f64 { StandardNormal.sample(&mut dice) };
            let (mut a, mut b) = (Vec::new(), Vec::new());
            for block in 0..3 + (seed as u32) % 4 {
                let soil = next();
                for (side, setting, hour) in [(&mut a, "a", 2 * block), (&mut b, "b", 2 * block + 1)] {
                    let of_pass = next();
                    let value = |figure: &ComparedFigure| (*figure, 20.0 + 2.0 * soil + of_pass + next());
                    side.push(pass(setting, hour, &figures.iter().map(value).collect::<Vec<_>>()));
                }
            }
            let comparison = compare(&a, &b).unwrap();
            assert_eq!(comparison.layout, Layout::Blocks);
            let shown = |figure: &FigureComparison| figure.conclusion.class == ConclusionClass::Shown;
            wrong += usize::from(comparison.figures.iter().any(shown));
        }
        assert!(wrong <= 20, "{wrong} of 240");
    }

    #[test]
    fn a_figure_that_one_run_lacks_is_left_out_and_reported() {
        let (a, mut b) = (runs("a", &[1, 3, 5], &[1.0, 2.0, 3.0]), runs("b", &[2, 4, 6], &[1.0, 2.0, 3.0]));
        b[1].figures.clear();
        let comparison = compare(&a, &b).unwrap();
        assert!(comparison.figures.is_empty());
        let left_out = ComparisonWarning::LeftOut { figure: ComparedFigure::DepthSdMm, runs: 1 };
        assert!(comparison.warnings.contains(&left_out), "{comparison:?}");
    }

    /// Found: runs whose depth was in the wrong unit were compared like any other.
    #[test]
    fn nothing_is_compared_while_a_run_that_cannot_be_is_among_the_others() {
        let (a, mut b) = (runs("a", &[1, 3, 5], &[1.0, 2.0, 3.0]), runs("b", &[2, 4, 6], &[9.0, 8.0, 9.0]));
        b[1].cannot_be = true;
        b[1].figures.clear();
        let comparison = compare(&a, &b).unwrap();
        assert!(comparison.figures.is_empty());
        let first = ComparisonWarning::CannotBe { runs: vec!["b-4".to_owned()] };
        assert_eq!(comparison.warnings[0], first);
        assert!(!comparison.warnings.iter().any(|one| matches!(one, ComparisonWarning::LeftOut { .. })));
    }

    #[test]
    fn a_side_without_runs_is_an_error() {
        assert!(compare(&[], &runs("b", &[1], &[1.0])).is_err());
    }
}
