//! Statistics against published and independently computed values; the source stands beside each.

use hitchwright_tests::data::{self, ar1, cases, close, number, numbers, reference};
use stats::descriptive::{autocorrelation, percentiles};
use stats::permutation::{permutation_test, sign_flip_test};
use stats::student::{Z_975, chi_square_quantile, t_quantile};
use stats::two_samples::{hedges_g, hedges_g_z, holm, paired_t, welch_t};
use stats::{Estimate, Moments, StatsError};

/// Certified mean, SD and lag-1 autocorrelation, with the relative error allowed for SD and autocorrelation.
fn certified(name: &str, values: &[f64], mean: f64, sd: f64, r1: f64, relative: f64) {
    let moments = Moments::of(values);
    close(moments.mean, mean, 1e-15, name);
    close(moments.sd().unwrap_or(f64::NAN), sd, relative, name);
    close(autocorrelation(values, 1).unwrap_or(f64::NAN), r1, relative, name);
}

/// A 95 % interval, each of its ends with the relative error allowed.
fn ends(interval: Estimate, (low, high): (f64, f64), relative: f64, what: &str) {
    close(interval.low, low, relative, &format!("{what}, low"));
    close(interval.high, high, relative, &format!("{what}, high"));
}

/// NIST StRD NumAcc2 to 4: base + 0.2, then (base + 0.1, base + 0.3) 500 times.
fn numacc(base: f64) -> Vec<f64> {
    let pairs = (0..500).flat_map(|_| [base + 0.1, base + 0.3]);
    std::iter::once(base + 0.2).chain(pairs).collect()
}

/// NIST StRD univariate sets, certified values.
#[test]
fn nist_univariate_sets_of_lower_difficulty() {
    certified("Lew", &data::series("lew"), -177.435, 277.332168044316, -0.307304800605679, 1e-13);
    let mavro: Vec<f64> = data::series("mavro_1e5").iter().map(|k| 2.0 + k * 1e-5).collect();
    certified("Mavro", &mavro, 2.001856, 0.000429123454003053, 0.937989183438248, 1e-11);
    let michelso: Vec<f64> = data::series("michelso_hundredths").iter().map(|k| 299.0 + k / 100.0).collect();
    certified("Michelso", &michelso, 299.8524, 0.0790105478190518, 0.535199668621283, 1e-11);
}

/// NIST StRD NumAcc1 to 4, certified values; tolerances where f64 cannot hold the inputs
/// themselves.
#[test]
fn nist_numerical_accuracy_sets() {
    certified("NumAcc1", &[10000001.0, 10000003.0, 10000002.0], 10000002.0, 1.0, -0.5, 1e-15);
    certified("NumAcc2", &numacc(1.0), 1.2, 0.1, -0.999, 1e-13);
    certified("NumAcc3", &numacc(1e6), 1000000.2, 0.1, -0.999, 1e-9);
    certified("NumAcc4", &numacc(1e7), 10000000.2, 0.1, -0.999, 1e-8);
    // A one-pass sum of squares must fail on NumAcc4. It does, so the check can fail.
    let values = numacc(1e7);
    let n = values.len() as f64;
    let (sum, squares) = values.iter().fold((0.0, 0.0), |(s, q), x| (s + x, q + x * x));
    let one_pass: f64 = ((squares - sum * sum / n) / (n - 1.0)).abs().sqrt();
    assert!((one_pass - 0.1).abs() > 1e-3, "{one_pass}");
}

/// Autocorrelations of the beam deflections (recomputed with numpy), NIST/SEMATECH e-Handbook 1.4.2.5
/// data.
#[test]
fn autocorrelation_at_longer_lags() {
    for (lag, r) in [(2, -0.740350), (3, 0.774689), (5, -0.898156)] {
        close(autocorrelation(&data::series("lew"), lag).unwrap(), r, 1e-6, "Lew");
    }
    // Yearly sunspots (statsmodels data set), recomputed.
    close(autocorrelation(&data::series("sunspots"), 1).unwrap(), 0.820201, 1e-6, "sunspots");
    close(autocorrelation(&data::series("sunspots"), 11).unwrap(), 0.650291, 1e-6, "sunspots");
}

