//! The draws that carry uncertainties through, against the Monte Carlo examples of JCGM 101 and the divisor of the GUM.

use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use statics::distribution::Distribution;
use stats::Moments;
use stats::descriptive::percentiles;

fn quantile_half_width(draws: &[f64]) -> f64 {
    let ends = percentiles(draws, &[2.5, 97.5]).unwrap();
    (ends[1] - ends[0]) / 2.0
}

fn sum_of_four(distributions: [Distribution; 4], seed: u64) -> Vec<f64> {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    (0..400_000).map(|_| distributions.iter().map(|spread| spread.draw(&mut rng)).sum()).collect()
}

fn rectangular(u: f64) -> Distribution {
    Distribution::Uniform { low: -u * 3.0f64.sqrt(), high: u * 3.0f64.sqrt() }
}

fn sd(draws: &[f64]) -> f64 {
    Moments::of(draws).sd().unwrap()
}

/// JCGM 101:2008, 9.2.2 and 9.2.3: four inputs with u = 1. Normal: ±3.92; rectangular: ±3.88 (exact 3.879 41,
/// Irwin-Hall).
#[test]
fn sums_of_four_equal_inputs_of_jcgm_101() {
    let normal = sum_of_four([Distribution::Normal { mean: 0.0, sd: 1.0 }; 4], 1);
    assert!((sd(&normal) - 2.0).abs() < 0.01);
    assert!((quantile_half_width(&normal) - 3.919_93).abs() < 0.02);
    let flat = sum_of_four([rectangular(1.0); 4], 2);
    assert!((sd(&flat) - 2.0).abs() < 0.01);
    assert!((quantile_half_width(&flat) - 3.879_41).abs() < 0.02);
}

/// JCGM 101:2008, 9.2.4: three rectangular inputs with u = 1 and one with u = 10: u = 10.149, ±17.01, where
/// the normal approximation has ±19.9.
#[test]
fn one_dominating_rectangular_input_of_jcgm_101() {
    let draws = sum_of_four([rectangular(1.0), rectangular(1.0), rectangular(1.0), rectangular(10.0)], 3);
    let u = sd(&draws);
    assert!((u - 10.149).abs() < 0.03, "{u}");
    let half_width = quantile_half_width(&draws);
    assert!((half_width - 17.01).abs() < 0.04, "{half_width}");
    assert!(half_width < 1.96 * u - 2.5);
}

/// JCGM 101:2008, 9.3, calibration of a mass standard in air, where the first derivatives by the densities
/// vanish and a linear propagation has u = 0.0539 mg: 1.234 mg, u = 0.0754 mg, 1.0834 to 1.3825 mg. The numbers
/// are from memory, so they are bounds of what is plausible; that the linear figure is missed by far is what
/// this holds.
#[test]
fn mass_in_air_of_jcgm_101() {
    let inputs = [
        Distribution::Normal { mean: 100_000.0, sd: 0.050 },
        Distribution::Normal { mean: 1.234, sd: 0.020 },
        Distribution::Uniform { low: 1.10, high: 1.30 },
        Distribution::Uniform { low: 7_000.0, high: 9_000.0 },
        Distribution::Uniform { low: 7_950.0, high: 8_050.0 },
    ];
    let mass_mg = |[reference, added, air, weight, standard]: [f64; 5]| {
        (reference + added) * (1.0 + (air - 1.2) * (1.0 / weight - 1.0 / standard)) - 100_000.0
    };
    let mut rng = ChaCha8Rng::seed_from_u64(93);
    let draws: Vec<f64> = (0..400_000).map(|_| mass_mg(inputs.map(|input| input.draw(&mut rng)))).collect();
    let mean = Moments::of(&draws).mean;
    assert!((mean - 1.234).abs() < 0.002, "{mean}");
    let u = sd(&draws);
    assert!((u - 0.0754).abs() < 0.002 && u > 1.3 * 0.0539, "{u}");
    let half_width = quantile_half_width(&draws);
    assert!((half_width - (1.3825 - 1.0834) / 2.0).abs() < 0.01, "{half_width}");
    // The same inputs as functions of standard normals, the way that several runs are taken together.
    let normal = Distribution::Normal { mean: 0.0, sd: 1.0 };
    let by_deviates: Vec<f64> =
        (0..400_000).map(|_| mass_mg(inputs.map(|input| input.at(normal.draw(&mut rng))))).collect();
    assert!((sd(&by_deviates) / u - 1.0).abs() < 0.01, "{}", sd(&by_deviates));
}

/// GUM 4.3.7: a rectangular half-width of 1 has the standard uncertainty 0.577 350 3; the draws must have it.
#[test]
fn rectangular_divisor_of_the_gum() {
    let flat = Distribution::Uniform { low: -1.0, high: 1.0 };
    assert!((flat.standard_uncertainty() - 0.577_350_3).abs() < 1e-7);
    let wide = Distribution::Wide { centre: 2.0, scale: 0.5 };
    let mut rng = ChaCha8Rng::seed_from_u64(4);
    for spread in [flat, wide, Distribution::Normal { mean: -1.0, sd: 0.3 }] {
        let draws: Vec<f64> = (0..400_000).map(|_| spread.draw(&mut rng)).collect();
        let mean = Moments::of(&draws).mean;
        assert!((mean - spread.centre()).abs() < 0.01, "{spread:?}");
        assert!((sd(&draws) / spread.standard_uncertainty() - 1.0).abs() < 0.05, "{spread:?}");
    }
}
