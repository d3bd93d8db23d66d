//! Tail deflection of the virtual plow, with and without a fault.

use rand::{Rng, RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};
use rayon::prelude::*;
use sample_runs::plow::{Case, Pass};
use std::sync::LazyLock;

pub(super) const RATE_HZ: f64 = 50.0;
/// Of the virtual plow's tail sensor.
const NOISE_MM: f64 = 0.08;
const WORKING_S: f64 = 60.0;
const TRIM_S: f64 = 2.0;

/// What the spring of the tail wheel gives in 56 s of work, without noise. A stop at `stop_mm` is the plow's own:
/// it feels it.
pub(super) fn spring_mm(case: Case, seed: u64, stop_mm: f64) -> Vec<f64> {
    let mut spec = case.pass(seed, WORKING_S);
    spec.plow.tail.stop_compression_m = stop_mm / 1000.0;
    let mut pass = Pass::new(&spec);
    pass.advance(spec.times.working_from_s() + TRIM_S);
    let rows = ((WORKING_S - 2.0 * TRIM_S) * RATE_HZ) as usize;
    (0..rows)
        .map(|_| {
            pass.advance(1.0 / RATE_HZ);
            pass.state().tail_mm
        })
        .collect()
}

/// Passes without a stop, 30 of each case: all tests look at the same.
pub(super) static FREE: LazyLock<Vec<Free>> = LazyLock::new(|| {
    let all: Vec<(Case, u64)> =
        Case::ALL.into_iter().flat_map(|case| (1..=30).map(move |seed| (case, seed))).collect();
    let pass = |&(case, seed): &(Case, u64)| Free { case, seed, mm: spring_mm(case, seed, f64::INFINITY) };
    all.par_iter().map(pass).collect()
});

/// One of them.
pub(super) struct Free {
    pub case: Case,
    pub seed: u64,
    pub mm: Vec<f64>,
}

impl Free {
    /// As the sensor reads another deflection in this pass.
    pub fn read(&self, mm: &[f64]) -> Vec<f64> {
        with_noise(mm, self.seed)
    }
}

/// As the sensor reads it.
fn with_noise(spring_mm: &[f64], seed: u64) -> Vec<f64> {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    spring_mm.iter().map(|mm| mm + NOISE_MM * sample(&mut rng)).collect()
}

fn sample(rng: &mut impl Rng) -> f64 {
    StandardNormal.sample(rng)
}

/// The value under which this share lies.
pub(super) fn quantile(values: &[f64], share: f64) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    sorted[(share * (sorted.len() - 1) as f64) as usize]
}

pub(super) fn spread(values: &[f64]) -> f64 {
    quantile(values, 0.95) - quantile(values, 0.05)
}

/// Free play: above `at_mm` the linkage lies against the other side of its pin, `play_mm` farther.
pub(super) fn with_play(spring_mm: &[f64], at_mm: f64, play_mm: f64) -> Vec<f64> {
    spring_mm.iter().map(|mm| if *mm > at_mm { mm + play_mm } else { *mm }).collect()
}

/// Sticks now and then: for a share of the time the reading is held, 0.4 to 1 s at a time.
pub(super) fn with_holds(spring_mm: &[f64], share: f64, seed: u64) -> Vec<f64> {
    let mut rng = ChaCha8Rng::seed_from_u64(seed ^ 0x57);
    let mut held = spring_mm.to_vec();
    let mut row = 0;
    let mean_s = 0.7;
    while row < held.len() {
        if rng.random::<f64>() < share / (mean_s * RATE_HZ) / (1.0 - share) {
            let rows = ((0.4 + 0.6 * rng.random::<f64>()) * RATE_HZ) as usize;
            let until = (row + rows).min(held.len());
            let level = held[row];
            held[row..until].fill(level);
            row = until;
        } else {
            row += 1;
        }
    }
    held
}
