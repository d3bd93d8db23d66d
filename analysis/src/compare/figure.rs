//! What comes of one figure.

use super::conclusion::Conclusion;
use super::figures::ComparedFigure;
use serde::Serialize;
use stats::Estimate;

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
