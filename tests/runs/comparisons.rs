//! One setting against another.

use std::ffi::OsString;
use std::fs;
use std::time::{Duration, Instant};

use crate::served::{Folder, analyst, serve};
use hitchwright_tests::command::stdout_of;

const LONG: Duration = Duration::from_secs(300);

#[test]
fn ten_runs_of_two_settings_are_compared_after_the_last_pass() {
    let folder = Folder::new();
    let (mut flat, mut middle) = (Vec::new(), Vec::new());
    for pass in 0..5 {
        flat.push(folder.drive("too-flat", 540 + 20 * pass));
        middle.push(folder.drive("balanced", 550 + 20 * pass));
    }
    // Of another day, of another plow, and one that was stopped at once: none takes part.
    let other_day = folder.drive("too-flat", 700);
    folder.describe(&other_day, |toml| toml.replace("2027-04-11T11:40", "2027-04-10T11:40"));
    let other_plow = folder.drive("too-flat", 500);
    folder
        .describe(&other_plow, |toml| toml.replace("Two-bottom demo plow (invented)", "Another (invented)"));
    let short = folder.drive("balanced", 545);
    let table = folder.path().join(&short).join("plow.csv");
    let rows = fs::read_to_string(&table).unwrap();
    fs::write(&table, rows.lines().take(150).map(|line| format!("{line}\n")).collect::<String>()).unwrap();

    let served = serve(folder.path(), analyst());
    let began = Instant::now();
    served.runs.ended(&folder.path().join(&middle[4]));
    let pass = loop {
        let pass = served.passes.recv_timeout(LONG).unwrap();
        if !pass.comparison.si.is_empty() {
            break pass;
        }
    };
    println!("verdicts of ten runs and their comparison: {:?}", began.elapsed());
    // The answer first, then what the command itself says of these runs, in its order.
    let said = |units: &str, a: &[String], b: &[String]| {
        let path = |name: &String| folder.path().join(name).into_os_string();
        let mut words: Vec<OsString> = vec!["compare".into()];
        words.extend(a.iter().map(path));
        words.push("--against".into());
        words.extend(b.iter().map(path));
        words.extend(["--brief", "--units", units].map(OsString::from));
        let mut lines: Vec<String> = stdout_of(words).unwrap().lines().map(str::to_owned).collect();
        lines.swap(0, 1);
        lines
    };
    assert_eq!(pass.comparison.si, said("si", &middle, &flat));
    assert_eq!(pass.comparison.us, said("us", &middle, &flat));
    assert_eq!(pass.comparison.si[1], "A: middle, 5 runs; B: flat, 5 runs");
    assert!(pass.comparison.si[2].contains("middle balanced in 5 of 5"), "{:?}", pass.comparison);

    let began = Instant::now();
    let answer = served.get("/compare?a=flat&b=middle&units=us").json();
    println!("the same the other way round, all verdicts known: {:?}", began.elapsed());
    assert_eq!(answer["lines"], serde_json::json!(said("us", &flat, &middle)));
    assert_eq!(answer["headline"], answer["lines"][0]);
    assert_eq!(answer["a"]["runs"], serde_json::json!(flat));
    assert_eq!(answer["b"]["runs"], serde_json::json!(middle));
    let left_out = &answer["b"]["left_out"][0];
    assert_eq!(left_out[0], short.as_str());
    assert!(left_out[1].as_str().unwrap().starts_with(&short), "{left_out}");
    assert_eq!((&answer["day"], &answer["a"]["left_out"]), (&"2027-04-11".into(), &serde_json::json!([])));

    let page = served.get("/compare/page.pdf?a=flat&b=middle");
    assert_eq!(page.status, 200);
    assert!(page.body.starts_with(b"%PDF"));
    assert_eq!(page.header("content-disposition"), Some("inline; filename=\"flat_middle.pdf\""));
}

#[test]
fn two_passes_are_compared_when_asked_for_with_what_that_is_worth() {
    let folder = Folder::new();
    let names = [("too-flat", 540), ("balanced", 560)].map(|(stored, at)| folder.drive(stored, at));
    let served = serve(folder.path(), analyst());
    let answer = served.get("/compare?a=flat&b=middle").json();
    assert_eq!(answer["headline"], "too few passes to tell");
    assert_eq!([&answer["a"]["runs"][0], &answer["b"]["runs"][0]], [&names[0], &names[1]]);
    let sentence = |path: &str, status: u16| {
        let answer = served.get(path);
        assert_eq!(answer.status, status, "{path}");
        answer.text()
    };
    assert!(sentence("/compare?a=flat&b=flat", 400).contains("two different settings"));
    assert!(sentence("/compare?a=flat&b=steep", 404).contains("no run in setting steep"));
    assert!(sentence("/compare?a=none&b=steep", 404).contains("none or steep"));
    assert!(sentence("/compare?a=flat&b=middle&day=2027-04-10", 404).contains("flat or middle"));
    sentence("/compare?a=flat", 400);
    sentence("/compare/page.exe?a=flat&b=middle", 404);
}
