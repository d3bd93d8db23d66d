//! Why the statics refuses a plow.

use serde::Serialize;

/// Why the statics cannot be solved for these numbers.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, thiserror::Error)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum StaticsError {
    /// The drawbar has no, or next to no, length forward.
    #[error(
        "the drawbar would stand on end: its pins differ by {rise_m:.3} m in height and it is {length_m:.3} \
         m long; check both hole heights and the drawbar's length"
    )]
    VerticalDrawbar {
        /// Height of the tractor's pin above the plow's.
        rise_m: f64,
        /// Pin to pin.
        length_m: f64,
    },
    /// The weight line is not between the wheels.
    #[error(
        "the weight at x = {weight_x_m:.3} m is not between what carries the tail, at {tail_x_m:.3} m, and \
         what carries the front, at {front_x_m:.3} m; check those three lengths"
    )]
    WeightOutsideWheels {
        /// Weight line.
        weight_x_m: f64,
        /// Tail carrier.
        tail_x_m: f64,
        /// Front carrier.
        front_x_m: f64,
    },
    /// Top link and lower links run so nearly along each other that they meet nowhere near.
    #[error(
        "top link and lower links meet {ahead_m:.1} m ahead of the plow's lower pins, or nowhere; they have to \
         close in towards the tractor and meet within {farthest_m:.0} m: check the heights of their four pins"
    )]
    LinksMeetNowhere {
        /// How far ahead; below 0 they close in behind, infinite or NaN for links along each other.
        ahead_m: f64,
        /// The farthest that is taken.
        farthest_m: f64,
    },
    /// Drawbar and soil lift the whole plow off its wheels.
    #[error(
        "drawbar and soil would lift the whole plow: {ground_load_n:.0} N left on the wheels; check weight, \
         pull and hole heights"
    )]
    NoGroundLoad {
        /// V, at or below 0.
        ground_load_n: f64,
    },
    /// The pull does not even overcome the rolling resistance.
    #[error(
        "a pull of {pull_n:.0} N is less than the rolling resistance of the wheels, so no soil is being \
         turned: check the pull sensor's calibration and zero"
    )]
    PullTooSmall {
        /// The pull along the drawbar.
        pull_n: f64,
    },
    /// A number that is NaN or infinite.
    #[error("a number of the plow or the run is not finite, so nothing follows from it")]
    NotFinite,
}
