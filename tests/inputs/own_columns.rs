//! Columns of one's own in files of other loggers: named and with a unit by whoever imports them, or refused in a
//! sentence.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a helper of tests fails as a test does")]

use std::fs;

use hitchwright_tests::Outcome;
use hitchwright_tests::command::{assert_has, json_of, text_of};
use hitchwright_tests::field::Field;
use hitchwright_tests::process::Ended;
use hitchwright_tests::run_folder::run_in;
use ingest::run_toml::read_run_toml;

use crate::logger_files::import;

const SENSOR: &str =
    "\n[[sensors]]\nchannel = \"angle\"\nmeasures = \"other\"\nname = \"Draft angle α\"\nunit = \"deg\"\n";

/// Imports a text with time and pull, and these columns more, by a plow that may describe some.
fn import_own(text: &str, sensors: &str, own: &[&str]) -> Outcome<(Field, Ended)> {
    let field = Field::new()?;
    let file = field.path("logger.csv");
    fs::write(&file, text).unwrap();
    let plow = fs::read_to_string(field.plow()).unwrap();
    fs::write(field.plow(), plow + sensors).unwrap();
    let columns = ["t_s=T", "pull_n=F:N"].iter().chain(own).flat_map(|column| ["--column", column]);
    let ended = import(&field, &[file], &columns.collect::<Vec<_>>())?;
    Ok((field, ended))
}

#[test]
fn name_and_unit_come_from_the_plow_the_command_or_the_file() -> Outcome<()> {
    // A slow column has a reading in every third row only; its rows stand.
    let text =
        "T,F,Angle,Engine (1/min)\n0,1000,-1.50,1500\n0.1,2000,,1510\n0.2,3000,NaN,\n0.3,4000,2.25,1e3\n";
    let own = ["own_draft_angle=Angle", "own_rpm_2=Engine (1/min)"];
    let (field, ended) = import_own(text, SENSOR, &own)?;
    assert_has(&ended.expect_code(0)?.stderr, &["4 rows imported"]);
    let run = run_in(&field.runs())?;
    let csv = fs::read_to_string(run.join("plow.csv")).unwrap();
    let rows = "t_s,pull_n,own_draft_angle,own_rpm_2\n0.000000,1000.00,-1.5,1500\n0.100000,2000.00,,1510\n\
        0.200000,3000.00,,\n0.300000,4000.00,2.25,1000\n";
    assert_eq!(csv, rows);
    let own = read_run_toml(&run.join("run.toml")).unwrap().plow.own_columns();
    let told: Vec<_> = own.iter().map(|own| (own.name(), own.unit())).collect();
    assert_eq!(told, [("Draft angle α", "deg"), ("rpm 2", "1/min")]);
    // Empty cells of such a column are nothing to be repaired.
    let checked = json_of(["check", "--repair", text_of(&run), "--json"]);
    assert!(fs::read_to_string(run.join("plow.csv")).unwrap() == rows, "{checked:?}");
    Ok(())
}

#[test]
fn what_cannot_be_a_column_is_refused_in_a_sentence_and_leaves_no_run() -> Outcome<()> {
    let text = "T,F,A,B [rpm],N,W\n0,1000,1,1500,,fast\n0.1,2000,2,1510,NaN,slow\n";
    let nine: Vec<String> = (0..9).map(|k| format!("own_c{k}=A:deg")).collect();
    let nine: Vec<&str> = nine.iter().map(String::as_str).collect();
    for (own, code, parts) in [
        (&["own_a=A"][..], 1, &["in what unit is own_a (A)?", "--column 'own_a=A:1/min'"][..]),
        (&["own_a=N:deg"], 1, &["own_a (N): no row has a number in it"]),
        (&["own_a=W:deg"], 1, &["line 2: 'fast' is not a number"]),
        (&["own_a=X:deg"], 1, &["there is no column 'X'"]),
        (&["own_draft_angle=A:rad"], 1, &["'rad' here and 'deg' in the plow description", "':deg'"]),
        (&["own_draft_angle=B [rpm]"], 1, &["'rpm' here and 'deg'"]),
        (&["own_a=A:deg", "own_a=B [rpm]"], 2, &["a column of the run is filled twice"]),
        (&["own_a=A:m,\"m"], 2, &["unit = \"m,\\\"m\" must be"]),
        (&["own_a=A:"], 2, &["unit = \"\" must be"]),
        (&["own_ä=A:deg"], 2, &["name = \"ä\" must be"]),
        (&["own_=A:deg"], 2, &["name = \"\" must be"]),
        (&["angle=A:deg"], 2, &["own_NAME, with any NAME, is one of your own"]),
        (&nine, 1, &["9 columns of your own", "more than the 8"]),
    ] {
        let sensors = if own.len() == 9 { "" } else { SENSOR };
        let (field, ended) = import_own(text, sensors, own)?;
        let said = ended.expect_code(code)?.stderr;
        assert_has(&said, parts);
        assert_eq!(said.trim_end().lines().count(), 1, "{said}");
        assert_eq!(fs::read_dir(field.runs()).unwrap().count(), 0, "{said}");
    }
    Ok(())
}
