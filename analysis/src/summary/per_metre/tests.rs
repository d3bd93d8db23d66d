use super::*;
use ingest::plow::read_plow_text;
use rand::{RngExt, SeedableRng};
use signals::Speed;
use signals::run::GnssTable;
use std::f64::consts::PI;
use std::path::Path;

const RATE_HZ: f64 = 100.0;

/// Five minutes at 1.6 m/s that swings by `swing`; the tail load has red noise and a resonance that is driven
/// either along the time or along the way.
fn found(swing: f64, by_distance: bool) -> PerMetre {
    let way = |t: f64| 1.6 * t + swing * (1.0 - (0.05 * t).cos()) / 0.05;
    let rows = 300 * RATE_HZ as usize;
    let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(5);
    let (mut slow, mut tail, mut depth) = (0.0, Vec::new(), Vec::new());
    for row in 0..rows {
        let t = row as f64 / RATE_HZ;
        slow = 0.95 * slow + rng.random::<f64>() - 0.5;
        // 2 Hz, or what 2 Hz is at the mean speed: 0.8 m.
        let phase = if by_distance { way(t) / 0.8 } else { 2.0 * t };
        tail.push(1000.0 + 20.0 * slow + 25.0 * (2.0 * PI * phase).sin());
        depth.push(180.0 + slow);
    }
    let mut gnss = GnssTable::default();
    for fix in 0..1500 {
        let t = f64::from(fix) / 5.0;
        gnss.t_s.push(t);
        gnss.speed_mps.push(1.6 + swing * (0.05 * t).sin());
    }
    let segments = vec![Segment { start_s: 0.0, rows: 0..rows }];
    let signals = Signals {
        rate_hz: RATE_HZ,
        segments: segments.clone(),
        channels: [(ChannelRole::Depth, depth)].into(),
    };
    let toml = sample_runs::plow::Plow::TWO_BOTTOM_TOML;
    let plow = read_plow_text(toml, Path::new("two-bottom.toml")).unwrap();
    let spectrum = welch(&[&tail], RATE_HZ, 2000).unwrap();
    let search = find_peaks(&spectrum, SearchBand::usual(&spectrum)).unwrap();
    let found =
        SearchedLoad { spectrum: &spectrum, search: &search, stretches: vec![&tail], rate_hz: RATE_HZ };
    let told = reported_peaks(Some(&found), &plow, Some(1.6));
    let travel = Speed::of(std::iter::empty(), Some(&gnss)).unwrap().travel();
    per_metre((&signals, &segments), (&tail, &plow), &travel, &told).unwrap()
}

#[test]
fn the_wavelength_is_found_and_the_integral_is_the_variance() {
    let found = found(0.0, false);
    let wavelength_m = found.wavelength_m.unwrap();
    assert!((wavelength_m.value - 0.8).abs() < 0.02 && wavelength_m.holds(0.8), "{wavelength_m:?}");
    let spectrum = &found.tail_load_n2_m;
    let bin = spectrum.cycles_per_m[1];
    let sum: f64 = spectrum.density.iter().sum::<f64>() * bin;
    // 25²/2 of the wave, 20²/12/(1 − 0.95²) of the noise, less what is slower than a segment.
    assert!((sum / 654.0 - 1.0).abs() < 0.1, "{sum}");
    // An even speed cannot tell a wave of the ground from one of the plow.
    assert_eq!(found.sharper, SharperBy::NotShown);
}

#[test]
fn a_speed_that_swings_tells_the_ground_from_the_plow() {
    assert_eq!(found(0.4, true).sharper, SharperBy::Distance);
    assert_eq!(found(0.4, false).sharper, SharperBy::Time);
}

/// Hz at an even speed and cycles a metre are one thing: the spectrum is the one of the steps themselves, which the
/// published checks hold to scipy.
#[test]
fn cycles_a_metre_are_those_of_the_steps() {
    let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(6);
    let values: Vec<f64> = (0..2000).map(|_| rng.random::<f64>()).collect();
    let (speed_mps, step_m) = (1.7, 0.03);
    let direct = welch(&[&values], 1.0 / step_m, 400).unwrap();
    let found = by_distance(&welch(&[&values], speed_mps / step_m, 400).unwrap(), speed_mps, f64::INFINITY);
    assert_eq!(found.density.len(), 201);
    for ((cycles, density), (f, d)) in
        found.cycles_per_m.iter().zip(&found.density).zip(direct.frequency_hz.iter().zip(&direct.density))
    {
        assert!((cycles - f).abs() < 1e-9 && (density - d).abs() <= 1e-12 * d, "{cycles} {density}: {f} {d}");
    }
}
