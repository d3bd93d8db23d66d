//! A scripted box on a pseudo-terminal, recorded by the library: what is on the disk afterwards.
#![cfg(unix)]
#![allow(clippy::unwrap_used, reason = "a helper of tests fails as a test does")]

mod discovery;
mod scripted_box;

use scripted_box::{Act, ScriptedBox, open_pty};

use ingest::open_run::open_run;
use ingest::plow::{SoilClass, read_plow_text};
use ingest::rebuild::rebuild;
use ingest::recorder::{
    Begin, BegunRun, Destination, NoView, RecordConfig, RecordError, RecordedRun, RunEnd, View, record,
};
use ingest::run_toml::{RunState, RunTime};
use std::io::Write;
use std::path::Path;
use std::time::Duration;

struct Rig {
    folder: tempfile::TempDir,
    acts: std::thread::JoinHandle<()>,
}

impl Rig {
    fn new(acts: Vec<Act>) -> Self {
        Self::after_noise(0, acts)
    }

    fn after_noise(noise: usize, acts: Vec<Act>) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let scripted = ScriptedBox { noise, ..ScriptedBox::new(&folder.path().join("port")) };
        Self { folder, acts: std::thread::spawn(move || scripted.run(acts)) }
    }

    fn config(&self) -> RecordConfig {
        RecordConfig {
            ports: vec![self.folder.path().join("port")],
            baud: 921_600,
            gnss: None,
            plow: read_plow_text(include_str!("plow.toml"), Path::new("plow.toml")).unwrap(),
            begin: Begin::AtOnce,
            setting_name: Some("low".to_owned()),
            setting_assumed: false,
            share: None,
            field: Some("=\"invented\" field\n".to_owned()),
            soil: None,
            soil_class: Some(SoilClass::Medium),
            note: Some("../../x".to_owned()),
            destination: Destination::Folder(self.folder.path().join("run")),
            duration: None,
            stop_when_gone: Some(Duration::from_millis(1200)),
            passes_before: 0,
            software: "test".to_owned(),
        }
    }

    fn record(self) -> (RecordedRun, tempfile::TempDir) {
        let run = record(&self.config(), &mut NoView).unwrap().last.unwrap();
        self.acts.join().unwrap();
        (run, self.folder)
    }
}

/// The promises that every run keeps: each row is one that was sampled, in order and once, times rise,
/// and a rebuild gives the same bytes. Returns the events' kinds and the row numbers written.
fn verify(folder: &Path) -> (Vec<&'static str>, Vec<u32>) {
    let run = open_run(folder).unwrap();
    assert!(run.notices.is_empty(), "{:?}", run.notices);
    assert!(run.description.ended_properly());
    let text = std::fs::read_to_string(folder.join("plow.csv")).unwrap();
    let mut lines = text.lines();
    assert_eq!(lines.next(), Some("t_s,pull_n,depth_mm"));
    let (mut numbers, mut last_t, mut number) = (Vec::new(), -1.0, 0u32);
    for line in lines {
        let cells: Vec<f64> = line.split(',').map(|cell| cell.parse().unwrap()).collect();
        assert!(cells[0] > last_t, "{line}");
        last_t = cells[0];
        while {
            let [pull, depth] = ScriptedBox::counts(number);
            let (pull_n, depth_mm) = (0.5 * f64::from(pull - 1000), 0.1 * f64::from(depth));
            (pull_n - cells[1]).abs() > 0.006 || (depth_mm - cells[2]).abs() > 0.0006
        } {
            number += 1;
            assert!(number < 1_000_000, "no row was sampled like {line}");
        }
        numbers.push(number);
        number += 1;
    }
    let rebuilt = rebuild(folder, None).unwrap();
    assert_eq!(rebuilt.notices, Vec::<String>::new());
    for file in rebuilt.files {
        assert_eq!(std::fs::read(folder.join(&file.name)).unwrap(), file.bytes, "{}", file.name);
    }
    assert_eq!(Some(rebuilt.counters[0]), run.description.boxes[0].counters);
    (run.events.iter().map(|event| event.kind.name()).collect(), numbers)
}

#[test]
fn a_run_with_a_lost_frame_is_on_the_disk_as_it_was() {
    let rig = Rig::new(vec![Act::Send(40), Act::Lose, Act::Send(10)]);
    let (run, folder) = rig.record();
    assert_eq!(run.end, RunEnd::PortsGone);
    let (kinds, numbers) = verify(&run.folder);
    assert_eq!(kinds, ["first-row", "gap", "port-gone", "ended"]);
    let expected: Vec<u32> = (0..400).chain(410..510).collect();
    assert_eq!(numbers, expected);
    assert_eq!((run.counters[0].rows, run.counters[0].rows_lost), (500, 10));
    let description = open_run(&run.folder).unwrap().description;
    assert_eq!(description.run.state, RunState::Ended);
    assert_eq!(description.run.field.as_deref(), Some("=\"invented\" field\n"));
    assert_eq!(description.run.soil_class, Some(SoilClass::Medium));
    let clock = description.boxes[0].clock.clone().unwrap();
    assert_eq!(clock.run_time, RunTime::Host);
    // Both clocks are this computer's: what differs is how well two dozen pings tell.
    assert!((clock.box_s_per_host_s - 1.0).abs() < 200e-6, "{clock:?}");
    // Nothing but the run and the box's link is there.
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 2);
    assert_eq!(std::fs::read_dir(&run.folder).unwrap().count(), 5);
}

