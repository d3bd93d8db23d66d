//! The tractor ahead of the plow: what the top view needs of it.

use crate::quantity::{Force, Length, Measured};
use serde::{Deserialize, Serialize};

/// Where the tractor's right wheels run.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum RightWheel {
    /// In the open furrow, as deep below the land as the plow works.
    Furrow,
    /// On the land beside it.
    Land,
}

/// The tractor. Its hitch heights stand in `[tractor_hitch]`, its pin's place across in the setting.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Tractor {
    /// Load of the front axle, standing level without the plow.
    pub front_axle_load: Measured<Force>,
    /// Load of the rear axle, standing level without the plow.
    pub rear_axle_load: Measured<Force>,
    /// Front axle to rear axle.
    pub wheelbase: Measured<Length>,
    /// Rear wheels, middle of the tyre to middle of the tyre.
    pub track: Measured<Length>,
    /// Width of a rear tyre.
    pub rear_tyre_width: Measured<Length>,
    /// How far the drawbar's pin is behind the rear axle.
    pub hitch_behind_rear_axle: Measured<Length>,
    /// Where the right wheels run.
    pub right_wheel: RightWheel,
    /// Inside of the right rear tyre, left (+) of the wall of the open furrow. With the wheel in the furrow
    /// it is 0 (the tyre touches the wall) unless told; on land it must be given.
    pub furrow_wall_offset: Option<Measured<Length>>,
    /// Height of the centre of gravity above the ground on which the tractor stands level, if it is known.
    pub centre_of_gravity_height: Option<Measured<Length>>,
    /// Share of the pull that the right drive wheel gives; one half, as a free differential gives, unless told.
    pub right_pull_share: Option<f64>,
    /// Sideways step of the pin: a washer, or from hole to hole.
    pub pin_step: Option<Length>,
}
