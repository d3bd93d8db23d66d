//! Files that look sound and are not: codes for missing readings, units that are others, one pass twice, letters of
//! another alphabet. Nothing bold is said of them, and what is wrong is named.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a helper of tests fails as a test does")]

use std::fs;
use std::path::PathBuf;

use hitchwright_tests::Outcome;
use hitchwright_tests::command::{assert_has, hitchwright, json_of, sample, stdout_of, text_of};
use hitchwright_tests::field::Field;
use hitchwright_tests::process::Ended;
use hitchwright_tests::run_folder::{run_in, runs_in};

use crate::logger_files::import;

/// The stored pass as another logger would have written it: time in s, force in kN, spring in mm, depth in cm, the speed
/// of an engine; each row as the test wants it.
fn logger_file(row: impl Fn(usize, [f64; 4]) -> String) -> String {
    let stored = fs::read_to_string(sample("runs/too-flat/plow.csv")).unwrap();
    let rows = stored.lines().skip(1).enumerate().map(|(k, line)| {
        let cells: Vec<f64> = line.split(',').map(|cell| cell.parse().unwrap()).collect();
        row(k, [cells[0], cells[1] / 1000.0, cells[2], cells[3] / 10.0])
    });
    format!("Time,Force,Spring,Depth,RPM\n{}\n", rows.collect::<Vec<_>>().join("\n"))
}

fn plain(k: usize, [t_s, pull_kn, tail_mm, depth_cm]: [f64; 4]) -> String {
    format!("{t_s:.4},{pull_kn:.4},{tail_mm:.2},{depth_cm:.2},{}", 1500 + k % 17)
}

/// Five rows without a force, eleven without a depth, in the middle of the work.
fn with_codes(k: usize, cells: [f64; 4]) -> String {
    let [t_s, pull_kn, tail_mm, depth_cm] = cells;
    let pull_kn = if (1200..1205).contains(&k) { -9999.0 } else { pull_kn };
    let depth_cm = if (2000..2011).contains(&k) { -9999.0 } else { depth_cm };
    plain(k, [t_s, pull_kn, tail_mm, depth_cm])
}

fn given(text: &str) -> Outcome<(Field, PathBuf)> {
    let field = Field::new()?;
    let file = field.path("logger.csv");
    fs::write(&file, text).unwrap();
    Ok((field, file))
}

/// Imports with these columns and words.
fn imported(field: &Field, file: &PathBuf, columns: [&str; 4], more: &[&str]) -> Outcome<Ended> {
    let columns = columns.iter().flat_map(|column| ["--column", *column]);
    import(field, std::slice::from_ref(file), &columns.chain(more.iter().copied()).collect::<Vec<_>>())
}

const UNITS: [&str; 4] = ["t_s=Time:s", "pull_n=Force:kN", "tail_mm=Spring:mm", "depth_mm=Depth:cm"];
const NO_UNITS: [&str; 4] = ["t_s=Time", "pull_n=Force", "tail_mm=Spring", "depth_mm=Depth"];

/// What is told of the one run: no class, no move, and why.
fn is_not_shown(field: &Field, why: &[&str]) -> Outcome<()> {
    let run = run_in(&field.runs())?;
    let told = stdout_of(["summary", text_of(&run), "--units", "si"])?;
    assert_has(&told, &["verdict: NOT SHOWN", "Change nothing on the hitch yet"]);
    assert_has(&told, why);
    assert!(!told.contains("Move the"), "{told}");
    let verdict = &json_of(["summary", text_of(&run), "--json"])?["verdict"];
    let stored = sample("runs/too-steep");
    let compared = stdout_of(["compare", text_of(&run), "--against", text_of(&stored)])?;
    assert_has(&compared, &["cannot be right (`summary` says why), so nothing is compared: leave it out"]);
    assert_eq!(
        (&verdict["class"], &verdict["contradicted"]),
        (&"not-shown".into(), &true.into()),
        "{verdict}"
    );
    Ok(())
}

