//! What the page of a comparison shows: setting A against setting B, figure by figure.

use super::content::{Foot, Head};

/// The page for a comparison of two settings.
#[derive(Clone, Debug)]
pub struct ComparisonContent {
    /// What every page has; the title names A and B.
    pub head: Head,
    /// Name of setting A.
    pub name_a: String,
    /// Name of setting B.
    pub name_b: String,
    /// The answer in a few words, in large letters ("B hops less").
    pub headline: String,
    /// Sentences that carry it, the weightiest first.
    pub reasons: Vec<String>,
    /// One row a figure.
    pub rows: Vec<ComparisonRow>,
    /// How p values and intervals were made, in short sentences.
    pub method: Vec<String>,
    /// Plain warnings: too few runs, field variation not covered, ...
    pub warnings: Vec<String>,
    /// Where the figures come from, and the safety sentences.
    pub foot: Foot,
}

/// One figure in both settings; strings are ready to print, an unknown one is "not shown".
#[derive(Clone, Debug)]
pub struct ComparisonRow {
    /// Name of the figure.
    pub name: String,
    /// Unit of the means, the difference and the dots.
    pub unit: String,
    /// Mean over the runs of A.
    pub mean_a: String,
    /// Mean over the runs of B.
    pub mean_b: String,
    /// A less B.
    pub difference: String,
    /// Its 95 % interval.
    pub interval: String,
    /// p of the t test (Welch's, or paired for blocks).
    pub p_t: String,
    /// p of the permutation test.
    pub p_permutation: String,
    /// Hedges' g.
    pub effect_size: String,
    /// p after Holm's correction over all figures of the page.
    pub p_holm: String,
    /// "shown", "not shown", "shown to be under 20 N".
    pub conclusion: String,
    /// True if a difference is shown; such a row is set in bold.
    pub shown: bool,
    /// One value a run of A, for the dots.
    pub runs_a: Vec<f64>,
    /// One value a run of B.
    pub runs_b: Vec<f64>,
}
