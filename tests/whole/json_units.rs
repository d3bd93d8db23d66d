//! What a program reads is in SI, whatever units the reader of the page has: the same bytes with `--units us`.

use std::path::Path;
use std::time::Duration;

use hitchwright_tests::binaries::Program;
use hitchwright_tests::process::run;
use hitchwright_tests::{Doing, Outcome};

const LONG: Duration = Duration::from_secs(240);
const SAMPLES: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../sample-runs");
const RUNS: [&str; 4] = ["balanced", "too-flat", "too-steep", "worn-shares"];

fn run_folder(name: &str) -> String {
    format!("{SAMPLES}/runs/{name}")
}

fn same_in_both_units(words: &[&str]) -> Outcome<()> {
    let out = |units: &str| {
        let all = words.iter().copied().chain(["--json", "--units", units]);
        Ok(run(Program::Hitchwright, all, LONG)?.expect_code(0)?.stdout)
    };
    let (si, us): (String, String) = (out("si")?, out("us")?);
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
        let json = run(Program::Hitchwright, words, LONG)?.expect_code(0)?.stdout;
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
    let folder = Path::new(SAMPLES).join("plows");
    for entry in std::fs::read_dir(&folder).doing(|| format!("list {}", folder.display()))? {
        let file = entry.doing(|| "read an entry".to_owned())?.path().to_string_lossy().into_owned();
        same_in_both_units(&["statics", &file])?;
    }
    let two_bottom = format!("{SAMPLES}/plows/two-bottom.toml");
    let [balanced, flat, steep, _] = RUNS.map(run_folder);
    same_in_both_units(&["statics", &two_bottom, "--runs", &balanced, &flat, &steep])
}
