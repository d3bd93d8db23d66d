//! Files as other loggers write them: dates, times of day, lines before the names, lines of units, other signs; each is
//! read as it is meant, or refused in a sentence with the line as a person counts it and the cure.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a helper of tests fails as a test does")]

use std::fs;
use std::path::PathBuf;

use hitchwright_tests::Outcome;
use hitchwright_tests::binaries::Program;
use hitchwright_tests::command::{assert_has, text_of};
use hitchwright_tests::field::{Field, SOON};
use hitchwright_tests::process::{Ended, run};
use hitchwright_tests::run_folder::{run_in, runs_in};

/// A call of `import` with these words, for the files of the field.
pub fn import(field: &Field, files: &[PathBuf], more: &[&str]) -> Outcome<Ended> {
    let (plow, runs) = (field.plow(), field.runs());
    let mut words = vec!["import"];
    words.extend(files.iter().map(|file| text_of(file)));
    words.extend(["--plow", text_of(&plow), "--setting", "as-found", "--out", text_of(&runs)]);
    words.extend(more);
    run(Program::Hitchwright, words, SOON)
}

/// Imports this text.
fn import_text(text: &str, more: &[&str]) -> Outcome<(Field, Ended)> {
    let field = Field::new()?;
    let file = field.path("logger.csv");
    fs::write(&file, text).unwrap();
    let ended = import(&field, &[file], more)?;
    Ok((field, ended))
}

/// Rows of the one run that was made, and its name.
fn rows_of(field: &Field) -> Outcome<(String, Vec<Vec<f64>>)> {
    let folder = run_in(&field.runs())?;
    let csv = fs::read_to_string(folder.join("plow.csv")).unwrap();
    let row = |line: &str| line.split(',').map(|cell| cell.parse().unwrap()).collect();
    let name = folder.file_name().unwrap().to_string_lossy().into_owned();
    Ok((name, csv.lines().skip(1).map(row).collect()))
}

/// These texts are read to rows of these times, and readings of 1000, 2000 … N.
fn reads(text: &str, more: &[&str], times: &[f64], said: &[&str]) -> Outcome<String> {
    let (field, ended) = import_text(text, more)?;
    let ended = ended.expect_code(0)?;
    assert_has(&ended.stderr, said);
    let (name, rows) = rows_of(&field)?;
    let wanted: Vec<Vec<f64>> =
        times.iter().zip(1..).map(|(t_s, k)| vec![*t_s, 1000.0 * f64::from(k)]).collect();
    assert_eq!(rows, wanted, "{text}");
    Ok(name)
}

#[test]
fn times_are_read_in_every_common_way() -> Outcome<()> {
    let times = [0.0, 0.5, 1.25];
    let cases = [
        ("iso", "2027-04-11T09:14:58.75", "2027-04-11T09:14:59.25", "2027-04-11T09:15:00"),
        (
            "iso",
            "2027-04-11 09:14:58.75+02:00",
            "2027-04-11 09:14:59.25+02:00",
            "2027-04-11 09:15:00.0+02:00",
        ),
        ("day-first", "11.04.2027 09:14:58,75", "11.04.2027 09:14:59,25", "11.04.2027 09:15:00,00"),
        ("day-first", "11/4/27 9:14:58:750", "11/4/27 9:14:59:250", "11/4/27 9:15:00:000"),
        ("month-first", "04/11/2027 9:14:58.75 AM", "04/11/2027 9:14:59.25 AM", "04/11/2027 9:15:00 AM"),
        ("%Y%m%d-%H%M%S%.f", "20270411-091458.75", "20270411-091459.25", "20270411-091500"),
    ];
    for (format, a, b, c) in cases {
        let text = format!("Stamp;Force\n{a};1,0\n{b};2,0\n{c};3,0\n");
        let more =
            ["--separator", ";", "--decimal-comma", "--column", "pull_n=Force:kN", "--column", "t_s=Stamp"];
        let name = reads(&text, &[&more[..], &["--time-format", format]].concat(), &times, &[])?;
        assert_eq!(name, "2027-04-11T0914_as-found", "{format}: the file's own date");
    }
    // Date and time of day in two columns, across midnight; a tab between.
    let text = "Date\tClock\tForce\n31.12.2027\t23:59:59\t1\n31.12.2027\t23:59:59.5\t2\n01.01.2028\t00:00:00.25\t3\n";
    let more = ["--separator", "tab", "--time-format", "day-first", "--column", "t_s=Date+Clock"];
    let name = reads(text, &[&more[..], &["--column", "pull_n=Force:kN"]].concat(), &times, &[])?;
    assert_eq!(name, "2027-12-31T2359_as-found");
    Ok(())
}

