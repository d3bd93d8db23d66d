//! Why the statics refuses a plow.

use ingest::quantity::{Force, Length, in_si};
use serde::Serialize;

/// Why the statics cannot be solved for these numbers.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, thiserror::Error)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum StaticsError {
    /// The drawbar has no, or next to no, length forward.
    #[error(
        "the drawbar would stand on end: its pins differ by {rise_m:.3} m in height and it is {length_m:.3} \
         m long; check both hole heights and the drawbar's length",
        rise_m = .rise.m(),
        length_m = .length.m()
    )]
    VerticalDrawbar {
        /// Height of the tractor's pin above the plow's.
        #[serde(rename = "rise_m", serialize_with = "in_si")]
        rise: Length,
        /// Pin to pin.
        #[serde(rename = "length_m", serialize_with = "in_si")]
        length: Length,
    },
    /// The weight line is not between the wheels.
    #[error(
        "the weight at x = {weight_x_m:.3} m is not between what carries the tail, at {tail_x_m:.3} m, and \
         what carries the front, at {front_x_m:.3} m; check those three lengths",
        weight_x_m = .weight_x.m(),
        tail_x_m = .tail_x.m(),
        front_x_m = .front_x.m()
    )]
    WeightOutsideWheels {
        /// Weight line.
        #[serde(rename = "weight_x_m", serialize_with = "in_si")]
        weight_x: Length,
        /// Tail carrier.
        #[serde(rename = "tail_x_m", serialize_with = "in_si")]
        tail_x: Length,
        /// Front carrier.
        #[serde(rename = "front_x_m", serialize_with = "in_si")]
        front_x: Length,
    },
    /// Top link and lower links run so nearly along each other that they meet nowhere near.
    #[error(
        "top link and lower links meet {ahead_m:.1} m ahead of the plow's lower pins, or nowhere; they have to \
         close in towards the tractor and meet within {farthest_m:.0} m: check the heights of their four pins",
        ahead_m = .ahead.m(),
        farthest_m = .farthest.m()
    )]
    LinksMeetNowhere {
        /// How far ahead; below 0 they close in behind, infinite or NaN for links along each other.
        #[serde(rename = "ahead_m", serialize_with = "in_si")]
        ahead: Length,
        /// The farthest that is taken.
        #[serde(rename = "farthest_m", serialize_with = "in_si")]
        farthest: Length,
    },
    /// Drawbar and soil lift the whole plow off its wheels.
    #[error(
        "drawbar and soil would lift the whole plow: {ground_load_n:.0} N left on the wheels; check weight, \
         pull and hole heights",
        ground_load_n = .ground_load.n()
    )]
    NoGroundLoad {
        /// V, at or below 0.
        #[serde(rename = "ground_load_n", serialize_with = "in_si")]
        ground_load: Force,
    },
    /// The pull does not even overcome the rolling resistance.
    #[error(
        "a pull of {pull_n:.0} N is less than the rolling resistance of the wheels, so no soil is being \
         turned: check the pull sensor's calibration and zero",
        pull_n = .pull.n()
    )]
    PullTooSmall {
        /// The pull along the drawbar.
        #[serde(rename = "pull_n", serialize_with = "in_si")]
        pull: Force,
    },
    /// A number that is NaN or infinite.
    #[error("a number of the plow or the run is not finite, so nothing follows from it")]
    NotFinite,
}
