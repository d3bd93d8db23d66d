//! Runs whose recorder was killed, and what `check --repair` makes of them.

use std::fs;

use hitchwright_tests::Outcome;
use hitchwright_tests::command::{assert_has, hitchwright, json_of, sample, stdout_of, text_of};
use hitchwright_tests::field::Field;
use hitchwright_tests::process::Signal;
use hitchwright_tests::snapshot::{copy_run, snapshot};
use hitchwright_tests::verify::verify;

/// Killed in the middle of its pass, its last row torn and its events lost: whole again, held against the truth of the
/// box, and of use. While it is recorded, nothing of it is touched.
#[test]
fn a_killed_recording_is_repaired_and_of_use() -> Outcome<()> {
    let mut recording = Field::new()?.with_box("--seed 91 --working-s 60").record("")?;
    recording.until_lines(8000)?;
    let run = recording.run_folder()?;
    let refused = hitchwright(["check", "--repair", text_of(&run)], 1)?;
    assert_has(&refused.stderr, &["a recorder is writing into it", "end the recording first"]);
    let said = stdout_of(["check", text_of(&run)])?;
    assert!(said.contains("a recorder is writing into this run") && !said.contains("--repair"), "{said}");
    let recorded = recording.end_with(Signal::KILL)?;
    let csv = fs::read(run.join("plow.csv")).unwrap();
    fs::write(run.join("plow.csv"), &csv[..csv.len() - 5007]).unwrap();
    fs::remove_file(run.join("events.csv")).unwrap();

    let before = snapshot(&run)?;
    let said = stdout_of(["check", text_of(&run)])?;
    assert_has(
        &said,
        &[
            "not ended properly",
            "--repair would put right: plow.csv: ",
            "rows gained from the raw bytes",
            "--repair would put right: events.csv: is not there",
            "--repair would put right: run.toml: the end of the run after",
        ],
    );
    assert_eq!(snapshot(&run)?, before, "looking changes nothing");

    let said = stdout_of(["check", "--repair", text_of(&run)])?;
    assert_has(
        &said,
        &[
            "repaired: plow.csv: ",
            "repaired: events.csv: is not there; made from the raw bytes",
            ": not ended properly, and repaired",
            "byte for byte",
            "nothing lost",
            "was repaired since: its last second may be missing",
        ],
    );
    assert!(!said.contains("would put right") && !said.contains("before-repair"), "{said}");
    let verified = verify(&run, &recorded.field.truth())?;
    assert!(verified.rows_written >= 7999 && verified.rows_lost == 0, "{verified:?}");
    let repaired = snapshot(&run)?;
    assert_has(&stdout_of(["check", "--repair", text_of(&run)])?, &["nothing to repair"]);
    assert_eq!(snapshot(&run)?, repaired);
    let summary = json_of(["summary", text_of(&run), "--json"])?;
    assert!(summary["pull"]["mean_n"]["value"].is_f64(), "{}", summary["pull"]);
    let checked = json_of(["check", "--repair", text_of(&run), "--json"])?;
    assert_eq!((&checked["state"], &checked["rebuilds"]), (&"repaired".into(), &true.into()));
    assert_eq!(checked["repaired"], serde_json::json!(["nothing to repair"]));
    Ok(())
}

/// A table that cannot even be read: it is said what would help, and it helps. Where nothing can, that is said.
#[test]
fn a_run_that_cannot_be_read_says_what_a_repair_would_do() -> Outcome<()> {
    let field = Field::new()?;
    let run = field.runs().join("run");
    copy_run(&sample("runs/balanced"), &run)?;
    assert_has(&stdout_of(["check", "--repair", text_of(&run)])?, &["nothing to repair", "ended properly"]);
    let csv = fs::read(run.join("plow.csv")).unwrap();
    fs::write(run.join("plow.csv"), "").unwrap();
    let refused = hitchwright(["check", text_of(&run)], 1)?;
    assert_has(&refused.stderr, &["no whole row", "--repair would put right: plow.csv: 3501 rows gained"]);
    stdout_of(["check", "--repair", text_of(&run)])?;
    assert_eq!(fs::read(run.join("plow.csv")).unwrap(), csv);

    // A table that was changed gives way, and stays beside.
    let mut changed = csv.clone();
    changed.extend(b"999.000000,1.00,1.0000,1.000\n");
    fs::write(run.join("plow.csv"), &changed).unwrap();
    let said = stdout_of(["check", "--repair", text_of(&run)])?;
    assert_has(
        &said,
        &["plow.csv: is not what the raw bytes give (3502 rows were in it)", "kept as it was before: "],
    );
    assert_eq!(fs::read(run.join("plow.csv.before-repair")).unwrap(), changed);

    // Damage to the raw bytes of a run that was ended stays damage; no row is given up for it.
    let wire = fs::read(run.join("plow.wire")).unwrap();
    fs::write(run.join("plow.wire"), &wire[..wire.len() / 2]).unwrap();
    let ended = hitchwright(["check", "--repair", text_of(&run)], 1)?;
    assert_has(&ended.stdout, &["nothing to repair", "rows are kept, though the raw bytes end", "NOT"]);
    assert_eq!(fs::read(run.join("plow.csv")).unwrap(), csv);

    fs::write(run.join("run.toml"), "").unwrap();
    let refused = hitchwright(["check", "--repair", text_of(&run)], 1)?;
    assert_has(&refused.stderr, &["run.toml", "without its run.toml a run cannot be repaired"]);
    Ok(())
}

/// An imported run has no raw bytes: its torn last row is cut, and kept beside it.
#[test]
fn an_imported_run_loses_its_torn_row() -> Outcome<()> {
    let field = Field::new()?;
    let csv = field.path("logger.csv");
    fs::write(&csv, "t,f,s,d\n0.0,1,2,3\n0.1,1,2,3\n0.2,1,2,3\n").unwrap();
    let plow = field.plow();
    let mut args = vec!["import", text_of(&csv), "--plow", text_of(&plow), "--setting", "as-found"];
    for column in ["t_s=t", "pull_n=f:N", "tail_mm=s:mm", "depth_mm=d:mm"] {
        args.extend(["--column", column]);
    }
    let runs = field.runs();
    args.extend(["--out", text_of(&runs)]);
    hitchwright(&args, 0)?;
    let run = hitchwright_tests::run_folder::run_in(&runs)?;
    assert_has(&stdout_of(["check", "--repair", text_of(&run)])?, &["nothing to repair"]);
    let text = fs::read_to_string(run.join("plow.csv")).unwrap();
    fs::write(run.join("plow.csv"), &text[..text.len() - 4]).unwrap();
    let said = stdout_of(["check", "--repair", text_of(&run)])?;
    assert_has(&said, &["bytes are cut, from the first line on that is not whole", "plow.csv.before-repair"]);
    assert_eq!(fs::read_to_string(run.join("plow.csv")).unwrap().lines().count(), 3);
    Ok(())
}
