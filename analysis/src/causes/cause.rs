//! What the rules take from a run, and what they make of it: which cause, how well it is supported, and by what; or why it
//! cannot be told.

use super::apart_from_balance::{DepthOnPull, FrontAtPeaks};
use super::ends::{PileUp, SharpEnd};
use super::linkage::{DeadBand, Deflection, Holds};
use ingest::plow::{CarriedLoad, ChannelRole, Plow, ShareCondition};
use schemars::JsonSchema;
use serde::Serialize;
use statics::identify::{Identified, IdentifyError};
use statics::natural_frequencies::{ExpectedFrequencies, SwingsAs};
use statics::verdict::Verdict;
use stats::Estimate;
use strum::VariantArray;

/// How well a cause is supported, the best first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, JsonSchema)]
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
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, JsonSchema, VariantArray)]
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
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
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
    pub fn stands_out(&self) -> bool {
        self.likelihood <= Likelihood::Likely
    }
}

/// One thing that speaks for a cause, or against it.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
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
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
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

/// What the rules take from a run.
#[derive(Clone, Copy, Debug)]
pub struct RunEvidence<'a> {
    /// The plow.
    pub plow: &'a Plow,
    /// Its shares in this run, as they were stated.
    pub share: ShareCondition,
    /// The statics.
    pub identified: &'a Result<Identified, IdentifyError>,
    /// The verdict.
    pub verdict: &'a Verdict,
    /// The load that the pass is judged by, if any was measured.
    pub judged_by: Option<CarriedLoad>,
    /// Share of the time in which what carries it carried next to nothing; `None` where that cannot be seen.
    pub lifted_share: Option<f64>,
    /// Load under which it counts as lifted, N; `None` where no load would say so.
    pub lifted_load_n: Option<f64>,
    /// Deflection of the tail wheel; `None` where there are too few readings.
    pub deflection: Option<&'a Deflection<'a>>,
    /// Share of its readings at an end of the converter; `None` without a sensor for it.
    pub deflection_saturated_share: Option<f64>,
    /// Peaks of that load's spectrum.
    pub peaks: Peaks,
    /// Mean depth, mm.
    pub depth_mm: Estimate,
    /// Mean pull, N.
    pub pull_n: Estimate,
    /// Mean side force, N, with readings and calibration in its interval, if there is a channel for it.
    pub side_n: Option<Estimate>,
    /// Slow gain of depth on pull, where it can be had.
    pub depth_on_pull: Option<DepthOnPull>,
    /// Front load at the peaks of the pull, if there is a channel for it.
    pub front_at_peaks: Option<FrontAtPeaks>,
    /// Channels and their calibrations.
    pub channels: &'a ChannelIndicators,
}

impl RunEvidence<'_> {
    /// What the statics supports: nothing is as good as certain that would fall with a usual slip of one entry.
    pub(super) fn if_firm(&self, step: Likelihood) -> Likelihood {
        if self.verdict.firm { step } else { step.max(Likelihood::Likely) }
    }
}

/// What was found of the channels and their calibrations.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ChannelIndicators {
    /// Whose zero was shown to have moved.
    pub zero_moved: Vec<ChannelRole>,
    /// Whose zero was checked and found as calibrated.
    pub zero_as_calibrated: Vec<ChannelRole>,
    /// Which were beyond their calibrated range, and for what share of the readings.
    pub beyond_range: Vec<(ChannelRole, f64)>,
    /// Names of the channels whose calibration was older than a year.
    pub calibration_old: Vec<String>,
    /// Names of the channels whose calibration was made after the run.
    pub calibration_after: Vec<String>,
    /// Which stood still or were at the end of their converter.
    pub bad: Vec<ChannelRole>,
}

/// What the spectrum of the tail load has to say of wheels.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Peaks {
    /// Frequency of bobbing, Hz.
    pub bobbing_hz: Option<Estimate>,
    /// Where the plow is to be expected to swing on its wheels.
    pub expected: Option<ExpectedFrequencies>,
    /// Peak at the tail wheel's turn, Hz.
    pub tail_turn_hz: Option<f64>,
    /// Peak at the front wheels' turn, Hz.
    pub front_turn_hz: Option<f64>,
    /// Where the tail wheel's turn would be, Hz; `None` without a speed.
    pub tail_turn_expected_hz: Option<f64>,
    /// Lowest and highest frequency searched, Hz; `None` where there was nothing to search.
    pub band_hz: Option<(f64, f64)>,
}

impl Peaks {
    /// Whether bobbing is the plow on its own springs; `None` without bobbing, or without frequencies to be expected.
    pub(super) fn own_swing(&self) -> Option<SwingsAs> {
        Some(self.expected?.told(&self.bobbing_hz?))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bobbing_is_held_against_what_is_to_be_expected_and_not_without_it() {
        let around = |hz: f64, half: f64| Estimate::around(hz, half);
        let expected = around(3.0, 0.5)
            .zip(around(6.0, 1.0))
            .map(|(lower_hz, upper_hz)| ExpectedFrequencies { lower_hz, upper_hz });
        let at = |hz: f64| Peaks { bobbing_hz: around(hz, 0.1), expected, ..Peaks::default() };
        assert_eq!(at(3.1).own_swing(), Some(SwingsAs::OnTailSpring));
        assert_eq!(at(1.5).own_swing(), Some(SwingsAs::Neither));
        assert_eq!(Peaks { expected: None, ..at(3.1) }.own_swing(), None);
        assert_eq!(Peaks::default().own_swing(), None);
    }
}
