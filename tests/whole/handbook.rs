//! The handbook as the binary prints it, and what of it stands elsewhere too.

use std::fs;

use crate::Scratch;
use analysis::report::words::glossary::GLOSSARY;
use hitchwright_tests::command::{hitchwright, sample};

#[test]
fn the_handbook_is_printed() {
    let folder = Scratch::new();
    let file = folder.path("handbook.pdf");
    for paper in ["a4", "letter"] {
        hitchwright(["handbook", "-o", &file, "--paper", paper], 0).unwrap();
        let pdf = fs::read(&file).unwrap();
        assert!(pdf.starts_with(b"%PDF-1.7") && pdf.len() > 100_000, "{} bytes", pdf.len());
    }
    let refused = hitchwright(["handbook", "-o", &folder.path("handbook.png")], 2).unwrap();
    assert!(refused.stderr.contains("must end in .pdf"), "{}", refused.stderr);
}

/// README's words are the handbook's.
#[test]
fn words_mean_the_same_in_readme() {
    let readme = fs::read_to_string(sample("../README.md")).unwrap();
    for (word, meaning) in GLOSSARY {
        assert!(readme.contains(&format!("\n| {word} | {meaning} |\n")), "{word}: {meaning}");
    }
}

#[test]
fn the_citation_names_this_version() {
    let citation = fs::read_to_string(sample("../CITATION.cff")).unwrap();
    assert!(citation.contains(concat!("\nversion: ", env!("CARGO_PKG_VERSION"), "\n")), "{citation}");
}
