//! A run folder of which one file holds anything.

use super::run::load_run;
use ingest::rebuild::rebuild;
use std::fs::{create_dir_all, write};
use std::path::Path;

const RUN_TOML: &str = include_str!("../corpus/stored/run.toml");
const PLOW_CSV: &str = include_str!("../corpus/stored/plow.csv");
const EVENTS_CSV: &str = include_str!("../corpus/stored/events.csv");
const PLOW_WIRE: &[u8] = include_bytes!("../corpus/stored/plow.wire");

/// The first byte says which file the rest is.
pub fn body(data: &[u8], folder: &Path) {
    let Some((which, data)) = data.split_first() else { return };
    let names = ["run.toml", "plow.csv", "events.csv", "plow.wire"];
    let stored = [RUN_TOML.as_bytes(), PLOW_CSV.as_bytes(), EVENTS_CSV.as_bytes(), PLOW_WIRE];
    create_dir_all(folder).unwrap_or_else(|error| panic!("no folder to work in: {error}"));
    for (number, (name, stored)) in names.iter().zip(stored).enumerate() {
        let content = if number == usize::from(which % 4) { data } else { stored };
        write(folder.join(name), content).unwrap_or_else(|error| panic!("{name}: {error}"));
    }
    match load_run(folder) {
        Err(error) => {
            let sentence = error.to_string();
            assert!(!sentence.is_empty() && sentence.lines().count() == 1, "not one line: {sentence:?}");
        }
        Ok(run) => {
            for table in &run.tables {
                let rows = table.t_s.len();
                assert!(table.t_s.windows(2).all(|pair| pair[0] < pair[1]), "time does not rise");
                for (role, values) in &table.channels {
                    assert_eq!(values.len(), rows, "{role:?} has other rows than the time");
                    assert!(values.iter().all(|value| value.is_finite()), "{role:?} holds what is no number");
                }
            }
        }
    }
    match rebuild(folder, None) {
        Err(error) => assert_eq!(error.to_string().lines().count(), 1),
        Ok(rebuilt) if which % 4 == 3 => {
            let rows = &rebuilt.files[0].bytes;
            assert!(PLOW_CSV.as_bytes().starts_with(rows), "raw bytes gave a row that was never recorded");
        }
        Ok(_) => {}
    }
}
