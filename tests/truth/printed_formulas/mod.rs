//! The formulas of the handbook, each worked out as it is printed there and by no function of the analysis, held
//! against what the program says of a stored run and of two settings.

mod comparison;
mod figures;
mod statics;

use analysis::summary::{Analysed, analyse};
use hitchwright_tests::command::sample;
use signals::run::load_run;
use std::sync::LazyLock;

static RUN: LazyLock<Analysed> =
    LazyLock::new(|| analyse(load_run(&sample("runs").join("balanced")).unwrap()).unwrap());

fn near(got: f64, want: f64, relative: f64, what: &str) {
    assert!((got - want).abs() <= relative * want.abs().max(1e-3), "{what}: printed {got}, program {want}");
}

/// What stands sorted at the place share × (count − 1), on a straight line between two.
fn percentile(mut values: Vec<f64>, share: f64) -> f64 {
    values.sort_by(f64::total_cmp);
    let place = share * (values.len() - 1) as f64;
    let (below, part) = (place as usize, place.fract());
    let next = values[(below + 1).min(values.len() - 1)];
    values[below] + part * (next - values[below])
}
