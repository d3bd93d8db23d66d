//! What a program reads is in SI, whatever units the reader of the page has: the same bytes with `--units us`.

use hitchwright_tests::command::{sample, samples_in, stdout_of, text_of};
use hitchwright_tests::{Doing, Outcome};

const RUNS: [&str; 4] = ["balanced", "too-flat", "too-steep", "worn-shares"];

fn run_folder(name: &str) -> String {
    text_of(&sample("runs").join(name)).to_owned()
}

fn same_in_both_units(words: &[&str]) -> Outcome<()> {
    let out = |units: &'static str| stdout_of(words.iter().copied().chain(["--json", "--units", units]));
    let (si, us) = (out("si")?, out("us")?);
    assert!(si.len() > 500, "{words:?}: {si}");
    assert!(si == us, "{words:?} differs by the reader's units");
    Ok(())
}

#[test]
fn a_summary_of_each_stored_run_is_the_same_with_and_without_a_page() -> Outcome<()> {
    let folder = tempfile::tempdir().doing(|| "make a folder".to_owned())?;
    let page = folder.path().join("page.pdf").to_string_lossy().into_owned();
    for name in RUNS {
        same_in_both_units(&["summary", &run_folder(name)])?;
    }
    // The page beside it is for its reader: in pounds it is another page.
    let with_page = |units: &str| -> Outcome<(String, Vec<u8>)> {
        let words = ["summary", &run_folder("too-flat"), "--json", "-o", &page, "--units", units];
        let json = stdout_of(words)?;
        Ok((json, std::fs::read(&page).doing(|| "read the page".to_owned())?))
    };
    let (si, us) = (with_page("si")?, with_page("us")?);
    assert!(si.0 == us.0);
    assert!(si.1 != us.1);
    Ok(())
}

#[test]
fn a_comparison_is_the_same() -> Outcome<()> {
    let [balanced, flat, steep, _] = RUNS.map(run_folder);
    same_in_both_units(&["compare", &flat, &steep, "--against", &balanced])
}

#[test]
fn statics_of_each_example_is_the_same() -> Outcome<()> {
    for plow in samples_in("plows")? {
        same_in_both_units(&["statics", text_of(&plow)])?;
    }
    let two_bottom = sample("plows/two-bottom.toml");
    let [balanced, flat, steep, _] = RUNS.map(run_folder);
    same_in_both_units(&["statics", text_of(&two_bottom), "--runs", &balanced, &flat, &steep])
}
