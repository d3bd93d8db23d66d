//! Records of a port through the state machine that makes rows of them: any order, any times.

use firmware_protocol::{cobs_encode, crc32c};
use ingest::plow::read_plow_text;
use ingest::transcript::Transcript;
use ingest::wire_file::{Happening, Record, WireReader};
use std::path::Path;

const PLOW: &str = include_str!("../../../sample-runs/plows/two-bottom.toml");

/// A script of steps {what, delay, length, bytes}; rows must rise in time, and cutting the script short must
/// give a beginning of what the whole of it gives.
pub fn body(data: &[u8]) {
    let Ok(plow) = read_plow_text(PLOW, Path::new("plow.toml")) else {
        panic!("the stored plow is not readable")
    };
    let Ok(sensors) = ingest::assemble::calibrated(&plow.sensors) else { panic!("nor are its sensors") };
    let records = records(data);
    // The container gives back what was put into it.
    let mut file = ingest::wire_file::WIRE_MAGIC.to_vec();
    records.iter().for_each(|record| record.write_to(&mut file));
    let mut reader = WireReader::new(&file);
    let read: Vec<Record> = reader.by_ref().collect();
    assert_eq!((read.len(), reader.fault()), (records.len(), None));
    let whole = rows(&records, &sensors);
    let half = rows(&records[..records.len() / 2], &sensors);
    assert!(whole.starts_with(half.as_str()), "the beginning of a script gives other rows than the whole");
    let times: Vec<f64> =
        whole.lines().skip(1).filter_map(|line| line.split(',').next()?.parse().ok()).collect();
    assert_eq!(times.len(), whole.lines().count().saturating_sub(1), "a row without a time");
    assert!(times.windows(2).all(|pair| pair[0] < pair[1]), "time does not rise");
}

fn rows(records: &[Record], sensors: &[ingest::assemble::CalibratedSensor]) -> String {
    let mut transcript = Transcript::new(&["plow".to_owned()], sensors, false);
    let (mut rows, mut events) = (String::new(), String::new());
    for record in records {
        transcript.take(0, record, &mut rows, &mut events);
    }
    rows
}

fn records(mut data: &[u8]) -> Vec<Record> {
    let mut records = Vec::new();
    let mut host_us = 0u64;
    while let [what, delay, length, rest @ ..] = data {
        let (bytes, after) = rest.split_at(usize::from(*length).min(rest.len()));
        data = after;
        host_us += 1 << (delay % 28);
        let word = || bytes.iter().take(4).fold(0u32, |word, byte| word << 8 | u32::from(*byte));
        let what = match what % 12 {
            0..=2 => Happening::Received(framed(bytes)),
            3 => Happening::Received(bytes.to_vec()),
            4 => Happening::PortOpened("port".to_owned()),
            5 => Happening::PortGone("gone".to_owned()),
            6 => Happening::PingSent { token: word() },
            7 => Happening::HostMark(framed(bytes)),
            8 => Happening::ClockStep { step_us: i64::from(word()) - (1 << 31) },
            9 => Happening::Started,
            10 => Happening::Lost { bytes: u64::from(word()) },
            _ => Happening::Ended("ended".to_owned()),
        };
        records.push(Record { host_us, what });
    }
    records
}

fn framed(content: &[u8]) -> Vec<u8> {
    let mut body = content.to_vec();
    body.extend_from_slice(&crc32c(content).to_le_bytes());
    let mut out = vec![0; body.len() + body.len() / 254 + 2];
    let used = cobs_encode(&body, &mut out).unwrap_or(0);
    out.truncate(used);
    out.push(0);
    out
}
