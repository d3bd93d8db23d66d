//! The tractor in the top view, joined to its plow at the pin: axle loads under pull, and the balance of its turning.
//!
//! Loads from moments about the rear axle and upwards; turning about the dynamic centre of gravity: the place
//! along the tractor where the resultant of the axle loads is. Side forces in proportion to the axle loads make both
//! axles slip sideways at one angle, so a tractor with nothing but those needs no steering; whatever turns it about
//! that point, the front wheels must be held over against. The drive wheels push on either side of the middle
//! between them, so the distance d of the line of pull counts from that middle: with shares F_l, F_r of the pull,
//! turning is P_x·(d − d*), d* = −(track/2)(F_r − F_l)/(F_r + F_l).

use super::plow::{PlowForces, PullParts, PulledPlow};
use super::{TopError, TopForce, TopForceKind, TopPoint};
use ingest::quantity::{Force, Length, Moment, in_si};
use schemars::JsonSchema;
use serde::Serialize;

/// A tractor on its ground, in the frame of the top view.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Tractor {
    /// Standing load of the front axle.
    #[serde(rename = "front_axle_n", serialize_with = "in_si")]
    pub front_axle: Force,
    /// Standing load of the rear axle.
    #[serde(rename = "rear_axle_n", serialize_with = "in_si")]
    pub rear_axle: Force,
    /// Front axle to rear axle.
    #[serde(rename = "wheelbase_m", serialize_with = "in_si")]
    pub wheelbase: Length,
    /// Rear wheels, middle to middle.
    #[serde(rename = "track_m", serialize_with = "in_si")]
    pub track: Length,
    /// How far the pin is behind the rear axle.
    #[serde(rename = "hitch_behind_m", serialize_with = "in_si")]
    pub hitch_behind: Length,
    /// Middle between the rear wheels, left of the middle of the cut.
    #[serde(rename = "middle_y_m", serialize_with = "in_si")]
    pub middle_y: Length,
    /// Height of the ground under the left wheels above the land: 0, if they run on it.
    #[serde(rename = "left_ground_z_m", serialize_with = "in_si")]
    pub left_ground_z: Length,
    /// The same under the right wheels; below 0 in a furrow.
    #[serde(rename = "right_ground_z_m", serialize_with = "in_si")]
    pub right_ground_z: Length,
    /// Share of the pull that the right drive wheel gives.
    pub right_share: f64,
    /// Height of the center of gravity above the ground, if it is known.
    #[serde(rename = "gravity_z_m", serialize_with = "in_si")]
    pub gravity_z: Option<Length>,
}

/// Where the pull takes hold of the tractor.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Pin {
    /// Place.
    pub at: TopPoint,
    /// Height above the land.
    #[serde(rename = "z_m", serialize_with = "in_si")]
    pub z: Length,
}

/// How the wheels carry sideways.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
pub struct AcrossLoads {
    /// Load of the left rear wheel.
    #[serde(rename = "left_rear_n", serialize_with = "in_si")]
    pub left_rear: Force,
    /// Load of the right rear wheel; at or below 0 the wheel is off the ground.
    #[serde(rename = "right_rear_n", serialize_with = "in_si")]
    pub right_rear: Force,
    /// Where the resultant of all wheel loads is, left of the tractor's middle.
    #[serde(rename = "shift_y_m", serialize_with = "in_si")]
    pub shift_y: Length,
}

/// What follows for the tractor.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
pub struct TractorForces {
    /// Load of the front axle under pull.
    #[serde(rename = "front_axle_n", serialize_with = "in_si")]
    pub front_axle: Force,
    /// Load of the rear axle under pull.
    #[serde(rename = "rear_axle_n", serialize_with = "in_si")]
    pub rear_axle: Force,
    /// Center of gravity ahead of the rear axle, standing.
    #[serde(rename = "standing_centre_m", serialize_with = "in_si")]
    pub standing_centre: Length,
    /// The dynamic one.
    #[serde(rename = "dynamic_centre_m", serialize_with = "in_si")]
    pub dynamic_centre: Length,
    /// Loads across, if the height of the center of gravity is known.
    pub across: Option<AcrossLoads>,
    /// d: the line of pull at the dynamic center of gravity, left of the tractor's middle.
    #[serde(rename = "line_offset_m", serialize_with = "in_si")]
    pub line_offset: Length,
    /// d*: where it would turn the tractor neither way.
    #[serde(rename = "target_offset_m", serialize_with = "in_si")]
    pub target_offset: Length,
    /// P_x·(d − d*), left turn positive.
    #[serde(rename = "turning_n_m", serialize_with = "in_si")]
    pub turning: Moment,
    /// What the front wheels are held over for, left positive: −turning over wheelbase.
    #[serde(rename = "held_over_n", serialize_with = "in_si")]
    pub held_over: Force,
    /// Whole side force of the ground on the front wheels, left positive.
    #[serde(rename = "front_side_n", serialize_with = "in_si")]
    pub front_side: Force,
    /// The same on the rear wheels.
    #[serde(rename = "rear_side_n", serialize_with = "in_si")]
    pub rear_side: Force,
    /// Forward push of the left drive wheel.
    #[serde(rename = "left_drive_n", serialize_with = "in_si")]
    pub left_drive: Force,
    /// Forward push of the right drive wheel.
    #[serde(rename = "right_drive_n", serialize_with = "in_si")]
    pub right_drive: Force,
}

