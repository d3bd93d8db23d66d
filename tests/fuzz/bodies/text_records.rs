//! Records of the port of a box that prints sentences, through the state machine that makes rows of them: any order,
//! any times.

use super::script::records;
use super::wrapped::said;
use ingest::plow::read_plow_text;
use ingest::tables::Tables;
use ingest::wire_file::{Record, WireEvent};
use std::path::Path;

const PLOW: &str = include_str!("../../../sample-runs/plows/two-bottom.toml");
/// A box with one channel of the plow, which sends a row each 10 ms.
const HELLO: [&[u8]; 2] = [b"PHTWH,1,0,,0.1.0,10000,0001,box,1", b"PHTWC,0,1,24,10000,pull"];

/// A script of what happens at the box's port. Rows rise in time, no more of them are written than sentences with a row
/// came, and cutting the script short gives a beginning of what the whole of it gives.
pub fn body(data: &[u8]) {
    let Ok(plow) = read_plow_text(PLOW, Path::new("plow.toml")) else {
        panic!("the stored plow is not readable")
    };
    let Ok(sensors) = ingest::assemble::calibrated(&plow.sensors, &plow.own_sensors) else {
        panic!("nor are its sensors")
    };
    let hello = Record { host_us: 0, what: WireEvent::Received(HELLO.map(said).concat()) };
    let mut script = vec![hello, Record { host_us: 0, what: WireEvent::Started }];
    script.extend(records(data, event));
    let written = |script: &[Record]| {
        let mut tables = Tables::new(&["plow".to_owned()], &sensors, false);
        let (mut rows, mut events) = (String::new(), String::new());
        script.iter().for_each(|record| tables.take(0, record, &mut rows, &mut events));
        let before = rows.len();
        tables.finish(0, &mut rows, &mut events);
        (rows, before)
    };
    let ((whole, _), (half, before)) = (written(&script), written(&script[..script.len().div_ceil(2)]));
    assert!(whole.starts_with(&half[..before]), "the beginning of a script gives other rows than the whole");
    let times: Vec<f64> =
        whole.lines().skip(1).filter_map(|line| line.split(',').next()?.parse().ok()).collect();
    assert_eq!(times.len(), whole.lines().count().saturating_sub(1), "a row without a time");
    assert!(times.windows(2).all(|pair| pair[0] < pair[1]), "time does not rise");
    let bytes: Vec<u8> = script.iter().flat_map(received).copied().collect();
    let sent = bytes.split(|byte| *byte == b'$').filter(|line| line.starts_with(b"PHTWR,")).count();
    assert!(times.len() <= sent, "{} rows of {sent} that were sent", times.len());
}

fn received(record: &Record) -> &[u8] {
    if let WireEvent::Received(bytes) = &record.what { bytes } else { &[] }
}

fn event(what: u8, bytes: &[u8], word: u32) -> WireEvent {
    match what {
        0..=2 => WireEvent::Received(said(bytes)),
        3 => WireEvent::Received(bytes.to_vec()),
        4 => WireEvent::PortOpened("port".to_owned()),
        5 => WireEvent::PortGone("gone".to_owned()),
        6 => WireEvent::Received(HELLO.map(said).concat()),
        7 => WireEvent::Received([said(bytes), said(bytes)].concat()),
        8 => WireEvent::ClockStep { step_us: i64::from(word) - (1 << 31) },
        9 => WireEvent::Started,
        10 => WireEvent::Lost { bytes: u64::from(word) },
        12 => WireEvent::NewFolder("beside".to_owned()),
        13 => WireEvent::Known(said(bytes)),
        _ => WireEvent::Ended("ended".to_owned()),
    }
}
