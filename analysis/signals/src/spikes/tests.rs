use super::*;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// A sum of twelve uniform numbers: near to normal, SD 1.
fn normal(rng: &mut ChaCha8Rng) -> f64 {
    (0..12).map(|_| rng.random::<f64>()).sum::<f64>() - 6.0
}

/// A tail load that bobs at 3.5 Hz, damping 0.08, over a slow wander; never below 0; SD about 1.
fn bobbing(rate_hz: f64, seconds: f64, seed: u64) -> Vec<f64> {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let (omega, zeta) = (std::f64::consts::TAU * 3.5, 0.08);
    let fine = (400.0 / rate_hz).ceil() as usize;
    let dt = 1.0 / (rate_hz * fine as f64);
    let (mut x, mut v, mut slow) = (0.0, 0.0, 0.0);
    // White force of this density gives a bobbing of SD 1.
    let force = (4.0 * zeta * omega.powi(3) / dt).sqrt();
    (0..(rate_hz * seconds) as usize)
        .map(|_| {
            for _ in 0..fine {
                v += dt * (force * normal(&mut rng) - 2.0 * zeta * omega * v - omega * omega * x);
                x += dt * v;
                slow += -dt * 0.2 * slow + 0.3 * dt.sqrt() * normal(&mut rng);
            }
            (2.0 + x + slow + 0.01 * normal(&mut rng)).max(0.0)
        })
        .collect()
}

fn taken(values: &mut [f64]) -> Vec<usize> {
    let length = values.len();
    take_out(values, std::slice::from_ref(&(0..length)))
}

fn sd(values: &[f64]) -> f64 {
    let mean = values.iter().sum::<f64>() / values.len() as f64;
    (values.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / values.len() as f64).sqrt()
}

#[test]
fn the_median_of_five_is_that_of_the_sorted() {
    let mut rng = ChaCha8Rng::seed_from_u64(1);
    for _ in 0..2000 {
        let mut five: [f64; 5] = std::array::from_fn(|_| f64::from(rng.random_range(0..6)));
        let [a, b, c, d, e] = five;
        five.sort_by(f64::total_cmp);
        assert!((median_of_five(a, b, c, d, e) - five[2]).abs() < 1e-12, "{five:?}");
    }
}

#[test]
fn peaks_of_bobbing_stand_at_every_rate() {
    for (rate_hz, seed) in [(25.0, 11), (25.0, 12), (50.0, 13), (200.0, 14), (1000.0, 15)] {
        let sound = bobbing(rate_hz, 120.0, seed);
        let mut values = sound.clone();
        let found = taken(&mut values);
        assert!(found.len() <= 3, "{rate_hz} Hz: {} of {} taken out", found.len(), values.len());
        assert!((sd(&values) / sd(&sound) - 1.0).abs() < 0.002, "{rate_hz} Hz");
    }
}

#[test]
fn spikes_of_eight_deviations_are_found_and_leave_no_trace() {
    for (rate_hz, seed) in [(50.0, 21), (200.0, 22), (1000.0, 23)] {
        let sound = bobbing(rate_hz, 120.0, seed);
        let scale = sd(&sound);
        let mut values = sound.clone();
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        let mut put_in = std::collections::BTreeSet::new();
        for at in 0..40 {
            let row = (at + 1) * values.len() / 42 + rng.random_range(0..9);
            let size = scale * rng.random_range(8.5..40.0) * if at % 2 == 0 { 1.0 } else { -1.0 };
            let rows = row..row + 1 + at % 2;
            values[rows.clone()].iter_mut().for_each(|value| *value += size);
            put_in.extend(rows);
        }
        let found = taken(&mut values);
        let right = found.iter().filter(|row| put_in.contains(row)).count();
        assert!(right * 100 >= put_in.len() * 95, "{rate_hz} Hz: {right} of {}", put_in.len());
        assert!(found.len() - right <= 3, "{rate_hz} Hz: {} false", found.len() - right);
        assert!((sd(&values) / scale - 1.0).abs() < 0.01, "{rate_hz} Hz: {} not {scale}", sd(&values));
    }
}

#[test]
fn steps_and_struck_stops_stand() {
    let mut rng = ChaCha8Rng::seed_from_u64(31);
    let mut values: Vec<f64> =
        (0..3000).map(|i| if (1000..2000).contains(&i) { 180.0 } else { -60.0 } + normal(&mut rng)).collect();
    for at in (1100..1900).step_by(100) {
        values[at..at + 3].fill(230.0);
    }
    assert_eq!(taken(&mut values), Vec::<usize>::new());
}

#[test]
fn a_coarse_channel_loses_its_spike_alone() {
    let mut depth: Vec<f64> =
        (0..1000).map(|i| ((f64::from(i) * 0.01).sin() * 10.0).round() / 10.0).collect();
    assert_eq!(taken(&mut depth), Vec::<usize>::new());
    let sound = depth[500];
    depth[500] += 50.0;
    assert_eq!(taken(&mut depth), [500]);
    assert!((depth[500] - sound).abs() < 0.2);
}