/// Welch's form of the two-sample test: NIST/SEMATECH e-Handbook 1.3.5.3 (AUTO83B), from the summary
/// figures.
#[test]
fn welch_t_of_the_handbook_mileages() {
    let us = Moments::from_summary(249, 20.14458, 6.41470);
    let japan = Moments::from_summary(79, 30.48101, 6.10771);
    let test = welch_t(us, japan).unwrap();
    close(test.t.unwrap(), -12.946268, 1e-5, "t");
    close(test.dof, 136.87499, 1e-5, "dof");
    ends(test.difference, (-11.9152481, -8.7576206), 1e-5, "difference");
}

const SLEEP_A: [f64; 10] = [0.7, -1.6, -0.2, -1.2, -0.1, 3.4, 3.7, 0.8, 0.0, 2.0];
const SLEEP_B: [f64; 10] = [1.9, 0.8, 1.1, 0.1, -0.1, 4.4, 5.5, 1.6, 4.6, 3.4];

/// Student's sleep data 1908, as in R's documentation; digits past the printed ones recomputed.
#[test]
fn students_sleep_data() {
    let welch = welch_t(Moments::of(&SLEEP_A), Moments::of(&SLEEP_B)).unwrap();
    close(welch.t.unwrap(), -1.86081347, 1e-8, "Welch t");
    close(welch.dof, 17.77647352, 1e-8, "Welch dof");
    close(welch.p, 0.07939414, 1e-6, "Welch p");
    close(welch.difference.low, -3.3654832, 1e-7, "Welch low");
    close(welch.difference.high, 0.2054832, 1e-6, "Welch high");
    let paired = paired_t(&SLEEP_A, &SLEEP_B).unwrap();
    close(paired.t.unwrap(), -4.06212768, 1e-8, "paired t");
    close(paired.p, 0.00283289, 1e-6, "paired p");
    ends(paired.difference, (-2.45988576, -0.70011424), 1e-8, "paired");
    let flips = sign_flip_test(&SLEEP_A, &SLEEP_B, 1).unwrap();
    assert_eq!((flips.extreme, flips.tried, flips.p), (4, 1024, 0.00390625));
    // As printed in the examples of R's package effectsize, hedges_g: -1.17 [-1.94, -0.38].
    let g = hedges_g_z(&SLEEP_A, &SLEEP_B).unwrap().unwrap();
    close(g.value, -1.17, 0.005 / 1.17, "g_z");
    ends(g, (-1.94, -0.38), 0.005 / 0.38, "g_z");
}

/// Efron & Tibshirani 1993, mouse data; counts recomputed.
#[test]
fn permutation_of_the_mouse_data() {
    let treated = [94.0, 197.0, 16.0, 38.0, 99.0, 141.0, 23.0];
    let control = [52.0, 104.0, 146.0, 10.0, 51.0, 30.0, 40.0, 27.0, 46.0];
    let test = permutation_test(&treated, &control, 1).unwrap();
    close(test.difference, 30.634921, 1e-7, "difference");
    assert_eq!((test.extreme, test.tried, test.exact), (3184, 11_440, true));
}

/// Shasha & Wilson, Statistics is Easy, via the Python documentation; counts recomputed.
#[test]
fn permutation_of_drug_and_placebo() {
    let drug = [54.0, 73.0, 53.0, 70.0, 73.0, 68.0, 52.0, 65.0, 65.0];
    let placebo = [54.0, 51.0, 58.0, 44.0, 55.0, 52.0, 42.0, 47.0, 58.0, 46.0];
    let test = permutation_test(&drug, &placebo, 1).unwrap();
    close(test.difference, 12.966667, 1e-7, "difference");
    assert_eq!((test.extreme, test.tried, test.exact), (172, 92_378, true));
    let welch = welch_t(Moments::of(&drug), Moments::of(&placebo)).unwrap();
    close(welch.t.unwrap(), 3.85337434, 1e-8, "t");
    close(welch.dof, 13.78985987, 1e-8, "dof");
}

