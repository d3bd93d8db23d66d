//! `run.toml`: read or refused in one line, what was read survives writing, and its files are in its folder.

use ingest::run_toml::read_run_toml_text;
use std::path::{Component, Path};

/// Any text.
pub fn body(data: &[u8]) {
    let text = String::from_utf8_lossy(data);
    match read_run_toml_text(&text, Path::new("run.toml")) {
        Err(error) => {
            let sentence = error.to_string();
            assert!(!sentence.is_empty() && sentence.lines().count() == 1, "not one line: {sentence:?}");
        }
        Ok(run) => {
            let written =
                run.to_toml().unwrap_or_else(|error| panic!("a run that cannot be written: {error}"));
            let again = read_run_toml_text(&written, Path::new("run.toml"));
            assert_eq!(again.ok().as_ref(), Some(&run), "a run that does not survive writing:\n{written}");
            let files = run.wire_files();
            for (number, file) in files.iter().enumerate() {
                let in_folder =
                    matches!(Path::new(file).components().collect::<Vec<_>>()[..], [Component::Normal(_)]);
                assert!(in_folder, "{file:?} is beside the run");
                assert!(!files[..number].contains(file), "two boxes write {file:?}");
            }
        }
    }
}
