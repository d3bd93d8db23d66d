//! What the recorder refuses on a receiver's port: exit status 1, a sentence that says what to do, nothing written.

use hitchwright_tests::Outcome;
use hitchwright_tests::command::assert_has;
use hitchwright_tests::field::Field;
use hitchwright_tests::pty::Pty;
use hitchwright_tests::receiver::start_receiver;
use hitchwright_tests::run_folder::runs_in;

fn refused(field: Field, gnss: &str, said: &[&str]) -> Outcome<()> {
    let recorded = field.record(&format!("--gnss {gnss}"))?.wait()?;
    let ended = recorded.ended.expect_code(1)?;
    assert_has(&ended.stderr, said);
    assert_eq!(runs_in(&recorded.field.runs())?, Vec::<std::path::PathBuf>::new());
    Ok(())
}

fn a_field() -> Outcome<(Field, String)> {
    let field = Field::new()?.with_box("");
    let gnss = field.path("gnss").display().to_string();
    Ok((field, gnss))
}

#[test]
fn a_receiver_that_says_nothing() -> Outcome<()> {
    let (field, gnss) = a_field()?;
    let _receiver = start_receiver(&field, "--latency-ms 60000")?;
    refused(field, &gnss, &[&gnss, "nothing arrives", "GNSS receiver"])
}

/// All bits turned around now and then is what a wrong speed looks like.
#[test]
fn a_receiver_at_another_speed() -> Outcome<()> {
    let (field, gnss) = a_field()?;
    let _receiver = start_receiver(&field, "--flip-bits 0.5")?;
    refused(field, &gnss, &[&gnss, "--gnss-baud (now 9600)"])
}

/// The speed is right, and was blamed.
#[test]
fn a_receiver_without_checksums() -> Outcome<()> {
    let (field, _) = a_field()?;
    let line = Pty::open()?;
    line.say_again_and_again(
        b"$GPRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W\r\n$GPVTG,054.7,T,034.4,M,005.5,N,010.2,K\r\n",
    )?;
    let gnss = line.port().display().to_string();
    refused(field, &gnss, &[&gnss, "without checksums", "switch the checksums on"])
}

#[test]
fn a_receiver_that_gives_no_speed() -> Outcome<()> {
    let (field, gnss) = a_field()?;
    let _receiver = start_receiver(&field, "--sentences gga --rate-hz 5")?;
    refused(field, &gnss, &[&gnss, "must send RMC, or GGA and VTG", "it sends GGA only"])
}

#[test]
fn a_sensor_box_on_the_port_of_the_receiver() -> Outcome<()> {
    for form in ["", "--text", "--text --deaf"] {
        let (field, gnss) = a_field()?;
        let _other = field.start_other("gnss", form)?;
        refused(field, &gnss, &[&gnss, "is that of a sensor box", "--port"])?;
    }
    Ok(())
}

#[test]
fn one_port_named_twice_and_one_that_is_not_there() -> Outcome<()> {
    let (field, gnss) = a_field()?;
    refused(field, &gnss, &[&gnss, "there is no port"])?;
    let (field, _) = a_field()?;
    let port = field.port().display().to_string();
    refused(field, &port, &[&port, "named twice"])
}
