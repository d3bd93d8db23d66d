//! What comes in wrong: one clear sentence on stderr with file and line, exit status 1 (2 for wrong use),
//! nothing on stdout, and not a byte changed or added in the folder.
#![allow(clippy::unwrap_used, reason = "a helper of tests fails as a test does")]

use std::fs::{self, File};
use std::io::{Seek, SeekFrom, Write};
use std::path::Path;
use std::time::Duration;

use held::plow_toml;
use hitchwright_tests::binaries::Program;
use hitchwright_tests::command::{assert_has, hitchwright, text_of};
use hitchwright_tests::field::Field;
use hitchwright_tests::process::Ended;
use hitchwright_tests::recording::Recorded;
use hitchwright_tests::snapshot::{copy_run, snapshot};
use hitchwright_tests::{Failure, Outcome};
use sample_runs::sensors::Sensor;

/// A pass that is long enough for a verdict, at a speed that this computer keeps up with.
const PASS: &str = "--working-s 30 --speed-up 30 --seed 21";

fn recorded() -> Outcome<Recorded> {
    let recorded = Field::new()?.with_box(PASS).record("")?.to_the_end()?;
    recorded.verify()?;
    Ok(recorded)
}

/// Runs the command and demands that it refuses with this status and a sentence that has these parts, and
/// that nothing in `folder` changes.
fn refuses(folder: &Path, args: &[&str], code: i32, parts: &[&str]) -> Outcome<Ended> {
    let before = snapshot(folder)?;
    let ended = hitchwright(args, code);
    let ended = ended.map_err(|failure| Failure(format!("{args:?}: {failure}")))?;
    assert_eq!(ended.stdout, "", "{args:?}");
    let sentence = ended.stderr.strip_suffix('\n').unwrap_or_default();
    assert!(sentence.starts_with("hitchwright: "), "{args:?}: {sentence}");
    // Of a description each fault has its sentence, and under it the line.
    let goes_on = |line: &str| line.starts_with("    ") || line.contains(".toml, line ");
    assert!(sentence.lines().skip(1).all(goes_on), "{args:?} says more than one line: {sentence}");
    assert_has(sentence, parts);
    let after = snapshot(folder)?;
    let differ: Vec<_> =
        before.keys().chain(after.keys()).filter(|path| before.get(*path) != after.get(*path)).collect();
    assert!(differ.is_empty(), "{args:?} changed {differ:?}");
    Ok(ended)
}

/// Text in which a part that must be there once is another.
fn with(text: &str, part: &str, instead: &str) -> String {
    assert_eq!(text.matches(part).count(), 1, "{part:?}");
    text.replace(part, instead)
}

