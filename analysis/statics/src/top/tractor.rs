//! The tractor in the top view: axle loads under pull, and the balance of its turning.
//!
//! Loads from moments about the rear axle and upwards; turning about the dynamic centre of gravity: the place
//! along the tractor where the resultant of the axle loads is. Side forces in proportion to the axle loads make both
//! axles slip sideways at one angle, so a tractor with nothing but those needs no steering; whatever turns it about
//! that point, the front wheels must be held over against. The drive wheels push on either side of the middle
//! between them, so the distance d of the line of pull counts from that middle: with shares F_l, F_r of the pull,
//! turning is P_x·(d − d*), d* = −(track/2)(F_r − F_l)/(F_r + F_l).

use super::plow::PullParts;
use super::{TopError, TopForce, TopForceKind, TopPoint};
use serde::Serialize;

/// A tractor on its ground, in the frame of the top view.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Tractor {
    /// Standing load of the front axle.
    pub front_axle_n: f64,
    /// Standing load of the rear axle.
    pub rear_axle_n: f64,
    /// Front axle to rear axle.
    pub wheelbase_m: f64,
    /// Rear wheels, middle to middle.
    pub track_m: f64,
    /// How far the pin is behind the rear axle.
    pub hitch_behind_m: f64,
    /// Middle between the rear wheels, left of the middle of the cut.
    pub middle_y_m: f64,
    /// Height of the ground under the left wheels above the land: 0, if they run on it.
    pub left_ground_z_m: f64,
    /// The same under the right wheels; below 0 in a furrow.
    pub right_ground_z_m: f64,
    /// Share of the pull that the right drive wheel gives.
    pub right_share: f64,
    /// Height of the centre of gravity above the ground, if it is known.
    pub gravity_z_m: Option<f64>,
}

/// Where the pull takes hold of the tractor.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Pin {
    /// Place.
    pub at: TopPoint,
    /// Height above the land.
    pub z_m: f64,
}

/// How the wheels carry sideways.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct AcrossLoads {
    /// Load of the left rear wheel.
    pub left_rear_n: f64,
    /// Load of the right rear wheel; at or below 0 the wheel is off the ground.
    pub right_rear_n: f64,
    /// Where the resultant of all wheel loads is, left of the tractor's middle.
    pub shift_y_m: f64,
}

/// What follows for the tractor.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct TractorForces {
    /// Load of the front axle under pull.
    pub front_axle_n: f64,
    /// Load of the rear axle under pull.
    pub rear_axle_n: f64,
    /// Centre of gravity ahead of the rear axle, standing.
    pub standing_centre_m: f64,
    /// The dynamic one.
    pub dynamic_centre_m: f64,
    /// Loads across, if the height of the centre of gravity is known.
    pub across: Option<AcrossLoads>,
    /// d: the line of pull at the dynamic centre of gravity, left of the tractor's middle.
    pub line_offset_m: f64,
    /// d*: where it would turn the tractor neither way.
    pub target_offset_m: f64,
    /// P_x·(d − d*), left turn positive.
    pub turning_n_m: f64,
    /// What the front wheels are held over for, left positive: −turning over wheelbase.
    pub held_over_n: f64,
    /// Whole side force of the ground on the front wheels, left positive.
    pub front_side_n: f64,
    /// The same on the rear wheels.
    pub rear_side_n: f64,
    /// Forward push of the left drive wheel.
    pub left_drive_n: f64,
    /// Forward push of the right drive wheel.
    pub right_drive_n: f64,
}

impl Tractor {
    /// d*, in m left of the tractor's middle.
    #[must_use]
    pub fn target_offset_m(&self) -> f64 {
        -(self.track_m / 2.0) * (2.0 * self.right_share - 1.0)
    }

