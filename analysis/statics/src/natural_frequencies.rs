//! Frequencies at which a plow would swing on its wheels, from its weight, geometry and springs.

use super::inputs::{POINT_HALF_WIDTH_M, WEIGHT_HALF_WIDTH_SHARE};
use ingest::plow::Plow;
use ingest::quantity::{Force, Length, Measured, SpringRate};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};
use schemars::JsonSchema;
use serde::Serialize;
use stats::Estimate;
use stats::student::Z_975;
use std::f64::consts::TAU;

/// Standard acceleration of free fall, m/s² (ISO 80000-3).
const STANDARD_GRAVITY: f64 = 9.806_65;
/// Radius of gyration in pitch over the wheelbase (by choice: weight all in the middle, or in a frame as long as the
/// wheelbase and heavy at its ends).
const GYRATION_SHARE: (f64, f64) = (0.2, 0.45);
/// Stiffness of the front wheels together on the land, N/m (by choice: from soft tires to steel rims on firm land).
const FRONT_N_PER_M: (f64, f64) = (1e5, 2e6);
/// The slope of a load table is known to this share (by choice; half of a 95 % interval).
const SPRING_HALF_WIDTH_SHARE: f64 = 0.1;
const DRAWS: usize = 1000;
/// Seed of the draws.
pub const FREQUENCIES_SEED: u64 = 0x5EED;

/// The two undamped natural frequencies of the plow as a plane rigid body on its wheels; the soil at the bottoms,
/// which holds and damps it, is left out.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
pub struct ExpectedFrequencies {
    /// The lower, in which the tail spring has most say, Hz.
    pub lower_hz: Estimate,
    /// The upper, in which the front wheels have, Hz.
    pub upper_hz: Estimate,
}

/// What a frequency can be, by those to be expected.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum SwingsAs {
    /// The plow on its tail spring.
    OnTailSpring,
    /// The plow on its front wheels.
    OnFrontWheels,
    /// Either.
    OnEither,
    /// Neither.
    Neither,
}

impl ExpectedFrequencies {
    /// What a measured frequency agrees with: its interval and the one to be expected overlap.
    pub fn told(&self, measured_hz: &Estimate) -> SwingsAs {
        let overlaps = |e: &Estimate| measured_hz.low <= e.high && e.low <= measured_hz.high;
        match (overlaps(&self.lower_hz), overlaps(&self.upper_hz)) {
            (true, true) => SwingsAs::OnEither,
            (true, false) => SwingsAs::OnTailSpring,
            (false, true) => SwingsAs::OnFrontWheels,
            (false, false) => SwingsAs::Neither,
        }
    }
}

/// Both natural frequencies, Hz, the lower first, of M q″ + K q = 0 with symmetric 2 × 2 matrices given as
/// (11, 12, 22); roots of det(K − ω² M) = 0 (e.g. Thomson, Theory of Vibration, two degrees of freedom). `None`
/// where one of them does not swing.
pub fn natural_hz(mass: [f64; 3], stiffness: [f64; 3]) -> Option<(f64, f64)> {
    let ([m11, m12, m22], [k11, k12, k22]) = (mass, stiffness);
    let a = m11 * m22 - m12 * m12;
    let half_b = 0.5 * (m11 * k22 + m22 * k11 - 2.0 * m12 * k12);
    let c = k11 * k22 - k12 * k12;
    let root = (half_b * half_b - a * c).max(0.0).sqrt();
    let larger = (half_b + root) / a;
    let smaller = c / (half_b + root);
    let swings = smaller > 0.0 && larger.is_finite();
    swings.then(|| (smaller.sqrt() / TAU, larger.sqrt() / TAU))
}

/// Natural frequencies, Hz, of a plane body of `mass_kg` and radius of gyration `gyration` about its center of
/// gravity, on springs, each at a place (from the center of gravity) with a stiffness.
pub fn plane_body_hz(mass_kg: f64, gyration: Length, springs: &[(Length, SpringRate)]) -> Option<(f64, f64)> {
    let sum = |power: i32| springs.iter().map(|(x, k)| k.n_per_m() * x.m().powi(power)).sum::<f64>();
    let gyration_m = gyration.m();
    natural_hz([mass_kg, 0.0, mass_kg * gyration_m * gyration_m], [sum(0), sum(1), sum(2)])
}

