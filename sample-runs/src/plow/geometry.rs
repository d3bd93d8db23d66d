//! Points on the plow and where they go when it heaves and pitches.

/// A point in the side view: x forward of the front wheel axle, z above the land surface, in metres.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Point {
    /// Forward of the front wheel axle, in m.
    pub x_m: f64,
    /// Above the land surface, in m.
    pub z_m: f64,
}

/// How far the plow has moved from the pose it was measured in (at working depth on a level floor).
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Pose {
    /// Rise of the point where the weight acts, in m.
    pub heave_m: f64,
    /// Turn about the y axis, nose down positive, in rad.
    pub nose_down_rad: f64,
}

impl Pose {
    /// Where a point of the plow is now, given where it was measured; the plow turns about `centre`.
    #[must_use]
    pub fn place(&self, centre: Point, measured: Point) -> Point {
        self.placed(centre)(measured)
    }

    /// [`Pose::place`] for several points: the angle's sine and cosine are worked out once.
    pub(super) fn placed(&self, centre: Point) -> impl Fn(Point) -> Point + use<> {
        let (sin, cos) = self.nose_down_rad.sin_cos();
        let heave_m = self.heave_m;
        move |measured| {
            let (dx, dz) = (measured.x_m - centre.x_m, measured.z_m - centre.z_m);
            Point { x_m: centre.x_m + dx * cos + dz * sin, z_m: centre.z_m + heave_m - dx * sin + dz * cos }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const CENTRE: Point = Point { x_m: -0.6, z_m: 0.4 };

    #[test]
    fn nose_down_lowers_what_is_ahead_and_raises_what_is_behind() {
        let pose = Pose { heave_m: 0.0, nose_down_rad: 0.01 };
        assert!(pose.place(CENTRE, Point { x_m: 0.0, z_m: 0.4 }).z_m < 0.4);
        assert!(pose.place(CENTRE, Point { x_m: -1.9, z_m: 0.4 }).z_m > 0.4);
    }

    #[test]
    fn distances_to_the_centre_stay() {
        let pose = Pose { heave_m: 0.05, nose_down_rad: 0.3 };
        let moved = pose.place(CENTRE, Point { x_m: 0.3, z_m: 0.1 });
        let before = (0.9f64).hypot(-0.3);
        let after = (moved.x_m - CENTRE.x_m).hypot(moved.z_m - CENTRE.z_m - 0.05);
        assert!((before - after).abs() < 1e-12);
    }
}
