//! `ports`: sees boxes, what is no box, and what is busy, all at the same time; disturbs nobody.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a helper of tests fails as a test does")]

use std::path::PathBuf;
use std::time::{Duration, Instant};

use hitchwright_tests::Outcome;
use hitchwright_tests::binaries::Program;
use hitchwright_tests::command::assert_has;
use hitchwright_tests::field::{Field, SOON};
use hitchwright_tests::process::{run, wait_until};
use hitchwright_tests::pty::Pty;
use ingest::discovery::{NotABox, ProbeConfig, probe_all};
use sample_runs::plow::Case;
use sample_runs::sensors::Sensor;
use sample_runs::virtual_box::{BoxConfig, VirtualBox};
use serde_json::Value;

/// A sentence with its checksum as printed in descriptions of NMEA 0183 (from memory).
const SENTENCE: &[u8] = b"$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47\r\n";
/// No line, no frame, no text.
const NOISE: &[u8] = &[0x81, 0xF3, 0x92, 0xE7, 0x06, 0x99, 0xC1];

fn listed<'a>(json: &'a Value, port: &str) -> &'a Value {
    let ports = json.as_array().unwrap();
    ports.iter().find(|seen| seen["port"] == port).unwrap_or_else(|| panic!("{port} is not in {json:#}"))
}

#[test]
fn boxes_a_busy_one_a_dead_line_a_receiver_and_noise_at_once() -> Outcome<()> {
    let first = Field::new()?.with_box("--speed-up 1 --name tail-box --hold pull=123456 --noise 20");
    let second = Field::new()?.with_box(
        "--speed-up 1 --name front-box --serial F-2 --channels front-load,pitch --rate-hz 500 --drop-frames 0.2",
    );
    // One that prints, and hears nothing.
    let third = Field::new()?.with_box("--speed-up 1 --name println-box --text --deaf --rate-hz 50");
    let (_first_box, _second_box) = (first.start_box()?, second.start_box()?);
    let _third_box = third.start_box()?;
    let mut busy = Field::new()?.with_box("--speed-up 1").record("")?;
    busy.until_lines(10)?;
    let (dead, receiver, noise) = (Pty::open()?, Pty::open()?, Pty::open()?);
    receiver.say_again_and_again(SENTENCE)?;
    noise.say_again_and_again(NOISE)?;
    let text = |path: PathBuf| path.to_str().unwrap().to_owned();
    let ports = [
        text(first.port()),
        text(second.port()),
        text(busy.field.port()),
        text(dead.port().to_owned()),
        text(receiver.port().to_owned()),
        text(noise.port().to_owned()),
        text(first.path("none")),
        text(third.port()),
    ];
    let mut args = vec!["ports".to_owned(), "--json".to_owned(), "--plow".to_owned(), text(first.plow())];
    for port in &ports {
        args.extend(["--port".to_owned(), port.clone()]);
    }
    let begun = Instant::now();
    let ended = run(Program::Hitchwright, &args, SOON)?.expect_code(0)?;
    let lasted = begun.elapsed();
    // One after the other they would take thrice as long.
    assert!(lasted < Duration::from_secs(6), "{lasted:?}");
    let json: Value = serde_json::from_str(&ended.stdout).unwrap();
    let states: Vec<_> = ports.iter().map(|port| listed(&json, port)["state"].as_str().unwrap()).collect();
    assert_eq!(states, ["box", "box", "busy", "silent", "gnss-receiver", "other", "failed", "box"]);

    let seen = &listed(&json, &ports[0])["box"];
    assert_eq!((&seen["name"], &seen["firmware"]), (&"tail-box".into(), &"0.1.0".into()));
    assert_eq!((&seen["row_rate_hz"], &seen["rows_lost"]), (&200.0.into(), &0.into()));
    let rows = seen["rows"].as_u64().unwrap();
    assert!((150..=260).contains(&rows), "{rows} rows in a second of 200");
    let pull = &seen["channels"][0];
    assert_eq!(
        (&pull["name"], &pull["kind"], &pull["adc_bits"]),
        (&"pull".into(), &"pull".into(), &24.into())
    );
    let number = |value: &Value, key: &str| value[key].as_f64().unwrap();
    let counts = &pull["counts"];
    assert!((number(counts, "mean") - 123_456.0).abs() < 5.0 * 20.0 / (rows as f64).sqrt(), "{counts}");
    assert!((15.0..25.0).contains(&number(counts, "sd")), "{counts}");
    assert_eq!(pull["column"], "pull_n");
    let wanted_n = Sensor::PULL.reading(123_456);
    assert!((number(&pull["readings"], "mean") - wanted_n).abs() < 0.02, "{pull} {wanted_n}");

    let seen = &listed(&json, &ports[1])["box"];
    assert_eq!((&seen["name"], &seen["serial"]), (&"front-box".into(), &"F-2".into()));
    assert!(seen["rows_lost"].as_u64().unwrap() >= 8, "{seen}");
    assert!(seen["unfit"].as_str().unwrap().contains("\"pull\""), "{seen}");
    assert_eq!(seen["channels"].as_array().unwrap().len(), 2);

    let seen = &listed(&json, &ports[7])["box"];
    assert_eq!((&seen["name"], &seen["form"]), (&"println-box".into(), &"text".into()));
    let rows = seen["rows"].as_u64().unwrap();
    assert!((30..=70).contains(&rows), "{rows} rows in a second of 50");
    assert_eq!((&seen["rows_lost"], &seen["channels"][2]["name"]), (&0.into(), &"depth".into()));

    let says = |port: &str| listed(&json, port)["says"].as_str().unwrap().to_owned();
    assert!(says(&ports[2]).contains(&format!("process {}", busy.recorder.pid())), "{}", says(&ports[2]));
    assert!(says(&ports[3]).contains("switched on"), "{}", says(&ports[3]));
    assert!(says(&ports[5]).contains("baud rate"), "{}", says(&ports[5]));
    assert!(says(&ports[6]).contains("there is no port"), "{}", says(&ports[6]));
    // The recorder that had its port was not disturbed.
    busy.until_lines(lasted.as_secs() as usize * 150)?;
    Ok(())
}