/// Frequencies to be expected of `plow` while its tail wheel carries `tail_load`; `None` without front wheels or a
/// load table. Monte Carlo over what was measured, and over the stated ranges of what was not.
pub fn expected_frequencies(plow: &Plow, tail_load: Force) -> Option<ExpectedFrequencies> {
    plow.front.wheels()?;
    let wheel = plow.tail.wheel()?;
    // The table's slope about the working load: a tenth of the load to both sides.
    let (low_n, high_n) = (0.9 * tail_load.n(), 1.1 * tail_load.n());
    let slope_n_per_m =
        (high_n - low_n) / (wheel.load_table.deflection_m(high_n) - wheel.load_table.deflection_m(low_n));
    if !(slope_n_per_m.is_finite() && slope_n_per_m > 0.0) {
        return None;
    }
    let (weight, weight_place, tail_place) = (&plow.weight.total, &plow.weight.x, &wheel.x);
    let weight_sd = weight.standard_uncertainty(Force::from_n(WEIGHT_HALF_WIDTH_SHARE * weight.si()));
    let place_sd = |place: &Measured<Length>| place.standard_uncertainty(Length::from_m(POINT_HALF_WIDTH_M));
    let mut rng = ChaCha8Rng::seed_from_u64(FREQUENCIES_SEED);
    let (mut lower, mut upper) = (Vec::new(), Vec::new());
    let at = |rng: &mut ChaCha8Rng, gyration: f64, ln_front: f64, scatter: bool| {
        let mut z = || -> f64 { if scatter { StandardNormal.sample(rng) } else { 0.0 } };
        let mass_kg = (weight.si() + weight_sd * z()) / STANDARD_GRAVITY;
        let x_w = weight_place.si() + place_sd(weight_place) * z();
        let x_t = tail_place.si() + place_sd(tail_place) * z();
        let tail = slope_n_per_m * (1.0 + SPRING_HALF_WIDTH_SHARE / Z_975 * z());
        let springs = [spring(-x_w, ln_front.exp()), spring(x_t - x_w, tail)];
        plane_body_hz(mass_kg, Length::from_m(gyration * x_t.abs()), &springs)
    };
    let (front_low, front_high) = (FRONT_N_PER_M.0.ln(), FRONT_N_PER_M.1.ln());
    for _ in 0..DRAWS {
        let gyration = GYRATION_SHARE.0 + (GYRATION_SHARE.1 - GYRATION_SHARE.0) * rng.random::<f64>();
        let ln_front = front_low + (front_high - front_low) * rng.random::<f64>();
        let (low_hz, high_hz) = at(&mut rng, gyration, ln_front, true).unzip();
        lower.extend(low_hz);
        upper.extend(high_hz);
    }
    let middle = (0.5 * (GYRATION_SHARE.0 + GYRATION_SHARE.1), 0.5 * (front_low + front_high));
    let (low_hz, high_hz) = at(&mut rng, middle.0, middle.1, false)?;
    Some(ExpectedFrequencies {
        lower_hz: Estimate::from_draws(low_hz, &lower)?,
        upper_hz: Estimate::from_draws(high_hz, &upper)?,
    })
}

fn spring(x_m: f64, n_per_m: f64) -> (Length, SpringRate) {
    (Length::from_m(x_m), SpringRate::from_n_per_m(n_per_m))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn close(got_hz: f64, wanted_rad_per_s: f64, share: f64) {
        let got = TAU * got_hz;
        assert!((got / wanted_rad_per_s - 1.0).abs() < share, "{got} instead of {wanted_rad_per_s}");
    }

    /// An automobile of 1000 kg (Rao, Mechanical Vibrations, frequencies of an automobile; figures from memory,
    /// recomputed).
    #[test]
    fn an_automobile_of_rao() {
        let springs = [spring(1.0, 18e3), spring(-1.5, 22e3)];
        let (low, high) = plane_body_hz(1000.0, Length::from_m(0.9), &springs).unwrap();
        close(low, 5.8593, 1e-4);
        close(high, 9.4341, 1e-4);
    }

    /// An automobile of 3220 lb (Thomson, Theory of Vibration; figures from memory, recomputed); slugs and feet.
    #[test]
    fn an_automobile_of_thomson() {
        let mass = 3220.0 / 32.2;
        let gyration = Length::from_m((1600.0_f64 / mass).sqrt());
        let springs = [spring(4.5, 2400.0), spring(-5.5, 2600.0)];
        let (low, high) = plane_body_hz(mass, gyration, &springs).unwrap();
        close(low, 6.8994, 1e-4);
        close(high, 9.0515, 1e-4);
    }

    /// A quarter of a car (Automotive Chassis Engineering, chapter 3.13): 7.87 and 68.73 rad/s.
    #[test]
    fn a_quarter_of_a_car() {
        let (spring, tire) = (22e3, 192e3);
        let (low, high) = natural_hz([317.5, 0.0, 45.4], [spring, -spring, spring + tire]).unwrap();
        close(low, 7.87, 0.005);
        close(high, 68.73, 0.005);
    }

    /// A body right over a spring that it compresses by 25 mm: √(g/δ)/2π.
    #[test]
    fn a_static_deflection_of_25_mm() {
        let k = STANDARD_GRAVITY * 100.0 / 0.025;
        let (low, high) = natural_hz([100.0, 0.0, 1.0], [k, 0.0, 1e9]).unwrap();
        assert!((low - 3.15218).abs() < 2e-5 && high > low, "{low}");
    }

    #[test]
    fn what_is_measured_is_told_by_what_it_overlaps() {
        let around = |hz: f64, half: f64| Estimate::around(hz, half).unwrap();
        let expected = ExpectedFrequencies { lower_hz: around(3.0, 0.4), upper_hz: around(6.0, 1.0) };
        assert_eq!(expected.told(&around(3.2, 0.1)), SwingsAs::OnTailSpring);
        assert_eq!(expected.told(&around(5.5, 0.1)), SwingsAs::OnFrontWheels);
        assert_eq!(expected.told(&around(4.0, 1.2)), SwingsAs::OnEither);
        assert_eq!(expected.told(&around(1.2, 0.3)), SwingsAs::Neither);
    }

    #[test]
    fn the_virtual_plow_swings_where_it_is_expected() {
        let toml = sample_runs::plow::Plow::TWO_BOTTOM_TOML;
        let plow = ingest::plow::read_plow_text(toml, std::path::Path::new("two-bottom.toml")).unwrap();
        let found = expected_frequencies(&plow, Force::from_n(500.0)).unwrap();
        println!("{found:?}");
        assert!(found.lower_hz.low > 0.5 && found.lower_hz.high < 6.0, "{found:?}");
        assert!(found.upper_hz.value > found.lower_hz.value, "{found:?}");
    }
}
