//! What a comparison of one figure comes to, in words that do not claim more than the data.

use serde::Serialize;

/// Level of the tests.
pub(super) const ALPHA: f64 = 0.05;

/// The three answers.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
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
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Conclusion {
    /// The answer.
    pub class: ConclusionClass,
    /// For [`ConclusionClass::ShownToBeUnder`]: the bound, in the figure's unit.
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
    /// Smallest bound that the difference is shown to be under, at 95 %.
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