#[test]
fn a_plow_description_that_cannot_be_used() -> Outcome<()> {
    let field = Field::new()?;
    let good = plow_toml(&Sensor::BASIC);
    let change = |part: &str, instead: &str| with(&good, part, instead);
    // Lines are counted in tests/support/plow.toml.
    let cases: [(String, &[&str]); 18] = [
        (change("total = \"3400 N\"", "total = \"5 N\""), &["line 5", "weight.total", "50 to 200000 N"]),
        (change("total = \"3400 N\"", "total = \"3400 N ± -15 N\""), &["line 5", "-15 N", "below 0"]),
        (change("count = 2", "count = 2\nwidth = 1"), &["line 20", "width"]),
        (
            change("name = \"test plow\"", "name = \"test plow\"\nweigth = 1"),
            &["line 3", "did you mean `weight`?"],
        ),
        (change("total = \"3400 N\"", "total = \"3400 N"), &["line 5"]),
        (change("[weight]", "[weight"), &["line 4"]),
        (change("name = \"test plow\"", "name"), &["line 2"]),
        ("x = ".to_owned() + &"[".repeat(100_000), &["line 1"]),
        (String::new(), &["line 1", "name"]),
        (change("total = \"3400 N\"", "total = \"3400\""), &["line 5", "unit"]),
        (change("total = \"3400 N\"", "total = 3400"), &["line 5", "unit"]),
        (change("total = \"3400 N\"", "total = \"3400 mm\""), &["line 5", "force"]),
        (change("total = \"3400 N\"", "total = \"nan N\""), &["line 5"]),
        (change("cut_width", "cut_widht"), &["line 20", "did you mean `cut_width`?"]),
        (change("x = \"-0.60 m\"", "x = \"0.60 m\""), &["line 6", "weight.x", "ahead of the front axle"]),
        (change("plow_hole = \"4\"", "plow_hole = \"9\""), &["settings.as-found", "no hole \"9\""]),
        (change("share = \"sharp\"", "share = \"keen\""), &["line 22", "keen", "sharp"]),
        (change("count = 2", "count = 0"), &["line 19", "bottoms.count"]),
    ];
    let (plow, runs, csv) = (field.plow(), field.runs(), field.path("logger.csv"));
    fs::write(&csv, "t,F,T,D\n0,1,2,3\n1,2,3,4\n").unwrap();
    for (text, parts) in cases {
        fs::write(&plow, text).unwrap();
        let parts = [&[text_of(&plow)], parts].concat();
        refuses(&field.path(""), &["statics", text_of(&plow)], 1, &parts)?;
        let import = ["import", text_of(&csv), "--plow", text_of(&plow), "--setting", "as-found"];
        let columns = ["--column", "t_s=t", "--column", "pull_n=F", "--out", text_of(&runs)];
        refuses(&field.path(""), &[&import[..], &columns[..]].concat(), 1, &parts)?;
    }
    fs::write(&plow, &good).unwrap();
    refuses(
        &field.path(""),
        &["statics", text_of(&plow), "--setting", "no-such"],
        1,
        &[text_of(&plow), "'no-such'", "as-found"],
    )?;
    let none = field.path("none.toml");
    refuses(&field.path(""), &["statics", text_of(&none)], 1, &[text_of(&none)])?;
    fs::write(&plow, [0xFF, 0xFE, 0x00]).unwrap();
    refuses(&field.path(""), &["statics", text_of(&plow)], 1, &[text_of(&plow), "UTF-16"])?;
    File::create(&plow).and_then(|file| file.set_len(2 << 30)).unwrap();
    refuses(&field.path(""), &["statics", text_of(&plow)], 1, &[text_of(&plow), "too large"])?;
    Ok(())
}

/// `plow.csv` with another cell in one place, counted from 0; the header is line 0.
fn with_cell(csv: &str, line: usize, column: usize, cell: &str) -> String {
    with_cells(csv, |at, cells| {
        if at == line {
            cells[column] = cell.to_owned();
        }
    })
}

fn with_cells(csv: &str, change: impl Fn(usize, &mut Vec<String>)) -> String {
    let changed = csv.lines().enumerate().map(|(at, line)| {
        let mut cells: Vec<String> = line.split(',').map(str::to_owned).collect();
        change(at, &mut cells);
        cells.join(",") + "\n"
    });
    changed.collect()
}

fn lines(csv: &str, which: impl Fn(usize) -> bool) -> String {
    csv.lines().enumerate().filter(|(at, _)| which(*at)).map(|(_, line)| line.to_owned() + "\n").collect()
}

