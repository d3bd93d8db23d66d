//! Where the receiver is, and how fast.

/// Speed against time: straight between points, constant before the first and after the last.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct SpeedProfile {
    /// In m/s, up to the first point.
    first_mps: f64,
    /// Time in s and speed in m/s.
    points: Vec<(f64, f64)>,
}

impl SpeedProfile {
    /// Points `(time in s, speed in m/s)`; `None` unless there is one or more, times rise from 0 or above,
    /// and speeds are 0 or more and below 50.
    pub(super) fn new(points: Vec<(f64, f64)>) -> Option<Self> {
        let rising = points.windows(2).all(|two| two.first().map(|a| a.0) < two.last().map(|b| b.0));
        let sound = points.iter().all(|(t, v)| (0.0..86_400.0).contains(t) && (0.0..50.0).contains(v));
        let first_mps = points.first()?.1;
        (rising && sound).then_some(Self { first_mps, points })
    }

    /// Speed in m/s and the way from second 0 in m.
    pub(super) fn at(&self, t_s: f64) -> (f64, f64) {
        let mut distance_m = 0.0;
        let (mut from_s, mut speed) = (0.0, self.first_mps);
        for (to_s, to_speed) in &self.points {
            if t_s <= *to_s {
                let share = if *to_s > from_s { (t_s - from_s) / (to_s - from_s) } else { 1.0 };
                let here = speed + share * (to_speed - speed);
                return (here, distance_m + 0.5 * (speed + here) * (t_s - from_s));
            }
            distance_m += 0.5 * (speed + to_speed) * (to_s - from_s);
            (from_s, speed) = (*to_s, *to_speed);
        }
        (speed, distance_m + speed * (t_s - from_s))
    }
}

/// Course of the furrow, in degrees clockwise from north.
pub(super) const COURSE_DEG: f64 = 80.0;

/// A straight furrow on the ellipsoid WGS 84 from a point in the middle of an ocean.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Track {
    course_rad: f64,
    deg_per_m_north: f64,
    deg_per_m_east: f64,
}

/// 30° N 40° W: the North Atlantic, some 2,000 km from any land. Nobody plows there.
const START_DEG: (f64, f64) = (30.0, -40.0);

impl Track {
    /// A furrow with this course, in degrees clockwise from north.
    ///
    /// Degrees per metre by the two radii of curvature at the start (semi-major axis and flattening of
    /// WGS 84, NIMA TR8350.2, from memory); over the few hundred metres of a pass the rest is below 1 mm.
    pub(super) fn new(course_deg: f64) -> Self {
        let (a_m, flattening) = (6_378_137.0, 1.0 / 298.257_223_563);
        let e2 = flattening * (2.0 - flattening);
        let lat = f64::to_radians(START_DEG.0);
        let w2 = 1.0 - e2 * lat.sin().powi(2);
        let north_m = a_m * (1.0 - e2) / w2.powf(1.5);
        let east_m = a_m / w2.sqrt() * lat.cos();
        Self {
            course_rad: course_deg.to_radians(),
            deg_per_m_north: north_m.recip().to_degrees(),
            deg_per_m_east: east_m.recip().to_degrees(),
        }
    }

    /// Latitude and longitude in degrees after this way in m.
    pub(super) fn at(&self, distance_m: f64) -> (f64, f64) {
        let (sin, cos) = self.course_rad.sin_cos();
        (
            START_DEG.0 + distance_m * cos * self.deg_per_m_north,
            START_DEG.1 + distance_m * sin * self.deg_per_m_east,
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_way_is_the_area_under_the_speed() {
        let profile = SpeedProfile::new(vec![(2.0, 0.0), (4.0, 1.6), (10.0, 1.6), (12.0, 0.0)]).unwrap();
        for (t_s, speed, distance_m) in [
            (1.0, 0.0, 0.0),
            (3.0, 0.8, 0.4),
            (4.0, 1.6, 1.6),
            (10.0, 1.6, 11.2),
            (12.0, 0.0, 12.8),
            (99.0, 0.0, 12.8),
        ] {
            let (v, m) = profile.at(t_s);
            assert!((v - speed).abs() < 1e-12 && (m - distance_m).abs() < 1e-12, "{t_s}: {v} {m}");
        }
        assert_eq!(SpeedProfile::new(vec![(0.0, 1.6)]).unwrap().at(10.0), (1.6, 16.0));
        for wrong in [vec![], vec![(1.0, 1.0), (1.0, 2.0)], vec![(0.0, -1.0)], vec![(0.0, f64::NAN)]] {
            assert_eq!(SpeedProfile::new(wrong), None);
        }
    }

    /// One degree of latitude at 30° is 110.852 km, of longitude 96.486 km (tables of WGS 84 degree lengths,
    /// common in handbooks, from memory).
    #[test]
    fn degrees_have_their_lengths() {
        let (north, east) = (Track::new(0.0).at(110_852.0), Track::new(90.0).at(96_486.0));
        assert!((north.0 - 31.0).abs() < 1e-4 && (north.1 + 40.0).abs() < 1e-9, "{north:?}");
        assert!((east.0 - 30.0).abs() < 1e-9 && (east.1 + 39.0).abs() < 1e-4, "{east:?}");
    }
}
