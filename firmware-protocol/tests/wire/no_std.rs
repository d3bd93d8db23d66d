//! The crate must run in a box without an operating system and without a heap.

use std::fs;
use std::path::Path;

/// `#![no_std]` makes the compiler refuse `std::` paths unless a crate is asked for by name.
#[test]
fn neither_std_nor_alloc_is_asked_for() {
    let mut folders = vec![Path::new(env!("CARGO_MANIFEST_DIR")).join("src")];
    let mut paths = Vec::new();
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() { folders.push(path) } else { paths.push(path) }
        }
    }
    let mut seen = 0;
    for path in paths {
        let text = fs::read_to_string(&path).unwrap();
        assert!(!text.contains("extern crate"), "{}", path.display());
        if path.ends_with("lib.rs") {
            assert!(text.lines().any(|line| line == "#![no_std]"));
            seen += 1;
        }
    }
    assert_eq!(seen, 1);
}
