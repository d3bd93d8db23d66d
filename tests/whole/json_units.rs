//! What a program reads is in SI, whatever units the reader of the page has: the same bytes with `--units us`.

use crate::{STORED_RUNS, Scratch, example_plows, sample_arg};
use hitchwright_tests::command::stdout_of;

fn run_folder(name: &str) -> String {
    sample_arg(&format!("runs/{name}"))
}

fn same_in_both_units(words: &[&str]) {
    let out = |units: &'static str| stdout_of(words.iter().copied().chain(["--json", "--units", units]));
    let (si, us) = (out("si").unwrap(), out("us").unwrap());
    assert!(si.len() > 500, "{words:?}: {si}");
    assert!(si == us, "{words:?} differs by the reader's units");
}

#[test]
fn a_summary_of_each_stored_run_is_the_same_with_and_without_a_page() {
    for name in STORED_RUNS {
        same_in_both_units(&["summary", &run_folder(name)]);
    }
    // The page beside it is for its reader: in pounds it is another page.
    let folder = Scratch::new();
    let page = folder.path("page.pdf");
    let with_page = |units: &str| {
        let json =
            stdout_of(["summary", &run_folder("too-flat"), "--json", "-o", &page, "--units", units]).unwrap();
        (json, std::fs::read(&page).unwrap())
    };
    let (si, us) = (with_page("si"), with_page("us"));
    assert!(si.0 == us.0);
    assert!(si.1 != us.1);
}

#[test]
fn a_comparison_is_the_same() {
    let [balanced, flat, steep, _] = STORED_RUNS.map(run_folder);
    same_in_both_units(&["compare", &flat, &steep, "--against", &balanced])
}

/// What is told on a phone is told in words, so that its reader's units are chosen there.
#[test]
fn a_brief_has_both_units_in_one_json() {
    let [balanced, flat, _, _] = STORED_RUNS.map(run_folder);
    for words in [&["summary", &flat, "--brief"][..], &["compare", &flat, "--against", &balanced, "--brief"]]
    {
        same_in_both_units(words);
        let told = stdout_of(words.iter().copied().chain(["--json"])).unwrap();
        let told: serde_json::Value = serde_json::from_str(&told).unwrap();
        for units in ["si", "us"] {
            let text = stdout_of(words.iter().copied().chain(["--units", units])).unwrap();
            let brief = &told[units];
            let lines = brief["lines"].as_array().unwrap().iter();
            let lines =
                [&brief["of"], &brief["headline"]].into_iter().chain(lines).map(|one| one.as_str().unwrap());
            assert_eq!(text.lines().collect::<Vec<_>>(), lines.collect::<Vec<_>>());
        }
    }
}

#[test]
fn statics_of_each_example_is_the_same() {
    for (file, _) in example_plows() {
        same_in_both_units(&["statics", &file]);
    }
    let [balanced, flat, steep, _] = STORED_RUNS.map(run_folder);
    same_in_both_units(&["statics", &sample_arg("plows/two-bottom.toml"), "--runs", &balanced, &flat, &steep])
}
