//! A run folder of which one file holds anything.

use super::run::load_run;
use super::stored::{put, run_of};
use ingest::rebuild::rebuild;
use std::path::Path;

/// The first byte says which file the rest is, and whether the run has a column of the user's own.
pub fn body(data: &[u8], folder: &Path) {
    let Some((form, data)) = data.split_first() else { return };
    let (stored, which) = (run_of(*form), usize::from(form % 4));
    put(folder, stored, which, data);
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
                for (name, values) in &table.own {
                    assert_eq!(values.len(), rows, "{name} has other rows than the time");
                    assert!(
                        !values.iter().any(|value| value.is_infinite()),
                        "{name} holds what is no number"
                    );
                }
            }
        }
    }
    match rebuild(folder, None) {
        Err(error) => assert_eq!(error.to_string().lines().count(), 1),
        Ok(rebuilt) if which == 3 => {
            let rows = &rebuilt.files[0].bytes;
            assert!(stored[1].1.starts_with(rows), "raw bytes gave a row that was never recorded");
        }
        Ok(_) => {}
    }
}
