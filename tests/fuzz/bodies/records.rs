//! Records of a port through the state machine that makes rows of them: any order, any times.

use super::script::records;
use super::wrapped::framed;
use ingest::assemble::{CalibratedSensor, calibrated};
use ingest::plow::{OwnColumn, OwnSensor, Sensor, read_plow_text};
use ingest::tables::Tables;
use ingest::wire_file::{Record, WireEvent, WireReader};
use std::path::Path;

const PLOW: &str = include_str!("../../../sample-runs/plows/two-bottom.toml");

/// A script of what happens at the box's port; rows must rise in time, and cutting the script short must
/// give a beginning of what the whole of it gives.
pub fn body(data: &[u8]) {
    let Ok(plow) = read_plow_text(PLOW, Path::new("plow.toml")) else {
        panic!("the stored plow is not readable")
    };
    let records = records(data, event);
    // The container gives back what was put into it.
    let mut file = ingest::wire_file::WIRE_MAGIC.to_vec();
    records.iter().for_each(|record| record.write_to(&mut file));
    let mut reader = WireReader::new(&file);
    let read: Vec<Record> = reader.by_ref().collect();
    assert_eq!((read.len(), reader.fault()), (records.len(), None));
    // As described, and with the tail's spring as a column of the user's own.
    let own = OwnColumn::new("spring", "mm").ok().map(|column| OwnSensor {
        channel: "tail".to_owned(),
        column,
        calibration: plow
            .sensors
            .iter()
            .find(|sensor| sensor.channel == "tail")
            .map(|tail| tail.calibration.clone()),
        count_limits: None,
    });
    let known: Vec<Sensor> = plow.sensors.iter().filter(|sensor| sensor.channel != "tail").cloned().collect();
    rises(&records, &plow.sensors, &[]);
    rises(&records, &known, own.as_slice());
}

/// Rows rise in time, and a script that is cut short gives a beginning of them.
fn rises(records: &[Record], sensors: &[Sensor], own: &[OwnSensor]) {
    let sensors = calibrated(sensors, own).unwrap_or_else(|fault| panic!("no sensors: {fault}"));
    let whole = rows(records, &sensors);
    let half = rows(&records[..records.len() / 2], &sensors);
    assert!(whole.starts_with(half.as_str()), "the beginning of a script gives other rows than the whole");
    let times: Vec<f64> =
        whole.lines().skip(1).filter_map(|line| line.split(',').next()?.parse().ok()).collect();
    assert_eq!(times.len(), whole.lines().count().saturating_sub(1), "a row without a time");
    assert!(times.windows(2).all(|pair| pair[0] < pair[1]), "time does not rise");
}

fn rows(records: &[Record], sensors: &[CalibratedSensor]) -> String {
    let mut tables = Tables::new(&["plow".to_owned()], sensors, false);
    let (mut rows, mut events) = (String::new(), String::new());
    for record in records {
        tables.take(0, record, &mut rows, &mut events);
    }
    rows
}

/// One of what a script can hold.
pub(super) fn event(what: u8, bytes: &[u8], word: u32) -> WireEvent {
    match what {
        0..=2 => WireEvent::Received(framed(bytes)),
        3 => WireEvent::Received(bytes.to_vec()),
        4 => WireEvent::PortOpened("port".to_owned()),
        5 => WireEvent::PortGone("gone".to_owned()),
        6 => WireEvent::PingSent { token: word },
        7 => WireEvent::HostMark(framed(bytes)),
        8 => WireEvent::ClockStep { step_us: i64::from(word) - (1 << 31) },
        9 => WireEvent::Started,
        10 => WireEvent::Lost { bytes: u64::from(word) },
        12 => WireEvent::NewFolder("beside".to_owned()),
        13 => WireEvent::Known(framed(bytes)),
        _ => WireEvent::Ended("ended".to_owned()),
    }
}