#[test]
fn a_time_of_day_passes_midnight_once_forward_and_never_falls_back() -> Outcome<()> {
    let more = ["--time-format", "time-of-day", "--column", "t_s=T", "--column", "pull_n=F:kN"];
    let night = "T,F\n23:59:59.5,1\n23:59:59.9,2\n0:00:00.1,3\n0:00:01,4\n";
    reads(night, &more, &[0.0, 0.4, 0.6, 1.5], &["passes midnight"])?;
    let back = "T,F\n12:00:00,1\n12:00:01,2\n11:59:59,3\n";
    let (field, ended) = import_text(back, &more)?;
    assert_has(&ended.expect_code(1)?.stderr, &["line 4", "time does not rise"]);
    assert_eq!(runs_in(&field.runs())?.len(), 0);
    Ok(())
}

#[test]
fn stamps_coarser_than_the_rows_are_spread_or_refused() -> Outcome<()> {
    let more = ["--time-format", "time-of-day", "--column", "t_s=T", "--column", "pull_n=F:kN"];
    // The ends of the file may cut a second off; the row that is left out counts.
    let even = "T,F\n9:00:00,1\n9:00:01,2\n9:00:01,\n9:00:01,3\n9:00:01,4\n9:00:02,5\n9:00:02,6\n9:00:02,7\n9:00:02,8\n9:00:03,9\n";
    let times = [0.0, 0.25, 0.75, 1.0, 1.25, 1.5, 1.75, 2.0, 2.25];
    reads(even, &more, &times, &["4 rows have each time", "evenly over its 1 s", "1 row without"])?;
    for (text, line) in [
        (
            "T,F\n9:00:00,1\n9:00:00,2\n9:00:01,3\n9:00:01,4\n9:00:01,4\n9:00:02,5\n9:00:02,5\n9:00:03,1\n",
            "line 4",
        ),
        // One stamp that stands there twice is no coarse clock.
        ("T,F\n9:00:00,1\n9:00:01,2\n9:00:01,3\n9:00:02,3\n9:00:03,4\n", "line 3"),
        ("T,F\n9:00:00,1\n9:00:00,2\n", "line 3"),
    ] {
        let (field, ended) = import_text(text, &more)?;
        assert_has(&ended.expect_code(1)?.stderr, &[line, "time does not rise", "--rate HZ"]);
        assert_eq!(runs_in(&field.runs())?.len(), 0);
    }
    Ok(())
}

