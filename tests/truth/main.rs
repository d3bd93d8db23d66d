//! The analysis against virtual plows, whose truth is known.
//!
//! The virtual plow and the plows that are drawn at random are invented; this shows that the analysis finds what is
//! there, not that a real plow is so.
#![allow(clippy::unwrap_used, clippy::panic, reason = "what cannot be made must stop the test")]

mod alignment;
mod balance;
mod bobbing;
mod calibration;
mod causes;
mod draft;
mod drawn_plows;
mod figures;
mod half_car;
mod live_balance;
mod passes;
mod printed_formulas;
mod stored_runs;
mod torn_runs;
mod two_bottom_plow;
mod wrong_entries;

use std::collections::BTreeMap;
use std::sync::{Mutex, OnceLock};

use analysis::summary::{Summary, analyse};
use hitchwright_tests::virtual_run::virtual_run;
use sample_runs::plow::{Case, Truth};
use signals::run::Run;

fn summary(run: Run) -> Summary {
    analyse(run).unwrap().summary
}

/// What is worked out of a pass once, by the first of the tests that ask for it.
type Once<T> = Mutex<BTreeMap<(Case, u64), &'static OnceLock<T>>>;

fn once<T>(all: &Once<T>, case: Case, seed: u64, make: impl FnOnce() -> T) -> &'static T {
    let cell = *all.lock().unwrap().entry((case, seed)).or_insert_with(|| Box::leak(Box::default()));
    cell.get_or_init(make)
}

/// A pass of the virtual plow with the height of its soil force measured.
fn pass(case: Case, seed: u64) -> &'static (Run, Truth) {
    static PASSES: Once<(Run, Truth)> = Mutex::new(BTreeMap::new());
    once(&PASSES, case, seed, || virtual_run(case, seed, true))
}

/// What is told of that pass.
fn told(case: Case, seed: u64) -> &'static Summary {
    static TOLD: Once<Summary> = Mutex::new(BTreeMap::new());
    once(&TOLD, case, seed, || summary(pass(case, seed).0.clone()))
}
