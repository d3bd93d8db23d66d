//! What can be behind a plow that does not run right: a list of causes, each with what speaks for it and what
//! against, the best supported first.
//!
//! The words are given by rules that stand beside each cause, in steps:
//! *shown*: a test with a stated rate of false alarms, or a chance of 95 % and more;
//! *likely*: a chance of 80 % and more, or a test that one other thing would pass too;
//! *possible*: a chance of 50 % and more, or a sign that several things would give;
//! *not shown*: looked for, or not to be seen with the sensors there are;
//! *spoken against*: a chance of 5 % and less, or a test that would have seen it.

mod dead_band;
mod deflection;
mod depth_on_pull;
mod front_at_peaks;
mod hitch;
mod holds;
mod landside;
mod own_swing;
mod pile_up;
mod sensors;
mod shares;
mod sharp_end;
mod tail_wheel;

pub use dead_band::{DeadBand, dead_band};
pub use deflection::Deflection;
pub use depth_on_pull::{DepthOnPull, tail_lever};
pub use front_at_peaks::{FrontAtPeaks, OFF_GROUND_SHARE};
pub use holds::{Holds, holds};
pub use pile_up::{End, PileUp, pile_ups};
pub use sharp_end::{SharpEnd, runs_out, sharp_end};

use crate::units_out::Units;
use ingest::plow::{CarriedLoad, Kind, Plow, ShareCondition};
use serde::Serialize;
use statics::identify::{Identified, IdentifyError};
use statics::natural_frequencies::{ExpectedFrequencies, SwingsAs};
use statics::verdict::Verdict;
use stats::Estimate;

/// The step of [`ORDER_OF_WORK`] that has the name of what carries the tail.
const TAIL_WHEEL: &str = "tail wheel";
/// The order in which a plow is put right: what stands first spoils all that stands behind it. Common practice, no
/// source.
pub const ORDER_OF_WORK: [&str; 6] =
    ["shares", "landside", TAIL_WHEEL, "vertical hitch", "sideways hitch", "depth"];

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
    /// In words.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Shown => "shown",
            Self::Likely => "likely",
            Self::Possible => "possible",
            Self::NotShown => "not shown",
            Self::SpokenAgainst => "spoken against",
        }
    }

    /// The step of a chance.
    #[must_use]
    fn of_chance(chance: f64) -> Self {
        match chance {
            chance if chance >= 0.95 => Self::Shown,
            chance if chance >= 0.8 => Self::Likely,
            chance if chance >= 0.5 => Self::Possible,
            chance if chance > 0.05 => Self::NotShown,
            _ => Self::SpokenAgainst,
        }
    }
}

/// Which cause; in the order of [`ORDER_OF_WORK`], sensors before all, for they decide what can be believed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
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
    /// In words.
    #[must_use]
    pub const fn words(self) -> &'static str {
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
    /// Which, in words.
    pub name: &'static str,
    /// How well it is supported.
    pub likelihood: Likelihood,
    /// What speaks for it, in the reader's units.
    pub evidence_for: Vec<String>,
    /// What speaks against it.
    pub evidence_against: Vec<String>,
    /// Why it cannot be told, where that is so.
    pub cannot_tell: Option<String>,
    /// What to check, one thing.
    pub check: String,
}

impl Cause {
    fn of(kind: CauseKind, likelihood: Likelihood, check: &str) -> Self {
        let (evidence_for, evidence_against) = (Vec::new(), Vec::new());
        let check = check.to_owned();
        Self {
            kind,
            name: kind.words(),
            likelihood,
            evidence_for,
            evidence_against,
            cannot_tell: None,
            check,
        }
    }

    /// Whether it deserves to be named in front of others.
    #[must_use]
    pub fn stands_out(&self) -> bool {
        self.likelihood <= Likelihood::Likely
    }
}

