//! Bobbing against a plane rigid body on two sprung wheels, solved here by itself: two modes a Hertz apart, and land
//! that passes under the front wheels and then under the tail wheel. Its modes are worked out in
//! `tests/reference/make_reference.py`.

use crate::summary;
use analysis::summary::Summary;
use hitchwright_tests::data::{number, reference};
use hitchwright_tests::run_in_memory::run_in_memory;
use ingest::plow::{ChannelRole, read_plow_text};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use signals::run::Table;
use stats::Estimate;
use std::path::Path;

const RATE_HZ: f64 = 200.0;
/// Steps of the solution in a reading; 0.2 ms.
const STEPS: usize = 25;
const WORKING_S: f64 = 124.0;
/// State before work, so that the working part is found.
const STANDING_S: f64 = 15.0;
const MEAN_TAIL_N: f64 = 2500.0;
const STIFFNESS_N_PER_M: f64 = 25_000.0;

struct HalfCar {
    mass_kg: f64,
    gyration_m: f64,
    front_m: f64,
    tail_m: f64,
    speed_mps: f64,
    front: (f64, f64),
    tail: (f64, f64),
}

impl HalfCar {
    fn stored() -> Self {
        let all = reference();
        let at = |name: &str| number(&all, &format!("/half_car/{name}"));
        Self {
            mass_kg: at("mass_kg"),
            gyration_m: at("gyration_m"),
            front_m: at("front_m"),
            tail_m: at("tail_m"),
            speed_mps: at("speed_mps"),
            front: (at("front_n_per_m"), at("front_n_s_per_m")),
            tail: (at("tail_n_per_m"), at("tail_n_s_per_m")),
        }
    }

    /// What the tail wheel carries more than at rest, N, reading by reading.
    fn tail_load_n(&self, rows: usize, seed: u64) -> Vec<f64> {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        let mut normal = || (0..12).map(|_| rng.random::<f64>()).sum::<f64>() - 6.0;
        let dt = 1.0 / RATE_HZ / STEPS as f64;
        let delay = ((self.front_m + self.tail_m) / self.speed_mps / dt).round() as usize;
        let (slow, fast) = (std::f64::consts::TAU * 0.3, std::f64::consts::TAU * 6.0);
        // Land and its rate under the front wheels; a spread of 8 mm before it is smoothed.
        let decay = (-slow * dt).exp();
        let (mut rough, mut height) = (0.0, 0.0);
        let mut land = Vec::new();
        let (mut z, mut turn, mut z_rate, mut turn_rate) = (0.0, 0.0, 0.0, 0.0);
        let lead = (30.0 * RATE_HZ) as usize;
        let mut out = Vec::with_capacity(rows);
        for row in 0..lead + rows {
            let mut load = 0.0;
            for _ in 0..STEPS {
                rough = decay * rough + 0.008 * (1.0 - decay * decay).sqrt() * normal();
                let rate = fast * (rough - height);
                height += dt * rate;
                land.push((height, rate));
                let (front, tail) = (land[land.len() - 1], land[land.len().saturating_sub(1 + delay)]);
                let force = |(k, c): (f64, f64), (h, h_rate): (f64, f64), at: f64| {
                    k * (h - z - at * turn) + c * (h_rate - z_rate - at * turn_rate)
                };
                let on_front = force(self.front, front, self.front_m);
                load = force(self.tail, tail, -self.tail_m);
                z_rate += dt * (on_front + load) / self.mass_kg;
                turn_rate += dt * (self.front_m * on_front - self.tail_m * load)
                    / (self.mass_kg * self.gyration_m.powi(2));
                z += dt * z_rate;
                turn += dt * turn_rate;
            }
            if row >= lead {
                out.push(load);
            }
        }
        out
    }