    /// Forces on the tractor under the pull that `pull` is for the plow; on the tractor it acts the other way.
    ///
    /// # Errors
    /// [`TopError::FrontLifts`], [`TopError::NotFinite`].
    pub fn forces(&self, pin: Pin, pull: PullParts) -> Result<TractorForces, TopError> {
        let (wheelbase_m, behind_m) = (self.wheelbase_m, self.hitch_behind_m);
        let (right, left) = (self.right_share, 1.0 - self.right_share);
        let drive_z_m = left * self.left_ground_z_m + right * self.right_ground_z_m;
        // Pull at its height over the drive wheels' contact, and its downward part behind the rear axle.
        let lifted_n_m = pull.x_n * (pin.z_m - drive_z_m) + pull.z_n * behind_m;
        let front_axle_n = self.front_axle_n - lifted_n_m / wheelbase_m;
        let whole_n = self.front_axle_n + self.rear_axle_n + pull.z_n;
        let rear_axle_n = whole_n - front_axle_n;
        let dynamic_centre_m = wheelbase_m * front_axle_n / whole_n;
        let pin_off_m = pin.at.y_m - self.middle_y_m;
        let lead = if pull.x_n == 0.0 { 0.0 } else { pull.y_n / pull.x_n };
        let line_offset_m = pin_off_m + lead * (behind_m + dynamic_centre_m);
        let target_offset_m = self.target_offset_m();
        let turning_n_m = pull.x_n * (line_offset_m - target_offset_m);
        let held_over_n = -turning_n_m / wheelbase_m;
        let front_side_n = pull.y_n * dynamic_centre_m / wheelbase_m + held_over_n;
        if !(front_side_n.is_finite() && rear_axle_n.is_finite()) {
            return Err(TopError::NotFinite);
        }
        if front_axle_n <= 0.0 {
            return Err(TopError::FrontLifts { front_n: front_axle_n });
        }
        Ok(TractorForces {
            front_axle_n,
            rear_axle_n,
            standing_centre_m: wheelbase_m * self.front_axle_n / (self.front_axle_n + self.rear_axle_n),
            dynamic_centre_m,
            across: self.gravity_z_m.map(|z_m| self.across(z_m, pin, pull, whole_n, rear_axle_n)),
            line_offset_m,
            target_offset_m,
            turning_n_m,
            held_over_n,
            front_side_n,
            rear_side_n: pull.y_n - front_side_n,
            left_drive_n: left * pull.x_n,
            right_drive_n: right * pull.x_n,
        })
    }

    /// Moments about the tractor's long axis. Sideways the ground is taken to hold the wheels at its middle height,
    /// and the front axle to swing on its pin, so that the rear wheels alone carry the difference.
    fn across(&self, z_m: f64, pin: Pin, pull: PullParts, whole_n: f64, rear_axle_n: f64) -> AcrossLoads {
        let standing_n = self.front_axle_n + self.rear_axle_n;
        let (left_z_m, right_z_m) = (self.left_ground_z_m, self.right_ground_z_m);
        let lean_m = z_m * (left_z_m - right_z_m) / self.track_m;
        let side_arm_m = pin.z_m - (left_z_m + right_z_m) / 2.0;
        let pin_off_m = pin.at.y_m - self.middle_y_m;
        let leftward_n_m = pin_off_m * pull.z_n - standing_n * lean_m - side_arm_m * pull.y_n;
        let half_m = self.track_m / 2.0;
        AcrossLoads {
            left_rear_n: (rear_axle_n + leftward_n_m / half_m) / 2.0,
            right_rear_n: (rear_axle_n - leftward_n_m / half_m) / 2.0,
            shift_y_m: leftward_n_m / whole_n,
        }
    }

    /// Every horizontal force on the tractor.
    #[must_use]
    pub fn force_list(&self, pin: Pin, pull: PullParts, forces: &TractorForces) -> Vec<TopForce> {
        let rear_x_m = pin.at.x_m + self.hitch_behind_m;
        let at = |x_m: f64, off_m: f64| TopPoint { x_m, y_m: self.middle_y_m + off_m };
        let half_m = self.track_m / 2.0;
        let force = |kind, at, x_n, y_n| TopForce { kind, at, x_n, y_n };
        vec![
            force(TopForceKind::Pull, pin.at, -pull.x_n, -pull.y_n),
            force(TopForceKind::LeftDrive, at(rear_x_m, half_m), forces.left_drive_n, 0.0),
            force(TopForceKind::RightDrive, at(rear_x_m, -half_m), forces.right_drive_n, 0.0),
            force(TopForceKind::FrontAxle, at(rear_x_m + self.wheelbase_m, 0.0), 0.0, forces.front_side_n),
            force(TopForceKind::RearAxle, at(rear_x_m, 0.0), 0.0, forces.rear_side_n),
        ]
    }
}