/// Course notes on permutation tests (recomputed); Fisher 1935, Darwin's pairs (data from memory,
/// counts recomputed).
#[test]
fn small_permutations() {
    let test = permutation_test(&[18.0, 21.0, 22.0], &[30.0, 25.0, 20.0], 1).unwrap();
    assert_eq!((test.extreme, test.tried, test.p), (6, 20, 0.3));
    let darwin = [49.0, -67.0, 8.0, 16.0, 6.0, 23.0, 28.0, 41.0, 14.0, 29.0, 56.0, 24.0, 75.0, 60.0, -48.0];
    let flips = sign_flip_test(&darwin, &[0.0; 15], 1).unwrap();
    assert_eq!((flips.extreme, flips.tried), (1726, 32_768));
    close(paired_t(&darwin, &[0.0; 15]).unwrap().t.unwrap(), 2.14798746, 1e-8, "Darwin t");
}

/// Holm's adjustment, statsmodels multipletests and the standard thresholds.
#[test]
fn holm_adjustment() {
    for (got, want) in holm(&[0.01, 0.04, 0.03, 0.005]).iter().zip([0.03, 0.06, 0.06, 0.02]) {
        close(*got, want, 1e-12, "Holm");
    }
    // At the thresholds 0.05/5 … 0.05/1 every adjusted p is exactly at 5 %.
    let thresholds = [0.01, 0.0125, 0.05 / 3.0, 0.025, 0.05];
    holm(&thresholds).iter().for_each(|p| close(*p, 0.05, 1e-12, "thresholds"));
    let stored = reference();
    let adjusted = holm(&numbers(&stored, "/holm/p"));
    let want = numbers(&stored, "/holm/adjusted");
    assert_eq!((adjusted.len(), want.len()), (6, 6));
    adjusted.iter().zip(want).for_each(|(got, want)| close(*got, want, 1e-12, "statsmodels"));
}

/// t, normal and χ² tables (recomputed with scipy).
#[test]
fn quantile_tables() {
    let dof = [1.0, 2.0, 5.0, 10.0, 30.0, 60.0, 120.0];
    let t = [12.70620474, 4.30265273, 2.57058184, 2.22813885, 2.04227246, 2.00029782, 1.97993041];
    dof.into_iter().zip(t).for_each(|(dof, t)| close(t_quantile(0.975, dof), t, 1e-8, "t"));
    close(Z_975, 1.95996398, 3e-9, "z");
    close(chi_square_quantile(0.975, 5.0).unwrap(), 12.832502, 1e-6, "chi square, 5, from memory");
}

/// The mean of an AR(1) series is known as well as that of its effective number of independent values (exact
/// form; recomputed). An interval that need not be told the series' one scale is wider, as a little of a
/// longer scale cannot be ruled out, but not by more than twice.
#[test]
fn interval_width_of_an_ar1_mean() {
    use stats::bins::Stretch;
    use stats::series_figures::{Wanted, series_figures};
    // phi 0.9, n 1000: n_eff 53.13496. SD of uniform innovations √(1/12), of the series /√(1 − φ²).
    let sd = (1.0 / 12.0_f64).sqrt() / (1.0 - 0.81_f64).sqrt();
    let wanted_width = 2.0 * 1.96 * sd / 53.13496_f64.sqrt();
    let widths: f64 = (1..=40)
        .map(|seed| {
            let values = ar1(0.9, 1000, 1000 * seed + 7);
            let stretch = [Stretch { start_s: 0.0, values: &values }];
            let f = series_figures(&stretch, 100.0, Wanted::default());
            f.map_or(f64::NAN, |f| f.mean.high - f.mean.low) / 40.0
        })
        .sum();
    assert!((1.0..2.0).contains(&(widths / wanted_width)), "{}", widths / wanted_width);
}

