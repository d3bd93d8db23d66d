//! The stored runs still open, rebuild byte for byte from their raw bytes, and say what they must; what the
//! virtual plow knows of them lies within what is said.

use crate::summary;
use analysis::summary::Summary;
use hitchwright_tests::command::sample;
use ingest::plow::Measures;
use ingest::run_folder::{RowsFile, datapackage};
use signals::run::load_run;
use statics::advice::Advice;
use statics::verdict::Class;
use stats::Estimate;
use std::path::PathBuf;
use std::sync::LazyLock;

const NAMES: [&str; 4] = ["too-flat", "balanced", "too-steep", "worn-shares"];
/// What is told of each.
static TOLD: LazyLock<[Summary; 4]> =
    LazyLock::new(|| NAMES.map(|name| summary(load_run(&folder(name)).unwrap())));

fn folder(name: &str) -> PathBuf {
    sample("runs").join(name)
}

#[test]
fn each_stored_run_is_what_its_raw_bytes_give() {
    for name in NAMES {
        let rebuilt = ingest::rebuild::rebuild(&folder(name), None).unwrap();
        assert_eq!(rebuilt.files.len(), 2, "{name}");
        for file in rebuilt.files {
            let stored = std::fs::read(folder(name).join(&file.name)).unwrap();
            assert!(stored == file.bytes, "{name}/{} differs from its raw bytes", file.name);
        }
    }
}

/// The package file is what a recording of these columns writes today.
#[test]
fn each_stored_run_is_described_as_a_new_one_would_be() {
    for name in NAMES {
        let description = ingest::run_toml::read_run_toml(&folder(name).join("run.toml")).unwrap();
        let files: Vec<RowsFile> = description
            .boxes
            .iter()
            .map(|info| RowsFile {
                name: format!("{}.csv", info.file),
                columns: (info.channels.iter())
                    .filter_map(|channel| match channel.measures? {
                        Measures::Role(role) => Some(role),
                        Measures::Other => None,
                    })
                    .collect::<Vec<_>>()
                    .into(),
            })
            .collect();
        let stored = std::fs::read_to_string(folder(name).join("datapackage.json")).unwrap();
        assert_eq!(stored, datapackage(&description.run.id, &files, false), "{name}");
    }
}

#[test]
fn each_stored_run_says_what_it_must() {
    let [flat, balanced, steep, worn] = &*TOLD;
    assert_eq!(flat.verdict.class, Class::TooFlat);
    assert_eq!(balanced.verdict.class, Class::Balanced);
    assert_eq!(steep.verdict.class, Class::TooSteep);
    assert!(matches!(worn.advice[..], [Advice::SharesFirst { .. }]), "{:?}", worn.advice);
    let lifted = |of: &Summary| of.tail_load.as_ref().unwrap().lifted_share.unwrap().value;
    assert!(lifted(flat) > 0.01);
    assert_eq!(lifted(balanced), 0.0);
    for (name, said) in [("too-flat", flat), ("balanced", balanced)] {
        let bobbing = said.bobbing.as_ref().unwrap();
        assert!((bobbing.frequency_hz.value - 3.0).abs() < 0.4, "{name}: {bobbing:?}");
    }
}

#[test]
fn the_truth_lies_within_what_is_said() {
    for (name, said) in NAMES.into_iter().zip(&*TOLD) {
        let truth = std::fs::read_to_string(folder(&format!("{name}.truth.toml"))).unwrap();
        let (truth, statics) = (truth.parse::<toml::Table>().unwrap(), said.statics.as_ref().unwrap());
        let within = |what: &str, figure: &Estimate, wider: f64| {
            let margin = wider * (figure.high - figure.low);
            let (true_value, Estimate { low, high, .. }) = (truth[what].as_float().unwrap(), figure);
            let holds = low - margin <= true_value && true_value <= high + margin;
            assert!(holds, "{name}: {what} is {true_value}, said {figure:?}");
        };
        within("balance_index", &statics.balance_index, 0.0);
        within("soil_slope", &statics.soil_slope, 0.0);
        within("tail_share", &statics.tail_share, 0.0);
        within("front_load_n", &statics.front_load_n, 0.0);
        // The truth covers a few rows more or less than the working part that was found.
        within("pull_n", &said.pull.mean_n, 0.1);
        within("depth_mm", &said.depth.mean_mm, 0.5);
        within("lifted_share", &said.tail_load.as_ref().unwrap().lifted_share.unwrap(), 0.1);
        within("bobbing_hz", &said.bobbing.as_ref().unwrap().frequency_hz, 0.5);
    }
}