#[test]
fn lines_before_the_names_and_a_line_of_units() -> Outcome<()> {
    let preamble = "Logger 7;made 2027\r\n\r\nserial;\"a\r\n";
    let text = |rows: &str| format!("{preamble}Time;Force;Depth [cm]\r\n[ms];(kN);\r\n{rows}");
    let skip = ["--separator", ";", "--skip-rows", "3", "--column", "t_s=Time", "--column", "pull_n=Force"];
    let more = [&skip[..], &["--units-row"]].concat();
    let said = ["Time is read in ms, by the line of units", "Force is read in kN"];
    reads(&text("0;1;2\r\n500;2;2\r\n"), &more, &[0.0, 0.5], &said)?;
    // By the unit in a name.
    let (field, ended) = import_text(
        &text("0;1;18\r\n500;2;18\r\n"),
        &[&more[..], &["--column", "depth_mm=Depth [cm]"]].concat(),
    )?;
    assert_has(&ended.expect_code(0)?.stderr, &["Depth [cm] is read in cm, by its name"]);
    assert_eq!(rows_of(&field)?.1[0], [0.0, 1000.0, 180.0]);
    // Lines as the file's editor counts them.
    let wrong: [(&str, &[&str], &[&str]); 5] = [
        ("0;1;2\r\n\r\n500;x;2\r\n", &["--units-row"], &["line 8", "'x'"]),
        ("0;1;2\r\n500;2\r\n", &["--units-row"], &["line 7", "2 cells"]),
        ("0;1;2\r\n", &[], &["line 5", "'[ms]'", "--units-row"]),
        (
            "0;1;2\r\n0;1;2\r\n",
            &["--column", "depth_mm=Force"],
            &["line 5", "'kN' is no unit of a length", "NAME:UNIT"],
        ),
        (
            "0;1;2\r\n",
            &["--column", "depth_mm=Dept"],
            &["line 4", "did you mean 'Depth [cm]'?", "Time, Force"],
        ),
    ];
    for (rows, with, parts) in wrong {
        let with = if with.contains(&"--column") { [&["--units-row"], with].concat() } else { with.to_vec() };
        let (field, ended) = import_text(&text(rows), &[&skip[..], &with].concat())?;
        assert_has(&ended.expect_code(1)?.stderr, parts);
        assert_eq!(runs_in(&field.runs())?.len(), 0);
    }
    let (_, ended) = import_text("T,F\r\n0,1\r\n", &["--skip-rows", "4", "--column", "t_s=T"])?;
    assert_has(&ended.expect_code(1)?.stderr, &["--skip-rows skips 4 lines", "the file has 2"]);
    Ok(())
}

#[test]
fn what_is_typed_wrongly_is_answered_with_what_is_there() -> Outcome<()> {
    let text = "Time,Force,Depth\n09:14:00,1,18\n09:14:01,2,17\n";
    let refused: [(&[&str], i32, &[&str]); 8] = [
        (
            &["--column", "t_s=Time", "--column", "pull_n=Forse:kN", "--time-format", "time-of-day"],
            1,
            &["line 1", "did you mean 'Force'?", "Time, Force, Depth"],
        ),
        (&["--column", "t_s=Time", "--column", "depth=Depth:cm"], 2, &["did you mean 'depth_mm'?"]),
        (
            &["--column", "t_s=Time", "--column", "pull_n=Force:kN"],
            1,
            &["line 2", "'09:14:00'", "--time-format"],
        ),
        (
            &["--column", "t_s=Time", "--time-format", "iso"],
            1,
            &["line 2", "'09:14:00'", "iso", "2027-04-11T"],
        ),
        (&["--column", "t_s=Time:s", "--time-format", "iso"], 2, &["no unit", "t_s=NAME"]),
        (&["--column", "t_s=Time", "--time-format", "german"], 2, &["'german'", "day-first (11.04.2027"]),
        (&["--column", "pull_n=Force", "--rate", "9", "--time-format", "iso"], 2, &["--rate"]),
        (&["--column", "t_s=Time", "--separator", "TAB"], 2, &["the word tab"]),
    ];
    for (more, code, parts) in refused {
        let (field, ended) = import_text(text, more)?;
        let ended = ended.expect_code(code)?;
        assert_has(&ended.stderr, parts);
        assert!(code == 2 || ended.stderr.lines().count() == 1, "{}", ended.stderr);
        assert_eq!(runs_in(&field.runs())?.len(), 0);
    }
    let (_, ended) = import_text("Time;Force\n0;1\n", &["--column", "t_s=Time"])?;
    assert_has(&ended.expect_code(1)?.stderr, &["Try --separator ';'", "--skip-rows"]);
    Ok(())
}

