//! The inputs of the top view, each with its distribution, and draws of whole views from them.
//!
//! Where the description gives a ±, that is used; else the defaults below, which are by choice (half of a 95 %
//! interval). No published number is known for the push of the soil toward the wall, nor a measured one for front
//! wheels that slip sideways on stubble: both are taken from wide ranges.

use super::plow::PulledPlow;
use super::resistance::place;
use super::tractor::{TopView, Tractor};
use super::{TopError, TopPoint};
use crate::distribution::Distribution;
use crate::inputs::Inputs;
use crate::plow_model::PlowModel;
use ingest::plow::{Kind, Plow, RightWheel, Setting, Tractor as Described};
use ingest::quantity::{Force, Length, Measured};
use rand::Rng;

const AXLE_LOAD_HALF_WIDTH_SHARE: f64 = 0.03;
const TRACTOR_HALF_WIDTH_M: f64 = 0.010;
/// How well a driver keeps the tyre at the wall, or at its distance from it.
const WALL_HALF_WIDTH_M: f64 = 0.030;
const PIN_HALF_WIDTH_M: f64 = 0.010;
const GRAVITY_HALF_WIDTH_M: f64 = 0.10;
const FRICTION_HALF_WIDTH: f64 = 0.10;
const RIGHT_SHARE_HALF_WIDTH: f64 = 0.05;
/// Share of the pull that the right drive wheel gives where nothing is stated: a little more than the left one, on the
/// land, which usually has less grip (common practice, no source). The size is by choice.
const RIGHT_SHARE: f64 = 0.52;
/// The furrow is not to the millimetre as deep as the plow was blocked.
const FURROW_HALF_WIDTH_M: f64 = 0.020;

/// κ, by choice: a plowing problem in print, "illustrative only", has T/L = 0.45 for the useful soil force.
const SIDE_SHARE: Distribution = Distribution::Uniform { low: 0.10, high: 0.50 };

/// μ if it was not measured, by choice: that problem's 25 degrees, tan = 0.47, lies within.
const FRICTION: Distribution = Distribution::Uniform { low: 0.25, high: 0.60 };

/// Side force over load, per radian of slip angle, of a front tyre on soil: from memory, a few per radian.
const CORNERING_PER_RAD: Distribution = Distribution::Uniform { low: 1.5, high: 6.0 };

/// Side force over load that front tyres on soil do not go beyond: from memory, about 0.6.
pub const FRONT_GRIP: f64 = 0.6;

/// One draw.
#[derive(Clone, Copy, Debug)]
pub struct TopDraw {
    /// Plow and tractor.
    pub view: TopView,
    /// Side force over load per radian of slip angle at the front wheels.
    pub cornering_per_rad: f64,
}

/// A plow in one setting behind its tractor, every entry of the description with its distribution.
#[derive(Clone, Copy, Debug)]
pub struct TopInputs<'a> {
    plow: &'a Plow,
    tractor: &'a Described,
    /// Place of the pin, left of the middle of the cut; `None` for a pin in the tractor's middle.
    pin_y: Option<Distribution>,
    plow_model: PlowModel,
    side: Inputs<Distribution>,
    pull: Force,
}

fn normal(mean: f64, half_width: f64) -> Distribution {
    Distribution::Normal { mean, sd: half_width / stats::student::Z_975 }
}

fn load(measured: &Measured<Force>) -> Distribution {
    Distribution::measured(measured, AXLE_LOAD_HALF_WIDTH_SHARE * measured.si())
}

fn dimension(measured: &Measured<Length>) -> Distribution {
    Distribution::measured(measured, TRACTOR_HALF_WIDTH_M)
}

/// Inside of the right rear tyre, left of the wall of the open furrow.
fn wall_offset(tractor: &Described) -> Distribution {
    // Without a figure the tyre touches the wall; on land the description is refused without one.
    let touching = Measured::exactly_as_read(Length::from_m(0.0));
    Distribution::measured(&tractor.furrow_wall_offset.unwrap_or(touching), WALL_HALF_WIDTH_M)
}

