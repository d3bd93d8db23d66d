//! Sensors, zeros and calibrations: what decides whether all else can be believed.

use super::{Cause, CauseKind, Likelihood, RunEvidence};
use crate::units_out::percent;
use ingest::plow::ChannelRole;
use statics::identify::IdentifyError;

const CHECK: &str = concat!(
    "Record 5 s standing, plow lifted and drawbar slack, ",
    ingest::nobody_between!(),
    ", and calibrate what does not read its zero."
);
/// Readings beyond the calibrated range for a smaller share do not decide a mean, by choice.
const BEYOND_SHARE_MIN: f64 = 0.1;

/// Measurements that contradict each other show it, though not which of them is wrong; a channel at its end and a
/// zero that moved make it likely, no more, for the drawbar may not have been slack; a calibration that is old or
/// left makes it possible.
pub(super) fn cause(run: &RunEvidence<'_>) -> Cause {
    let mut cause = Cause::of(CauseKind::Sensors, Likelihood::NotShown, CHECK);
    let raise = |cause: &mut Cause, step: Likelihood, why: String| {
        cause.likelihood = cause.likelihood.min(step);
        cause.evidence_for.push(why);
    };
    match run.identified {
        Err(error @ IdentifyError::Contradiction { .. }) => {
            raise(&mut cause, Likelihood::Shown, error.to_string());
        }
        Err(error) => raise(&mut cause, Likelihood::Possible, error.to_string()),
        Ok(_) => cause.evidence_against.push("pull, loads and geometry fit together".to_owned()),
    }
    let channels = run.channels;
    for column in &channels.bad {
        let channel = in_words(column);
        let why = format!("{channel} stood still, or was at the end of its converter, for some of the time");
        raise(&mut cause, Likelihood::Likely, why);
    }
    for column in &channels.zero_moved {
        let channel = in_words(column);
        raise(
            &mut cause,
            Likelihood::Likely,
            format!("the zero of {channel} has moved, if the drawbar was slack"),
        );
    }
    for (column, share) in channels.beyond_range.iter().filter(|(_, share)| *share >= BEYOND_SHARE_MIN) {
        let channel = in_words(column);
        let why =
            format!("{channel} was beyond what it was calibrated for in {} of the readings", percent(*share));
        raise(&mut cause, Likelihood::Possible, why);
    }
    let of_channels = [
        (&channels.calibration_old, "is over a year old"),
        (&channels.calibration_after, "was made after the run"),
    ];
    for (names, what) in of_channels {
        if !names.is_empty() {
            let why = format!("the calibration of {} {what}", names.join(", "));
            raise(&mut cause, Likelihood::Possible, why);
        }
    }
    for column in &channels.zero_as_calibrated {
        let channel = in_words(column);
        cause.evidence_against.push(format!("{channel} read its zero as calibrated"));
    }
    cause
}

/// A column as a sentence names it.
fn in_words(column: &str) -> String {
    ChannelRole::of_column(column).map_or_else(|| column.to_owned(), ChannelRole::in_words)
}