/// All causes that are looked for.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Causes {
    /// The best supported first.
    pub ranked: Vec<Cause>,
    /// Whether any is shown or likely.
    pub stands_out: bool,
    /// That a flatter drawbar hides worn shares and does not cure them; null where they are not the question.
    pub shares_first: Option<String>,
    /// Slow gain of depth on pull; null where it cannot be had.
    pub depth_on_pull: Option<DepthOnPull>,
    /// Front load at the peaks of the pull; null without a channel for it.
    pub front_at_peaks: Option<FrontAtPeaks>,
    /// In which order a plow is put right.
    pub order_of_work: [&'static str; 6],
    /// What bobbing is, by the frequencies to be expected; null where there is none of either.
    pub own_swing: Option<SwingsAs>,
    /// The same in words, with the numbers.
    pub own_swing_words: Option<String>,
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
    /// Share of the time in which what carries it carried next to nothing.
    pub lifted_share: f64,
    /// Load under which it counts as lifted, N.
    pub lifted_load_n: f64,
    /// Deflection of the tail wheel; `None` where there are too few readings.
    pub deflection: Option<&'a Deflection<'a>>,
    /// Share of its readings at an end of the converter.
    pub deflection_saturated_share: f64,
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
    pub channels: &'a ChannelSigns,
    /// Units of the sentences.
    pub units: Units,
}

impl RunEvidence<'_> {
    /// What the statics supports: nothing is as good as certain that would fall with a usual slip of one entry.
    fn if_firm(&self, step: Likelihood) -> Likelihood {
        if self.verdict.firm { step } else { step.max(Likelihood::Likely) }
    }
}

/// What was found of the channels and their calibrations, each by its column or its channel's name.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ChannelSigns {
    /// Whose zero was shown to have moved.
    pub zero_moved: Vec<&'static str>,
    /// Whose zero was checked and found as calibrated.
    pub zero_as_calibrated: Vec<&'static str>,
    /// Which were beyond their calibrated range, and for what share of the readings.
    pub beyond_range: Vec<(&'static str, f64)>,
    /// Whose calibration was older than a year.
    pub calibration_old: Vec<String>,
    /// Whose calibration was made after the run.
    pub calibration_after: Vec<String>,
    /// Which stood still or were at the end of their converter.
    pub bad: Vec<&'static str>,
}

/// What the spectrum of the tail load has to say of wheels.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Peaks {
    /// Whether it could be searched.
    pub searched: bool,
    /// Frequency of bobbing, Hz.
    pub bobbing_hz: Option<f64>,
    /// The same with its interval.
    pub bobbing_interval_hz: Option<Estimate>,
    /// Where the plow is to be expected to swing on its wheels.
    pub expected: Option<ExpectedFrequencies>,
    /// Peak at the tail wheel's turn, Hz.
    pub tail_turn_hz: Option<f64>,
    /// Peak at the front wheels' turn, Hz.
    pub front_turn_hz: Option<f64>,
    /// Where the tail wheel's turn would be, Hz; `None` without a speed.
    pub tail_turn_expected_hz: Option<f64>,
    /// Lowest and highest frequency searched, Hz.
    pub band_hz: (f64, f64),
}

/// What is said where shares are in question.
fn flatter_hides(plow: &Plow) -> String {
    let names = plow.part_names();
    let what = match plow.kind() {
        Kind::Trailed | Kind::Walking => names.member,
        Kind::SemiMounted | Kind::Mounted => "hitch",
    };
    let front = names.front;
    format!(
        "Shares first: a flatter {what} only hides worn shares under more load on the {front}; it does not cure them."
    )
}

/// All causes of a run, the best supported first; causes that are as well supported stand in the order of work.
#[must_use]
pub fn causes(run: &RunEvidence<'_>) -> Causes {
    let mut ranked = vec![sensors::cause(run), shares::cause(run), landside::cause(run)];
    ranked.extend(tail_wheel::causes(run));
    ranked.extend(hitch::causes(run));
    ranked.sort_by_key(|cause| (cause.likelihood, cause.kind));
    let worn = ranked.iter().find(|cause| cause.kind == CauseKind::Shares);
    let in_question = worn.is_some_and(|cause| {
        cause.stands_out()
            || (run.share == ShareCondition::Worn && cause.likelihood != Likelihood::SpokenAgainst)
    });
    Causes {
        stands_out: ranked.iter().any(Cause::stands_out),
        shares_first: in_question.then(|| flatter_hides(run.plow)),
        ranked,
        order_of_work: ORDER_OF_WORK
            .map(|step| if step == TAIL_WHEEL { run.plow.part_names().tail } else { step }),
        depth_on_pull: run.depth_on_pull,
        front_at_peaks: run.front_at_peaks,
        own_swing: own_swing::told(&run.peaks),
        own_swing_words: own_swing::words(&run.peaks),
    }
}

#[cfg(test)]
mod tests;
