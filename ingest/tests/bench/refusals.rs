//! What a run does not begin with: one sentence, and nothing written.

use crate::device::{BenchBox, Device};
use crate::rig::{Bench, Left};
use ingest::plow::{OwnColumn, OwnSensor};
use ingest::port::PortError;
use ingest::recorder::{Destination, GnssPort, RecordConfig, Wish};
use std::time::Duration;

fn bench() -> Bench {
    Bench::new([("plow", Device::Box(BenchBox::plow()))])
}

/// What is said of a recording that is like the one that goes well but for this.
fn refused(change: impl FnOnce(&mut RecordConfig)) -> String {
    let bench = bench();
    let mut config = bench.config();
    change(&mut config);
    bench.refused(&config)
}

#[test]
fn a_setting_that_is_not_named_or_not_there() {
    let unnamed = refused(|config| config.setting_name = None);
    assert_eq!(unnamed, "the plow \"Test plow\" is to be recorded with a setting: name one; it has \"low\"");
    let unknown = refused(|config| config.setting_name = Some("high".to_owned()));
    assert_eq!(unknown, "the plow \"Test plow\" has no setting \"high\"; it has \"low\"");
}

#[test]
fn a_port_that_is_named_twice_or_is_not_there() {
    let twice = "port plow was named twice: each box and the GNSS receiver have a port of their own";
    assert_eq!(refused(|config| config.ports.push("plow".into())), twice);
    let gnss = |port: &str| Some(GnssPort { port: port.into(), baud: 9600 });
    assert_eq!(refused(|config| config.gnss = gnss("plow")), twice);
    assert_eq!(refused(|config| config.gnss = gnss("nowhere")), "there is no port nowhere; no other");
    assert_eq!(refused(|config| config.ports = vec!["nowhere".into()]), "there is no port nowhere; no other");
}

/// Links of two names to one port, as the system makes them.
#[test]
fn a_port_that_is_named_twice_by_two_names() {
    let bench = bench();
    let link = bench.folder.path().join("by-id");
    std::os::unix::fs::symlink("/dev/null", &link).unwrap();
    let ports = vec!["/dev/null".into(), link.clone()];
    let said = bench.refused(&RecordConfig { ports, ..bench_config() });
    assert!(said.starts_with(&format!("port {} was named twice", link.display())), "{said}");
}

fn bench_config() -> RecordConfig {
    bench().config()
}

#[test]
fn a_folder_that_is_there_that_cannot_be_made_or_has_no_room() {
    let bench = bench();
    let there = bench.folder.path().join("there");
    std::fs::create_dir(&there).unwrap();
    let destination = Destination::Folder(there.clone());
    let said = bench.refused(&RecordConfig { destination, ..bench_config() });
    let wanted = format!("{} exists already: a run never goes into a folder that is there", there.display());
    assert_eq!(said, wanted);

    let bench = self::bench();
    let file = bench.folder.path().join("file");
    std::fs::write(&file, "").unwrap();
    let destination = Destination::In(file.join("runs"));
    let said = bench.refused(&RecordConfig { destination, ..bench_config() });
    assert!(said.starts_with(&format!("{} cannot be made: ", file.join("runs").display())), "{said}");
    let bench = self::bench();
    let file = bench.folder.path().join("file");
    std::fs::write(&file, "").unwrap();
    let destination = Destination::Folder(file.join("run"));
    let said = bench.refused(&RecordConfig { destination, ..bench_config() });
    assert!(said.starts_with(&format!("{} cannot be made: ", file.display())), "{said}");

    let bench = self::bench();
    let destination = bench.config().destination;
    let duration = Some(Duration::from_secs(1_000_000_000_000));
    let said = bench.refused(&RecordConfig { destination, duration, ..bench_config() });
    // 500 rows a second of 46 bytes, twice, over so many s; the disk of a computer that has it is not built yet.
    assert!(said.contains(" MB free and this run needs 46000000000 MB: make room"), "{said}");
}

