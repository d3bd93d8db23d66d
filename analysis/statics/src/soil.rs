//! What is known beforehand of the soil force: which way it leans, and how high it acts.
//!
//! No published figure was found for either on moldboard bottoms. That sharp shares draw the plow in and worn
//! ones let it ride up is common practice, no source; the widths are by choice, and wide on purpose.

use super::distribution::Distribution;
use ingest::plow::{Plow, ShareCondition};
use ingest::quantity::Length;

/// Soil slope σ by share condition: heavy-tailed, so that a run can contradict it. The middle 95 % reach
/// 0.22 to either side of the centre.
pub fn soil_slope_prior(share: ShareCondition) -> Distribution {
    let centre = match share {
        ShareCondition::Sharp => -0.08,
        ShareCondition::Blunt => 0.0,
        ShareCondition::Worn => 0.08,
    };
    Distribution::Wide { centre, scale: 0.08 }
}

/// Half of the 95 % interval of a soil-force height that was given without one.
const GIVEN_HEIGHT_HALF_WIDTH_M: f64 = 0.020;

/// Standard deviation of a given height in a run: the plow does not stand as it was measured, for its tail
/// wheel's spring gives by some centimetres and tilts the frame (by choice; on the virtual plow up to 15 mm).
const POSE_SD_M: f64 = 0.015;

/// Standard deviation of the height over the depth, if it was not given.
pub const HEIGHT_SD_OVER_DEPTH: f64 = 0.2;

/// Standard deviation of the soil slope from pass to pass on one field with one set of shares (by choice: no
/// published figure was found).
pub const SLOPE_PASS_SD: f64 = 0.03;

/// Standard deviation of the height of the soil force from pass to pass over the depth (by choice, as above).
const HEIGHT_PASS_SD_OVER_DEPTH: f64 = 0.08;

/// Height z_s of the soil force on the line through the middle of the bottoms.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SoilHeight {
    /// Most likely height.
    pub mean: Length,
    /// Standard deviation.
    pub sd: Length,
    /// Not below this: the furrow bottom.
    pub low: Length,
    /// Not above this: the land surface.
    pub high: Length,
    /// Whether the description gave it.
    pub given: bool,
}

impl SoilHeight {
    /// From the description if it is there; else the middle of the furrow slice, ±40 % of the depth in 95 of
    /// 100 cases and never outside the slice, for the soil pushes nowhere else.
    pub fn of(plow: &Plow, depth: Length) -> Self {
        let depth_m = depth.m();
        match plow.bottoms.soil_force_z {
            Some(z) => Self {
                // It was given for the depth of the description, and goes up and down with the bottoms.
                mean: Length::from_m(z.si() + plow.bottoms.depth.m() - depth_m),
                sd: Length::from_m(
                    z.standard_uncertainty(Length::from_m(GIVEN_HEIGHT_HALF_WIDTH_M)).hypot(POSE_SD_M),
                ),
                low: Length::from_m(f64::NEG_INFINITY),
                high: Length::from_m(f64::INFINITY),
                given: true,
            },
            None => Self {
                mean: Length::from_m(-0.5 * depth_m),
                sd: Length::from_m(HEIGHT_SD_OVER_DEPTH * depth_m),
                low: Length::from_m(-depth_m),
                high: Length::from_m(0.0),
                given: false,
            },
        }
    }

    /// Its standard deviation split into what all passes of a plow share and what differs from pass to pass, at
    /// most half of the variance.
    pub fn shared_and_own_sd(&self, depth: Length) -> (Length, Length) {
        let sd_m = self.sd.m();
        let own_m = (HEIGHT_PASS_SD_OVER_DEPTH * depth.m()).min(sd_m * std::f64::consts::FRAC_1_SQRT_2);
        (Length::from_m((sd_m * sd_m - own_m * own_m).sqrt()), Length::from_m(own_m))
    }

    /// Its distribution in m before the bounds cut it off.
    pub fn distribution(&self) -> Distribution {
        Distribution::Normal { mean: self.mean.m(), sd: self.sd.m() }
    }

    /// Density at a height over the highest density: 1 at the most likely height, 0 outside the bounds.
    pub fn likeliness(&self, z: Length) -> f64 {
        if z < self.low || z > self.high {
            return 0.0;
        }
        (-0.5 * ((z.m() - self.mean.m()) / self.sd.m()).powi(2)).exp()
    }
}
