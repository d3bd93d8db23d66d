//! The pages of real contents: a stored run and the example plows. What is on them, where it is, and that no content
//! breaks one.

pub mod boxes;
mod bytes;
mod charts;
mod layout;
mod wall;

use std::sync::LazyLock;

use crate::ANALYSED;
use analysis::report::run_content;
use analysis::report::units::Units;
use hitchwright_tests::command::sample;
use ingest::plow::{Plow, read_plow};
use ingest::quantity::Force;
use page::Paper;
use page::content::RunContent;
use statics::report::{StaticsReport, statics_report};

const PAPERS: [Paper; 2] = [Paper::A4, Paper::Letter];
const SEED: u64 = 1;
/// A pull that every kind of plow can be at, N/cm² of the furrow slices.
const PULL_N_PER_CM2: f64 = 5.0;

/// The run with a drawbar that is too flat: it bobs, lifts its tail wheel, and has everything that a page can show.
fn stored_run(units: Units) -> RunContent {
    static RUNS: LazyLock<[RunContent; 2]> = LazyLock::new(|| {
        let [_, too_flat, ..] = &*ANALYSED;
        [Units::Si, Units::Us].map(|units| run_content(too_flat, units))
    });
    RUNS[usize::from(units == Units::Us)].clone()
}

/// An example plow, and the name of its first setting.
fn example_plow(file: &str) -> (Plow, String) {
    let plow = read_plow(&sample("plows").join(file)).unwrap();
    let setting = plow.settings.first_key_value().unwrap().0.clone();
    (plow, setting)
}

fn report(plow: &Plow, setting: &str) -> StaticsReport {
    let pull_n = PULL_N_PER_CM2 * plow.total_cut_m() * plow.bottoms.depth.m() * 1e4;
    statics_report(plow, (setting, &plow.settings[setting]), Force::from_n(pull_n), None, SEED).unwrap()
}
