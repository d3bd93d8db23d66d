//! The seeds and the finds of fuzzing, each through the body that it belongs to.
#![allow(clippy::panic)] // a body says by a panic what is wrong, for a fuzzer listens to nothing else

#[path = "../fuzz/bodies/mod.rs"]
mod bodies;
#[allow(dead_code)] // what only the command uses
#[path = "../fuzz/bodies/import.rs"]
mod import;
#[path = "../fuzz/bodies/run_folder.rs"]
mod run_folder;

use crate::mutated_inputs::damaged;
use bodies::{frames, nmea, plow_toml, records, repair, run_toml, stored, text, text_records};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use signals::run;
use std::path::Path;

/// Feeds every file of a target's corpus to its body.
fn replay(target: &str, body: impl Fn(&[u8])) {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("fuzz/corpus").join(target);
    let mut fed = 0;
    for entry in std::fs::read_dir(&folder).unwrap_or_else(|error| panic!("{}: {error}", folder.display())) {
        let path = entry.unwrap_or_else(|error| panic!("{}: {error}", folder.display())).path();
        println!("{}", path.display());
        body(&std::fs::read(&path).unwrap_or_else(|error| panic!("{}: {error}", path.display())));
        fed += 1;
    }
    assert!(fed > 0, "{} is empty", folder.display());
}

#[test]
fn frames_corpus() {
    replay("frames", frames::body);
}

#[test]
fn text_corpus() {
    replay("text", text::body);
}

#[test]
fn nmea_corpus() {
    replay("nmea", nmea::body);
}

#[test]
fn records_corpus() {
    replay("records", records::body);
}

#[test]
fn plow_toml_corpus() {
    replay("plow_toml", plow_toml::body);
}

#[test]
fn text_records_corpus() {
    replay("text_records", text_records::body);
}

#[test]
fn run_toml_corpus() {
    replay("run_toml", run_toml::body);
}

#[test]
fn repair_corpus() {
    let folder = tempfile::tempdir().unwrap_or_else(|error| panic!("no folder to work in: {error}"));
    replay("repair", |data| repair::body(data, &folder.path().join("run")));
}

#[test]
fn run_folder_corpus() {
    let folder = tempfile::tempdir().unwrap_or_else(|error| panic!("no folder to work in: {error}"));
    replay("run_folder", |data| run_folder::body(data, folder.path()));
}

/// The seeds, and each of them damaged in many ways.
#[test]
fn import_corpus() {
    replay("import", |data| {
        import::body(data);
        let Some((how, file)) = data.split_first() else { return };
        for seed in 0..300 {
            let damaged = damaged(file.to_vec(), &mut ChaCha8Rng::seed_from_u64(seed));
            import::body(&[&[*how][..], &damaged].concat());
        }
    });
}
