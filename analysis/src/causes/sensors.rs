//! Sensors, zeros and calibrations: what decides whether all else can be believed.

use super::cause::{Cause, CauseKind, Likelihood};
use super::evidence::Evidence;
use super::run_evidence::RunEvidence;
use statics::identify::IdentifyError;

/// Readings beyond the calibrated range for a smaller share do not decide a mean, by choice.
const BEYOND_SHARE_MIN: f64 = 0.1;

/// Measurements that contradict each other show it, though not which of them is wrong; a channel at its end and a
/// zero that moved make it likely, no more, for the drawbar may not have been slack; a calibration that is old or
/// left makes it possible.
pub(super) fn cause(run: &RunEvidence<'_>) -> Cause {
    let mut cause = Cause::of(CauseKind::Sensors, Likelihood::NotShown);
    let mut raise = |step: Likelihood, why: Evidence| {
        cause.likelihood = cause.likelihood.min(step);
        cause.evidence_for.push(why);
    };
    if let Err(error) = run.identified {
        let step = match error {
            IdentifyError::Contradiction { .. } => Likelihood::Shown,
            _ => Likelihood::Possible,
        };
        raise(step, Evidence::NoFigures { error: error.clone() });
    }
    let channels = run.channels;
    for &channel in &channels.bad {
        raise(Likelihood::Likely, Evidence::StuckOrAtEnd { channel });
    }
    for &channel in &channels.zero_moved {
        raise(Likelihood::Likely, Evidence::ZeroMoved { channel });
    }
    for &(channel, share) in channels.beyond_range.iter().filter(|(_, share)| *share >= BEYOND_SHARE_MIN) {
        raise(Likelihood::Possible, Evidence::BeyondRange { channel, share });
    }
    if !channels.calibration_old.is_empty() {
        let channels = channels.calibration_old.clone();
        raise(Likelihood::Possible, Evidence::CalibrationsOld { channels });
    }
    if !channels.calibration_after.is_empty() {
        let channels = channels.calibration_after.clone();
        raise(Likelihood::Possible, Evidence::CalibrationsAfterRun { channels });
    }
    let sound = channels.zero_as_calibrated.iter().map(|&channel| Evidence::ZeroAsCalibrated { channel });
    cause.evidence_against = run.identified.iter().map(|_| Evidence::FitTogether).chain(sound).collect();
    cause
}
