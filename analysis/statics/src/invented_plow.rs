//! The invented plow of the tests.

use ingest::plow::{Plow, PlowToml, Setting, SettingToml, read_plow_text};
use ingest::quantity::{Force, Speed};
use statics::inputs::{MeanForce, RunFigures};
use statics::plow_model::standing_loads;
use statics::top::report::{TopReport, top_report};
use statics::verdict::Indicators;
use stats::Estimate;
use std::path::Path;

/// Signals that say nothing.
pub(crate) const QUIET: Indicators =
    Indicators { lifted_share: None, front_lifted: false, measured_gain: None, stray: None };

const PLOW: &str = r#"
name = "invented two-bottom"
[weight]
total = "3400 N"
x = "-0.60 m"
[front_wheels]
diameter = "0.6 m"
runs_in = "land"
[tail_wheel]
x = "-1.90 m"
diameter = "0.45 m"
runs_in = "furrow"
load_table = [["0 mm", "0 N"], ["100 mm", "2500 N"]]
[bottoms]
count = 2
cut_width = "14 in"
depth = "180 mm"
share = "sharp"
x = "-0.72 m"
[plow_hitch]
x = "0.30 m"
holes = [
  { name = "1", z = "1 in" }, { name = "2", z = "2 in" }, { name = "3", z = "3 in" },
  { name = "4", z = "4 in" }, { name = "5", z = "5 in" }, { name = "6", z = "6 in" },
  { name = "7", z = "7 in" }, { name = "8", z = "8 in" }, { name = "9", z = "9 in" },
]
clearance_z = "2 in"
[tractor_hitch]
holes = [
  { name = "1", z = "10 in" }, { name = "2", z = "11 in" }, { name = "3", z = "12 in" },
  { name = "4", z = "13 in" }, { name = "5", z = "14 in" }, { name = "6", z = "15 in" },
  { name = "7", z = "16 in" },
]
[drawbar]
length = "1.12 m"
[settings.now]
plow_hole = "4"
tractor_hole = "4"
"#;

pub(crate) fn plow() -> Plow {
    read_plow_text(PLOW, Path::new("plow.toml")).unwrap()
}

/// The plow with something else in its description.
pub(crate) fn rewritten(plow: &Plow, change: impl FnOnce(&mut PlowToml)) -> Plow {
    let mut said = PlowToml::from(plow.clone());
    change(&mut said);
    Plow::try_from(said).unwrap()
}

/// Two holes of the invented plow.
pub(crate) fn setting(plow_hole: &str, tractor_hole: &str) -> Setting {
    setting_of(&plow(), plow_hole, tractor_hole)
}

/// Two holes of a plow.
pub(crate) fn setting_of(plow: &Plow, plow_hole: &str, tractor_hole: &str) -> Setting {
    let (plow_hole, tractor_hole) = (plow_hole.to_owned(), tractor_hole.to_owned());
    plow.setting("setting", SettingToml { plow_hole, tractor_hole, lateral_offset: None }).unwrap()
}

/// Mean forces as good sensors would read them.
pub(crate) fn figures(pull_n: f64, tail_n: f64, plow: &Plow) -> RunFigures {
    // On front wheels the standing load is the same in all holes.
    let (plow_hole, tractor_hole) = (plow.plow_hitch.holes[0].clone(), plow.tractor_hitch.holes[0].clone());
    let first = Setting { plow_hole, tractor_hole, lateral_offset: None };
    let standing_n = standing_loads(plow, &first).unwrap().1.n();
    let pull = MeanForce::pull(Estimate::from_si(Estimate::around(pull_n, 0.01 * pull_n).unwrap()));
    RunFigures {
        tail_load: Some(MeanForce::tail(
            Estimate::from_si(Estimate::around(tail_n, 10.0 + 0.01 * tail_n).unwrap()),
            Force::from_n(standing_n),
        )),
        depth: Some(plow.bottoms.depth),
        ..RunFigures::of_pull(pull)
    }
}

/// The example plow that is wider than its tractor.
pub(crate) fn wide_on_narrow() -> Plow {
    let text = include_str!("../../../sample-runs/plows/wide-on-narrow.toml");
    read_plow_text(text, Path::new("wide-on-narrow.toml")).unwrap()
}

/// The example plow that is narrower.
pub(crate) fn narrow_on_wide() -> Plow {
    let text = include_str!("../../../sample-runs/plows/narrow-on-wide.toml");
    read_plow_text(text, Path::new("narrow-on-wide.toml")).unwrap()
}

/// Pounds-force in N.
pub(crate) fn lbf(n: f64) -> f64 {
    "1 lbf".parse::<Force>().unwrap().n() * n
}

/// The top view of one of these in its setting, at a pull in N.
pub(crate) fn seen_from_above(plow: &Plow, pull_n: f64) -> TopReport {
    top_report(plow, &plow.settings["middle"], Force::from_n(pull_n), Speed::from_mps(1.6), 5).unwrap()
}