    /// What is told of one pass.
    fn told(&self, seed: u64) -> Summary {
        let standing = (STANDING_S * RATE_HZ) as usize;
        let working = (WORKING_S * RATE_HZ) as usize;
        let swing = self.tail_load_n(working, seed);
        let mut rng = ChaCha8Rng::seed_from_u64(seed ^ 0xF1E1D);
        let mut table = Table::default();
        let mut put = |role: ChannelRole, value: f64| table.channels.entry(role).or_default().push(value);
        for row in 0..standing + working {
            let works = row >= standing;
            let at_work = |value: f64| if works { value } else { 0.0 };
            let tail_n = MEAN_TAIL_N + if works { swing[row - standing] } else { 0.0 };
            put(ChannelRole::Tail, 1000.0 * tail_n / STIFFNESS_N_PER_M + 0.02 * (rng.random::<f64>() - 0.5));
            put(ChannelRole::Pull, at_work(8000.0) + 200.0 * (rng.random::<f64>() - 0.5));
            put(ChannelRole::Depth, at_work(180.0) + rng.random::<f64>());
            put(ChannelRole::Speed, at_work(self.speed_mps) + 0.01 * rng.random::<f64>());
        }
        table.t_s = (0..standing + working).map(|row| row as f64 / RATE_HZ).collect();
        let text = include_str!("../support/plow.toml")
            .replace("\"-1.90 m\"", &format!("\"{:.2} m\"", -(self.front_m + self.tail_m)))
            .replace("[\"100 mm\", \"2500 N\"]", "[\"400 mm\", \"10000 N\"]");
        let plow = read_plow_text(&text, Path::new("half-car.toml")).unwrap();
        summary(run_in_memory(format!("half-car-{seed}"), plow, "as-found", table))
    }
}

/// Passes whose bobbing holds the strongest mode, whose intervals all hold the other one as well, and in which the
/// other is reported.
fn study(seeds: std::ops::Range<u64>) -> [usize; 3] {
    let all = reference();
    let of = |mode: usize, key: &str| number(&all, &format!("/half_car/modes/{mode}/{key}"));
    let strongest = usize::from(of(1, "rms_n") >= of(0, "rms_n"));
    let [strongest_hz, other_hz] = [strongest, 1 - strongest].map(|mode| of(mode, "natural_hz"));
    let car = HalfCar::stored();
    let (mut held, mut other, mut beside) = (0, 0, 0);
    for seed in seeds {
        let said = car.told(seed);
        let Some(bobbing) = said.bobbing else { continue };
        let hz = bobbing.frequency_hz;
        let further_hz: Vec<Estimate> = bobbing.further_modes.iter().map(|mode| mode.frequency_hz).collect();
        print!("{seed}:");
        for hz in std::iter::once(&hz).chain(&further_hz) {
            print!(" {:.2} ({:.2} to {:.2}) Hz", hz.value, hz.low, hz.high);
        }
        println!("{} {:?}", if bobbing.poor_fit { " poor" } else { "" }, said.bobbing_notes);
        held += usize::from(hz.holds(strongest_hz));
        beside += usize::from(!further_hz.is_empty());
        other += usize::from(further_hz.iter().any(|hz| hz.holds(other_hz)));
    }
    println!(
        "strongest ({strongest_hz:.2} Hz) held {held}; further modes in {beside}, {other_hz:.2} Hz held in {other}"
    );
    [held, beside, other]
}

#[test]
fn the_interval_holds_the_stronger_of_two_modes() {
    let [held, ..] = study(1..9);
    // Of 8 intervals that each hold with 95 % chance, fewer than 6 hold in one study of 170.
    assert!(held >= 6, "{held} of 8");
}

#[test]
#[ignore = "30 passes of two minutes take half a minute"]
fn thirty_passes() {
    let [held, beside, other] = study(101..131);
    assert!(held >= 28, "{held} of 30");
    // 19 and 15 were reached.
    assert!(beside >= 15 && other >= 12, "further modes in {beside}, the other mode held in {other}, of 30");
}
