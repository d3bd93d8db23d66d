//! The files of stored runs, one of which a body replaces.

use std::fs::{create_dir_all, write};
use std::path::Path;

/// Names and contents.
pub type Stored = [(&'static str, &'static [u8]); 4];

/// A run.
pub const STORED: Stored = [
    ("run.toml", include_bytes!("../corpus/stored/run.toml")),
    ("plow.csv", include_bytes!("../corpus/stored/plow.csv")),
    ("events.csv", include_bytes!("../corpus/stored/events.csv")),
    ("plow.wire", include_bytes!("../corpus/stored/plow.wire")),
];

/// The same run, in which the tail's spring fills a column of the user's own.
pub const OWN: Stored = [
    ("run.toml", include_bytes!("../corpus/stored/own-run.toml")),
    ("plow.csv", include_bytes!("../corpus/stored/own-plow.csv")),
    STORED[2],
    STORED[3],
];

/// The run that a first byte stands for.
pub fn run_of(form: u8) -> &'static Stored {
    if form & 8 == 0 { &STORED } else { &OWN }
}

/// Puts a stored run into a folder, with other content in the file of this number.
pub fn put(folder: &Path, run: &Stored, replaced: usize, content: &[u8]) {
    create_dir_all(folder).unwrap_or_else(|error| panic!("no folder to work in: {error}"));
    for (number, (name, stored)) in run.iter().enumerate() {
        let content = if number == replaced { content } else { stored };
        write(folder.join(name), content).unwrap_or_else(|error| panic!("{name}: {error}"));
    }
}
