//! Whether a step of a calibration was taken while its load or length moved.

use super::Observation;

/// Of the span of all steps: more SD or drift than this is no steady load. Common practice, no source; a
/// load cell that is left alone has a tenth of it.
const SD_SHARE_MAX: f64 = 0.02;
const DRIFT_SHARE_MAX: f64 = 0.002;
/// A drift of fewer standard errors than this may be noise.
const DRIFT_ERRORS_MIN: f64 = 5.0;

/// How a load or length that did not rest shows in the counts.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum Unrest {
    /// They scatter.
    #[error("the SD is {percent:.0} % of the span")]
    Swings {
        /// SD over the span of all steps, in percent.
        percent: f64,
    },
    /// They go one way.
    #[error("the count drifted by {counts:.0}")]
    Drifts {
        /// By so many between the halves of the step.
        counts: f64,
    },
}

impl Unrest {
    /// Of the SD of so many counts and the drift between their halves, where the mean counts of all steps lie in this
    /// span; `None` for a steady step.
    #[must_use]
    pub fn of(sd: f64, drift: f64, rows: usize, span: f64) -> Option<Self> {
        if span <= 0.0 {
            return None;
        }
        // Standard error of the difference between the means of the halves, for counts that do not depend on each other.
        let drift_error = 2.0 * sd / (rows.max(1) as f64).sqrt();
        if sd > SD_SHARE_MAX * span {
            Some(Self::Swings { percent: 100.0 * sd / span })
        } else if drift.abs() > DRIFT_SHARE_MAX * span && drift.abs() > DRIFT_ERRORS_MIN * drift_error {
            Some(Self::Drifts { counts: drift })
        } else {
            None
        }
    }
}

/// The numbers of the steps that were not steady, from 0, each with how that shows.
pub(super) fn not_steady(taken: &[Observation]) -> Vec<(usize, Unrest)> {
    let counts = || taken.iter().map(|step| step.count_mean);
    let span = counts().fold(f64::MIN, f64::max) - counts().fold(f64::MAX, f64::min);
    let unrest = |step: &Observation| {
        Unrest::of(step.count_sd?, step.count_drift.unwrap_or(0.0), step.rows.unwrap_or(1), span)
    };
    taken.iter().enumerate().filter_map(|(number, step)| Some((number, unrest(step)?))).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The first step is judged by the span of all, of which nothing is known while it is taken.
    #[test]
    fn every_step_is_judged_by_the_span_of_all() {
        let step = |count_mean, count_sd, drift| Observation {
            count_sd: Some(count_sd),
            count_drift: Some(drift),
            rows: Some(600),
            ..Observation::pair(count_mean, "0 N")
        };
        let taken = [
            step(10_000.0, 3_000.0, 0.0),
            step(60_000.0, 20.0, 3.0),
            step(110_000.0, 200.0, -300.0),
            Observation::pair(60_010.0, "0 N"),
        ];
        let found = not_steady(&taken);
        assert_eq!(found, [(0, Unrest::Swings { percent: 3.0 }), (2, Unrest::Drifts { counts: -300.0 })]);
        assert_eq!(not_steady(&taken[..1]), [], "alone it has no span");
        assert_eq!(not_steady(&[]), []);
    }

    #[test]
    fn a_drift_within_its_noise_is_none() {
        assert_eq!(Unrest::of(1_900.0, 300.0, 600, 100_000.0), None);
        assert_eq!(Unrest::of(f64::NAN, 0.0, 0, 100.0), None);
        assert!(Unrest::of(200.0, 300.0, 600, 100_000.0).is_some());
    }
}
