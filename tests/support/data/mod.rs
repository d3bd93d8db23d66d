//! Published data sets that more than one test uses, typed from their sources.
#![allow(clippy::expect_used, reason = "a helper of tests fails as a test does")]

use std::collections::BTreeMap;

/// The series of that name in `series.toml`.
pub fn series(name: &str) -> Vec<f64> {
    let all: BTreeMap<String, Vec<f64>> = toml::from_str(include_str!("series.toml")).expect("series.toml");
    all[name].clone()
}

/// `n` values in (-0.5, 0.5) of s <- 16807 s mod (2^31 - 1), as `make_reference.py` makes them.
pub fn uniform(n: usize, seed: u64) -> Vec<f64> {
    let mut state = seed;
    let step = || {
        state = state * 16807 % 2_147_483_647;
        state as f64 / 2_147_483_647.0 - 0.5
    };
    std::iter::repeat_with(step).take(n).collect()
}

/// z₀ = u₀, zᵢ = φ zᵢ₋₁ + uᵢ.
pub fn ar1(phi: f64, n: usize, seed: u64) -> Vec<f64> {
    let mut last = 0.0;
    let step = |u: f64| {
        last = phi * last + u;
        last
    };
    uniform(n, seed).into_iter().map(step).collect()
}

/// Fails with `what` unless `got` is within `relative` of `want`.
#[track_caller]
pub fn close(got: f64, want: f64, relative: f64, what: &str) {
    assert!((got - want).abs() <= relative * want.abs(), "{what}: got {got}, want {want}");
}

/// The values made with scipy, statsmodels and arch.
pub fn reference() -> serde_json::Value {
    serde_json::from_str(include_str!("../../reference/reference.json")).unwrap_or_default()
}

/// A list of numbers at a JSON pointer of `value`; empty, and so failing any comparison of lengths, if there
/// is none.
pub fn numbers(value: &serde_json::Value, pointer: &str) -> Vec<f64> {
    let list = value.pointer(pointer).and_then(serde_json::Value::as_array);
    list.map_or_else(Vec::new, |l| l.iter().filter_map(serde_json::Value::as_f64).collect())
}

/// One number at a JSON pointer of `value`; NaN, which no comparison accepts, if there is none.
pub fn number(value: &serde_json::Value, pointer: &str) -> f64 {
    value.pointer(pointer).and_then(serde_json::Value::as_f64).unwrap_or(f64::NAN)
}

/// The objects of a list at the top of the reference file.
pub fn cases(key: &str) -> Vec<serde_json::Value> {
    reference().pointer(key).and_then(serde_json::Value::as_array).cloned().unwrap_or_default()
}
