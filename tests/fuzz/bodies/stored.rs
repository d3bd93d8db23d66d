//! The files of a stored run, one of which a body replaces.

use std::fs::{create_dir_all, write};
use std::path::Path;

/// Names and contents.
pub const STORED: [(&str, &[u8]); 4] = [
    ("run.toml", include_bytes!("../corpus/stored/run.toml")),
    ("plow.csv", include_bytes!("../corpus/stored/plow.csv")),
    ("events.csv", include_bytes!("../corpus/stored/events.csv")),
    ("plow.wire", include_bytes!("../corpus/stored/plow.wire")),
];

/// Puts the stored run into a folder, with other content in the file of this number.
pub fn put(folder: &Path, replaced: usize, content: &[u8]) {
    create_dir_all(folder).unwrap_or_else(|error| panic!("no folder to work in: {error}"));
    for (number, (name, stored)) in STORED.iter().enumerate() {
        let content = if number == replaced { content } else { stored };
        write(folder.join(name), content).unwrap_or_else(|error| panic!("{name}: {error}"));
    }
}
