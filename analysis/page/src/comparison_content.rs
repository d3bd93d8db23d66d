//! What the page of a comparison shows: setting A against setting B, figure by figure.

use super::content::{Foot, Head};
use super::text::{Cell, Figure, Lines, RowCell, Text, Title, Unit};
use serde::Serialize;

/// The page for a comparison of two settings.
#[derive(Clone, Debug, Serialize)]
pub struct ComparisonContent {
    /// What every page has; the title names A and B.
    pub head: Head,
    /// Name of setting A.
    pub name_a: Title,
    /// Name of setting B.
    pub name_b: Title,
    /// The answer in a few words, in large letters ("B hops less").
    pub headline: RowCell,
    /// Sentences that carry it, the weightiest first.
    pub reasons: Lines<9>,
    /// One row a figure.
    pub rows: Vec<ComparisonRow>,
    /// How p values and intervals were made, in short sentences.
    pub method: Lines<5>,
    /// Plain warnings: too few runs, field variation not covered, ...
    pub warnings: Lines<6>,
    /// Where the figures come from, and the safety sentences.
    pub foot: Foot,
}

/// One figure in both settings; strings are ready to print, an unknown one is "not shown".
#[derive(Clone, Debug, Serialize)]
pub struct ComparisonRow {
    /// Name of the figure.
    pub name: Cell,
    /// Unit of the means, the difference and the dots.
    pub unit: Unit,
    /// Mean over the runs of A.
    pub mean_a: Figure<16>,
    /// Mean over the runs of B.
    pub mean_b: Figure<16>,
    /// A less B.
    pub difference: Figure<16>,
    /// Its 95 % interval.
    pub interval: Figure<32>,
    /// p of the t test (Welch's, or paired for blocks).
    pub p_t: Figure<12>,
    /// p of the permutation test.
    pub p_permutation: Figure<12>,
    /// Hedges' g.
    pub effect_size: Figure<12>,
    /// p after Holm's correction over all figures of the page.
    pub p_holm: Figure<12>,
    /// "shown", "not shown", "shown to be under 20 N".
    pub conclusion: Text<60>,
    /// True if a difference is shown; such a row is set in bold.
    pub shown: bool,
    /// One value a run of A, for the dots.
    #[serde(skip)]
    pub runs_a: Vec<f64>,
    /// One value a run of B.
    #[serde(skip)]
    pub runs_b: Vec<f64>,
}
