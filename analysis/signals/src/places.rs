//! The straight way between two places on the earth.

/// Semi-major axis in m and flattening of the WGS-84 ellipsoid (NIMA TR8350.2, 3rd edition, table 3.1).
const AXIS_M: f64 = 6_378_137.0;
const FLATTENING: f64 = 1.0 / 298.257_223_563;

/// Distance between two places in m, each latitude and longitude in degrees.
///
/// By the radii of curvature of the ellipsoid at the middle latitude (meridian M = a(1−e²)/w³, prime vertical
/// N = a/w, w² = 1 − e² sin²φ; Snyder 1987, USGS Professional Paper 1395, 24–25). For a field's length: right to
/// 1e-6 up to some km. The great circle on a sphere, which lost, is off by up to 0.5 % with the direction.
#[must_use]
pub fn straight_m(from_deg: (f64, f64), to_deg: (f64, f64)) -> f64 {
    let e2 = FLATTENING * (2.0 - FLATTENING);
    let middle = (0.5 * (from_deg.0 + to_deg.0)).to_radians();
    let w2 = 1.0 - e2 * middle.sin().powi(2);
    let north_m = AXIS_M * (1.0 - e2) / w2.powf(1.5) * (to_deg.0 - from_deg.0).to_radians();
    // Across the date line the short way is taken.
    let turn_deg = (to_deg.1 - from_deg.1 + 540.0).rem_euclid(360.0) - 180.0;
    let east_m = AXIS_M / w2.sqrt() * middle.cos() * turn_deg.to_radians();
    north_m.hypot(east_m)
}
