//! The commands as a person runs them.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a helper of tests fails as a test does")]

mod afternoon;
mod cautions;
mod command;
mod describe;
mod describe_terminal;
mod example_plows;
mod handbook;
mod json_units;
mod large_runs;
mod many_passes;
mod many_runs;
mod one_move;
mod other_kinds;
mod pages;
mod statics;
mod top_view;
mod twelve_mistakes;
mod us_units;

use std::sync::LazyLock;

use analysis::summary::{Analysed, analyse};
use hitchwright_tests::command::{hitchwright, sample, samples_in, text_of};
use hitchwright_tests::pdf::pages_of;
use ingest::plow::{Plow, read_plow};
use signals::run::load_run;
use tempfile::TempDir;

const STORED_RUNS: [&str; 4] = ["balanced", "too-flat", "too-steep", "worn-shares"];
/// What is told of each of them.
static ANALYSED: LazyLock<[Analysed; 4]> =
    LazyLock::new(|| STORED_RUNS.map(|name| analyse(load_run(&sample("runs").join(name)).unwrap()).unwrap()));
const DATE: jiff::civil::Date = jiff::civil::date(2027, 4, 11);

/// A file or folder of `sample-runs`, as an argument.
fn sample_arg(path: &str) -> String {
    text_of(&sample(path)).to_owned()
}

/// The example plows, each with its file as an argument.
fn example_plows() -> Vec<(String, Plow)> {
    let files = samples_in("plows").unwrap();
    files.iter().map(|file| (text_of(file).to_owned(), read_plow(file).unwrap())).collect()
}

/// A folder that is taken away at the end; its files are named as arguments are.
struct Scratch(TempDir);

impl Scratch {
    fn new() -> Self {
        Self(tempfile::tempdir().unwrap())
    }

    fn path(&self, name: &str) -> String {
        text_of(&self.0.path().join(name)).to_owned()
    }

    /// Writes a file, and gives its path.
    fn write(&self, name: &str, text: &str) -> String {
        let path = self.path(name);
        std::fs::write(&path, text).unwrap();
        path
    }
}

/// With these words the command makes this page: one, on both papers.
fn is_one_page(words: &[&str], page: &str) {
    for paper in ["a4", "letter"] {
        hitchwright([words, &["--paper", paper, "--units", "us"]].concat(), 0).unwrap();
        assert_eq!(pages_of(page.as_ref()).unwrap(), 1, "{words:?} on {paper}");
    }
}