/// Found: all noise before a hello was kept in memory and written down, 62 MB of it where it went on for a while.
#[test]
fn noise_of_megabytes_before_the_hello_is_counted_and_not_kept() {
    const NOISE: usize = 6_000_000;
    let rig = Rig::after_noise(NOISE, vec![Act::Send(150), Act::Lose, Act::Send(10)]);
    let (run, _folder) = rig.record();
    let (kinds, numbers) = verify(&run.folder);
    assert_eq!(kinds, ["not-kept", "first-row", "gap", "port-gone", "ended"]);
    // A busy computer may begin the run when rows are coming already.
    assert_eq!(numbers.len() as u64 + run.counters[0].rows_before_start, 1600);
    let wire_bytes = std::fs::metadata(run.folder.join("plow.wire")).unwrap().len();
    assert!(wire_bytes < 400_000, "{wire_bytes} bytes of wire");
    let counters = run.counters[0];
    assert!(counters.bytes_not_kept > NOISE as u64 - 300_000, "{counters:?}");
    assert!(counters.bytes + counters.bytes_not_kept > NOISE as u64, "{counters:?}");
}

#[test]
fn a_cable_that_is_put_back_goes_on_in_the_same_run() {
    let rig =
        Rig::new(vec![Act::Send(20), Act::Unplug(Duration::from_millis(400)), Act::Send(30), Act::Lose]);
    let (run, _folder) = rig.record();
    let (kinds, numbers) = verify(&run.folder);
    assert_eq!(kinds, ["first-row", "port-gone", "port-back", "gap", "port-gone", "ended"]);
    let counters = run.counters[0];
    assert_eq!(counters.reconnects, 1);
    assert_eq!(u64::from(numbers.last().unwrap() + 1), counters.rows + counters.rows_lost);
    // At most the half second to the next try after the cable is back.
    assert!(counters.rows >= 200 + 300 - 260, "{counters:?}");
}

#[test]
fn a_port_that_falls_silent_is_opened_anew() {
    let rig = Rig::new(vec![Act::Send(20), Act::Silent(Duration::from_millis(2500)), Act::Send(20)]);
    let (run, _folder) = rig.record();
    let (kinds, _) = verify(&run.folder);
    assert_eq!(kinds, ["first-row", "port-gone", "port-back", "gap", "port-gone", "ended"]);
    assert_eq!(run.counters[0].rows, 400);
}

#[test]
fn a_duration_ends_a_run_and_a_second_recorder_gets_none() {
    struct Second(RecordConfig, Option<RecordError>);
    impl View for Second {
        fn began(&mut self, _: &BegunRun) {
            let config = self.0.clone();
            // On a thread of its own, for one runtime cannot start another.
            let second = std::thread::spawn(move || record(&config, &mut NoView).unwrap_err());
            self.1 = Some(second.join().unwrap());
        }
    }
    let rig = Rig::new(vec![Act::Send(80)]);
    let mut config = rig.config();
    config.duration = Some(Duration::from_millis(600));
    let mut other = config.clone();
    other.destination = Destination::Folder(rig.folder.path().join("other"));
    let mut view = Second(other, None);
    let run = record(&config, &mut view).unwrap().last.unwrap();
    assert_eq!(run.end, RunEnd::Duration);
    verify(&run.folder);
    let ended = open_run(&run.folder).unwrap().description.run.ended;
    assert_eq!(ended.as_deref(), Some("the duration asked for was over"));
    assert_eq!(RunEnd::Signal("SIGTERM").to_string(), "stopped by SIGTERM");
    assert!((0.5..0.8).contains(&run.lasted_s), "{}", run.lasted_s);
    let error = view.1.unwrap().to_string();
    assert!(error.contains("is busy") && error.contains(&std::process::id().to_string()), "{error}");
    assert!(!rig.folder.path().join("other").exists());
}

/// What is said when this comes from the port again and again; nothing may be written.
fn refused(noise: &'static str) -> String {
    let folder = tempfile::tempdir().unwrap();
    let (mut master, name) = open_pty();
    let mut config = Rig { folder, acts: std::thread::spawn(|| ()) }.config();
    config.ports = vec![name];
    let told = std::thread::spawn(move || {
        for _ in 0..30 {
            let _ = master.write(noise.as_bytes());
            std::thread::sleep(Duration::from_millis(200));
        }
    });
    let error = record(&config, &mut NoView).unwrap_err();
    told.join().unwrap();
    if let Destination::Folder(folder) = &config.destination {
        assert!(!folder.exists());
    }
    error.to_string()
}

#[test]
fn what_stands_in_the_way_is_said_and_nothing_is_written() {
    let noises = ["", "\0\u{7f}garbage\0", "$GPGGA,123519,4807.038,N*27\r\n"];
    let said =
        noises.map(|noise| std::thread::spawn(move || refused(noise))).map(|said| said.join().unwrap());
    let wanted = ["nothing arrives", "check the baud rate (now 921600)", "GNSS"];
    for (said, wanted) in said.iter().zip(wanted) {
        assert!(said.contains(wanted), "{said}");
    }
}

/// Refused before a port is touched.
#[test]
fn a_plow_without_sensors_and_a_recording_without_a_port_are_refused() {
    let folder = tempfile::tempdir().unwrap();
    let config = Rig { folder, acts: std::thread::spawn(|| ()) }.config();
    let mut blind = config.clone();
    blind.plow.sensors.clear();
    let error = record(&blind, &mut NoView).unwrap_err().to_string();
    assert!(error.contains("[[sensors]]") && error.contains("hitchwright calibrate"), "{error}");
    let deaf = RecordConfig { ports: Vec::new(), ..config };
    let error = record(&deaf, &mut NoView).unwrap_err().to_string();
    assert!(error.starts_with("no port was named; "), "{error}");
}
