//! What speaks for a cause or against it, and why a cause cannot be told.

use super::dead_band::DeadBand;
use super::depth_on_pull::DepthOnPull;
use super::front_at_peaks::FrontAtPeaks;
use super::holds::Holds;
use super::pile_up::PileUp;
use super::sharp_end::SharpEnd;
use ingest::plow::{ChannelRole, ShareCondition};
use serde::Serialize;
use statics::identify::IdentifyError;
use stats::Estimate;

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
