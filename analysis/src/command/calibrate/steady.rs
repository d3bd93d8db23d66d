//! Whether the counts of a step are worth anything.

use ingest::discovery::SampleStatistics;

/// The counts of a step.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Reading {
    pub(super) spread: SampleStatistics,
    /// Some count is at an end of the converter.
    pub(super) at_end: bool,
    pub(super) rows_lost: u64,
    pub(super) restarts: u64,
}

/// Of the span of all steps: more SD or drift than this is no steady load. Common practice, no source; a
/// load cell that is left alone has a tenth of it.
const SD_SHARE_MAX: f64 = 0.02;
const DRIFT_SHARE_MAX: f64 = 0.002;
/// A drift of fewer standard errors than this may be noise.
const DRIFT_ERRORS_MIN: f64 = 5.0;

impl Reading {
    /// Standard error of the difference between the means of the two halves, for counts that do not depend
    /// on each other.
    fn drift_error(&self) -> f64 {
        2.0 * self.spread.sd / (self.spread.n.max(1) as f64).sqrt()
    }

    /// What to warn of, a sentence each. `others` are the mean counts of the other steps, `same_value` those
    /// that were taken at the same known value.
    pub(super) fn doubts(&self, others: &[f64], same_value: &[bool]) -> Vec<String> {
        let SampleStatistics { mean, sd, drift, .. } = self.spread;
        let mut doubts = Vec::new();
        if self.at_end {
            doubts.push(
                "the converter is at its end: the load is beyond its range, or a wire is off".to_owned(),
            );
        }
        if self.restarts > 0 {
            doubts.push("the box began anew meanwhile: is its supply good? Take this step again".to_owned());
        } else if self.rows_lost > 0 {
            doubts.push(format!("{} rows were lost meanwhile: check the cable", self.rows_lost));
        }
        let span = others.iter().fold(0f64, |span, other| {
            others.iter().fold(span.max((mean - other).abs()), |span, more| span.max((more - other).abs()))
        });
        let error = sd / (self.spread.n.max(1) as f64).sqrt();
        let unmoved = others
            .iter()
            .zip(same_value)
            .any(|(other, same)| !same && (mean - other).abs() <= (3.0 * error).max(1.0));
        if unmoved && !self.at_end {
            doubts.push(
                "the count is the same as at another value: is this the right channel, and is it connected?"
                    .to_owned(),
            );
        } else if span > 0.0 && sd > SD_SHARE_MAX * span {
            doubts.push(format!(
                "not steady: the SD is {:.0} % of the span so far. Let the load come to rest, then \"again\"",
                100.0 * sd / span
            ));
        } else if span > 0.0
            && drift.abs() > DRIFT_SHARE_MAX * span
            && drift.abs() > DRIFT_ERRORS_MIN * self.drift_error()
        {
            doubts.push(format!(
                "not steady: the count drifted by {drift:.0} meanwhile. Wait a little, then \"again\""
            ));
        }
        doubts
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn reading(mean: f64, sd: f64, drift: f64) -> Reading {
        let spread = SampleStatistics { n: 600, mean, sd, min: mean - 3.0 * sd, max: mean + 3.0 * sd, drift };
        Reading { spread, at_end: false, rows_lost: 0, restarts: 0 }
    }

    fn doubts(reading: Reading) -> String {
        reading.doubts(&[10_000.0, 60_000.0], &[false, false]).join("; ")
    }

    #[test]
    fn what_is_steady_raises_no_doubt_and_what_is_not_does() {
        assert_eq!(doubts(reading(110_000.0, 20.0, 3.0)), "");
        assert!(doubts(reading(110_000.0, 3_000.0, 3.0)).contains("SD is 3 %"));
        assert!(doubts(reading(110_000.0, 200.0, 300.0)).contains("drifted by 300"));
        // The same drift in a noise that can make it.
        assert_eq!(doubts(reading(110_000.0, 1_900.0, 300.0)), "");
        assert!(doubts(reading(60_001.0, 20.0, 0.0)).contains("right channel"));
        assert_eq!(reading(60_001.0, 20.0, 0.0).doubts(&[10_000.0, 60_000.0], &[false, true]), [""; 0]);
        assert!(doubts(Reading { at_end: true, ..reading(1e5, 0.0, 0.0) }).contains("at its end"));
        assert!(doubts(Reading { rows_lost: 8, ..reading(1e5, 0.0, 0.0) }).contains("8 rows"));
        assert!(doubts(Reading { restarts: 1, ..reading(1e5, 0.0, 0.0) }).contains("began anew"));
        assert_eq!(reading(5.0, 100.0, 50.0).doubts(&[], &[]), [""; 0], "a first step has nothing beside it");
    }
}
