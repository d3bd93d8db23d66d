//! The tests of one figure of setting A against setting B.

use super::conclusion::{Conclusion, ConclusionClass, TestResults, conclude};
use super::figure::FigureComparison;
use super::figures::{Balance, ComparedFigure};
use super::layout::Layout;
use stats::permutation::{permutation_test, sign_flip_test};
use stats::two_samples::{hedges_g, holm, paired_t, welch_t};
use stats::{Estimate, Moments, StatsError};

/// Seed of random splits, where there are too many to try all: the same runs give the same answer.
const SPLIT_SEED: u64 = 0x5EED;

/// What stands until the tests are in, and for good where there are too few runs to test.
const NOTHING_YET: Conclusion = Conclusion { class: ConclusionClass::NotShown, under: None };

fn values(estimates: &[Estimate]) -> Vec<f64> {
    estimates.iter().map(|estimate| estimate.value).collect()
}

/// One or two runs: the means' difference, with what the runs themselves know of their uncertainty.
pub(super) fn within_runs(figure: ComparedFigure, a: &[Estimate], b: &[Estimate]) -> FigureComparison {
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

pub(super) fn between_runs(
    figure: ComparedFigure,
    (a, b): (&[Estimate], &[Estimate]),
    layout: &Layout,
    balance: &Balance,
) -> Result<(FigureComparison, TestResults), StatsError> {
    let (a, b) = (values(a), values(b));
    let (of_a, of_b) = (Moments::of(&a), Moments::of(&b));
    let paired = *layout == Layout::Blocks;
    let welch = welch_t(of_a, of_b)?;
    let test = if paired { paired_t(&a, &b)? } else { welch };
    let permutation =
        if paired { sign_flip_test(&a, &b, SPLIT_SEED)? } else { permutation_test(&a, &b, SPLIT_SEED)? };
    let results = TestResults {
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
    Ok((compared, results))
}

/// Smallest two-sided p of the permutation test: the split seen and its mirror image, over all splits.
pub(super) fn least_p(count_a: usize, count_b: usize, paired: bool) -> f64 {
    if paired {
        return 2.0_f64.powi(1 - i32::try_from(count_a).unwrap_or(1000));
    }
    let splits: f64 = (1..=count_a).map(|k| (count_b + k) as f64 / k as f64).product();
    // Only equal groups have a mirror image among their splits.
    if count_a == count_b { 2.0 / splits } else { 1.0 / splits }
}

/// Holm's adjustment over the figures that were tested, and the conclusions that follow from it.
pub(super) fn concluded(figures: Vec<(FigureComparison, Option<TestResults>)>) -> Vec<FigureComparison> {
    let raw: Vec<f64> = figures.iter().filter_map(|(_, results)| results.map(|e| e.p_holm)).collect();
    let mut adjusted = holm(&raw).into_iter();
    let conclude_one = |(mut figure, results): (FigureComparison, Option<TestResults>)| {
        if let Some((results, p_holm)) = results.and_then(|results| Some((results, adjusted.next()?))) {
            figure.p_holm = Some(p_holm);
            figure.conclusion = conclude(TestResults { p_holm, ..results });
        }
        figure
    };
    figures.into_iter().map(conclude_one).collect()
}
