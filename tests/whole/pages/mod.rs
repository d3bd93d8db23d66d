//! The pages of real contents: a stored run and the example plows. What is on them, where it is, and that no content
//! breaks one.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a helper of tests fails as a test does")]

mod boxes;
mod bytes;
mod charts;
mod layout;
mod wall;

use std::path::{Path, PathBuf};
use std::sync::LazyLock;

use analysis::report::run_content;
use analysis::report::units::Units;
use analysis::summary::analyse;
use ingest::plow::{Plow, read_plow};
use ingest::quantity::Force;
use page::content::RunContent;
use signals::run::load_run;
use statics::report::{StaticsReport, statics_report};

const SEED: u64 = 1;
const DATE: jiff::civil::Date = jiff::civil::date(2027, 4, 11);
/// A pull that every kind of plow can be at, N/cm² of the furrow slices.
const PULL_N_PER_CM2: f64 = 5.0;

fn samples(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../sample-runs").join(name)
}

/// The run with a drawbar that is too flat: it bobs, lifts its tail wheel, and has everything that a page can show.
fn stored_run(units: Units) -> RunContent {
    static RUNS: LazyLock<[RunContent; 2]> = LazyLock::new(|| {
        [Units::Si, Units::Us].map(|units| {
            let run = load_run(&samples("runs/too-flat")).unwrap();
            run_content(&analyse(run).unwrap(), units)
        })
    });
    RUNS[usize::from(units == Units::Us)].clone()
}

fn plows() -> Vec<PathBuf> {
    let mut files: Vec<PathBuf> =
        std::fs::read_dir(samples("plows")).unwrap().map(|entry| entry.unwrap().path()).collect();
    files.sort();
    assert_eq!(files.len(), 9);
    files
}

/// An example plow, and the name of its first setting.
fn example_plow(file: &str) -> (Plow, String) {
    let plow = read_plow(&samples("plows").join(file)).unwrap();
    let setting = plow.settings.first_key_value().unwrap().0.clone();
    (plow, setting)
}

fn report(plow: &Plow, setting: &str) -> StaticsReport {
    let pull_n = PULL_N_PER_CM2 * plow.total_cut_m() * plow.bottoms.depth.m() * 1e4;
    statics_report(plow, (setting, &plow.settings[setting]), Force::from_n(pull_n), None, SEED).unwrap()
}
