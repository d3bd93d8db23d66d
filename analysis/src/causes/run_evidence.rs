//! What the rules take from a run.

use super::apart_from_balance::{DepthOnPull, FrontAtPeaks};
use super::cause::Likelihood;
use super::deflection::Deflection;
use ingest::plow::{CarriedLoad, ChannelRole, Plow, ShareCondition};
use statics::identify::{Identified, IdentifyError};
use statics::natural_frequencies::{ExpectedFrequencies, SwingsAs};
use statics::verdict::Verdict;
use stats::Estimate;

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
