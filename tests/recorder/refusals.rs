//! What the recorder refuses: with exit status 1, a sentence that names the thing, and nothing written.

use std::fs;

use hitchwright_tests::Outcome;
use hitchwright_tests::binaries::Program;
use hitchwright_tests::command::assert_has;
use hitchwright_tests::field::{Field, SOON};
use hitchwright_tests::process::run;
use hitchwright_tests::run_folder::runs_in;
use sample_runs::sensors::Sensor;

fn refused(field: Field, names: &[&str]) -> Outcome<()> {
    let recorded = field.record("")?.wait()?;
    let ended = recorded.ended.expect_code(1)?;
    assert_has(&ended.stderr, names);
    assert_eq!(runs_in(&recorded.field.runs())?, Vec::<std::path::PathBuf>::new());
    Ok(())
}

#[test]
fn a_port_that_is_not_there() -> Outcome<()> {
    let field = Field::new()?;
    let port = field.port().display().to_string();
    refused(field, &[&port])
}

#[test]
fn a_port_that_is_an_ordinary_file() -> Outcome<()> {
    let field = Field::new()?;
    fs::write(field.port(), "no port").unwrap();
    let port = field.port().display().to_string();
    refused(field, &[&port])
}

#[test]
fn a_box_of_another_major_version() -> Outcome<()> {
    refused(Field::new()?.with_box("--protocol-major 2 --name other-box"), &["other-box", "2", "1"])
}

#[test]
fn a_box_without_a_channel_that_the_plow_description_wants() -> Outcome<()> {
    refused(Field::new()?.with_box("--channels pull,depth"), &["\"tail\""])
}

#[test]
fn a_second_box_of_which_the_plow_description_wants_nothing() -> Outcome<()> {
    let field = Field::new()?;
    let _second = field.start_other("tractor", "--channels pitch --name tractor")?;
    let ports = field.ports_with(&["tractor"]);
    let recorded = field.with_box("").record(&ports)?.wait()?;
    let said = recorded.ended.expect_code(1)?.stderr;
    assert_has(
        &said,
        &["\"tractor\" has nothing that the plow description asks for", "it has \"pitch\"", "\"pull\""],
    );
    Ok(())
}

#[test]
fn a_channel_that_is_on_none_of_two_boxes() -> Outcome<()> {
    let field = Field::new()?.with_sensors(&Sensor::ALL)?.with_box("");
    let _second = field.start_other("tractor", "--channels pitch --name tractor")?;
    let ports = field.ports_with(&["tractor"]);
    let said = field.record(&ports)?.wait()?.ended.expect_code(1)?.stderr;
    for part in ["no box has the channel \"front-load\";", "\"tractor\" has \"pitch\""] {
        assert!(said.contains(part), "{part:?} is not in: {said}");
    }
    Ok(())
}

#[test]
fn runs_that_cannot_be_written() -> Outcome<()> {
    let field = Field::new()?.with_box("");
    fs::remove_dir(field.runs()).unwrap();
    // A file where a folder should be refuses everybody, root too, which a read-only folder does not.
    fs::write(field.runs(), "").unwrap();
    let runs = field.runs().display().to_string();
    let recorded = field.record("")?.wait()?;
    let ended = recorded.ended.expect_code(1)?;
    assert!(ended.stderr.contains(&runs), "{}", ended.stderr);
    Ok(())
}

#[test]
fn a_port_that_another_recorder_has() -> Outcome<()> {
    let mut recording = Field::new()?.with_box("").record("")?;
    recording.until_lines(100)?;
    let port = recording.field.port().display().to_string();
    let second = run(Program::Recorder, recording.field.recorder_args(""), SOON)?.expect_code(1)?;
    assert!(second.stderr.contains(&port), "{}", second.stderr);
    // The first is not harmed: its run is the only one, and whole.
    let recorded = recording.to_the_end()?;
    assert_eq!(recorded.verify()?.rows_lost, 0);
    Ok(())
}
