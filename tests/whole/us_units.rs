//! Whoever reads inches and pounds reads them everywhere: no command says a metric unit then, whoever says so, and what
//! was given is said again as fine as it was given.

use std::io::Write;
use std::process::{Command, Stdio};

use crate::{ANALYSED, DATE, STORED_RUNS, Scratch, example_plows, sample_arg};
use analysis::report::units::Units;
use analysis::report::{run_content, statics_content, top_content, wall_content};
use hitchwright_tests::binaries::Program;
use hitchwright_tests::command::sample;
use ingest::quantity::{Force, Speed};
use serde_json::to_value;
use statics::advice::expect;
use statics::report::statics_report;
use statics::top::report::top_report;

const METRIC: [&str; 13] =
    ["mm", "cm", "m", "km", "N", "kN", "daN", "kg", "kgf", "km/h", "m/s", "N/mm", "N/cm²"];

/// The words of a text that are metric units; names of columns and files, which are fixed, are other words.
fn metric(text: &str) -> Vec<&str> {
    let is_word = |sign: char| sign.is_alphanumeric() || "/_.²-".contains(sign);
    let words = text.split(|sign: char| !is_word(sign)).map(|word| word.trim_matches(['.', '-']));
    words.filter(|word| METRIC.contains(word)).collect()
}

/// All that a command says, on both outputs, to whom the environment says that the reader reads inches.
fn said(words: &[&str], typed: &str) -> String {
    let mut command = Command::new(Program::Hitchwright.path().unwrap());
    command.env("HITCHWRIGHT_UNITS", "us").args(words);
    command.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped());
    let mut child = command.spawn().unwrap();
    child.stdin.take().unwrap().write_all(typed.as_bytes()).unwrap();
    let ended = child.wait_with_output().unwrap();
    let said = String::from_utf8([ended.stdout, ended.stderr].concat()).unwrap();
    assert!(ended.status.success(), "{words:?}: {said}");
    said
}

fn says_nothing_metric(words: &[&str]) {
    let said = said(words, "");
    assert_eq!(metric(&said), Vec::<&str>::new(), "{words:?}: {said}");
}

/// The stored runs' plow in inches, with its sensors.
fn plow_in_inches(scratch: &Scratch) -> String {
    let text = std::fs::read_to_string(sample("plows/two-bottom.toml")).unwrap();
    let changed = text.replace("± 5 mm", "± 1/4 in").replace("\"4 in ± 1/4 in\"", "\"4 1/8 in ± 1/4 in\"");
    scratch.write("inches.toml", &changed)
}

#[test]
fn metric_units_are_found() {
    let text = "12 mm, 3.4 N (5 to 6 km/h), pull_n, depth_mm of 8 N/cm², in 5 m.";
    assert_eq!(metric(text), ["mm", "N", "km/h", "N/cm²", "m"]);
    assert!(metric("12 in, tail_mm, 5 min, 3 N-S, 2.5 ms").is_empty());
}

#[test]
fn no_command_says_a_metric_unit() {
    let scratch = Scratch::new();
    let runs = STORED_RUNS.map(|name| sample_arg(&format!("runs/{name}")));
    for run in &runs {
        says_nothing_metric(&["summary", run]);
        says_nothing_metric(&["summary", run, "--brief"]);
        says_nothing_metric(&["check", run]);
    }
    let [balanced, flat, steep, _] = &runs;
    says_nothing_metric(&["compare", flat, steep, "--against", balanced]);
    says_nothing_metric(&["compare", flat, steep, "--against", balanced, "--brief"]);
    says_nothing_metric(&["passes", balanced, "--out", &scratch.path("passes")]);
    let plow = plow_in_inches(&scratch);
    says_nothing_metric(&["statics", &plow, "--runs", balanced, flat, steep]);
    says_nothing_metric(&["statics", &plow, "--setting", "middle", "--try", "tractor_hitch=+1 in"]);
    for (file, plow) in example_plows() {
        says_nothing_metric(&["statics", &file, "--all-holes"]);
        if plow.tractor.is_some() {
            says_nothing_metric(&["statics", &file, "--top"]);
        }
    }
    let logger = scratch.write(
        "logger.csv",
        "Time (s),Force (lbf),Spring (in),Depth (in)\n0,1200,1.5,7\n0.1,1210,1.5,7\n0.2,1190,1.6,7\n",
    );
    let out = scratch.path("imported");
    let import = ["import", &logger, "--plow", &plow, "--setting", "middle", "--out", &out];
    let columns = ["t_s=Time (s)", "pull_n=Force (lbf)", "tail_mm=Spring (in)", "depth_mm=Depth (in)"];
    let columns: Vec<&str> = columns.iter().flat_map(|column| ["--column", column]).collect();
    says_nothing_metric(&[&import[..], &columns].concat());
    let pairs =
        scratch.write("pairs.csv", "count,value\n10,0 lbf\n510,500 lbf\n1012,1000 lbf\n511,500 lbf\n");
    says_nothing_metric(&["calibrate", "--pairs", &pairs, "--measures", "pull"]);
    says_nothing_metric(&["calibrate", "--pairs", &pairs, "--measures", "pull", "--plow", &plow]);
}