impl Tractor {
    /// d*, left of the tractor's middle.
    pub fn target_offset(&self) -> Length {
        Length::from_m(-(self.track.m() / 2.0) * (2.0 * self.right_share - 1.0))
    }

    /// Forces on the tractor under the pull that `pull` is for the plow; on the tractor it acts the other way.
    ///
    /// # Errors
    /// [`TopError::FrontLifts`], [`TopError::NotFinite`].
    pub fn forces(&self, pin: Pin, pull: PullParts) -> Result<TractorForces, TopError> {
        let (wheelbase_m, behind_m) = (self.wheelbase.m(), self.hitch_behind.m());
        let (right, left) = (self.right_share, 1.0 - self.right_share);
        let drive_z_m = left * self.left_ground_z.m() + right * self.right_ground_z.m();
        // Pull at its height over the drive wheels' contact, and its downward part behind the rear axle.
        let lifted_n_m = pull.x.n() * (pin.z.m() - drive_z_m) + pull.z.n() * behind_m;
        let front_axle_n = self.front_axle.n() - lifted_n_m / wheelbase_m;
        let standing_n = self.front_axle.n() + self.rear_axle.n();
        let whole_n = standing_n + pull.z.n();
        let rear_axle_n = whole_n - front_axle_n;
        let dynamic_centre_m = wheelbase_m * front_axle_n / whole_n;
        let pin_off_m = pin.at.y.m() - self.middle_y.m();
        let lead = if pull.x.n() == 0.0 { 0.0 } else { pull.y.n() / pull.x.n() };
        let line_offset_m = pin_off_m + lead * (behind_m + dynamic_centre_m);
        let target_offset_m = self.target_offset().m();
        let turning_n_m = pull.x.n() * (line_offset_m - target_offset_m);
        let held_over_n = -turning_n_m / wheelbase_m;
        let front_side_n = pull.y.n() * dynamic_centre_m / wheelbase_m + held_over_n;
        if !(front_side_n.is_finite() && rear_axle_n.is_finite()) {
            return Err(TopError::NotFinite);
        }
        if front_axle_n <= 0.0 {
            return Err(TopError::FrontLifts { front: Force::from_n(front_axle_n) });
        }
        Ok(TractorForces {
            front_axle: Force::from_n(front_axle_n),
            rear_axle: Force::from_n(rear_axle_n),
            standing_centre: Length::from_m(wheelbase_m * self.front_axle.n() / standing_n),
            dynamic_centre: Length::from_m(dynamic_centre_m),
            across: self.gravity_z.map(|z| self.across(z.m(), pin, pull, whole_n, rear_axle_n)),
            line_offset: Length::from_m(line_offset_m),
            target_offset: Length::from_m(target_offset_m),
            turning: Moment::from_n_m(turning_n_m),
            held_over: Force::from_n(held_over_n),
            front_side: Force::from_n(front_side_n),
            rear_side: Force::from_n(pull.y.n() - front_side_n),
            left_drive: Force::from_n(left * pull.x.n()),
            right_drive: Force::from_n(right * pull.x.n()),
        })
    }

    /// Moments about the tractor's long axis. Sideways the ground is taken to hold the wheels at its middle height,
    /// and the front axle to swing on its pin, so that the rear wheels alone carry the difference.
    fn across(&self, z_m: f64, pin: Pin, pull: PullParts, whole_n: f64, rear_axle_n: f64) -> AcrossLoads {
        let standing_n = self.front_axle.n() + self.rear_axle.n();
        let (left_z_m, right_z_m) = (self.left_ground_z.m(), self.right_ground_z.m());
        let lean_m = z_m * (left_z_m - right_z_m) / self.track.m();
        let side_arm_m = pin.z.m() - (left_z_m + right_z_m) / 2.0;
        let pin_off_m = pin.at.y.m() - self.middle_y.m();
        let leftward_n_m = pin_off_m * pull.z.n() - standing_n * lean_m - side_arm_m * pull.y.n();
        let half_m = self.track.m() / 2.0;
        AcrossLoads {
            left_rear: Force::from_n((rear_axle_n + leftward_n_m / half_m) / 2.0),
            right_rear: Force::from_n((rear_axle_n - leftward_n_m / half_m) / 2.0),
            shift_y: Length::from_m(leftward_n_m / whole_n),
        }
    }

