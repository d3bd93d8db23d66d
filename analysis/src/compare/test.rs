//! The tests of a comparison, figure by figure.

use super::conclusion::{Conclusion, ConclusionClass, Evidence, conclude};
use super::layout::{Layout, RUNS_MIN, layout_of};
use super::outcome::Outcome;
use super::{Balance, ComparedFigure, Conditions, PassFigures};
use serde::Serialize;
use stats::effect_size::hedges_g;
use stats::permutation::{permutation_test, sign_flip_test};
use stats::two_samples::{holm, paired_t, welch_t};
use stats::{Estimate, Moments, StatsError};
use std::collections::BTreeSet;

/// Seed of random splits, where there are too many to try all: the same runs give the same answer.
const SPLIT_SEED: u64 = 0x5EED;

/// What stands until the tests are in, and for good where there are too few runs to test.
const NOTHING_YET: Conclusion = Conclusion { class: ConclusionClass::NotShown, under: None };

/// One figure of setting A against setting B.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FigureComparison {
    /// Which figure.
    pub figure: ComparedFigure,
    /// Runs of A that have it.
    pub runs_a: Vec<f64>,
    /// Runs of B that have it.
    pub runs_b: Vec<f64>,
    /// Mean over the runs of A, with the interval of the mean where there are runs enough.
    pub mean_a: f64,
    /// Mean over the runs of B.
    pub mean_b: f64,
    /// A − B with its 95 % interval.
    pub difference: Estimate,
    /// Two-sided p of Welch's t test; not there for fewer than three runs each.
    pub p_welch: Option<f64>,
    /// Two-sided p of the paired t test, for blocks: it then takes the place of Welch's.
    pub p_paired: Option<f64>,
    /// Two-sided p of the exact (or all-pairs randomised) permutation test; sign flips for blocks.
    pub p_permutation: Option<f64>,
    /// Hedges' g with its interval.
    pub effect_size: Option<Estimate>,
    /// p of the t test that counts (paired for blocks, else Welch's), adjusted for the number of figures (Holm).
    pub p_holm: Option<f64>,
    /// What it comes to.
    pub conclusion: Conclusion,
}

/// Setting A against setting B.
#[derive(Clone, Debug, PartialEq, Serialize)]
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
    /// What it comes to as a whole.
    pub outcome: Outcome,
    /// Each figure that both settings have.
    pub figures: Vec<FigureComparison>,
    /// What the reader must know before believing it.
    pub warnings: Vec<String>,
}

/// Compares the runs of A with those of B, figure by figure. With fewer than three runs of a setting
/// the intervals come from within the runs, and a warning says what they leave out.
///
/// # Errors
/// [`StatsError`] if a side has no run.
pub fn compare(a: &[PassFigures], b: &[PassFigures]) -> Result<Comparison, StatsError> {
    let least = a.len().min(b.len());
    if least == 0 {
        return Err(StatsError::TooFew { what: "a comparison", needed: 1, found: 0 });
    }
    let (layout, of_a, of_b) = layout_of(a, b);
    let balance = a.first().map(|run| run.balance).unwrap_or_default();
    let mut figures = Vec::new();
    let mut left_out = Vec::new();
    for figure in ComparedFigure::ALL {
        let estimates = |runs: &[&PassFigures]| -> Option<Vec<Estimate>> {
            runs.iter().map(|run| run.figures.get(&figure).copied()).collect()
        };
        let have_it = a.iter().chain(b).filter(|run| run.figures.contains_key(&figure)).count();
        if have_it > 0 && have_it < a.len() + b.len() {
            let lack_it = a.len() + b.len() - have_it;
            left_out.push(format!("{} is not compared: {lack_it} of the runs cannot give it", figure.name()));
        }
        if let (Some(a), Some(b)) = (estimates(&of_a), estimates(&of_b)) {
            figures.push(match layout {
                Layout::TooFew => (within_runs(figure, &a, &b), None),
                _ => between_runs(figure, (&a, &b), &layout, &balance)
                    .map(|(figure, evidence)| (figure, Some(evidence)))?,
            });
        }
    }
    let figures = concluded(figures);
    let names = |runs: &[&PassFigures]| runs.iter().map(|run| run.run.clone()).collect();
    let setting = |runs: &[PassFigures]| runs.first().map(|run| run.setting.clone()).unwrap_or_default();
    let mut warnings = warnings(a, b, &layout, &figures);
    warnings.extend(left_out);
    Ok(Comparison {
        setting_a: setting(a),
        setting_b: setting(b),
        names_a: names(&of_a),
        names_b: names(&of_b),
        outcome: Outcome::of((a, b), &layout, &figures),
        layout,
        figures,
        warnings,
    })
}

fn values(estimates: &[Estimate]) -> Vec<f64> {
    estimates.iter().map(|estimate| estimate.value).collect()
}