#[test]
fn a_run_whose_rows_cannot_be_used() -> Outcome<()> {
    let recorded = recorded()?;
    let run = recorded.run()?;
    let csv = fs::read_to_string(run.join("plow.csv")).unwrap();
    assert_eq!(csv.lines().next(), Some("t_s,pull_n,tail_mm,depth_mm"));
    let line_1999 = csv.lines().nth(1998).unwrap();
    let constant = |column: usize| {
        with_cells(&csv, |at, cells| {
            if at > 0 {
                cells[column] = "100".to_owned();
            }
        })
    };
    // Within a pass of 30 s at 200 rows a second, rows 3000 to 4000 are at work.
    let cases: Vec<(String, &[&str])> = vec![
        (String::new(), &["plow.csv", "no whole row"]),
        (lines(&csv, |at| at == 0), &["plow.csv", "only the header"]),
        (lines(&csv, |at| at <= 1), &["1 row"]),
        (
            lines(&csv, |at| at == 0 || (3000..4000).contains(&at)),
            &["worked for 1.0 s", "needs 6 s (three periods of the slowest bobbing"],
        ),
        (lines(&csv, |at| at < 200), &["never in the ground"]),
        (with_cell(&csv, 1999, 2, "loose"), &["plow.csv, line 2000", "'loose'", "tail_mm"]),
        (with_cell(&csv, 1999, 1, "NaN"), &["plow.csv, line 2000", "'NaN'", "pull_n"]),
        (with_cell(&csv, 1999, 1, "1e400"), &["plow.csv, line 2000", "'1e400'", "pull_n"]),
        (with_cell(&csv, 1999, 3, ""), &["plow.csv, line 2000", "depth_mm"]),
        (with_cell(&csv, 1999, 3, "1,2"), &["plow.csv, line 2000", "5 fields", "4"]),
        (
            with_cells(&csv, |at, cells| cells.truncate(if at == 1999 { 3 } else { 4 })),
            &["plow.csv, line 2000", "3 fields"],
        ),
        (csv.replacen(line_1999, &format!("{line_1999}\n"), 1), &["plow.csv, line 2000", "empty"]),
        (csv.replacen(line_1999, &format!("\"{line_1999}"), 1), &["plow.csv, line 1999"]),
        (with_cell(&csv, 1999, 0, "0.5"), &["plow.csv, line 2000", "time goes backwards"]),
        (with_cells(&csv, |_, cells| cells.truncate(3)), &["plow.csv", "no column depth_mm"]),
        (with_cell(&csv, 0, 3, "deep"), &["plow.csv, line 1", "'deep'"]),
        (csv.replace(',', ";"), &["plow.csv, line 1", "t_s", "import"]),
        (constant(1), &["the pull channel is the same in every reading"]),
        (constant(2), &["the tail channel is the same in every reading"]),
        (constant(3), &["the depth channel is the same in every reading"]),
    ];
    let bad = recorded.field.path("bad");
    let folder = recorded.field.path("");
    for (text, parts) in cases {
        copy_run(&run, &bad)?;
        assert_ne!(text, csv);
        fs::write(bad.join("plow.csv"), text).unwrap();
        let parts = [&[text_of(&bad)], parts].concat();
        let page = recorded.field.path("page.pdf");
        refuses(&folder, &["summary", text_of(&bad), "-o", text_of(&page)], 1, &parts)?;
        refuses(&folder, &["compare", text_of(&run), "--against", text_of(&bad)], 1, &parts)?;
        fs::remove_dir_all(&bad).unwrap();
    }
    Ok(())
}

#[test]
fn two_gigabytes_are_refused_before_they_are_read() -> Outcome<()> {
    let recorded = recorded()?;
    let run = recorded.run()?;
    let csv = run.join("plow.csv");
    let mut file = File::options().write(true).open(&csv).unwrap();
    // A hole in the file: 2 GB that need no disk. The line end makes it all whole rows.
    file.seek(SeekFrom::Start(2_000_000_000)).unwrap();
    file.write_all(b"\n").unwrap();
    let folder = recorded.field.path("");
    let began = std::time::Instant::now();
    refuses(&folder, &["summary", text_of(&run)], 1, &[text_of(&csv), "2.0 GB", "record shorter passes"])?;
    let plow = recorded.field.plow();
    let import = ["import", text_of(&csv), "--plow", text_of(&plow), "--setting", "as-found"];
    let columns = ["--column", "t_s=t_s", "--column", "pull_n=pull_n", "--out", text_of(&folder)];
    refuses(&folder, &[&import[..], &columns[..]].concat(), 1, &[text_of(&csv), "2.0 GB", "split the file"])?;
    assert!(began.elapsed() < Duration::from_secs(20), "{:?}", began.elapsed());
    Ok(())
}