#[test]
fn a_reading_that_is_none_in_the_runs_unit_is_asked_for_its_unit() -> Outcome<()> {
    let text = "Time,Force,Depth,v\n0,1600,18,5.5\n1,1700,17,5.6\n";
    let base = ["--column", "t_s=Time"];
    for (column, parts) in [
        ("depth_mm=Depth", ["in what unit is Depth?", "18", "--column 'depth_mm=Depth:cm'"]),
        ("speed_mps=v", ["in what unit is v?", "5.6", "--column 'speed_mps=v:km/h'"]),
        ("pull_n=Depth", ["in what unit is Depth?", "18", "pull_n=Depth:kN"]),
    ] {
        let (field, ended) = import_text(text, &[&base[..], &["--column", column]].concat())?;
        assert_has(&ended.expect_code(1)?.stderr, &parts);
        assert_eq!(runs_in(&field.runs())?.len(), 0);
    }
    let (_, ended) =
        import_text("ms,F\n0,1600\n20,1700\n40,1700\n", &["--column", "t_s=ms", "--column", "pull_n=F"])?;
    assert_has(&ended.expect_code(1)?.stderr, &["in what unit is ms?", "'t_s=ms:ms'"]);
    // With its unit it is what it is.
    let (field, ended) = import_text(text, &[&base[..], &["--column", "depth_mm=Depth:cm"]].concat())?;
    ended.expect_code(0)?;
    assert_eq!(rows_of(&field)?.1[0], [0.0, 180.0]);
    Ok(())
}

#[test]
fn several_files_become_a_run_each_and_one_that_fails_leaves_nothing() -> Outcome<()> {
    let field = Field::new()?;
    let folder = field.path("card");
    fs::create_dir(&folder).unwrap();
    let file = |name: &str, text: &str| fs::write(folder.join(name), text).unwrap();
    file("a.csv", "T,F\n2027-04-11T09:14:00,1\n2027-04-11T09:14:01,2\n");
    file("b.CSV", "T,F\n2027-04-11T09:20:00,3\n2027-04-11T09:20:01,4\n");
    file("notes.md", "not a file of the logger");
    let more = ["--column", "t_s=T", "--column", "pull_n=F:kN", "--time-format", "iso"];
    let ended = import(&field, std::slice::from_ref(&folder), &more)?.expect_code(0)?;
    assert_has(&ended.stderr, &["a.csv: 2 rows imported", "b.CSV: 2 rows imported", "2 of 2 files imported"]);
    assert!(!ended.stderr.contains("notes"), "{}", ended.stderr);
    let names = |field: &Field| -> Outcome<Vec<String>> {
        let mut names: Vec<_> = runs_in(&field.runs())?
            .iter()
            .map(|run| text_of(run).rsplit('/').next().unwrap().to_owned())
            .collect();
        names.sort();
        Ok(names)
    };
    assert_eq!(names(&field)?, ["2027-04-11T0914_as-found", "2027-04-11T0920_as-found"]);
    // One is bad: the others are made, and the outcome is told.
    file("a0.csv", "T,F\n2027-04-11T09:17:00,1\n2027-04-11T09:17:01,x\n");
    let again = [&more[..], &["--again"]].concat();
    let ended =
        import(&field, &[folder.join("a0.csv"), folder.join("a.csv"), folder.join("none.csv")], &again)?;
    let ended = ended.expect_code(1)?;
    assert_has(
        &ended.stderr,
        &["not imported", "a0.csv: line 3: 'x'", "a.csv: 2 rows", "none.csv", "1 of 3 files imported"],
    );
    assert_eq!(names(&field)?.len(), 3);
    assert!(names(&field)?.iter().all(|name| !name.contains("0917")));
    // One time for several files is none; a folder without files of a logger.
    let ended = import(&field, &[folder], &[&more[..], &["--started", "2027-04-11T09:14"]].concat())?;
    assert_has(&ended.expect_code(2)?.stderr, &["--started is for one file"]);
    let ended = import(&field, &[field.runs()], &more)?.expect_code(1)?;
    assert_has(&ended.stderr, &["no file in this folder ends in .csv"]);
    assert_eq!(names(&field)?.len(), 3);
    Ok(())
}
