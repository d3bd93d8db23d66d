//! The figures of a run that are compared, one number a run, and how the passes lay in the field.

use ingest::plow::Limits;
use schemars::JsonSchema;
use serde::Serialize;
use statics::verdict::Class;
use stats::Estimate;
use stats::two_samples::RUNS_MIN;
use std::collections::BTreeMap;
use strum::VariantArray;

/// A figure that two settings are compared by.
/// Its variants stand in the order of the page.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, JsonSchema, VariantArray)]
#[serde(rename_all = "snake_case")]
pub enum ComparedFigure {
    /// Balance index b: what a hole is changed for.
    BalanceIndex,
    /// Share of time with the tail wheel lifted.
    LiftedShare,
    /// Standard deviation of depth, mm.
    DepthSdMm,
    /// Coefficient of variation of the tail load.
    TailCv,
    /// RMS of bobbing, N; 0 for a run without.
    BobbingRmsN,
    /// Mean tail load, N.
    TailMeanN,
    /// Mean depth, mm.
    DepthMeanMm,
    /// Mean pull, N.
    PullMeanN,
}

/// Which way is better.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Better {
    /// Less of it.
    Lower,
    /// Nearer to 0, unless the plow is meant to lean on the tractor.
    NearerToBalance,
    /// Neither: it depends on what is wanted.
    Neither,
}

impl ComparedFigure {
    /// Its name.
    pub const fn label(self) -> &'static str {
        match self {
            Self::BalanceIndex => "balance index",
            Self::DepthSdMm => "depth variation (SD)",
            Self::TailCv => "tail load variation (SD/mean)",
            Self::LiftedShare => "lifted time",
            Self::BobbingRmsN => "bobbing (RMS)",
            Self::TailMeanN => "mean tail load",
            Self::DepthMeanMm => "mean depth",
            Self::PullMeanN => "mean pull",
        }
    }

    /// Its unit; 1 where it has none.
    pub const fn unit(self) -> &'static str {
        match self {
            Self::BalanceIndex | Self::LiftedShare | Self::TailCv => "1",
            Self::DepthSdMm | Self::DepthMeanMm => "mm",
            Self::BobbingRmsN | Self::TailMeanN | Self::PullMeanN => "N",
        }
    }

    /// Which way is better.
    pub const fn better(self) -> Better {
        match self {
            Self::BalanceIndex => Better::NearerToBalance,
            Self::DepthSdMm | Self::TailCv | Self::LiftedShare | Self::BobbingRmsN => Better::Lower,
            Self::TailMeanN | Self::DepthMeanMm | Self::PullMeanN => Better::Neither,
        }
    }

    /// A difference shown to be under this is as good as none: a tenth of the other setting's mean, and half of
    /// the balanced band for the balance index, whose mean may be 0.
    pub(super) fn same_within(self, mean_b: f64, balance: &Balance) -> f64 {
        match self {
            Self::BalanceIndex => balance.limits.balanced / 2.0,
            _ => 0.10 * mean_b.abs(),
        }
    }
}

/// What two passes must share, besides the setting, for their difference to be the setting's.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Conditions {
    /// Name of the plow.
    pub plow: String,
    /// Condition of the shares.
    pub share: String,
    /// Field, if it was reported.
    pub field: Option<String>,
    /// Holes at the plow and at the tractor.
    pub holes: (String, String),
    /// Nobody had said that the hitch was in them.
    pub setting_assumed: bool,
}

/// What the verdict of a run was, and by which limits.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Balance {
    /// Its class.
    pub class: Class,
    /// Limits of the plow's description.
    pub limits: Limits,
    /// Whether the plow hangs on links that meet: an index above 0 is usual there (common practice, no source),
    /// so nearer to 0 is not better.
    pub leans_on_tractor: bool,
}

impl Default for Balance {
    fn default() -> Self {
        Self { class: Class::NotShown, limits: Limits::default(), leans_on_tractor: false }
    }
}

/// The figures of one run.
#[derive(Clone, Debug, PartialEq)]
pub struct PassFigures {
    /// The run's name.
    pub run: String,
    /// Name of its setting.
    pub setting: String,
    /// When it was started, as in `run.toml`: sorts by time.
    pub started: String,
    /// What else has to be the same for the difference to be the setting's.
    pub conditions: Conditions,
    /// Its verdict.
    pub balance: Balance,
    /// Each figure with its interval within the run; a figure that the run does not have is not there.
    pub figures: BTreeMap<ComparedFigure, Estimate>,
    /// The user's own columns that have a reading.
    pub own: Vec<OwnMean>,
    /// Its readings cannot be right: it has no figures.
    pub cannot_be: bool,
}

/// The mean of one of the user's own columns over a run's working part.
#[derive(Clone, Debug, PartialEq)]
pub struct OwnMean {
    /// Its column in the tables.
    pub column: String,
    /// Its name, by the user.
    pub name: String,
    /// Its unit, by the user.
    pub unit: String,
    /// The mean, in that unit.
    pub mean: f64,
}

/// How the passes of two settings lie beside each other.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Layout {
    /// Each two consecutive passes hold one of each setting: the soil that they share cancels.
    Blocks,
    /// Anything else, with enough passes of each to see the field's own variation.
    Independent,
    /// Fewer than three passes of a setting: the field's own variation cannot be seen.
    TooFew,
}

/// The layout, and the runs of both settings in the order of their blocks (or as they were).
pub(super) fn layout_of<'a>(
    a: &'a [PassFigures],
    b: &'a [PassFigures],
) -> (Layout, Vec<&'a PassFigures>, Vec<&'a PassFigures>) {
    let as_given = |runs: &'a [PassFigures]| runs.iter().collect::<Vec<_>>();
    if a.len() < RUNS_MIN || b.len() < RUNS_MIN {
        return (Layout::TooFew, as_given(a), as_given(b));
    }
    let mut driven: Vec<(&PassFigures, bool)> =
        a.iter().map(|run| (run, true)).chain(b.iter().map(|run| (run, false))).collect();
    driven.sort_by(|one, other| (&one.0.started, &one.0.run).cmp(&(&other.0.started, &other.0.run)));
    let (mut of_a, mut of_b) = (Vec::new(), Vec::new());
    for block in driven.chunks(2) {
        match block {
            [(first, true), (second, false)] | [(second, false), (first, true)] => {
                of_a.push(*first);
                of_b.push(*second);
            }
            _ => return (Layout::Independent, as_given(a), as_given(b)),
        }
    }
    (Layout::Blocks, of_a, of_b)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::compare::tests::pass;

    #[test]
    fn alternating_passes_are_blocks_and_others_are_not() {
        let runs = |hours: [u32; 3]| hours.map(|hour| pass("a", hour, &[]));
        let (a, b) = (runs([1, 4, 5]), runs([6, 3, 2]));
        let (layout, of_a, of_b) = layout_of(&a, &b);
        assert_eq!(layout, Layout::Blocks);
        assert_eq!(of_a, [&a[0], &a[1], &a[2]]);
        assert_eq!(of_b, [&b[2], &b[1], &b[0]]);
        let (a, b) = (runs([1, 2, 5]), runs([3, 4, 6]));
        assert_eq!(layout_of(&a, &b).0, Layout::Independent);
        assert_eq!(layout_of(&a[..2], &b).0, Layout::TooFew);
    }
}