/// The end of `describe`, where nobody says a unit: what is to be expected of a plow described in inches.
#[test]
fn what_a_new_description_gives_to_expect_is_in_inches() {
    let scratch = Scratch::new();
    let answers = "walking\nMy plow\n36\n2, 1 apart, 8 holes\n\n\n100\n22, 4 in apart, 3 holes\n\n1\n10\n5\nsharp\n-6\n\n\
        -24\n0.4\n0.4\n130\n-10\n5\n2\n\n";
    let said = said(&["describe", &scratch.path("plow.toml")], answers);
    // From the last answer to the last question.
    let end = said.rsplit("> ").nth(1).unwrap();
    assert!(end.contains("expected: ") && metric(end).is_empty(), "{end}");
}

/// Texts of a page, as its content has them.
fn texts(content: serde_json::Result<serde_json::Value>) -> String {
    fn collect(value: &serde_json::Value, into: &mut String) {
        match value {
            serde_json::Value::String(text) => into.push_str(&format!("{text}\n")),
            serde_json::Value::Array(all) => all.iter().for_each(|one| collect(one, into)),
            serde_json::Value::Object(all) => all.values().for_each(|one| collect(one, into)),
            _ => {}
        }
    }
    let mut all = String::new();
    collect(&content.unwrap(), &mut all);
    all
}

#[test]
fn no_page_says_a_metric_unit() {
    let holds = |what: &str, page: String| {
        assert!(page.len() > 20, "{what}: {page}");
        assert_eq!(metric(&page), Vec::<&str>::new(), "{what}: {page}");
    };
    for (name, analysed) in STORED_RUNS.iter().zip(&*ANALYSED) {
        holds(name, texts(to_value(run_content(analysed, Units::Us))));
    }
    for (file, plow) in example_plows() {
        let (name, setting) = plow.settings.first_key_value().unwrap();
        let pull = Force::from_n(5.0 * plow.total_cut_m() * plow.bottoms.depth.m() * 1e4);
        let report = statics_report(&plow, (name, setting), pull, None, 1).unwrap();
        let expected = expect(&plow, &report.holes);
        holds(&file, texts(to_value(statics_content(&plow, &report, &expected, DATE, Units::Us))));
        let top =
            plow.tractor.as_ref().map(|_| top_report(&plow, setting, pull, Speed::from_mps(1.6), 1).unwrap());
        let wall = wall_content(&plow, &report, &expected, top.as_ref(), DATE, Units::Us).unwrap();
        holds(&file, texts(to_value(wall)));
        if let Some(top) = &top {
            holds(&file, texts(to_value(top_content(&plow, &report, top, DATE, Units::Us))));
        }
    }
}

#[test]
fn heights_are_said_as_fine_as_they_were_given() {
    let scratch = Scratch::new();
    let plow = plow_in_inches(&scratch);
    let said = said(&["statics", &plow, "--setting", "middle", "--try", "plow_hitch=+1 hole"], "");
    assert!(said.contains("4 (4 1/8 in)") && said.contains("4 (13 in)"), "{said}");
    assert!(!said.contains("(4.1 in)"), "{said}");
}
