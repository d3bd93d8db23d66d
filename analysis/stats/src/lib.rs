//! Statistics of one run and of several runs: estimates with 95 % intervals that respect how readings hang
//! together over short and long stretches of ground, and the tests that compare two sets of runs.
//!
//! Nothing here reads a file or knows what a channel is: numbers in, numbers out.
//!
//! A figure is an [`Estimate`]: a value with the two ends of its interval.
//!
//! ```
//! use stats::Estimate;
//!
//! let pull_n = Estimate::around(9_000.0, 200.0).unwrap();
//! let before_n = Estimate::around(8_500.0, 150.0).unwrap();
//! let more_n = pull_n.minus(before_n);
//! assert_eq!((more_n.value, more_n.low, more_n.high), (500.0, 250.0, 750.0));
//! assert!(!more_n.holds(0.0), "the pull is shown to have grown");
//! ```
//!
//! [`series_figures`](series_figures::series_figures) gives mean, spread, drift and percentiles of one channel of one
//! run, with intervals for what other passes over such ground would give:
//!
//! ```
//! use stats::bins::Stretch;
//! use stats::series_figures::{Wanted, series_figures};
//!
//! // Two minutes at 10 Hz, a gap in between, of a load that goes up and down with the ground.
//! let load_n = |t_s: f64| 1_000.0 + 200.0 * (0.9 * t_s).sin() + 150.0 * (0.37 * t_s).sin();
//! let rows: Vec<f64> = (0..1_200).map(|row| load_n(f64::from(row) / 10.0)).collect();
//! let stretches = [
//!     Stretch { start_s: 0.0, values: &rows[..500] },
//!     Stretch { start_s: 60.0, values: &rows[600..] },
//! ];
//! let found = series_figures(&stretches, 10.0, Wanted { below: Some(50.0), at_percent: &[5.0, 95.0] })?;
//! assert!(found.mean.holds(1_000.0) && found.sd.holds(176.8), "{found:?}");
//! assert_eq!(found.below_share.unwrap().value, 0.0);
//! # Ok::<(), stats::StatsError>(())
//! ```
//!
//! Whether one set of passes really beats another is asked without any law of the values:
//!
//! ```
//! use stats::permutation::permutation_test;
//!
//! let (as_it_was, moved) = ([21.0, 24.0, 22.0, 25.0], [14.0, 16.0, 13.0, 15.0]);
//! let test = permutation_test(&as_it_was, &moved, 1)?;
//! // All 70 ways to deal eight passes to two settings; two of them are as far apart as these.
//! assert_eq!((test.difference, test.extreme, test.tried), (8.5, 2, 70));
//! assert_eq!(test.p, 2.0 / 70.0);
//! # Ok::<(), stats::StatsError>(())
//! ```

pub mod bins;
pub mod descriptive;
pub mod estimate;
pub mod long_run;
pub mod permutation;
pub mod series_figures;
pub mod student;
pub mod two_samples;

pub use descriptive::Moments;
pub use estimate::Estimate;

/// Why a statistic cannot be given.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum StatsError {
    /// Fewer values than the method needs to say anything.
    #[error("{what} needs at least {needed} values and got {found}: record longer, or add runs")]
    TooFew {
        /// The statistic or test that was asked for.
        what: &'static str,
        /// The smallest number it works with.
        needed: usize,
        /// The number there was.
        found: usize,
    },
    /// A value that is NaN or infinite, which would spoil every figure silently.
    #[error("{what}: value {position} is not a finite number; drop or repair such readings first")]
    NotFinite {
        /// The statistic or test that was asked for.
        what: &'static str,
        /// Place of the first such value, counted from 0 over all stretches.
        position: usize,
    },
    /// Two lists that belong together pair by pair differ in length.
    #[error("{what}: pairs are needed, but one side has {left} values and the other {right}")]
    UnequalPairs {
        /// The test that was asked for.
        what: &'static str,
        /// Length of the first list.
        left: usize,
        /// Length of the second list.
        right: usize,
    },
}

/// Refuses a list that is too short or holds a value that is not finite.
///
/// # Errors
/// [`StatsError::TooFew`] or [`StatsError::NotFinite`].
pub(crate) fn require(what: &'static str, values: &[f64], needed: usize) -> Result<(), StatsError> {
    if values.len() < needed {
        return Err(StatsError::TooFew { what, needed, found: values.len() });
    }
    match values.iter().position(|v| !v.is_finite()) {
        Some(position) => Err(StatsError::NotFinite { what, position }),
        None => Ok(()),
    }
}
