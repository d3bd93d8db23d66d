//! What the recorder refuses: with exit status 1, a sentence that names the thing or says what to do, and nothing
//! written.

use std::fs;

use hitchwright_tests::Outcome;
use hitchwright_tests::binaries::Program;
use hitchwright_tests::command::assert_has;
use hitchwright_tests::field::{Field, SOON};
use hitchwright_tests::process::run;
use hitchwright_tests::pty::Pty;
use hitchwright_tests::receiver::start_receiver;
use sample_runs::sensors::Sensor;

#[test]
fn a_port_that_is_not_there() -> Outcome<()> {
    let field = Field::new()?;
    let port = field.port().display().to_string();
    assert_has(&field.refused("")?, &[&port]);
    Ok(())
}

#[test]
fn a_port_that_is_an_ordinary_file() -> Outcome<()> {
    let field = Field::new()?;
    fs::write(field.port(), "no port").unwrap();
    let port = field.port().display().to_string();
    assert_has(&field.refused("")?, &[&port]);
    Ok(())
}

#[test]
fn a_box_of_another_major_version() -> Outcome<()> {
    let field = Field::new()?.with_box("--protocol-major 2 --name other-box");
    assert_has(&field.refused("")?, &["other-box", "2", "1"]);
    Ok(())
}

#[test]
fn a_box_without_a_channel_that_the_plow_description_wants() -> Outcome<()> {
    assert_has(&Field::new()?.with_box("--channels pull,depth").refused("")?, &["\"tail\""]);
    Ok(())
}

#[test]
fn a_second_box_of_which_the_plow_description_wants_nothing() -> Outcome<()> {
    let field = Field::new()?;
    let _second = field.start_other("tractor", "--channels pitch --name tractor")?;
    let ports = field.ports_with(&["tractor"]);
    let said = field.with_box("").refused(&ports)?;
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
    let parts = ["no box has the channel \"front-load\";", "\"tractor\" has \"pitch\""];
    assert_has(&field.refused(&ports)?, &parts);
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

fn receiver_refused(field: Field, gnss: &str, said: &[&str]) -> Outcome<()> {
    assert_has(&field.refused(&format!("--gnss {gnss}"))?, said);
    Ok(())
}

fn field_for_a_receiver() -> Outcome<(Field, String)> {
    let field = Field::new()?.with_box("");
    let gnss = field.path("gnss").display().to_string();
    Ok((field, gnss))
}

#[test]
fn a_receiver_that_says_nothing() -> Outcome<()> {
    let (field, gnss) = field_for_a_receiver()?;
    let _receiver = start_receiver(&field, "--latency-ms 60000")?;
    receiver_refused(field, &gnss, &[&gnss, "nothing arrives", "GNSS receiver"])
}

/// All bits turned around now and then is what a wrong speed looks like.
#[test]
fn a_receiver_at_another_speed() -> Outcome<()> {
    let (field, gnss) = field_for_a_receiver()?;
    let _receiver = start_receiver(&field, "--flip-bits 0.5")?;
    receiver_refused(field, &gnss, &[&gnss, "--gnss-baud (now 9600)"])
}

/// The speed is right, and was blamed.
#[test]
fn a_receiver_without_checksums() -> Outcome<()> {
    let (field, _) = field_for_a_receiver()?;
    let line = Pty::open()?;
    line.say_again_and_again(
        b"$GPRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W\r\n$GPVTG,054.7,T,034.4,M,005.5,N,010.2,K\r\n",
    )?;
    let gnss = line.port().display().to_string();
    receiver_refused(field, &gnss, &[&gnss, "without checksums", "switch the checksums on"])
}

#[test]
fn a_receiver_that_gives_no_speed() -> Outcome<()> {
    let (field, gnss) = field_for_a_receiver()?;
    let _receiver = start_receiver(&field, "--sentences gga --rate-hz 5")?;
    receiver_refused(field, &gnss, &[&gnss, "must send RMC, or GGA and VTG", "it sends GGA only"])
}

/// Sentences of satellites and nothing of where it is.
#[test]
fn a_receiver_that_gives_neither_place_nor_speed() -> Outcome<()> {
    let (field, _) = field_for_a_receiver()?;
    let line = Pty::open()?;
    line.say_again_and_again(b"$GPGSV,1,1,00*79\r\n")?;
    let gnss = line.port().display().to_string();
    receiver_refused(field, &gnss, &[&gnss, "must send RMC, or GGA and VTG", "it sends neither of these"])
}

#[test]
fn a_sensor_box_on_the_port_of_the_receiver() -> Outcome<()> {
    for form in ["", "--text", "--text --deaf"] {
        let (field, gnss) = field_for_a_receiver()?;
        let _other = field.start_other("gnss", form)?;
        receiver_refused(field, &gnss, &[&gnss, "is that of a sensor box", "--port"])?;
    }
    Ok(())
}

#[test]
fn one_port_named_twice_and_one_that_is_not_there() -> Outcome<()> {
    let (field, gnss) = field_for_a_receiver()?;
    receiver_refused(field, &gnss, &[&gnss, "there is no port"])?;
    let (field, _) = field_for_a_receiver()?;
    let port = field.port().display().to_string();
    receiver_refused(field, &port, &[&port, "named twice"])
}