#[test]
fn channels_that_no_box_has() {
    let only_pull = |name| BenchBox {
        name,
        channels: vec![("pull", firmware_protocol::ChannelKind::Pull)],
        counts: |_| vec![2600],
        ..BenchBox::plow()
    };
    let bench = Bench::new([("plow", Device::Box(only_pull("half a box")))]);
    let said = bench.refused(&bench_config());
    assert!(said.starts_with("port plow: ") && said.contains("\"depth\""), "{said}");
    assert!(said.contains("\"half a box\""), "{said}");

    let boxes = [("plow", Device::Box(only_pull("left"))), ("second", Device::Box(only_pull("right")))];
    let bench = Bench::new(boxes);
    let said = bench.refused(&RecordConfig { ports: vec!["plow".into(), "second".into()], ..bench_config() });
    assert_eq!(
        said,
        "no box has the channel \"depth\"; \"left\" has \"pull\"; \"right\" has \"pull\": correct [[sensors]] in the plow \
         description, or name the port of the box that has it"
    );
}

#[test]
fn a_box_of_another_major_version_and_one_that_sends_text() {
    let bench = Bench::new([("plow", Device::Box(BenchBox { major: 2, ..BenchBox::plow() }))]);
    let said = bench.refused(&bench_config());
    assert!(said.starts_with("port plow: ") && said.contains("\"plow box\""), "{said}");
    let bench = Bench::new([("plow", Device::says(|_| b"pull 12 depth 13\r\n".to_vec()))]);
    let said = bench.refused(&bench_config());
    assert!(
        said.starts_with("bytes arrive on port plow but no frame of a sensor box: ")
            && said.contains("lines of text"),
        "{said}"
    );
}

#[test]
fn a_port_that_goes_before_the_run_begins() {
    // It has no clock to be asked for, so it is listened to for a while.
    let bench = Bench::new([("plow", Device::silent())]);
    let config = bench.config();
    let Left { recorded, told, .. } = bench.record(&config, |person| async move {
        person.at(1.0).await;
        person.pull("plow");
    });
    let why = "port plow went away before the run began (hung up). Engine off, plow lowered and blocked: look at its cable \
               and plug, then start again";
    assert_eq!(recorded.unwrap_err().to_string(), why);
    assert_eq!(told, []);
}

/// A mark is of a run, and there is none yet; the end is the recorder's.
#[test]
fn a_person_who_ends_it_before_the_run_begins() {
    let bench = Bench::new([("plow", Device::silent())]);
    let config = bench.config();
    let left = bench.record(&config, |person| async move {
        person.wishes_at(1.0, Wish::Mark).await;
        person.wishes_at(2.0, Wish::End("Ctrl-C")).await;
        person.at(100.0).await;
    });
    assert_eq!(left.recorded.unwrap_err().to_string(), "stopped before the run began; nothing was written");
    assert!(!left.folder.path().join("runs").exists());
}

#[test]
fn what_is_no_sensor_box_or_may_not_be_opened() {
    let busy =
        |port: &std::path::Path| PortError::Busy { port: port.to_owned(), holder: "process 7".to_owned() };
    let said = bench().closed("plow", busy).refused(&bench_config());
    assert_eq!(said, "port plow is busy: process 7 has it; end that program or name another port");
}

/// A plow of which only what the user has named is measured is recorded as any other.
#[test]
fn a_plow_without_sensors_and_one_with_columns_of_ones_own_alone() {
    let none = refused(|config| config.plow.sensors.clear());
    assert!(none.contains("\"Test plow\"") && none.contains("sensors"), "{none}");
    let mut config = bench_config();
    config.plow.sensors.clear();
    let column = OwnColumn::new("link force", "counts").unwrap();
    let own = OwnSensor { channel: "pull".to_owned(), column, calibration: None, count_limits: None };
    config.plow.own_sensors.push(own);
    config.duration = Some(Duration::from_secs(3));
    let bench = bench();
    config.destination = Destination::In(bench.folder.path().join("runs"));
    let left = bench.record(&config, |_| async {});
    let [run] = &left.runs()[..] else { panic!("{:?}", left.recorded) };
    let table = std::fs::read_to_string(run.join("plow.csv")).unwrap();
    let mut lines = table.lines();
    assert_eq!(lines.next(), Some("t_s,own_link_force"));
    // Without a calibration the counts are the readings.
    assert!(lines.all(|line| line.ends_with(",2600")) && table.lines().count() > 100, "{table:.200}");
}
