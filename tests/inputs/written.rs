//! A description as a plowman writes it: units, marks and commas of his own, and the slips of a tape.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a helper of tests fails as a test does")]

use std::fs;
use std::process::Command;

use hitchwright_tests::binaries::Program;
use hitchwright_tests::command::{sample, samples_in, text_of};
use tempfile::TempDir;

/// Status, stdout and stderr of `statics` on the text of a description.
fn statics(text: &str, variable: Option<&str>, more: &[&str]) -> (i32, String, String) {
    let folder = TempDir::new().unwrap();
    let file = folder.path().join("plow.toml");
    fs::write(&file, text).unwrap();
    let mut command = Command::new(Program::Hitchwright.path().unwrap());
    command.env_remove("HITCHWRIGHT_UNITS").arg("statics").arg(&file).args(more);
    if let Some(units) = variable {
        command.env("HITCHWRIGHT_UNITS", units);
    }
    let done = command.output().unwrap();
    let text = |bytes| String::from_utf8(bytes).unwrap();
    (done.status.code().unwrap(), text(done.stdout), text(done.stderr))
}

fn one_bottom() -> String {
    fs::read_to_string(sample("plows/one-bottom-trailed.toml")).unwrap()
}

fn changed(from: &str, to: &str) -> String {
    let text = one_bottom();
    assert!(text.contains(from), "{from}");
    text.replacen(from, to, 1)
}

/// However it is written, the same plow.
#[test]
fn the_same_plow_in_other_words_has_the_same_report() {
    let plain = statics(&one_bottom(), None, &[]);
    assert_eq!(plain.0, 0, "{}", plain.2);
    for (from, to) in [
        ("400 lbf ± 8 lbf", "400 lb +- 8 pounds"),
        ("-18 in ± 0.5 in", "-1 ft 6 inches ± ½ in"),
        ("-56 in ± 0.5 in", "-4’8” ± 0,5 in"),
        ("12 in ± 0.25 in", "1 foot ± ¼″"),
    ] {
        assert_eq!(statics(&changed(from, to), None, &[]), plain, "{to}");
    }
    let pull = |pull: &str| statics(&one_bottom(), None, &["--pull", pull]);
    assert_eq!(pull("1,200 lbs"), pull("1200 lbf"));
    let refused = pull("1,200 N");
    assert!(refused.0 == 2 && refused.2.contains("write it without one"), "{}", refused.2);
}

/// The words of a report that are metric units.
fn metric(text: &str) -> Vec<&str> {
    text.split(|c: char| !(c.is_alphanumeric() || c == '/'))
        .filter(|word| ["mm", "N", "km/h"].contains(word))
        .collect()
}

#[test]
fn units_are_decided_by_the_option_then_the_variable_then_the_description() {
    let us = format!("units = \"us\"\n{}", one_bottom());
    let told = |text: &str, variable, more: &[&str]| {
        let (status, said, remarks) = statics(text, variable, more);
        assert_eq!(status, 0, "{remarks}");
        (metric(&said).is_empty(), remarks.contains("lbf, tail"))
    };
    assert_eq!(told(&one_bottom(), None, &[]), (false, false));
    assert_eq!(told(&us, None, &[]), (true, true));
    assert_eq!(told(&one_bottom(), Some("us"), &[]), (true, true));
    assert_eq!(told(&us, Some("si"), &[]), (false, false));
    assert_eq!(told(&us, Some("si"), &["--units", "us"]), (true, true));
    let (status, _, said) = statics(&us, Some("ells"), &[]);
    assert!(status == 2 && said.contains("HITCHWRIGHT_UNITS is 'ells': set it to us or si"), "{said}");
}

#[test]
fn slips_of_a_tape_are_questioned_and_not_corrected() {
    let (_, _, said) = statics(&one_bottom(), Some("us"), &[]);
    assert!(said.contains("standing level: front 271 lbf, tail 129 lbf (32 %)"), "{said}");
    let two = |from: &str, to: &str| changed("count = 1", "count = 2").replacen(from, to, 1);
    for (text, wanted) in [
        (changed("-18 in ± 0.5 in", "-38 in"), "unusual: weight.x: -38 in puts 68 %"),
        (changed("400 lbf ± 8 lbf", "129 lbf"), "unusual: weight.total: 129 lbf is little"),
        (changed("12 in ± 0.25 in", "-2 in"), "unusual: plow_hitch.x: -2 in is behind"),
        (two("cut_width = \"14 in\"", "cut_width = \"28 in\""), "unusual: bottoms.cut_width: 28 in is wide"),
        (changed("z = \"3 in ± 5 mm\"", "z = \"32 1/2 in\""), "hole \"2\" at 32 1/2 in is far"),
    ] {
        let (_, _, said) = statics(&text, None, &[]);
        assert!(said.contains(wanted), "{wanted}: {said}");
    }
    for file in samples_in("plows").unwrap() {
        let (_, _, said) = statics(&fs::read_to_string(&file).unwrap(), None, &[]);
        assert!(!said.contains("unusual:"), "{}: {said}", text_of(&file));
    }
}

#[test]
fn errors_are_in_words_of_the_trade() {
    for (from, to, wanted) in [
        ("cut_width = \"14 in\"", "cut_width = “14 in”", "curly quotation mark (“)"),
        ("count = 1", "count = \"one\"", "a whole number without quotation marks"),
        ("{ name = \"1\", z = \"2 in ± 5 mm\" }", "\"2 in\"", "write { name = ..., z = ... }"),
    ] {
        let (status, _, said) = statics(&changed(from, to), None, &[]);
        assert!(status == 1 && said.contains(wanted), "{wanted}: {said}");
        assert!(
            !["struct", "u32", "literal", "TOML parse"].iter().any(|jargon| said.contains(jargon)),
            "{said}"
        );
    }
}

#[test]
fn a_bare_number_is_a_hole() {
    let tried = |tried: &str| statics(&one_bottom(), None, &["--try", tried]);
    let hole = tried("tractor_hitch=hole 4");
    assert_eq!(hole.0, 0, "{}", hole.2);
    assert_eq!(tried("tractor_hole=4"), hole);
}
