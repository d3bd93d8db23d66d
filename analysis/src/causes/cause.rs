//! One cause: which, how well it is supported, and by what; or why it cannot be told.

use super::apart_from_balance::{DepthOnPull, FrontAtPeaks};
use super::dead_band::DeadBand;
use super::ends::{PileUp, SharpEnd};
use super::holds::Holds;
use ingest::plow::{ChannelRole, ShareCondition};
use serde::Serialize;
use statics::identify::IdentifyError;
use stats::Estimate;
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

/// One thing that speaks for a cause, or against it.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
#[allow(missing_docs, reason = "names of fields say what they are, and their unit")]
pub enum Evidence {
    /// The statics has no figures.
    NoFigures {
        #[serde(skip)]
        error: IdentifyError,
    },
    /// Pull, loads and geometry fit together.
    FitTogether,
    /// A channel stood still, or was at the end of its converter, for some of the time.
    StuckOrAtEnd { channel: ChannelRole },
    /// The zero of a channel has moved, if the drawbar was slack.
    ZeroMoved { channel: ChannelRole },
    /// A channel read its zero as calibrated.
    ZeroAsCalibrated { channel: ChannelRole },
    /// A channel was beyond what it was calibrated for.
    BeyondRange { channel: ChannelRole, share: f64 },
    /// Calibrations are over a year old.
    CalibrationsOld { channels: Vec<String> },
    /// Calibrations were made after the run.
    CalibrationsAfterRun { channels: Vec<String> },
    /// The soil lifts the plow.
    SoilLifts { probability: f64, soil_slope: Estimate },
    /// What was stated of the shares.
    SharesStated { share: ShareCondition },
    /// The tail loses more load with the pull than by the statics, as when the shares carry the plow.
    TailLosesMore,
    /// The plow ran shallower than it was blocked for.
    RanShallower { share: f64 },
    /// The depth falls with the pull, slowly, beyond what the wheels give.
    DepthFollowsPull(DepthOnPull),
    /// The side force.
    SideForce { side_n: Estimate, share_of_pull: f64 },
    /// The hitch is balanced, so it is not that.
    HitchBalanced,
    /// The hitch is not shown to be balanced.
    HitchNotBalanced,
    /// The probability of a hitch on this side of balance, or worse.
    HitchOff { probability: f64, balance_index: Estimate },
    /// Next to nothing was on what carries one end of the plow.
    Lifted { front: bool, share: f64 },
    /// Load of the front wheels at the peaks of the pull.
    FrontAtPeaks(FrontAtPeaks),
    /// The deflection piles up at an end.
    PilesUp(PileUp),
    /// The deflection is cut off at an end.
    CutOff(SharpEnd),
    /// The sensor was at the end of its converter: it may be that alone.
    SensorAtEnd,
    /// The deflection runs out as a free wheel's does.
    RunsOut,
    /// The deflection jumps across a band.
    Jumps(DeadBand),
    /// There is no such band.
    NoJumps,
    /// The deflection stands still at one level or another.
    StandsStill(Holds),
    /// It does not, while the plow works.
    NeverStandsStill,
    /// The load has a peak where the tail wheel turns once.
    TailTurn { peak_hz: f64, turn_hz: f64 },
    /// Bobbing that happens to lie there would look the same.
    BobbingLooksTheSame,
    /// The load has no peak where the tail wheel turns once.
    NoTailTurn { turn_hz: f64 },
    /// The load has a peak where the front wheels turn once.
    FrontTurn { peak_hz: f64 },
    /// The tail load follows the pull otherwise than by the statics.
    GainOff { rises: bool, expected_gain_n_per_n: Estimate },
    /// The tail load follows the pull as by the statics.
    GainAgrees { expected_gain_n_per_n: f64 },
}

/// Why a cause cannot be told.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
#[allow(missing_docs, reason = "names of fields say what they are, and their unit")]
pub enum CannotTell {
    /// The measurements contradict each other.
    Contradicted,
    /// The run adds nothing to what was stated of the shares.
    NothingAdded { share: ShareCondition },
    /// There is no side-load channel.
    NoSideForce,
    /// There is no deflection of the tail's spring.
    NoDeflection,
    /// The working part is too short.
    TooShort,
    /// There is no speed.
    NoSpeed,
    /// There is no load on wheels.
    NoLoad,
    /// The wheel's turn is outside of what the pass can show.
    TurnOutside { turn_hz: f64 },
    /// The measured gain is too uncertain.
    GainTooWide,
    /// There was no gain to compare, or the wheel was lifted.
    NoGain,
}
