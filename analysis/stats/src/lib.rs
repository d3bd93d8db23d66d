//! Statistics of one run and of several runs: estimates with 95 % intervals that respect how readings hang
//! together over short and long stretches of ground, and the tests that compare two sets of runs.
//!
//! Nothing here reads a file or knows what a channel is: numbers in, numbers out.

pub mod bins;
pub mod descriptive;
pub mod effect_size;
pub mod estimate;
mod long_run;
mod order;
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