#[test]
fn the_listing_is_for_people() -> Outcome<()> {
    let field = Field::new()?.with_box("--speed-up 1 --hold depth=28200");
    let _sensor_box = field.start_box()?;
    let (port, plow) = (field.port(), field.plow());
    let args = ["ports", "--port", port.to_str().unwrap(), "--plow", plow.to_str().unwrap(), "--units", "us"];
    let said = run(Program::Hitchwright, args, SOON)?.expect_code(0)?.stdout;
    // Depth: 120 counts a mm from 16200, so 100 mm, which is 3.937 in.
    assert_has(
        &said,
        &["sensor box \"virtual-box\"", "none lost", "28200.0", "in in", "3.937", "1 sensor box was found"],
    );
    Ok(())
}

fn quick() -> ProbeConfig {
    ProbeConfig { patience: Duration::from_millis(1600), ..ProbeConfig::at(115_200) }
}

#[test]
fn only_a_silent_port_that_was_named_is_written_to() -> Outcome<()> {
    let (silent, named, noise) = (Pty::open()?, Pty::open()?, Pty::open()?);
    noise.say_again_and_again(NOISE)?;
    let ports =
        [(&silent, false), (&named, true), (&noise, true)].map(|(pty, named)| (pty.port().to_owned(), named));
    let probes = probe_all(&ports, quick()).unwrap();
    let found: Vec<_> = probes.into_iter().map(|probed| probed.unwrap()).collect();
    assert_eq!(found[..2], [Err(NotABox::Silent), Err(NotABox::Silent)]);
    assert!(matches!(found[2], Err(NotABox::Other { is_gnss: false, .. })), "{:?}", found[2]);
    assert_eq!(silent.heard(), b"");
    assert_eq!(noise.heard(), b"");
    let start = firmware_protocol::encode(&firmware_protocol::Frame::Start);
    assert_eq!(named.heard(), start.as_bytes());
    Ok(())
}

#[test]
fn a_box_that_was_looked_at_is_left_stopped() -> Outcome<()> {
    let sensor_box = VirtualBox::open(BoxConfig::of_case(Case::Balanced, 1, 60.0)).unwrap();
    let ports = [(sensor_box.path().to_owned(), false)];
    let probes = probe_all(&ports, quick()).unwrap();
    let [Ok(Ok(seen))] = &probes[..] else { panic!("{probes:?}") };
    assert!(seen.sample.rows() >= 150, "{}", seen.sample.rows());
    std::thread::sleep(Duration::from_millis(200));
    let rows = sensor_box.rows();
    std::thread::sleep(Duration::from_millis(300));
    assert_eq!(sensor_box.rows(), rows);
    sensor_box.stop();
    Ok(())
}

/// As after a program that was killed: rows come, and no hello unasked.
#[test]
fn a_box_that_was_left_running_is_found_again() -> Outcome<()> {
    let sensor_box = VirtualBox::open(BoxConfig::of_case(Case::Balanced, 1, 60.0)).unwrap();
    let start = firmware_protocol::encode(&firmware_protocol::Frame::Start);
    let mut port = std::fs::OpenOptions::new().read(true).write(true).open(sensor_box.path()).unwrap();
    std::io::Write::write_all(&mut port, start.as_bytes()).unwrap();
    wait_until("a running box", SOON, || Ok(sensor_box.has_started().then_some(())))?;
    drop(port);
    let probes = probe_all(&[(sensor_box.path().to_owned(), false)], quick()).unwrap();
    let [Ok(Ok(seen))] = &probes[..] else { panic!("{probes:?}") };
    assert!(seen.sample.rows() >= 150, "{}", seen.sample.rows());
    sensor_box.stop();
    Ok(())
}

#[test]
fn a_box_of_another_major_version_is_named_and_not_started() -> Outcome<()> {
    let mut config = BoxConfig::of_case(Case::Balanced, 1, 60.0);
    (config.faults.protocol_major, config.name) = (2, "new-box".to_owned());
    let sensor_box = VirtualBox::open(config).unwrap();
    let probes = probe_all(&[(sensor_box.path().to_owned(), true)], quick()).unwrap();
    let [Ok(Err(found @ NotABox::Refused(_)))] = &probes[..] else { panic!("{probes:?}") };
    assert!(found.to_string().contains("new-box"), "{found}");
    assert!(!sensor_box.has_started());
    sensor_box.stop();
    Ok(())
}