impl<'a> TopInputs<'a> {
    /// Plow, tractor and setting, at a pull along the drawbar that is taken as it is.
    ///
    /// # Errors
    /// [`TopError::NotTrailed`], [`TopError::NoTractor`].
    pub fn of(plow: &'a Plow, setting: &Setting, pull: Force) -> Result<Self, TopError> {
        if plow.kind() != Kind::Trailed {
            return Err(TopError::NotTrailed { kind: plow.kind().name() });
        }
        let tractor = plow.tractor.as_ref().ok_or(TopError::NoTractor)?;
        let pin_y = setting.lateral_offset.map(|y| normal(y.m(), PIN_HALF_WIDTH_M));
        let side = Inputs::of_plow(plow, setting);
        Ok(Self { plow, tractor, pin_y, plow_model: PlowModel::of(plow), side, pull })
    }

    /// One draw of all inputs, independent of each other.
    ///
    /// # Errors
    /// As [`TopView::forces`] for a draw that cannot be.
    pub fn draw(&self, rng: &mut impl Rng) -> Result<TopDraw, TopError> {
        let side = self.side.draw(rng);
        self.view(&side, &mut |distribution| distribution.draw(rng))
    }

    /// Every input at the middle of its distribution.
    ///
    /// # Errors
    /// As [`TopView::forces`].
    pub fn middle(&self) -> Result<TopDraw, TopError> {
        self.view(&self.side.centres(), &mut Distribution::centre)
    }

    fn view(
        &self,
        side: &Inputs<f64>,
        value: &mut impl FnMut(Distribution) -> f64,
    ) -> Result<TopDraw, TopError> {
        let (described, bottoms, half_cut_m) =
            (self.tractor, &self.plow.bottoms, self.plow.total_cut_m() / 2.0);
        let side = self.plow_model.side_view(side)?;
        let track_m = value(dimension(&described.track));
        let tyre_m = value(dimension(&described.rear_tyre_width));
        let tyre_inside_y_m = value(wall_offset(described)) - half_cut_m;
        let middle_y_m = tyre_inside_y_m - tyre_m / 2.0 + track_m / 2.0;
        let furrow_m = value(normal(bottoms.depth.m(), FURROW_HALF_WIDTH_M));
        let right_ground_m = if described.right_wheel == RightWheel::Furrow { -furrow_m } else { 0.0 };
        let right_share = described.right_pull_share.unwrap_or(RIGHT_SHARE);
        let gravity_z = described.centre_of_gravity_height;
        let tractor = Tractor {
            front_axle: Force::from_n(value(load(&described.front_axle_load))),
            rear_axle: Force::from_n(value(load(&described.rear_axle_load))),
            wheelbase: Length::from_m(value(dimension(&described.wheelbase))),
            track: Length::from_m(track_m),
            hitch_behind: Length::from_m(value(dimension(&described.hitch_behind_rear_axle))),
            middle_y: Length::from_m(middle_y_m),
            left_ground_z: Length::from_m(0.0),
            right_ground_z: Length::from_m(right_ground_m),
            right_share: value(normal(right_share, RIGHT_SHARE_HALF_WIDTH)),
            gravity_z: gravity_z
                .map(|z| Length::from_m(value(Distribution::measured(&z, GRAVITY_HALF_WIDTH_M)))),
        };
        let pin_y_m = self.pin_y.map_or(middle_y_m, &mut *value);
        let t = side.drawbar_slope();
        let friction = bottoms.landside_friction.map_or(FRICTION, |mu| normal(mu, FRICTION_HALF_WIDTH));
        let plow = PulledPlow {
            centre: TopPoint { x: side.soil_at.x, y: Length::from_m(value(place(bottoms.cut_width))) },
            pin: TopPoint { x: side.tractor_hitch.x, y: Length::from_m(pin_y_m) },
            pull_slope: t,
            soil_draft: Force::from_n(0.0),
            side_share: value(SIDE_SHARE),
            landside_friction: value(friction).max(0.0),
            wall_y: Length::from_m(half_cut_m),
        };
        // The pull is the one of the side view: along a drawbar that leads nearly straight ahead.
        let plow = plow.with_draft(Force::from_n(self.pull.n() / t.hypot(1.0)))?;
        let view = TopView { plow, pin_z: side.tractor_hitch.z, tractor };
        Ok(TopDraw { view, cornering_per_rad: value(CORNERING_PER_RAD) })
    }
}
