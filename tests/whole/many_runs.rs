//! Several runs at once: the table of `summary --csv`, and names of runs that a shell has not made of a pattern.

use crate::{STORED_RUNS, Scratch, sample_arg};
use hitchwright_tests::command::{assert_has, hitchwright, json_of, stdout_of};
use serde_json::Value;

/// The table as names, and rows by them.
fn table_of(text: &str) -> (Vec<String>, Vec<Vec<String>>) {
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let names = reader.headers().unwrap().iter().map(str::to_owned).collect();
    let rows = reader.records().map(|row| row.unwrap().iter().map(str::to_owned).collect()).collect();
    (names, rows)
}

/// What the JSON has under the keys that a column's name is made of.
fn under<'a>(json: &'a Value, name: &str) -> Option<&'a Value> {
    if name.is_empty() {
        return Some(json);
    }
    let mut fitting = json.as_object()?.iter().filter_map(|(key, inner)| {
        let rest = name.strip_prefix(key.as_str())?;
        under(inner, if rest.is_empty() { rest } else { rest.strip_prefix('_')? })
    });
    fitting.next_back()
}

#[test]
fn a_table_has_the_numbers_of_the_json_and_a_row_a_run() {
    let runs = STORED_RUNS.map(|name| sample_arg(&format!("runs/{name}")));
    let words = || runs.iter().map(String::as_str);
    let text = stdout_of(["summary", "--csv"].into_iter().chain(words())).unwrap();
    let (names, rows) = table_of(&text);
    assert_eq!(rows.iter().map(|row| row[0].as_str()).collect::<Vec<_>>(), runs);
    for (run, row) in runs.iter().zip(&rows) {
        let json = json_of(["summary", run, "--json"]).unwrap();
        let mut filled = 0;
        for (name, cell) in names.iter().zip(row).skip(1) {
            let told = match under(&json, name) {
                Some(figure @ Value::Object(_)) => &figure["value"],
                Some(other) => other,
                None => &Value::Null,
            };
            // Read once, as the JSON was: its reader rounds the last digit in its own way.
            let read = match told {
                Value::String(_) => Value::String(cell.clone()),
                _ if cell.is_empty() => Value::Null,
                _ => serde_json::from_str(cell).unwrap(),
            };
            assert_eq!(read, *told, "{run}: {name}");
            filled += usize::from(!cell.is_empty());
        }
        assert!(filled > 80, "{run}: {filled} of {} columns", names.len());
    }
    let folder = Scratch::new();
    let file = folder.path("runs.csv");
    let written = hitchwright(["summary", "--csv", "-o", &file].into_iter().chain(words()), 0).unwrap();
    assert_eq!(written.stdout, "");
    assert_eq!(std::fs::read_to_string(&file).unwrap(), text);
}

#[test]
fn a_run_that_cannot_be_read_does_not_take_the_others_with_it() {
    let run = sample_arg("runs/balanced");
    let ended = hitchwright(["summary", "--csv", "no-such-run", &run], 1).unwrap();
    let (names, rows) = table_of(&ended.stdout);
    let at = names.iter().position(|name| name == "pull_mean_n").unwrap();
    assert_eq!(rows[0].iter().filter(|cell| !cell.is_empty()).collect::<Vec<_>>(), ["no-such-run"]);
    assert!(rows[1][at].parse::<f64>().unwrap() > 0.0);
    assert_has(&ended.stderr, &["no-such-run", "its row is empty"]);
}

#[test]
fn a_pattern_is_what_it_fits_where_the_shell_has_not_said_so() {
    let (pattern, one) = (sample_arg("runs/too-*"), sample_arg("runs/*ced"));
    let (_, rows) = table_of(&stdout_of(["summary", "--csv", &pattern]).unwrap());
    assert_eq!(
        rows.iter().map(|row| &*row[0]).collect::<Vec<_>>(),
        ["flat", "steep"].map(|end| sample_arg(&format!("runs/too-{end}")))
    );
    let plow = sample_arg("plows/two-bottom.toml");
    for words in [
        &["summary", &one, "--json"][..],
        &["check", &one, "--json"],
        &["compare", &pattern, "--against", &one, "--json"],
        &["statics", &plow, "--json", "--runs", &pattern],
    ] {
        json_of(words).unwrap();
    }
    let nothing = sample_arg("runs/*_flat");
    let ended = hitchwright(["compare", &pattern, "--against", &nothing], 1).unwrap();
    assert_has(&ended.stderr, &[&nothing, "no folder fits this pattern"]);
    let several = hitchwright(["summary", &pattern], 2).unwrap();
    assert_has(&several.stderr, &["--csv", "compare"]);
}