#[test]
fn a_folder_that_is_no_run() -> Outcome<()> {
    let recorded = recorded()?;
    let run = recorded.run()?;
    let folder = recorded.field.path("");
    let toml = fs::read_to_string(run.join("run.toml")).unwrap();
    let plow = recorded.field.plow();
    let none = recorded.field.path("none");
    for command in ["summary", "check"] {
        refuses(&folder, &[command, text_of(&none)], 1, &[text_of(&none), "there is no such folder"])?;
        refuses(&folder, &[command, text_of(&plow)], 1, &[text_of(&plow), "this is a file and no folder"])?;
        refuses(&folder, &[command, text_of(&folder)], 1, &["run.toml", "so this is no run"])?;
        for (text, parts) in [
            (toml.clone() + "\nx y\n", &["run.toml, line "][..]),
            (
                with(&toml, "state = \"ended\"", "state = \"over\""),
                &["run.toml, line ", "\"over\"", "\"ended\""],
            ),
            (String::new(), &["run.toml, line 1", "run"]),
        ] {
            let bad = recorded.field.path("bad");
            copy_run(&run, &bad)?;
            fs::write(bad.join("run.toml"), text).unwrap();
            refuses(&folder, &[command, text_of(&bad)], 1, parts)?;
            fs::remove_dir_all(&bad).unwrap();
        }
    }
    Ok(())
}

#[test]
fn a_page_that_cannot_be_written() -> Outcome<()> {
    let recorded = recorded()?;
    let run = recorded.run()?;
    let folder = recorded.field.path("");
    let page = |name: &str| recorded.field.path(name);
    let nowhere = page("no-such-folder/page.pdf");
    let parts = [text_of(&nowhere), "folder", "does not exist"];
    let wrong_ending = page("page.docx");
    for command in [&["summary", text_of(&run)][..], &["statics", text_of(&recorded.field.plow())]] {
        refuses(&folder, &[command, &["-o", text_of(&nowhere)]].concat(), 1, &parts)?;
        let args = [command, &["-o", text_of(&wrong_ending)]].concat();
        refuses(&folder, &args, 2, &[text_of(&wrong_ending), ".pdf"])?;
    }
    // A folder in the place of the page.
    fs::create_dir(page("page.pdf")).unwrap();
    refuses(&folder, &["summary", text_of(&run), "-o", text_of(&page("page.pdf"))], 1, &["page.pdf"])?;
    let twice = ["compare", text_of(&run), "--against", text_of(&run)];
    refuses(&folder, &twice, 2, &[text_of(&run), "both sides"])?;
    Ok(())
}

