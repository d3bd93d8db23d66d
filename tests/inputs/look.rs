//! `import --look`: what a file is seen to be, and a command that, run as it is shown, imports it.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a helper of tests fails as a test does")]

use std::fs;

use hitchwright_tests::Outcome;
use hitchwright_tests::binaries::Program;
use hitchwright_tests::command::{assert_has, text_of};
use hitchwright_tests::field::{Field, SOON};
use hitchwright_tests::process::run;
use hitchwright_tests::run_folder::run_in;
use hitchwright_tests::snapshot::snapshot;

/// The words of a shell's line, which knows single quotes only.
fn words_of(line: &str) -> Vec<String> {
    let (mut words, mut word, mut within) = (Vec::new(), String::new(), false);
    for c in line.chars() {
        match c {
            '\'' => within = !within,
            ' ' if !within => words.push(std::mem::take(&mut word)),
            c => word.push(c),
        }
    }
    words.push(word);
    words
}

/// Looks at a file of this text, which must say these parts and write nothing; then runs the command that is shown, with
/// `HZ` put in. Returns the first two rows of the run.
fn look_and_import(text: &str, parts: &[&str]) -> Outcome<Vec<Vec<f64>>> {
    let field = Field::new()?;
    let (file, plow) = (field.path("her logger's.csv"), field.plow());
    fs::write(&file, text).unwrap();
    let before = snapshot(&field.path(""))?;
    let look = ["import", "--look", text_of(&file), "--plow", text_of(&plow), "--setting", "as-found"];
    let ended = run(Program::Hitchwright, look, SOON)?.expect_code(0)?;
    assert_has(&ended.stdout, parts);
    assert!(snapshot(&field.path(""))? == before, "it wrote something");
    // A name with the shell's own sign is quoted so that words_of need not know the backslash.
    let line = ended.stdout.lines().last().unwrap().replace("'\\''", "\u{1}");
    let words = words_of(line.strip_prefix("hitchwright ").unwrap());
    let words =
        words.into_iter().map(|word| if word == "HZ" { "10".into() } else { word.replace('\u{1}', "'") });
    let runs = field.runs();
    let words: Vec<String> = words.chain(["--out".to_owned(), text_of(&runs).to_owned()]).collect();
    run(Program::Hitchwright, &words, SOON)?.expect_code(0)?;
    let csv = fs::read_to_string(run_in(&runs)?.join("plow.csv")).unwrap();
    let row = |line: &str| line.split(',').map(|cell| cell.parse().unwrap()).collect();
    Ok(csv.lines().skip(1).take(2).map(row).collect())
}

#[test]
fn what_is_seen_of_a_file_is_shown_with_a_command_that_reads_it() -> Outcome<()> {
    // Semicolons, decimal commas, lines before the names, a line of units, day first, a gap.
    let text = "Logger 7;\r\nserial 0815;\r\n\r\nTime;Force;Depth;Battery\r\n;[kN];(cm);V\r\n\
        21.04.2027 09:14:05,0;7,5;18,5;12\r\n21.04.2027 09:14:05,5;7,6;18,0;12\r\n21.04.2027 09:14:06,0;7,7;18,0;12\r\n\
        21.04.2027 09:14:09,0;7,7;18,0;12\r\n";
    let parts = [
        "between columns ';', decimal comma",
        "line 4: the names",
        "line 5: their units",
        "Depth: 18,5, 18,0, 18,0 …; 18 to 18.5; as depth_mm, in cm (by the line of units)",
        "Battery: 12, 12, 12 …; 12 to 12; in V (by the line of units); as a column of your own: --column own_battery=Battery:V",
        "time: Time, day-first\n",
        "4 rows in 4 s, 2 a second; 1 gap, the longest 3 s",
    ];
    let rows = look_and_import(text, &parts)?;
    assert_eq!(rows, [[0.0, 7500.0, 185.0], [0.5, 7600.0, 180.0]]);
    // Tabs, date and time in two columns, of which the month may come first; no unit anywhere.
    let text =
        "Date\tClock\tDraft\tDepth of work\n04/05/2027\t9:14:05\t7.5\t18\n04/05/2027\t9:14:06\t7.6\t17\n";
    let parts = [
        "'tab'",
        "time: Date+Clock, day-first (it could be month-first as well",
        "as pull_n, in kN (a guess by its size: check it)",
        "as depth_mm, in cm (a guess by its size",
        "2 rows in 1 s, 1 a second; no gaps",
    ];
    let rows = look_and_import(text, &parts)?;
    assert_eq!(rows, [[0.0, 7500.0, 180.0], [1.0, 7600.0, 170.0]]);
    // Plain: a number of milliseconds, a unit in the name, a coarse counter beside it.
    let text = "No,t,Pull (lbf)\n1,1000,1600\n2,1020,1610\n3,1040,1620\n";
    let rows = look_and_import(
        text,
        &["decimal point", "time: t, in ms (a guess", "in lbf (by its name)", "50 a second"],
    )?;
    assert!((rows[1][0] - 0.02).abs() < 1e-9 && (rows[0][1] - 7117.15).abs() < 0.01, "{rows:?}");
    // No time at all.
    let rows = look_and_import("pull_n,depth_mm\n7000,180\n7100,181\n", &["--rate HZ", "2 rows"])?;
    assert_eq!(rows[1], [0.1, 7100.0, 181.0]);
    Ok(())
}

#[test]
fn what_is_no_table_is_told() -> Outcome<()> {
    let field = Field::new()?;
    let file = field.path("logger.csv");
    for (bytes, said) in [
        (&b""[..], "no table of numbers"),
        (b"one line\nand another\n", "no table of numbers"),
        (b"1,2\n3,4\n", "no table of numbers"),
        (b"\xFF\xFEt\0,\0f\0\n\0", "no table of numbers"),
        (b"\0\0\0\xFF\"\"\";;\n\";;", "no table of numbers"),
    ] {
        fs::write(&file, bytes).unwrap();
        let ended = run(Program::Hitchwright, ["import", "--look", text_of(&file)], SOON)?.expect_code(1)?;
        assert_has(&ended.stderr, &[text_of(&file), said]);
        assert_eq!((ended.stdout.as_str(), ended.stderr.lines().count()), ("", 1));
    }
    // Without --look all that an import needs is asked for.
    let ended = run(Program::Hitchwright, ["import", text_of(&file)], SOON)?.expect_code(2)?;
    assert_has(&ended.stderr, &["--plow", "--setting", "--column"]);
    Ok(())
}
