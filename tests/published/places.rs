//! The straight way between two places against published and independently computed values.

use hitchwright_tests::data::{cases, close, number, numbers};
use signals::straight_m;

/// Length of a degree of latitude and of longitude by the series for WGS-84 that navigation handbooks print, in m:
/// 111132.92 − 559.82 cos 2φ + 1.175 cos 4φ − 0.0023 cos 6φ, and 111412.84 cos φ − 93.5 cos 3φ + 0.118 cos 5φ
/// (the second from memory). Rounded as they are, the two are good to a decimetre.
#[test]
fn the_length_of_a_degree() {
    for lat_deg in [0.0f64, 15.0, 30.0, 45.0, 60.0, 75.0] {
        let phi = lat_deg.to_radians();
        let north_m =
            111_132.92 - 559.82 * (2.0 * phi).cos() + 1.175 * (4.0 * phi).cos() - 0.0023 * (6.0 * phi).cos();
        let east_m = 111_412.84 * phi.cos() - 93.5 * (3.0 * phi).cos() + 0.118 * (5.0 * phi).cos();
        let step = 0.001;
        let north = straight_m((lat_deg - step / 2.0, 7.0), (lat_deg + step / 2.0, 7.0)) / step;
        let east = straight_m((lat_deg, 7.0), (lat_deg, 7.0 + step)) / step;
        assert!((north - north_m).abs() < 0.1, "at {lat_deg}: {north} not {north_m}");
        assert!((east - east_m).abs() < 0.1, "at {lat_deg}: {east} not {east_m}");
    }
}

/// Geodesics by a reference library (Karney 2013, J. Geodesy 87, 43–55), one of them across the date line.
#[test]
fn ways_as_long_as_a_furrow() {
    let cases = cases("/places");
    assert_eq!(cases.len(), 5);
    for case in cases {
        let [lat, lon, other_lat, other_lon] = numbers(&case, "/ends_deg")[..] else { panic!("{case}") };
        let found = straight_m((lat, lon), (other_lat, other_lon));
        close(found, number(&case, "/m"), 1e-6, &format!("{case}"));
    }
}