#[test]
fn a_loggers_file_that_cannot_be_imported() -> Outcome<()> {
    let field = Field::new()?;
    let (csv, plow, out) = (field.path("logger.csv"), field.plow(), field.runs());
    let good = "Time;Force\n0.00;1.5\n0.01;1.6\n0.02;1.7\n";
    let time = "t_s=Time:s";
    let force = "pull_n=Force:kN";
    let files: [(&[u8], &[&str]); 14] = [
        (b"", &["logger.csv"]),
        (b"Time;Force\n", &["logger.csv", "no row"]),
        (b"Time;Force\n0.00;\n0.01;NaN\n", &["logger.csv", "no row"]),
        (b"Time;Force\n0.00;1.5\n0.01\n", &["line 3", "1 cells", "2"]),
        (b"Time;Force\n0.00;1.5\n0.01;1;2\n", &["line 3", "3 cells", "2"]),
        (b"Time;Force\n0.00;1.5\n0.01;full\n", &["line 3", "'full'"]),
        (b"Time;Force\n0.00;1.5\n0.01;1,6\n", &["line 3", "'1,6'", "--decimal-comma"]),
        (b"Time;Force\n0.00;1.5\n0.01;inf\n", &["line 3", "'inf'"]),
        (b"Time;Force\n0.02;1.5\n0.01;1.6\n", &["line 3", "time"]),
        (b"Time;Force\n0.01;1.5\n0.01;1.6\n", &["line 3", "time"]),
        (b"Time;Force\n0.00;1.5\n0.01;\xFF\xFE\n", &["line 3", "'ÿþ' is not a number"]),
        (b"Time;Force;Force\n0.00;1.5;1.5\n", &["line 1", "'Force'", "2 times"]),
        (b"Clock;Force\n0.00;1.5\n", &["line 1", "no column 'Time'", "Clock, Force"]),
        (b"Time,Force\n0.00,1.5\n", &["line 1", "no column 'Time'", "--separator"]),
    ];
    let base = ["import", text_of(&csv), "--plow", text_of(&plow), "--out", text_of(&out)];
    let mapped = ["--setting", "as-found", "--separator", ";", "--column", time, "--column", force];
    let folder = field.path("");
    for (bytes, parts) in files {
        fs::write(&csv, bytes).unwrap();
        let parts = [&[text_of(&csv)], parts].concat();
        refuses(&folder, &[&base[..], &mapped[..]].concat(), 1, &parts)?;
    }
    fs::write(&csv, good).unwrap();
    let usage: [(&[&str], &[&str]); 11] = [
        (&["--column", time, "--column", "pull_n"], &["'pull_n'", "pull_n=Force:kN"]),
        (&["--column", time, "--column", "pull=Force:kN"], &["'pull'", "pull_n"]),
        (&["--column", time, "--column", "pull_n=Force:in"], &["'in'", "force", "kN"]),
        (&["--column", time, "--column", "pull_n=Force:stone"], &["'stone'", "kN"]),
        (&["--column", "t_s=Time:weeks", "--column", force], &["'weeks'", "ms"]),
        (&["--column", force], &["time", "--rate"]),
        (&["--column", time, "--column", force, "--rate", "100"], &["--rate", "both"]),
        (&["--column", force, "--rate", "0"], &["--rate"]),
        (&["--column", time, "--column", force, "--column", "pull_n=Time:N"], &["twice"]),
        (&["--column", time, "--column", force, "--decimal-comma"], &["--separator"]),
        (&["--column", time, "--column", force, "--started", "noon"], &["'noon'"]),
    ];
    for (columns, parts) in usage {
        refuses(&folder, &[&base[..], &["--setting", "as-found"], columns].concat(), 2, parts)?;
    }
    let setting = ["--setting", "no-such", "--column", time, "--column", force];
    refuses(&folder, &[&base[..], &setting[..]].concat(), 1, &["'no-such'", "as-found"])?;
    Ok(())
}

/// A report that cannot be written is told in one sentence; a reader that has seen enough (`| head`) is a normal end.
#[cfg(target_os = "linux")]
#[test]
fn a_report_that_cannot_be_written() -> Outcome<()> {
    use std::process::{Command, Stdio};
    let field = Field::new()?;
    let plow = field.plow();
    let (reader, gone) = std::io::pipe().unwrap();
    drop(reader);
    let full = File::options().write(true).open("/dev/full").unwrap();
    for (out, code) in [(Stdio::from(full), 1), (Stdio::from(gone), 0)] {
        let ended = Command::new(Program::Hitchwright.path()?)
            .args(["statics", text_of(&plow), "--pull", "1600 lbf"])
            .stdout(out)
            .output()
            .unwrap();
        let said = String::from_utf8(ended.stderr).unwrap();
        assert_eq!(ended.status.code(), Some(code), "{said}");
        let told = said.contains("hitchwright: the report could not be written: ");
        // Beside how the plow stands, which is no part of the report.
        let others = said.lines().filter(|line| !line.starts_with("standing level: ")).count();
        assert_eq!((told, others), (code == 1, usize::from(code == 1)), "{said}");
    }
    Ok(())
}