/// Facts of the generated series, so that a wrong generator cannot hide.
#[test]
fn the_generator_is_the_one_meant() {
    // Park & Miller 1988: from 1 the 10 000th state is 1043618065 (from memory, recomputed).
    let states = data::uniform(10_000, 1);
    close(states.last().copied().unwrap() + 0.5, 1_043_618_065.0 / 2_147_483_647.0, 1e-15, "state");
    for (phi, mean, sd, r1) in
        [(0.5, -0.0115167300, 0.3267349032, 0.4763238736), (0.8, -0.0298768912, 0.4768266576, 0.7974081917)]
    {
        let z = ar1(phi, 1024, 12345);
        let moments = Moments::of(&z);
        close(moments.mean, mean, 1e-8, "mean");
        // The list prints the SD with divisor n or n − 1; at n = 1024 they differ by 5e-4, so this tells
        // which.
        let divisor_n = (moments.sum_sq_dev / 1024.0).sqrt();
        let nearer = [moments.sd().unwrap(), divisor_n].map(|s| (s / sd - 1.0).abs());
        assert!(nearer.iter().any(|d| *d < 1e-9), "{nearer:?}");
        close(autocorrelation(&z, 1).unwrap(), r1, 1e-9, "r1");
    }
}

/// scipy: Welch t with its interval, exact permutation, and Hedges' g through scipy's noncentral t.
#[test]
fn two_samples_against_scipy() {
    let rows = cases("/two_samples");
    assert_eq!(rows.len(), 3);
    for row in rows {
        let (a, b) = (numbers(&row, "/a"), numbers(&row, "/b"));
        let (ma, mb) = (Moments::of(&a), Moments::of(&b));
        let test = welch_t(ma, mb).unwrap();
        close(test.t.unwrap(), number(&row, "/t"), 1e-11, "t");
        close(test.dof, number(&row, "/dof"), 1e-11, "dof");
        close(test.p, number(&row, "/p"), 1e-9, "p");
        ends(test.difference, (number(&row, "/low"), number(&row, "/high")), 1e-8, "difference");
        let exact = permutation_test(&a, &b, 1).unwrap();
        close(exact.p, number(&row, "/permutation_p"), 1e-12, "permutation p");
        let g = hedges_g(ma, mb).unwrap().unwrap();
        close(g.value, number(&row, "/g"), 1e-11, "g");
        ends(g, (number(&row, "/g_low"), number(&row, "/g_high")), 1e-6, "g");
    }
}

/// scipy: paired t with its interval, exact sign flips; numpy: percentiles (type 7).
#[test]
fn pairs_and_percentiles_against_scipy_and_numpy() {
    let stored = reference();
    let (a, b) = (numbers(&stored, "/pairs/a"), numbers(&stored, "/pairs/b"));
    let test = paired_t(&a, &b).unwrap();
    close(test.t.unwrap(), number(&stored, "/pairs/t"), 1e-11, "t");
    close(test.p, number(&stored, "/pairs/p"), 1e-9, "p");
    ends(
        test.difference,
        (number(&stored, "/pairs/low"), number(&stored, "/pairs/high")),
        1e-8,
        "difference",
    );
    close(sign_flip_test(&a, &b, 1).unwrap().p, number(&stored, "/pairs/sign_flip_p"), 1e-12, "flips");
    let g = hedges_g_z(&a, &b).unwrap().unwrap();
    close(g.value, number(&stored, "/pairs/g_z"), 1e-11, "g_z");
    ends(g, (number(&stored, "/pairs/g_z_low"), number(&stored, "/pairs/g_z_high")), 1e-6, "g_z");
    let got = percentiles(&ar1(0.8, 500, 12345), &numbers(&stored, "/percentiles/at")).unwrap();
    let want = numbers(&stored, "/percentiles/values");
    assert_eq!((got.len(), want.len()), (6, 6));
    got.iter().zip(want).for_each(|(got, want)| close(*got, want, 1e-12, "percentile"));
}

#[test]
fn errors_say_what_is_missing() {
    let error = autocorrelation(&[1.0, 2.0], 3).unwrap_err();
    assert!(matches!(error, StatsError::TooFew { .. }));
    assert_eq!(
        error.to_string(),
        "autocorrelation needs at least 5 values and got 2: record longer, or add runs"
    );
}
