//! The zero check at the start of a run, and a rebuild with a calibration of the newer kind: real binaries on
//! runs that were recorded from a virtual box through a real port.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a helper of tests fails as a test does")]

use std::fs;
use std::path::Path;

use hitchwright_tests::Outcome;
use hitchwright_tests::command::{hitchwright, json_of, stdout_of, text_of};
use hitchwright_tests::field::Field;
use hitchwright_tests::recording::Recorded;
use sample_runs::plow::Plow;
use serde_json::Value;

/// The pull sensor of the demo's plow as it is described.
const PULL_POINTS: &str = "[[12840, \"0 N\"], [2412840, \"6000 N\"], [4812840, \"12000 N\"]]";

/// The demo's plow with the setting that the rig records with.
fn plow() -> String {
    let sensors = Plow::TWO_BOTTOM_TOML.find("[[sensors]]").unwrap();
    let (plow, sensors) = Plow::TWO_BOTTOM_TOML.split_at(sensors);
    format!("{plow}[settings.as-found]\nplow_hole = \"4\"\ntractor_hole = \"4\"\n\n{sensors}")
}

fn recorded(box_words: &str) -> Outcome<Recorded> {
    let field = Field::new()?.with_box(box_words);
    fs::write(field.plow(), plow()).unwrap();
    field.record("")?.to_the_end()
}

fn summary(run_folder: &Path) -> Outcome<Value> {
    json_of(["summary", text_of(run_folder), "--json"])
}

fn zero(summary: &Value) -> &Value {
    summary.pointer("/calibration/zero/0").unwrap()
}

/// One run that begins standing: its zero is as calibrated. With a calibration whose zero lies 80 N off, given as
/// a table with the accuracy of its loads, it has moved by that, and nothing is corrected.
#[test]
fn a_zero_that_moved_is_told_with_its_size_and_not_corrected() -> Outcome<()> {
    let recorded = recorded("--stand-s 5 --working-s 30 --speed-up 30 --seed 7")?;
    let found = summary(&recorded.run()?)?;
    assert_eq!(zero(&found)["verdict"], "as_calibrated", "{found}");
    let still_s = zero(&found)["still_s"].as_f64().unwrap();
    assert!((4.0..=5.5).contains(&still_s), "{still_s}");
    let text = stdout_of(["summary", text_of(&recorded.run()?)])?;
    assert!(
        text.contains("zero of the pull as calibrated") && !text.contains("zero of the pull has moved"),
        "{text}"
    );

    // 80 N are 32 000 counts of this sensor.
    let moved = "{ date = \"2026-10-01\", fit = \"table\", reference = \"0.2 %\", points = \
                 [[-19160, \"0 N\"], [2380840, \"6000 N\"], [4780840, \"12 kN\"], [2380840, \"6 kN\"], [-19160, \"0 N\"]] }";
    let described = plow();
    let old = format!("{{ date = \"2026-03-01\", points = {PULL_POINTS} }}");
    assert!(described.contains(&old));
    let other = recorded.field.path("other.toml");
    fs::write(&other, described.replace(&old, moved)).unwrap();
    let rebuilt = recorded.field.path("rebuilt");
    let (run_folder, rebuilt_text) = (recorded.run()?, rebuilt.to_str().unwrap());
    let args = ["check", text_of(&run_folder), "--rebuild-into", rebuilt_text];
    let args = args.into_iter().chain(["--plow", text_of(&other)]);
    hitchwright(args, 0)?;

    let shifted = summary(&rebuilt)?;
    assert_eq!(zero(&shifted)["verdict"], "moved", "{shifted}");
    let shift = zero(&shifted)["reading"]["value"].as_f64().unwrap();
    assert!((shift - 80.0).abs() < 5.0, "{shift}");
    let text = stdout_of(["summary", text_of(&rebuilt)])?;
    assert!(text.contains("the zero of the pull has moved"), "{text}");
    let mean = |of: &Value| of.pointer("/pull/mean_n/value").unwrap().as_f64().unwrap();
    assert!((mean(&shifted) - mean(&found) - 80.0).abs() < 1.0, "{} {}", mean(&shifted), mean(&found));
    Ok(())
}

#[test]
fn a_run_that_begins_under_way_has_no_zero_check_and_says_what_to_do() -> Outcome<()> {
    let recorded = recorded("--working-s 30 --speed-up 30 --seed 8")?;
    let run_folder = recorded.run()?;
    let found = summary(&run_folder)?;
    assert_eq!(zero(&found)["verdict"], "not_checked", "{found}");
    let text = stdout_of(["summary", text_of(&run_folder)])?;
    assert!(text.contains("no zero check of the pull: the run begins with the plow under way"), "{text}");
    assert!(
        text.contains("start the recording standing still, plow lifted, drawbar slack, nobody between tractor and plow, for 5 s"),
        "{text}"
    );
    Ok(())
}

/// What is wrong with a calibration is said before anything is recorded or worked out with it.
#[test]
fn a_calibration_that_would_make_nonsense_is_refused_in_a_sentence() -> Outcome<()> {
    let field = Field::new()?;
    let bad = field.path("bad.toml");
    let turns_back = "fit = \"table\", points = [[0, \"0 N\"], [300, \"2 kN\"], [200, \"4 kN\"]]";
    for (calibration, said) in [
        (turns_back, "around 4000 N they turn back"),
        ("fit = \"table\", points = [[0, \"0 N\"]]", "two points with different counts"),
        ("points = [[7, \"0 N\"], [7, \"5 N\"]]", "two points with different counts"),
        ("points = [[0, \"5 N\"], [7, \"5 N\"]]", "two different true values"),
        ("points = [[0, \"0 mm\"], [7, \"5 N\"]]", "no unit of a force"),
        (
            "reference = \"0.2\", points = [[0, \"0 N\"], [7, \"5 N\"]]",
            "a percentage of the value like \"0.2 %\"",
        ),
        ("fit = \"curve\", points = [[0, \"0 N\"], [7, \"5 N\"]]", "write \"line\" or \"table\""),
        ("points = [[\"0 N\", 0], [\"5 N\", 7]]", "a number without quotation marks"),
    ] {
        let described = plow().replace(
            &format!("date = \"2026-03-01\", points = {PULL_POINTS}"),
            &format!("date = \"2026-03-01\", {calibration}"),
        );
        fs::write(&bad, described).unwrap();
        let ended = hitchwright(["statics", text_of(&bad)], 1)?;
        assert!(ended.stderr.contains(said), "{calibration}: {}", ended.stderr);
        assert!(ended.stderr.contains("bad.toml, line "), "{}", ended.stderr);
    }
    Ok(())
}