/// One or two runs: the means' difference, with what the runs themselves know of their uncertainty.
fn within_runs(figure: ComparedFigure, a: &[Estimate], b: &[Estimate]) -> FigureComparison {
    let (mean_a, mean_b) = (mean_estimate(a), mean_estimate(b));
    FigureComparison {
        figure,
        runs_a: values(a),
        runs_b: values(b),
        mean_a: mean_a.value,
        mean_b: mean_b.value,
        difference: mean_a.minus(mean_b),
        p_welch: None,
        p_paired: None,
        p_permutation: None,
        effect_size: None,
        p_holm: None,
        conclusion: NOTHING_YET,
    }
}

/// Mean of independent estimates: distances to the ends add in quadrature.
fn mean_estimate(estimates: &[Estimate]) -> Estimate {
    let count = estimates.len().max(1) as f64;
    let value = estimates.iter().map(|e| e.value).sum::<f64>() / count;
    let half =
        |side: fn(&Estimate) -> f64| estimates.iter().map(|e| side(e).powi(2)).sum::<f64>().sqrt() / count;
    Estimate { value, low: value - half(|e| e.value - e.low), high: value + half(|e| e.high - e.value) }
}

fn between_runs(
    figure: ComparedFigure,
    (a, b): (&[Estimate], &[Estimate]),
    layout: &Layout,
    balance: &Balance,
) -> Result<(FigureComparison, Evidence), StatsError> {
    let (a, b) = (values(a), values(b));
    let (of_a, of_b) = (Moments::of(&a), Moments::of(&b));
    let paired = *layout == Layout::Blocks;
    let welch = welch_t(of_a, of_b)?;
    let test = if paired { paired_t(&a, &b)? } else { welch };
    let permutation =
        if paired { sign_flip_test(&a, &b, SPLIT_SEED)? } else { permutation_test(&a, &b, SPLIT_SEED)? };
    let evidence = Evidence {
        p_holm: test.p,
        p_permutation: permutation.p,
        p_permutation_least: least_p(a.len(), b.len(), paired),
        smallest_margin: test.smallest_margin(),
        same_within: figure.same_within(of_b.mean, balance),
    };
    let compared = FigureComparison {
        figure,
        mean_a: of_a.mean,
        mean_b: of_b.mean,
        difference: test.difference,
        p_welch: Some(welch.p),
        p_paired: paired.then_some(test.p),
        p_permutation: Some(permutation.p),
        effect_size: hedges_g(of_a, of_b)?,
        p_holm: None,
        conclusion: NOTHING_YET,
        runs_a: a,
        runs_b: b,
    };
    Ok((compared, evidence))
}

/// Smallest two-sided p of the permutation test: the split seen and its mirror image, over all splits.
fn least_p(count_a: usize, count_b: usize, paired: bool) -> f64 {
    if paired {
        return 2.0_f64.powi(1 - i32::try_from(count_a).unwrap_or(1000));
    }
    let splits: f64 = (1..=count_a).map(|k| (count_b + k) as f64 / k as f64).product();
    // Only equal groups have a mirror image among their splits.
    if count_a == count_b { 2.0 / splits } else { 1.0 / splits }
}

/// Holm's adjustment over the figures that were tested, and the conclusions that follow from it.
fn concluded(figures: Vec<(FigureComparison, Option<Evidence>)>) -> Vec<FigureComparison> {
    let raw: Vec<f64> = figures.iter().filter_map(|(_, evidence)| evidence.map(|e| e.p_holm)).collect();
    let mut adjusted = holm(&raw).into_iter();
    let conclude_one = |(mut figure, evidence): (FigureComparison, Option<Evidence>)| {
        if let Some((evidence, p_holm)) = evidence.and_then(|evidence| Some((evidence, adjusted.next()?))) {
            figure.p_holm = Some(p_holm);
            figure.conclusion = conclude(Evidence { p_holm, ..evidence });
        }
        figure
    };
    figures.into_iter().map(conclude_one).collect()
}

fn warnings(
    a: &[PassFigures],
    b: &[PassFigures],
    layout: &Layout,
    figures: &[FigureComparison],
) -> Vec<String> {
    let mut warnings = Vec::new();
    if *layout == Layout::TooFew {
        warnings.push(format!(
            "{} and {} passes: the field's own variation from pass to pass is not covered by these intervals; \
             drive at least {RUNS_MIN} passes of each setting, in alternating order",
            a.len(),
            b.len()
        ));
    }
    if *layout == Layout::Independent {
        warnings.push(
            "the passes were not laid out in alternating order: a field that changes from one side to the \
             other can look like a difference between the settings"
                .to_owned(),
        );
    }
    let paired = *layout == Layout::Blocks;
    let least = least_p(a.len(), b.len(), paired);
    if *layout != Layout::TooFew && least > super::conclusion::ALPHA {
        warnings.push(format!(
            "with so few passes the permutation test cannot go under p = {least:.2}: a clear t test is believed \
             where it is at that bound"
        ));
    }
    for (side, runs) in [("A", a), ("B", b)] {
        let mixed = runs.iter().any(|run| runs.first().is_some_and(|first| first.setting != run.setting));
        if mixed {
            warnings.push(format!("the runs of {side} were not all made with one setting"));
        }
    }
    warnings.extend(unlike(a, b));
    if figures.is_empty() {
        warnings.push("the two sides have no figure in common".to_owned());
    }
    warnings
}