/// Found: -9999 kN five times gave a mean pull of -8740 N, and a hole to move to.
#[test]
fn a_code_for_a_missing_reading_is_asked_for_and_becomes_gaps() -> Outcome<()> {
    let (field, file) = given(&logger_file(with_codes))?;
    let codes =
        ["Force has -9999 in 5 rows, first in line 1202", "Depth has -9999 in 11 rows, first in line 2002"];
    for columns in [UNITS, NO_UNITS] {
        let asked = imported(&field, &file, columns, &[])?.expect_code(1)?.stderr;
        assert_has(&asked, &codes);
        assert_has(&asked, &["--missing-value=-9999", "--missing-value=none"]);
        assert_eq!((asked.lines().count(), runs_in(&field.runs())?.len()), (1, 0), "{asked}");
    }
    // They hide no unit.
    let asked = imported(&field, &file, NO_UNITS, &["--missing-value=-9999"])?.expect_code(1)?.stderr;
    assert_has(&asked, &["in what unit is Force?", "'pull_n=Force:kN'"]);
    let look = stdout_of(["import", "--look", text_of(&file)])?;
    assert_has(
        &look,
        &[
            "as pull_n, in kN (a guess",
            "as depth_mm, in cm (a guess",
            "-9999 in 5 rows, first in line 1202",
            " --missing-value=-9999",
            "RPM: 1500, 1501, 1502 …; 1500 to 1516; its unit is not said; as a column of your own: --column own_rpm=RPM:UNIT",
        ],
    );
    let done = imported(&field, &file, UNITS, &["--missing-value=-9999"])?.expect_code(0)?.stderr;
    assert_has(
        &done,
        &["16 rows without a number", "are gaps now", "the file has no date: taken as driven on"],
    );
    let told = stdout_of(["summary", text_of(&run_in(&field.runs())?)])?;
    assert_has(&told, &["verdict: DRAWBAR LEANING FLAT"]);
    // Who says that they are readings gets no verdict of them.
    let (field, file) = given(&logger_file(with_codes))?;
    imported(&field, &file, UNITS, &["--missing-value=none"])?.expect_code(0)?;
    is_not_shown(&field, &["The depth channel reads -99990 mm in 11 rows at work", "--missing-value"])
}

#[test]
fn a_depth_or_a_pull_in_the_wrong_unit_is_named_and_gets_no_verdict() -> Outcome<()> {
    let inches = ["the mean depth is 4", "times the 178 mm", "as if cm were taken for in, a factor of 2.54"];
    let newtons = ["the mean pull is ", "as if kN were taken for N, a factor of 1/1000"];
    for (columns, why) in [
        ([UNITS[0], UNITS[1], UNITS[2], "depth_mm=Depth:in"], &inches[..]),
        ([UNITS[0], "pull_n=Force:N", UNITS[2], UNITS[3]], &newtons),
    ] {
        let (field, file) = given(&logger_file(plain))?;
        let told = imported(&field, &file, columns, &[])?.expect_code(0)?.stderr;
        assert_has(&told, &["before this run is believed"]);
        assert_has(&told, &why[1..]);
        // What may be wrong comes before what is made of it.
        assert!(
            told.find("never in the ground").is_none_or(|at| told.find("before this run") < Some(at)),
            "{told}"
        );
        is_not_shown(&field, why)?;
    }
    Ok(())
}

#[test]
fn times_that_no_logger_of_a_plow_has_are_asked_for() -> Outcome<()> {
    let (field, file) = given(&logger_file(plain))?;
    let fast = imported(&field, &file, ["t_s=Time:ms", UNITS[1], UNITS[2], UNITS[3]], &[])?.expect_code(1)?;
    assert_has(&fast.stderr, &["in what unit is Time?", "rows come a second", "'t_s=Time:s'", "--rate"]);
    let few = "T,F,S,D\n0,1,40,18\n20,1,40,18\n40,1,40,18\n";
    let (field, file) = given(few)?;
    let slow = imported(&field, &file, ["t_s=T:s", "pull_n=F:kN", "tail_mm=S:mm", "depth_mm=D:cm"], &[])?;
    assert_has(&slow.expect_code(1)?.stderr, &["20 s apart", "'t_s=T:ms'", "--rate 0.05"]);
    assert_eq!(runs_in(&field.runs())?.len(), 0);
    Ok(())
}

