//! Plows at random, of any kind, for checks that must hold whatever the plow.

#![allow(clippy::unwrap_used, reason = "a helper of tests fails as a test does")]

use ingest::quantity::{Force, Length};
use rand::{Rng, RngExt};
use statics::side::{Carrier, Point, SideView};

fn between(rng: &mut impl Rng, low: f64, high: f64) -> f64 {
    low + (high - low) * rng.random::<f64>()
}

fn point(x_m: f64, z_m: f64) -> Point {
    Point { x: Length::from_m(x_m), z: Length::from_m(z_m) }
}

/// A wheel, a heel, or a pin that resists nothing, on the land, in the furrow or above.
fn carrier(rng: &mut impl Rng, x_m: f64) -> Carrier {
    let at = point(x_m + between(rng, -0.01, 0.01), between(rng, -0.3, 0.6));
    let slides = rng.random::<bool>();
    Carrier { at, resistance: if slides { between(rng, 0.0, 0.5) } else { 0.0 } }
}

/// A plow of any kind in the side view, its carriers loaded or not.
pub fn random_plow(rng: &mut impl Rng) -> SideView {
    let tail_x_m = between(rng, -4.0, -1.0);
    let weight_n = between(rng, 1_000.0, 20_000.0);
    let plow_hitch = point(between(rng, -0.2, 0.8), between(rng, 0.05, 0.6));
    SideView {
        weight: Force::from_n(weight_n),
        weight_x: Length::from_m(tail_x_m * between(rng, 0.1, 0.9)),
        front: carrier(rng, 0.0),
        tail: carrier(rng, tail_x_m),
        plow_hitch,
        tractor_hitch: point(plow_hitch.x.m() + between(rng, 0.5, 2.5), between(rng, 0.1, 0.8)),
        soil_at: point(between(rng, -2.0, -0.2), between(rng, -0.3, 0.0)),
        soil_slope: between(rng, -0.3, 0.3),
        soil_draft: Force::from_n(weight_n * between(rng, 0.0, 2.0)),
    }
}
