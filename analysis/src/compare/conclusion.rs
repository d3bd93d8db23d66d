//! What a comparison of one figure comes to: its tests, and a conclusion that does not claim more than the data.

use super::figures::{Balance, ComparedFigure, Layout};
use schemars::JsonSchema;
use serde::Serialize;
use stats::permutation::{permutation_test, sign_flip_test};
use stats::two_samples::{hedges_g, hedges_g_z, holm, paired_t, welch_t};
use stats::{Estimate, Moments, StatsError};

/// Level of the tests.
pub const ALPHA: f64 = 0.05;

/// The three answers.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
pub enum ConclusionClass {
    /// The difference is more than the field's own variation.
    #[serde(rename = "shown")]
    Shown,
    /// The data do not show it, nor that there is none.
    #[serde(rename = "not shown")]
    NotShown,
    /// Shown to be smaller than a named bound.
    #[serde(rename = "shown to be under")]
    ShownToBeUnder,
}

/// The answer and the bound that goes with it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
#[schemars(extend("unit" = "that of the figure"))]
pub struct Conclusion {
    /// The answer.
    pub class: ConclusionClass,
    /// For [`ConclusionClass::ShownToBeUnder`]: the bound, in the figure's unit. Two one-sided tests at 5 % each
    /// (Schuirmann 1987) show that the difference lies within it either way: so does its 90 % interval, where
    /// `difference` has the 95 % one.
    pub under: Option<f64>,
}

/// What the conclusion is drawn from.
#[derive(Clone, Copy, Debug)]
pub(super) struct TestResults {
    /// Holm-adjusted p of the t test.
    pub p_holm: f64,
    /// p of the permutation test.
    pub p_permutation: f64,
    /// Smallest p that a permutation test can give with so many runs.
    pub p_permutation_least: f64,
    /// Smallest bound that the difference is shown to be under.
    pub smallest_margin: f64,
    /// A difference under this is as good as none.
    pub same_within: f64,
}

/// *Shown* needs the adjusted t test under 5 %, and the permutation test too, or as low as so few runs
/// let it go: three against three cannot come under 10 % however clear the case is.
pub(super) fn conclude(results: TestResults) -> Conclusion {
    let permutation_bound = ALPHA.max(results.p_permutation_least * (1.0 + 1e-9));
    if results.p_holm < ALPHA && results.p_permutation <= permutation_bound {
        return Conclusion { class: ConclusionClass::Shown, under: None };
    }
    // Runs that all have the same number (never lifted, no bobbing) show nothing of how far the next could differ.
    if results.smallest_margin > 0.0 && results.smallest_margin <= results.same_within {
        let under = Some(results.smallest_margin);
        return Conclusion { class: ConclusionClass::ShownToBeUnder, under };
    }
    Conclusion { class: ConclusionClass::NotShown, under: None }
}

/// One figure of setting A against setting B.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct FigureComparison {
    /// Which figure.
    pub figure: ComparedFigure,
    /// Its unit; 1 where it has none.
    pub unit: &'static str,
    /// The figure of each run of A, in the order of their names.
    pub runs_a: Vec<f64>,
    /// The figure of each run of B.
    pub runs_b: Vec<f64>,
    /// Mean over the runs of A.
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
    /// The difference over its spread, with its 95 % interval, above 0 where A is larger: what it is, `effect_measure`
    /// says. Not there for fewer than three runs each, nor without any spread.
    pub effect_size: Option<Estimate>,
    /// p of the t test that counts (paired for blocks, else Welch's), adjusted for the number of figures (Holm).
    pub p_holm: Option<f64>,
    /// What it comes to.
    pub conclusion: Conclusion,
}

/// What [`FigureComparison::effect_size`] is: the one that goes with the t test that counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum EffectMeasure {
    /// Hedges' g of independent sets: A's mean less B's over the pooled SD of both, freed of small-sample bias (Hedges
    /// 1981), ends by the noncentral t law.
    HedgesG,
    /// Hedges' g of pairs, for blocks: the mean of the differences A − B within blocks over their SD (Cohen's d_z, Lakens
    /// 2013), freed of small-sample bias as Hedges' g is, ends by the noncentral t law. Its interval leaves 0 out just
    /// where the paired t test has p under 0.05.
    HedgesGZ,
}

impl EffectMeasure {
    pub(super) const fn of(layout: &Layout) -> Option<Self> {
        match layout {
            Layout::Blocks => Some(Self::HedgesGZ),
            Layout::Independent => Some(Self::HedgesG),
            Layout::TooFew => None,
        }
    }
}

/// Seed of random splits, where there are too many to try all: the same runs give the same answer.
pub(super) const SPLIT_SEED: u64 = 0x5EED;

fn values(estimates: &[Estimate]) -> Vec<f64> {
    estimates.iter().map(|estimate| estimate.value).collect()
}

/// One or two runs: the means' difference, with what the runs themselves know of their uncertainty.
pub(super) fn within_runs(figure: ComparedFigure, a: &[Estimate], b: &[Estimate]) -> FigureComparison {
    let (mean_a, mean_b) = (mean_estimate(a), mean_estimate(b));
    FigureComparison {
        figure,
        unit: figure.unit(),
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
        conclusion: Conclusion { class: ConclusionClass::NotShown, under: None },
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

/// Three runs or more on each side: the tests, and what the conclusion is drawn from.
pub(super) fn between_runs(
    figure: ComparedFigure,
    (estimates_a, estimates_b): (&[Estimate], &[Estimate]),
    layout: &Layout,
    balance: &Balance,
) -> Result<(FigureComparison, TestResults), StatsError> {
    let (a, b) = (values(estimates_a), values(estimates_b));
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
        mean_a: of_a.mean,
        mean_b: of_b.mean,
        difference: test.difference,
        p_welch: Some(welch.p),
        p_paired: paired.then_some(test.p),
        p_permutation: Some(permutation.p),
        effect_size: if paired { hedges_g_z(&a, &b)? } else { hedges_g(of_a, of_b)? },
        ..within_runs(figure, estimates_a, estimates_b)
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

#[cfg(test)]
mod tests {
    use super::*;

    const CLEAR: TestResults = TestResults {
        p_holm: 0.001,
        p_permutation: 0.1,
        p_permutation_least: 0.1,
        smallest_margin: 5.0,
        same_within: 1.0,
    };

    #[test]
    fn three_runs_each_can_show_a_clear_case_and_only_a_clear_case() {
        assert_eq!(conclude(CLEAR).class, ConclusionClass::Shown);
        assert_eq!(conclude(TestResults { p_permutation: 0.2, ..CLEAR }).class, ConclusionClass::NotShown);
        assert_eq!(conclude(TestResults { p_holm: 0.06, ..CLEAR }).class, ConclusionClass::NotShown);
    }

    /// Found when no run of either setting lifted: "shown to be under 0 %".
    #[test]
    fn no_spread_at_all_shows_nothing() {
        let never =
            TestResults { p_holm: 1.0, p_permutation: 1.0, smallest_margin: 0.0, same_within: 0.0, ..CLEAR };
        assert_eq!(conclude(never), Conclusion { class: ConclusionClass::NotShown, under: None });
        assert_eq!(conclude(TestResults { same_within: 1.0, ..never }).class, ConclusionClass::NotShown);
    }

    #[test]
    fn a_small_bound_is_an_answer_too() {
        let same = conclude(TestResults { p_holm: 0.8, smallest_margin: 0.9, ..CLEAR });
        assert_eq!(same, Conclusion { class: ConclusionClass::ShownToBeUnder, under: Some(0.9) });
    }
}