/// Found: one pass that was imported three times was compared as three, with p under 0.001.
#[test]
fn a_file_is_imported_once_and_a_pass_counts_once() -> Outcome<()> {
    let (field, file) = given(&logger_file(plain))?;
    imported(&field, &file, UNITS, &[])?.expect_code(0)?;
    let first = run_in(&field.runs())?;
    let twice = imported(&field, &file, UNITS, &[])?.expect_code(1)?.stderr;
    assert_has(
        &twice,
        &[text_of(&file), first.file_name().unwrap().to_str().unwrap(), "very rows", "--again"],
    );
    assert_eq!(runs_in(&field.runs())?.len(), 1);
    imported(&field, &file, UNITS, &["--again"])?.expect_code(0)?;
    let runs = runs_in(&field.runs())?;
    assert_eq!(runs.len(), 2);
    let named: Vec<&str> = runs.iter().map(|run| text_of(run)).collect();
    let stored = sample("runs/too-steep");
    for words in [
        vec!["compare", named[0], named[1], "--against", text_of(&stored)],
        vec!["compare", named[0], "--against", named[1]],
        vec!["statics", text_of(&field.plow()), "--runs", named[0], named[1]],
    ] {
        assert_has(&hitchwright(words, 1)?.stderr, &["have the very same rows", "leave one of them out"]);
    }
    let several = hitchwright(["summary", named[0], named[1]], 2)?.stderr;
    assert_has(&several, &["2 runs are named", "--csv", "compare"]);
    Ok(())
}

#[test]
fn letters_of_a_desk_program_and_columns_of_ones_own_are_told() -> Outcome<()> {
    let text = logger_file(plain).replace("RPM", "Öl [°C]");
    let (field, file) = given("")?;
    // In Windows-1252 these letters are one byte each, that of their number.
    fs::write(&file, text.chars().map(|c| u8::try_from(u32::from(c)).unwrap()).collect::<Vec<u8>>()).unwrap();
    let look = stdout_of(["import", "--look", text_of(&file)])?;
    assert_has(&look, &["read as Windows-1252", "in °C (by its name)", "--column 'own_l=Öl [°C]:°C'"]);
    let done = imported(&field, &file, UNITS, &["--column", "own_oil=Öl [°C]"])?.expect_code(0)?.stderr;
    assert_has(&done, &["read as Windows-1252", "Öl [°C] is read in °C, by its name"]);
    let run = run_in(&field.runs())?;
    let table = stdout_of(["summary", text_of(&run), text_of(&sample("runs/balanced")), "--csv"])?;
    let mut lines = table.lines();
    assert!(lines.next().unwrap().ends_with(",own_oil_mean,own_oil_sd,own_oil_unit"), "{table}");
    assert!(lines.next().unwrap().ends_with(",°C"), "{table}");
    assert!(lines.next().unwrap().ends_with(",,,"), "{table}");
    Ok(())
}

/// Found: a spring's sensor that stood still for three quarters of a pass gave a verdict that was surer than without.
#[test]
fn a_sensor_that_stands_still_at_work_gives_no_verdict() -> Outcome<()> {
    for (held, name) in [(1, "the pull channel"), (2, "the tail channel"), (3, "the depth channel")] {
        let still = |k: usize, mut cells: [f64; 4]| {
            if (1500..2300).contains(&k) {
                cells[held] = [0.0, 8.0, 8.5, 18.0][held];
            }
            plain(k, cells)
        };
        let (field, file) = given(&logger_file(still))?;
        imported(&field, &file, UNITS, &[])?.expect_code(0)?;
        is_not_shown(
            &field,
            &[name, "gave one and the same reading for 28 % of the time", "look at sensor"],
        )?;
    }
    Ok(())
}
