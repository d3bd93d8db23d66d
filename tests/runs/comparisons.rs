//! One setting against another.

use std::fs;
use std::time::{Duration, Instant};

use crate::served::{Folder, analyst, serve};
use serde_json::Value;

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
    let told = &pass.comparison;
    assert_eq!(told.si[0], "middle is better", "{told:?}");
    assert_eq!(told.si[1], "A: middle, 5 runs; B: flat, 5 runs");
    assert!(told.si[2].starts_with("The drawbar: middle "), "{told:?}");
    assert!(
        told.us.iter().any(|line| line.contains(" lbf ")) && told.si.iter().any(|line| line.contains(" N "))
    );

    let began = Instant::now();
    let answer = served.get("/compare?a=flat&b=middle&units=us").json();
    println!("the same the other way round, all verdicts known: {:?}", began.elapsed());
    let lines: Vec<&str> = answer["lines"].as_array().unwrap().iter().filter_map(Value::as_str).collect();
    assert_eq!((&answer["headline"], lines[0]), (&"middle is better".into(), "middle is better"));
    assert!(lines.iter().any(|line| line.contains(" lbf ")), "{lines:?}");
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
