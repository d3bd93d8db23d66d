//! All that is wrong with a description is told in one reading: in the order of the file, each with its line as it
//! stands there and with what would be right, and nothing that only follows from something else.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a helper of tests fails as a test does")]

use ingest::plow::read_plow_text;
use std::path::Path;

const PLOW: &str = include_str!("../../sample-runs/plows/two-bottom.toml");

/// The example with parts of its text changed.
fn changed(changes: &[(&str, &str)]) -> String {
    changes.iter().fold(PLOW.to_owned(), |text, (from, to)| {
        assert!(text.contains(from), "{from}");
        text.replacen(from, to, 1)
    })
}

/// Line, sentence and the line as it is shown, of each fault.
fn faults(text: &str) -> Vec<(usize, String, String)> {
    let said = read_plow_text(text, Path::new("p.toml")).unwrap_err().to_string();
    let mut told: Vec<(usize, String, String)> = Vec::new();
    for line in said.lines() {
        if let Some(shown) = line.strip_prefix("    ") {
            told.last_mut().unwrap().2 = shown.to_owned();
            continue;
        }
        let fault = line.strip_prefix("p.toml, line ").and_then(|line| line.split_once(": "));
        let (at, sentence) = fault.unwrap_or_else(|| panic!("no fault: {line}: {said}"));
        told.push((at.parse().unwrap(), sentence.to_owned(), String::new()));
    }
    for (line, sentence, shown) in &told {
        let there = text.lines().nth(line - 1).unwrap_or_default().trim();
        let is_there = shown.strip_suffix(" ...").map_or(shown == there, |part| there.starts_with(part));
        assert!(is_there || shown.is_empty() && *line == 1, "{line}: {shown:?} {sentence}");
        for jargon in [
            "struct", "u32", "f64", "literal", "tuple", "sequence", "field", "TOML", "integer", "string",
            "expected",
        ] {
            assert!(!sentence.contains(jargon), "{jargon}: {sentence}");
        }
    }
    assert!(told.is_sorted_by_key(|fault| fault.0), "{told:?}");
    told
}

/// The changed example has these faults, by a part of each sentence, and no other.
fn has(changes: &[(&str, &str)], wanted: &[&str]) {
    let found = faults(&changed(changes));
    let all: Vec<&str> = found.iter().map(|fault| fault.1.as_str()).collect();
    assert_eq!(all.len(), wanted.len(), "{all:#?}");
    for (sentence, part) in all.iter().zip(wanted) {
        assert!(sentence.contains(part), "no {part:?} in {all:#?}");
    }
}

#[test]
fn faults_of_all_kinds_are_told_together_in_the_order_of_the_file() {
    has(
        &[
            ("\"3400 N ± 60 N\"", "3400"),
            ("\"-600 mm ± 10 mm\"", "\"600 mm\""),
            ("cut_width", "cut_widht"),
            ("count = 2", "count = \"2\""),
            ("share = \"sharp\"", "share = \"keen\""),
            ("x = \"300 mm ± 5 mm\"\n", ""),
            ("{ name = \"3\", z = \"3 in ± 5 mm\" }", "\"3 in\""),
            ("{ name = \"5\", z = \"5 in ± 5 mm\" }", "{ name = 5, z = \"5 lbf\" }"),
            ("length = \"1120 mm ± 5 mm\"", "lenght = \"1120\""),
            ("plow_hole = \"9\"\ntractor_hole = \"2\"", "plow_hole = \"12\"\ntractor_hole = \"0\""),
            ("[-8388608, 8388607]", "[5, 5]"),
        ],
        &[
            "weight.total: '3400' has no unit; write a force like \"765 lbf\"",
            "weight.x: the weight is ahead of the front axle",
            "bottoms.count: write it without quotation marks: 2",
            "bottoms.cut_widht: there is no such key; did you mean `cut_width`?",
            "bottoms.share: \"keen\" is not known here: write \"sharp\", \"blunt\" or \"worn\"",
            "plow_hitch.x: missing: write a length with its unit, like \"14 in\"",
            "plow_hitch.holes: write { name = ..., z = ... }",
            "plow_hitch.holes.name: write it between quotation marks: \"5\"",
            "plow_hitch.holes.z: 'lbf' in '5 lbf' is no unit of a length",
            "drawbar.lenght: there is no such key; did you mean `length`?",
            "drawbar.length: '1120' has no unit",
            // The holes at the plow were not all read, so what a setting asks of them is not said.
            "settings.flat.tractor_hole: tractor_hitch has no hole \"0\"",
            "sensors.count_limits: channel \"pull\": count_limits must rise",
        ],
    );
}

