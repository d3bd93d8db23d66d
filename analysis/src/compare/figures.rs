//! The figures of a run that are compared, one number a run.

use crate::stats::Estimate;
use serde::Serialize;
use std::collections::BTreeMap;

/// A figure that two settings are compared by.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum ComparedFigure {
    /// Standard deviation of depth, mm.
    DepthSdMm,
    /// Coefficient of variation of the tail load.
    TailCv,
    /// Share of time with the tail wheel lifted.
    LiftedShare,
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
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Better {
    /// Less of it.
    Lower,
    /// Neither: it depends on what is wanted.
    Neither,
}

impl ComparedFigure {
    /// All of them, in the order of the page.
    pub const ALL: [Self; 7] = [
        Self::DepthSdMm,
        Self::TailCv,
        Self::LiftedShare,
        Self::BobbingRmsN,
        Self::TailMeanN,
        Self::DepthMeanMm,
        Self::PullMeanN,
    ];

    /// Its name on page and terminal.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::DepthSdMm => "depth variation (SD)",
            Self::TailCv => "tail load variation (SD/mean)",
            Self::LiftedShare => "lifted time",
            Self::BobbingRmsN => "bobbing (RMS)",
            Self::TailMeanN => "mean tail load",
            Self::DepthMeanMm => "mean depth",
            Self::PullMeanN => "mean pull",
        }
    }

    /// Which way is better.
    #[must_use]
    pub const fn better(self) -> Better {
        match self {
            Self::DepthSdMm | Self::TailCv | Self::LiftedShare | Self::BobbingRmsN => Better::Lower,
            Self::TailMeanN | Self::DepthMeanMm | Self::PullMeanN => Better::Neither,
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
    /// Field, if it was told.
    pub field: Option<String>,
    /// Holes at the plow and at the tractor.
    pub holes: (String, String),
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
    /// Each figure with its interval within the run; a figure that the run does not have is not there.
    pub figures: BTreeMap<ComparedFigure, Estimate>,
}
