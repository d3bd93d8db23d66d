//! "One setting against another".

use super::near;
use analysis::compare::{
    Balance, ComparedFigure, Comparison, Conditions, EffectMeasure, PassFigures, compare,
};
use stats::Estimate;
use stats::student::{t_quantile, t_two_sided_p};
use std::f64::consts::PI;

/// Passes of two settings, in blocks or one setting after the other.
fn compared(a: &[f64], b: &[f64], in_blocks: bool) -> Comparison {
    let pass = |setting: &str, hour: usize, value: f64| PassFigures {
        run: format!("{setting}-{hour}"),
        setting: setting.to_owned(),
        started: format!("2027-04-11T{hour:02}:00"),
        conditions: Conditions::default(),
        balance: Balance::default(),
        figures: [(ComparedFigure::PullMeanN, Estimate { value, low: value, high: value })].into(),
        own: Vec::new(),
        cannot_be: false,
    };
    let hour = |place: usize, second: usize| match in_blocks {
        true => 1 + 2 * place + second,
        false => 1 + place + 10 * second,
    };
    let passes = |setting, of: &[f64], second: usize| -> Vec<PassFigures> {
        of.iter().enumerate().map(|(place, value)| pass(setting, hour(place, second), *value)).collect()
    };
    compare(&passes("a", a, 0), &passes("b", b, 1)).unwrap()
}

/// Γ of a whole or half number.
fn gamma(x: f64) -> f64 {
    match x {
        _ if x == 1.0 => 1.0,
        _ if x == 0.5 => PI.sqrt(),
        _ => (x - 1.0) * gamma(x - 1.0),
    }
}

fn epsilon(nu: f64) -> f64 {
    gamma(nu / 2.0) / ((nu / 2.0).sqrt() * gamma((nu - 1.0) / 2.0))
}

fn mean_and_sd(values: &[f64]) -> (f64, f64) {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    (mean, (values.iter().map(|value| (value - mean).powi(2)).sum::<f64>() / (n - 1.0)).sqrt())
}

/// "One setting against another": soil that differs from block to block, and within each hardly.
#[test]
fn tests_and_effect_sizes_are_those_of_the_book() {
    let a = [7_410.0, 8_120.0, 6_350.0, 7_902.0, 6_980.0];
    let b = [7_520.0, 8_265.0, 6_401.0, 8_040.0, 7_061.0];
    let n = a.len() as f64;
    let ((m_a, s_a), (m_b, s_b)) = (mean_and_sd(&a), mean_and_sd(&b));

    let told = compared(&a, &b, false);
    let figure = &told.figures[0];
    let s_e = (s_a * s_a / n + s_b * s_b / n).sqrt();
    let part = |s: f64| s.powi(4) / (n * n * (n - 1.0));
    let nu = s_e.powi(4) / (part(s_a) + part(s_b));
    near(m_a - m_b, figure.difference.value, 1e-12, "difference");
    near(t_two_sided_p((m_a - m_b) / s_e, nu), figure.p_welch.unwrap(), 1e-9, "p of Welch's test");
    near(m_a - m_b + t_quantile(0.975, nu) * s_e, figure.difference.high, 1e-9, "end by Welch's test");
    let s_p = ((s_a * s_a + s_b * s_b) / 2.0).sqrt();
    assert_eq!(told.effect_measure, Some(EffectMeasure::HedgesG));
    near(epsilon(2.0 * n - 2.0) * (m_a - m_b) / s_p, figure.effect_size.unwrap().value, 1e-9, "g");

    let told = compared(&a, &b, true);
    let figure = &told.figures[0];
    let differences: Vec<f64> = a.iter().zip(&b).map(|(a, b)| a - b).collect();
    let (m, s) = mean_and_sd(&differences);
    let s_e = s / n.sqrt();
    let p = t_two_sided_p(m / s_e, n - 1.0);
    near(p, figure.p_paired.unwrap(), 1e-9, "p of the paired test");
    near(m - t_quantile(0.975, n - 1.0) * s_e, figure.difference.low, 1e-9, "end by the paired test");
    assert_eq!(told.effect_measure, Some(EffectMeasure::HedgesGZ));
    let g_z = figure.effect_size.unwrap();
    near(epsilon(n - 1.0) * m / s, g_z.value, 1e-9, "g_z");
    assert!(p < 0.05 && g_z.high < 0.0, "{p} {g_z:?}");

    // Nearly the same: shown to be under the farther end of the 90 % interval.
    let b = a.map(|pull_n| pull_n + 3.0 * (pull_n / 7.0).sin());
    let under = compared(&a, &b, true).figures[0].conclusion.under.unwrap();
    let differences: Vec<f64> = a.iter().zip(&b).map(|(a, b)| a - b).collect();
    let (m, s) = mean_and_sd(&differences);
    near(m.abs() + t_quantile(0.95, n - 1.0) * s / n.sqrt(), under, 1e-9, "bound");
}