    /// Every horizontal force on the tractor.
    pub fn force_list(&self, pin: Pin, pull: PullParts, forces: &TractorForces) -> Vec<TopForce> {
        let rear_x_m = pin.at.x.m() + self.hitch_behind.m();
        let at = |x_m: f64, off_m: f64| TopPoint::from_m(x_m, self.middle_y.m() + off_m);
        let half_m = self.track.m() / 2.0;
        let front = at(rear_x_m + self.wheelbase.m(), 0.0);
        vec![
            TopForce::of(TopForceKind::Pull, pin.at, -pull.x.n(), -pull.y.n()),
            TopForce::of(TopForceKind::LeftDrive, at(rear_x_m, half_m), forces.left_drive.n(), 0.0),
            TopForce::of(TopForceKind::RightDrive, at(rear_x_m, -half_m), forces.right_drive.n(), 0.0),
            TopForce::of(TopForceKind::FrontAxle, front, 0.0, forces.front_side.n()),
            TopForce::of(TopForceKind::RearAxle, at(rear_x_m, 0.0), 0.0, forces.rear_side.n()),
        ]
    }
}

/// Steps of [`TopView::pin_y_for_target`]: friction moves the loads a little with the pin, so a few are enough.
const PIN_STEPS_MAX: usize = 60;

/// Change of the pin's place at which those steps end.
const PIN_STEP_END_M: f64 = 1e-13;

/// Everything that decides the forces of the top view.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
pub struct TopView {
    /// The plow, and the place of the pin.
    pub plow: PulledPlow,
    /// Height of the pin above the land.
    #[serde(rename = "pin_z_m", serialize_with = "in_si")]
    pub pin_z: Length,
    /// The tractor.
    pub tractor: Tractor,
}

/// What follows from a [`TopView`].
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
pub struct TopForces {
    /// Of the plow.
    pub plow: PlowForces,
    /// Of the tractor.
    pub tractor: TractorForces,
}

impl TopView {
    /// The forces on both.
    ///
    /// # Errors
    /// As [`PulledPlow::forces`] and [`Tractor::forces`].
    pub fn forces(&self) -> Result<TopForces, TopError> {
        let plow = self.plow.forces()?;
        let tractor = self.tractor.forces(self.pin(), plow.pull)?;
        Ok(TopForces { plow, tractor })
    }

    /// The horizontal forces on the plow and on the tractor, each with its place.
    pub fn force_lists(&self, forces: &TopForces) -> (Vec<TopForce>, Vec<TopForce>) {
        let on_tractor = self.tractor.force_list(self.pin(), forces.plow.pull, &forces.tractor);
        (self.plow.force_list(&forces.plow), on_tractor)
    }

    /// The same with the pin at another place across and the soil as it was.
    #[must_use]
    pub fn with_pin_y(self, y: Length) -> Self {
        Self { plow: self.plow.with_pin_y(y), ..self }
    }

    /// Place of the pin, left of the middle of the cut, that brings the line of pull to d*: it then runs straight
    /// from the center of resistance to that point beside the dynamic center of gravity.
    ///
    /// # Errors
    /// As [`Self::forces`], for the pins tried.
    pub fn pin_y_for_target(&self) -> Result<Length, TopError> {
        let centre = self.plow.centre;
        let target_y_m = self.tractor.middle_y.m() + self.tractor.target_offset().m();
        let to_pin_m = self.plow.pin.x.m() - centre.x.m();
        let mut y_m = self.plow.pin.y.m();
        for _ in 0..PIN_STEPS_MAX {
            let at_gravity_m = self.with_pin_y(Length::from_m(y_m)).forces()?.tractor.dynamic_centre.m();
            let to_gravity_m = to_pin_m + self.tractor.hitch_behind.m() + at_gravity_m;
            let next_m = centre.y.m() + (target_y_m - centre.y.m()) * to_pin_m / to_gravity_m;
            let step_m = (next_m - y_m).abs();
            y_m = next_m;
            if step_m < PIN_STEP_END_M {
                break;
            }
        }
        Ok(Length::from_m(y_m))
    }

    fn pin(&self) -> Pin {
        Pin { at: self.plow.pin, z: self.pin_z }
    }
}