/// What besides the setting is not the same in all runs, and a setting that is.
fn unlike(a: &[PassFigures], b: &[PassFigures]) -> Vec<String> {
    let all = || a.iter().chain(b);
    let kinds = |of: fn(&Conditions) -> Option<&str>| {
        all().filter_map(|run| of(&run.conditions)).collect::<BTreeSet<_>>()
    };
    let mut warnings = Vec::new();
    for (what, kinds) in [
        ("plows", kinds(|of| Some(&of.plow))),
        ("shares", kinds(|of| Some(&of.share))),
        ("fields", kinds(|of| of.field.as_deref())),
    ] {
        if kinds.len() > 1 {
            let named = kinds.into_iter().collect::<Vec<_>>().join(", ");
            warnings.push(format!(
                "the runs were not all made with the same {what} ({named}): a difference may be theirs and not the \
                 setting's"
            ));
        }
    }
    let holes: BTreeSet<_> = all().map(|run| &run.conditions.holes).collect();
    if holes.len() == 1 {
        warnings.push("A and B have the same holes: what differs is not the setting".to_owned());
    }
    warnings
}

#[cfg(test)]
mod tests {
    use super::*;

    fn runs(setting: &str, hours: &[u32], depth_sd: &[f64]) -> Vec<PassFigures> {
        let run = |(hour, sd): (&u32, &f64)| PassFigures {
            run: format!("{setting}-{hour}"),
            setting: setting.to_owned(),
            started: format!("2027-04-11T{hour:02}:00"),
            conditions: Conditions { holes: (setting.to_owned(), String::new()), ..Conditions::default() },
            balance: Balance::default(),
            figures: [(ComparedFigure::DepthSdMm, Estimate { value: *sd, low: sd - 1.0, high: sd + 1.0 })]
                .into(),
        };
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

    #[test]
    fn one_run_each_is_never_shown_and_says_why() {
        let comparison = compare(&runs("a", &[1], &[10.0]), &runs("b", &[2], &[20.0])).unwrap();
        assert_eq!(comparison.figures[0].conclusion.class, ConclusionClass::NotShown);
        assert!(comparison.warnings[0].contains("own variation"), "{:?}", comparison.warnings);
        assert!((comparison.figures[0].difference.value + 10.0).abs() < 1e-12);
    }

    /// Found when runs of two plows were compared without a word.
    #[test]
    fn other_plows_shares_or_fields_and_equal_holes_are_said() {
        let said = |change: fn(&mut Conditions)| {
            let mut b = runs("b", &[2], &[20.0]);
            change(&mut b[0].conditions);
            compare(&runs("a", &[1], &[10.0]), &b).unwrap().warnings
        };
        assert_eq!(said(|_| ()).len(), 1, "only that the passes are few");
        assert!(said(|of| of.plow = "other".into())[1].contains("same plows"));
        assert!(said(|of| of.share = "worn".into())[1].contains("same shares"));
        assert_eq!(said(|of| of.field = Some("east".into())).len(), 1, "one field told is no difference");
        assert!(said(|of| of.holes = ("a".into(), String::new()))[1].contains("same holes"));
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
        let figures = &ComparedFigure::ALL[..4];
        let mut wrong = 0;
        for seed in 0..240 {
            let mut dice = rand_chacha::ChaCha8Rng::seed_from_u64(seed);
            let mut next = || -> f64 { StandardNormal.sample(&mut dice) };
            let (mut a, mut b) = (Vec::new(), Vec::new());
            for block in 0..3 + (seed as u32) % 4 {
                let soil = next();
                for (side, setting, hour) in [(&mut a, "a", 2 * block), (&mut b, "b", 2 * block + 1)] {
                    let mut run = runs(setting, &[hour], &[0.0]).remove(0);
                    let pass = next();
                    for figure in figures {
                        let value = 20.0 + 2.0 * soil + pass + next();
                        run.figures.insert(*figure, Estimate { value, low: value - 1.0, high: value + 1.0 });
                    }
                    side.push(run);
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
    fn a_figure_that_one_run_lacks_is_left_out_and_said() {
        let (a, mut b) = (runs("a", &[1, 3, 5], &[1.0, 2.0, 3.0]), runs("b", &[2, 4, 6], &[1.0, 2.0, 3.0]));
        b[1].figures.clear();
        let comparison = compare(&a, &b).unwrap();
        assert!(comparison.figures.is_empty());
        assert!(comparison.warnings.iter().any(|w| w.contains("1 of the runs cannot")), "{comparison:?}");
    }

    #[test]
    fn a_side_without_runs_is_an_error() {
        assert!(compare(&[], &runs("b", &[1], &[1.0])).is_err());
    }
}
