//! Stored files with random damage: nothing panics, and no damage to the raw bytes makes a reading that was
//! never sent. Each case follows from a seed, which a failing test prints.
#![allow(clippy::unwrap_used)] // a fixture that cannot be read must stop the test

use analysis::summary::analyse;
use hitchwright_tests::command::sample;
use hitchwright_tests::snapshot::copy_run;
use ingest::plow::read_plow_text;
use ingest::rebuild::rebuild;
use rand::{Rng, RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use signals::run::load_run;
use std::path::{Path, PathBuf};

/// A few of: a byte changed, a stretch taken out, doubled, or filled with one byte; then perhaps the end cut.
pub fn damaged(mut bytes: Vec<u8>, rng: &mut impl Rng) -> Vec<u8> {
    for _ in 0..rng.random_range(1..6) {
        if bytes.is_empty() {
            break;
        }
        let at = rng.random_range(0..bytes.len());
        let end = (at + rng.random_range(1..200)).min(bytes.len());
        match rng.random_range(0..5) {
            0 => bytes[at] ^= 1 << rng.random_range(0..8),
            1 => bytes[at] = rng.random::<u8>(),
            2 => drop(bytes.drain(at..end)),
            3 => {
                let again = bytes[at..end].to_vec();
                bytes.splice(at..at, again);
            }
            _ => bytes[at..end].fill(rng.random::<u8>()),
        }
    }
    if rng.random_range(0..4) == 0 {
        bytes.truncate(rng.random_range(0..bytes.len() + 1));
    }
    bytes
}

/// A stored run, copied, with one of its files damaged.
fn damaged_run(folder: &Path, file: &str, rng: &mut impl Rng) -> PathBuf {
    let run = folder.join("run");
    let _ = std::fs::remove_dir_all(&run);
    copy_run(&sample("runs/too-flat"), &run).unwrap();
    let bytes = std::fs::read(run.join(file)).unwrap();
    std::fs::write(run.join(file), damaged(bytes, rng)).unwrap();
    run
}

#[test]
fn damaged_raw_bytes_rebuild_to_a_beginning_of_the_run_and_to_nothing_else() {
    let folder = tempfile::tempdir().unwrap();
    let whole = std::fs::read(sample("runs/too-flat/plow.csv")).unwrap();
    let mut shortened = 0;
    for seed in 0..150 {
        let run = damaged_run(folder.path(), "plow.wire", &mut ChaCha8Rng::seed_from_u64(seed));
        let Ok(rebuilt) = rebuild(&run, None) else { continue };
        let rows = rebuilt.files.iter().find(|file| file.name == "plow.csv").unwrap();
        assert!(whole.starts_with(&rows.bytes), "seed {seed}: a row that was never recorded");
        if rows.bytes.len() < whole.len() {
            shortened += 1;
            assert!(!rebuilt.notices.is_empty(), "seed {seed}: rows are missing and nothing says so");
        }
    }
    assert!(shortened > 50, "the damage hardly ever hit: {shortened} of 150");
}

#[test]
fn damaged_descriptions_are_read_or_refused_line_by_line() {
    let plow = std::fs::read(sample("plows/two-bottom.toml")).unwrap();
    let mut refused = 0;
    for seed in 0..600 {
        let text = damaged(plow.clone(), &mut ChaCha8Rng::seed_from_u64(seed));
        let text = String::from_utf8_lossy(&text);
        if let Err(error) = read_plow_text(&text, Path::new("plow.toml")) {
            refused += 1;
            let said = error.to_string();
            let is_fault = |line: &str| line.starts_with("plow.toml") || line.starts_with("    ");
            assert!(!said.is_empty() && said.lines().all(is_fault), "seed {seed}: {said}");
            assert_eq!(error.in_one_line().to_string().lines().count(), 1, "seed {seed}: {said}");
        }
    }
    assert!(refused > 200, "the damage hardly ever hit: {refused} of 600");
}

#[test]
fn damaged_run_folders_are_read_or_refused() {
    let folder = tempfile::tempdir().unwrap();
    for file in ["run.toml", "plow.csv", "events.csv"] {
        let mut refused = 0;
        for seed in 0..60 {
            let run = damaged_run(folder.path(), file, &mut ChaCha8Rng::seed_from_u64(seed));
            if let Err(error) = load_run(&run) {
                refused += 1;
                let said = error.to_string();
                assert!(said.contains(file) && !said.contains('\n'), "{file}, seed {seed}: {said}");
            }
        }
        // Events explain rows; a run whose events are damaged is still a run.
        assert_eq!(refused == 0, file == "events.csv", "{file}: {refused} of 60 refused");
    }
}

/// What was let through must still give figures that are numbers.
#[test]
fn a_run_with_holes_gives_numbers_or_a_sentence() {
    let folder = tempfile::tempdir().unwrap();
    let text = std::fs::read_to_string(sample("runs/too-flat/plow.csv")).unwrap();
    let lines: Vec<&str> = text.lines().collect();
    let mut with_figures = 0;
    for seed in 0..10 {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        let mut kept = lines.clone();
        for _ in 0..rng.random_range(1..30) {
            let at = rng.random_range(1..kept.len());
            let end = (at + rng.random_range(1..200)).min(kept.len());
            kept.drain(at..end);
            if kept.len() < 3 {
                break;
            }
        }
        let run = folder.path().join(format!("run-{seed}"));
        copy_run(&sample("runs/too-flat"), &run).unwrap();
        std::fs::write(run.join("plow.csv"), kept.join("\n") + "\n").unwrap();
        match load_run(&run).map(analyse) {
            Ok(Ok(analysed)) => {
                with_figures += 1;
                let json = serde_json::to_string(&analysed.summary.depth).unwrap()
                    + &serde_json::to_string(&analysed.summary.pull).unwrap();
                assert!(!json.contains("null"), "seed {seed}: a figure that is no number: {json}");
            }
            Ok(Err(error)) => assert!(!error.to_string().contains('\n'), "seed {seed}: {error}"),
            Err(error) => assert!(!error.to_string().contains('\n'), "seed {seed}: {error}"),
        }
    }
    assert!(with_figures > 0, "no run with holes gave figures, so nothing was shown");
}
