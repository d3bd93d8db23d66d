//! One cause: which, how well it is supported, and by what.

use super::evidence::{CannotTell, Evidence};
use serde::Serialize;
use strum::VariantArray;

/// How well a cause is supported, the best first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Likelihood {
    /// As good as certain from this run.
    Shown,
    /// More than an even chance by far.
    Likely,
    /// Something speaks for it.
    Possible,
    /// Nothing speaks for it, or it cannot be seen.
    NotShown,
    /// The run speaks against it.
    SpokenAgainst,
}

impl Likelihood {
    /// Its name.
    #[must_use]
    pub const fn label(self) -> &'static str {
        match self {
            Self::Shown => "shown",
            Self::Likely => "likely",
            Self::Possible => "possible",
            Self::NotShown => "not shown",
            Self::SpokenAgainst => "spoken against",
        }
    }

    /// The step of a probability.
    pub(super) fn of_probability(probability: f64) -> Self {
        match probability {
            probability if probability >= 0.95 => Self::Shown,
            probability if probability >= 0.8 => Self::Likely,
            probability if probability >= 0.5 => Self::Possible,
            probability if probability > 0.05 => Self::NotShown,
            _ => Self::SpokenAgainst,
        }
    }
}

/// Which cause; in the order of work, sensors before all, for they decide what can be believed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, VariantArray)]
#[serde(rename_all = "snake_case")]
pub enum CauseKind {
    /// A sensor, its zero or its calibration.
    Sensors,
    /// Worn or blunt shares.
    Shares,
    /// The landside presses, or the plow is pulled sideways.
    Landside,
    /// The tail wheel's linkage reaches a stop.
    TailStop,
    /// Free play in it.
    TailPlay,
    /// It, or its sensor, sticks.
    TailSticks,
    /// The tail wheel is out of round.
    TailOutOfRound,
    /// The front wheels are.
    FrontOutOfRound,
    /// The tail load follows the pull in another way than the statics says.
    TailFollows,
    /// The hitch is too flat.
    HitchTooFlat,
    /// The hitch is too steep.
    HitchTooSteep,
}

impl CauseKind {
    /// All of them, in that order.
    pub const ALL: &'static [Self] = Self::VARIANTS;

    /// Its name.
    #[must_use]
    pub const fn label(self) -> &'static str {
        match self {
            Self::Sensors => "a sensor or its calibration",
            Self::Shares => "worn or blunt shares",
            Self::Landside => "landside or side draft",
            Self::TailStop => "tail wheel at a stop",
            Self::TailPlay => "free play at the tail wheel",
            Self::TailSticks => "tail wheel linkage or sensor sticks",
            Self::TailOutOfRound => "tail wheel out of round",
            Self::FrontOutOfRound => "front wheels out of round",
            Self::TailFollows => "tail load follows the pull oddly",
            Self::HitchTooFlat => "hitch too flat",
            Self::HitchTooSteep => "hitch too steep",
        }
    }
}

/// One cause.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Cause {
    /// Which.
    pub kind: CauseKind,
    /// How well it is supported.
    pub likelihood: Likelihood,
    /// What speaks for it.
    pub evidence_for: Vec<Evidence>,
    /// What speaks against it.
    pub evidence_against: Vec<Evidence>,
    /// Why it cannot be told, where that is so.
    pub cannot_tell: Option<CannotTell>,
}

impl Cause {
    pub(super) fn of(kind: CauseKind, likelihood: Likelihood) -> Self {
        let (evidence_for, evidence_against) = (Vec::new(), Vec::new());
        Self { kind, likelihood, evidence_for, evidence_against, cannot_tell: None }
    }

    /// Adds what speaks for it, or against.
    pub(super) fn add(&mut self, is_for: bool, evidence: Evidence) {
        if is_for { &mut self.evidence_for } else { &mut self.evidence_against }.push(evidence);
    }

    /// The same cause, which cannot be told.
    pub(super) fn untold(self, why: CannotTell) -> Self {
        Self { cannot_tell: Some(why), ..self }
    }

    /// Whether it deserves to be named in front of others.
    #[must_use]
    pub fn stands_out(&self) -> bool {
        self.likelihood <= Likelihood::Likely
    }
}
