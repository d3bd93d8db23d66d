//! Whether the calibrations of a run hold for it.

use crate::report::units::{Units, percent};
use crate::summary::{CalibrationChecks, CalibrationWarning, NoZeroCheck, ZeroCheck, ZeroVerdict};
use ingest::calibration::ZERO_HINT;
use ingest::plow::{ChannelRole, RoleDimension};
use stats::Estimate;

/// What is wrong with them, one sentence each.
pub(super) fn warnings(checks: &CalibrationChecks, units: Units) -> Vec<String> {
    let of_calibrations = checks.warnings.iter().map(|one| warning(one, units));
    of_calibrations.chain(zeros(checks, units, true)).collect()
}

/// What else the zero check has to say.
pub(in crate::report) fn remarks(checks: &CalibrationChecks, units: Units) -> Vec<String> {
    zeros(checks, units, false).collect()
}

/// The zero checks, those that have moved or the others.
fn zeros(checks: &CalibrationChecks, units: Units, moved: bool) -> impl Iterator<Item = String> {
    let wanted = checks.zero.iter().filter(move |check| (check.verdict == ZeroVerdict::Moved) == moved);
    wanted.map(move |check| zero(check, units))
}

fn warning(warning: &CalibrationWarning, units: Units) -> String {
    match warning {
        CalibrationWarning::BeyondRange { channel, above, end, farthest, share, mean_beyond, .. } => {
            let (way, bound) = if *above { ("above", "up to") } else { ("below", "down to") };
            let what = if *mean_beyond {
                "its mean and all that follows from it are extrapolated"
            } else {
                "the readings there, and what follows from the largest of them, are extrapolated"
            };
            format!(
                "{} was {way} the {} {bound} which it was calibrated for {} of the time, by up to {}: {what}",
                channel.in_words(),
                reading(*channel, *end, units),
                percent(*share),
                reading(*channel, *farthest, units),
            )
        }
        CalibrationWarning::MadeAfterRun { channel, date } => format!(
            "the calibration of channel \"{channel}\" was made after the run, on {date}: it holds only if nothing was \
             changed on the sensor in between"
        ),
        CalibrationWarning::OverAYearOld { channel, date } => {
            format!("the calibration of channel \"{channel}\" was over a year old, of {date}: calibrate anew")
        }
    }
}

fn zero(check: &ZeroCheck, units: Units) -> String {
    let what = check.role.name();
    // Only forces are checked for their zero.
    let interval = |found: &Estimate| units.force_interval(found);
    let before = if check.before_s.is_some() { " before the run" } else { "" };
    match (check.verdict, &check.reading) {
        (ZeroVerdict::Moved, Some(found)) => format!(
            "the zero of the {what} has moved: standing for {:.0} s{before} it read {}, and the calibration allows {}; was the \
             drawbar slack? Readings are not corrected, the {what} is known that much less well",
            check.still_s,
            interval(found),
            reading(check.role, check.allowed, units)
        ),
        (ZeroVerdict::AsCalibrated, Some(found)) => format!(
            "zero of the {what} as calibrated: {} standing for {:.0} s{before}",
            interval(found),
            check.still_s
        ),
        _ => {
            let why_not = match check.why_not {
                Some(NoZeroCheck::InTheGround) => "the run begins with the plow in the ground",
                Some(NoZeroCheck::UnderWay) => "the run begins with the plow under way",
                Some(NoZeroCheck::TooShort) => "the run begins standing still for less than 2 s",
                None => "too few readings",
            };
            format!("no zero check of the {what}: {why_not} ({ZERO_HINT})")
        }
    }
}

/// A reading in the column's unit.
fn reading(role: ChannelRole, inside: f64, units: Units) -> String {
    match role.dimension() {
        RoleDimension::Force => units.force_n(inside),
        RoleDimension::Length => units.height(inside / 1000.0),
        RoleDimension::Speed => units.speed(inside),
        RoleDimension::Angle => format!("{inside:.1} deg"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_beyond_the_calibration_is_told_with_share_and_size() {
        let beyond = |mean_beyond| {
            let (channel, above, share) = (ChannelRole::Pull, true, 0.4);
            let (end, farthest, unit) = (8000.0, 400.0, "N");
            let one =
                CalibrationWarning::BeyondRange { channel, above, end, farthest, unit, share, mean_beyond };
            warning(&one, Units::Si)
        };
        let said = beyond(false);
        assert!(
            said.contains("the pull channel was above the 8000 N") && said.contains("by up to 400 N"),
            "{said}"
        );
        assert!(said.contains("the largest of them"), "{said}");
        assert!(beyond(true).contains("its mean"));
        let (channel, date) = ("pull".to_owned(), "2026-04-10".to_owned());
        let old = warning(&CalibrationWarning::OverAYearOld { channel, date }, Units::Si);
        assert!(old.contains("over a year old, of 2026-04-10"), "{old}");
    }
}
