//! A run folder that somebody deletes or moves away while it is recorded into: the recording goes on beside it, and
//! nothing is lost.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a helper of tests fails as a test does")]

use std::fs;
use std::path::Path;
use std::time::{Duration, Instant};

use hitchwright_tests::field::{Field, SOON};
use hitchwright_tests::process::Signal;
use hitchwright_tests::run_folder::read_events;
use hitchwright_tests::verify::verify;
use hitchwright_tests::{Failure, Outcome};
use ingest::open_run::open_run;

/// Records a pass, does this to the run folder in the middle of it, and demands a whole run beside it.
fn goes_on_beside(harm: fn(&Path)) -> Outcome<()> {
    let mut recording = Field::new()?.with_box("--seed 12 --working-s 60 --speed-up 10").record("")?;
    recording.until_lines(400)?;
    let folder = recording.run_folder()?;
    let harmed = Instant::now();
    harm(&folder);
    let told = recording.recorder.wait_for_line("was deleted or moved away", SOON)?;
    assert!(told.contains(&folder.display().to_string()), "{told}");
    let goes_on = recording.recorder.wait_for_line("the recording goes on in", SOON)?;
    assert!(harmed.elapsed() < Duration::from_secs(1), "told after {:?}", harmed.elapsed());
    let name = format!("{}_2", folder.file_name().unwrap_or_default().to_string_lossy());
    let beside = folder.with_file_name(&name);
    assert!(goes_on.contains(&beside.display().to_string()), "{goes_on}");
    std::thread::sleep(Duration::from_secs(1));
    let recorded = recording.end_with(Signal::INT)?;
    let ended = recorded.ended.expect_code(0)?;
    assert!(ended.stderr.contains(&format!("{}: ", beside.display())) || ended.stdout.contains(&name));
    let opened = open_run(&beside).map_err(|error| Failure(error.to_string()))?;
    assert!(opened.description.ended_properly() && opened.notices.is_empty(), "{:?}", opened.notices);
    assert_eq!(opened.description.run.id, name);
    assert!(beside.join("datapackage.json").exists());
    let moved: Vec<_> =
        read_events(&beside)?.into_iter().filter(|event| event.kind == "new-folder").collect();
    assert!(matches!(&moved[..], [event] if event.detail == name), "{moved:?}");
    let verified = verify(&beside, &recorded.field.truth())?;
    assert!(verified.rows_written > 1_000 && verified.rows_lost == 0, "{verified:?}");
    Ok(())
}

fn delete(folder: &Path) {
    fs::remove_dir_all(folder).unwrap();
}

fn move_away(folder: &Path) {
    fs::rename(folder, folder.with_file_name("elsewhere")).unwrap();
}

/// As a program does that saves a table that it had opened.
fn replace(folder: &Path) {
    fs::write(folder.join("saved"), "t_s,pull_n\n").unwrap();
    fs::rename(folder.join("saved"), folder.join("plow.csv")).unwrap();
}

#[test]
fn a_run_folder_that_is_deleted_is_made_again_beside_it() -> Outcome<()> {
    goes_on_beside(delete)
}

#[test]
fn a_run_folder_that_is_moved_away_is_made_again_beside_where_it_was() -> Outcome<()> {
    goes_on_beside(move_away)
}

#[test]
fn a_file_of_rows_that_is_replaced_is_made_again_in_a_folder_beside_it() -> Outcome<()> {
    goes_on_beside(replace)
}