#[test]
fn a_text_that_is_no_toml_hides_little_of_the_rest() {
    has(
        &[
            ("total = \"3400 N ± 60 N\"", "total = 3400 N"),
            ("x = \"-600 mm ± 10 mm\"", "x = “600 mm”"),
            ("runs_in = \"furrow\"", "runs_in = \"ditch\""),
            ("count = 2", "count: 2"),
            ("depth = \"180 mm\"", "depth = \"180 mm"),
            ("length = \"1120 mm ± 5 mm\"", "length = .5"),
            ("date = \"2026-03-01\"", "date = \"2026-3-1\""),
        ],
        &[
            "write it between quotation marks: \"3400 N\"",
            "there is a curly quotation mark (“) around a name or value",
            "weight.x: the weight is ahead of the front axle",
            "tail_wheel.runs_in: \"ditch\" is not known here: write \"land\" or \"furrow\"",
            "write a key, then =, then its value",
            "the quotation mark behind the text is missing",
            "a number is written like 2 or 0.5",
            "sensors.calibration.date: channel \"pull\": calibration date '2026-3-1'",
        ],
    );
    has(&[("[plow_hitch]", "[plow_hitch")], &["the ] behind the name of the table is missing"]);
    has(
        &[("{ name = \"3\", z = \"3 in ± 5 mm\" },", "{ name = \"3\", z = \"3 in ± 5 mm\" }")],
        &["a comma is missing before this"],
    );
    // What comes behind a list without an end is lost, and what is before it is not.
    has(
        &[("cut_width = \"355 mm\"", "cut_width = \"355\""), ("]\n\n[drawbar]", "\n[drawbar]")],
        &["bottoms.cut_width: '355' has no unit", "what is opened here is not closed"],
    );
}

#[test]
fn curly_marks_are_named_line_by_line_and_their_values_are_read() {
    has(
        &[
            ("name = \"Two-bottom demo plow (invented)\"", "name = “Two-bottom 3’6” plow”"),
            ("x = \"-1900 mm ± 10 mm\"", "x = ‘-1900 mm’"),
            ("depth = \"180 mm\"", "depth = “180”"),
            ("runs_in = \"land\"", "# “curly” remark\nruns_in = \"land\" # ‘too’"),
        ],
        &[
            "curly quotation mark (“)",
            "curly quotation mark (‘)",
            "curly quotation mark (“)",
            "bottoms.depth: '180' has no unit",
        ],
    );
    // Within straight ones they are the inch's and the foot's.
    assert!(
        read_plow_text(&changed(&[("cut_width = \"355 mm\"", "cut_width = \"14”\"")]), Path::new("p"))
            .is_ok()
    );
}

#[test]
fn what_only_follows_is_not_said() {
    // Of a kind that no parts make, nothing is asked that its parts would be held against.
    has(
        &[("[front_wheels]", "[front_whels]"), ("x = \"-720 mm ± 15 mm\"", "x = \"720 mm\"")],
        &[
            "front_whels: there is no such key; did you mean `front_wheels`?",
            "bottoms.x: the bottoms are ahead",
        ],
    );
    has(
        &[("[drawbar]\nlength = \"1120 mm ± 5 mm\"\n", ""), ("count = 2", "count = 0")],
        &["drawbar: missing: a trailed plow needs [drawbar]", "bottoms.count: must be 1 to 24"],
    );
    has(
        &[("x = \"-1900 mm ± 10 mm\"", "x = \"1900 mm\"")],
        &["tail_wheel.x: the tail wheel is behind where"],
    );
    // A table that is missing is said once, with what belongs into it.
    let weightless = changed(&[("[weight]\ntotal = \"3400 N ± 60 N\"\nx = \"-600 mm ± 10 mm\"\n", "")]);
    let told = faults(&weightless);
    assert_eq!((told.len(), told[0].0), (1, 1), "{told:?}");
    assert!(told[0].1.ends_with("weight: missing: write the table [weight] with total, x"), "{told:?}");
}

#[test]
fn of_very_many_faults_the_first_are_told_and_the_rest_is_counted() {
    let more: String = (0..200).map(|at| format!("zzz{at} = {at}\n")).collect();
    let text = PLOW.replacen("name = ", &format!("{more}name = "), 1);
    let said = read_plow_text(&text, Path::new("p.toml")).unwrap_err().to_string();
    assert!(said.ends_with("\np.toml: and 180 more"), "{said}");
}
