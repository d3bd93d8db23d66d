//! What a GNSS receiver's port brings, in any order and at any times.

use super::script::records;
use super::wrapped::said;
use ingest::gnss::{Receiver, Splitter};
use ingest::run_event::Item;
use ingest::wire_file::{Record, WireEvent};

/// A script of what happens at the receiver's port.
pub fn body(data: &[u8]) {
    let records = records(data, event);
    let mut receiver = Receiver::default();
    let mut items = Vec::new();
    records.iter().for_each(|record| receiver.take(record, &mut items));
    receiver.finish(&mut items);
    let mut last_t_us = None;
    let mut fixes = 0;
    for item in &items {
        let Item::Row(fix) = item else { continue };
        fixes += 1;
        assert!(fix.position.lat_deg.abs() <= 90.0 && fix.position.lon_deg.abs() <= 180.0, "{fix:?}");
        assert!(fix.speed_mps.is_finite() && fix.speed_mps >= 0.0, "{fix:?}");
        assert!((0.0..=360.0).contains(&fix.course_deg), "{fix:?}");
        assert!(
            last_t_us.replace(fix.t_us).is_none_or(|last| last < fix.t_us),
            "time does not rise: {fix:?}"
        );
    }
    assert_eq!(receiver.counters().fixes, fixes);

    // In one piece and in pieces of seven bytes the same sentences are found.
    let bytes: Vec<u8> = records.iter().flat_map(received).copied().collect();
    let (whole, pieces) = (split(&bytes, bytes.len().max(1)), split(&bytes, 7));
    assert_eq!(whole, pieces, "pieces changed the sentences");
}

fn received(record: &Record) -> &[u8] {
    if let WireEvent::Received(bytes) = &record.what { bytes } else { &[] }
}

fn split(bytes: &[u8], size: usize) -> (Vec<String>, ingest::gnss::LineCounters) {
    let (mut splitter, mut found) = (Splitter::default(), Vec::new());
    bytes.chunks(size).for_each(|piece| splitter.take(piece, |body| found.push(body.to_owned())));
    (found, splitter.counters())
}

fn event(what: u8, bytes: &[u8], word: u32) -> WireEvent {
    match what {
        0..=4 => WireEvent::Received(said(bytes)),
        5 => WireEvent::Received(bytes.to_vec()),
        6 => WireEvent::PortOpened("port".to_owned()),
        7 => WireEvent::PortGone("gone".to_owned()),
        8 => WireEvent::ClockStep { step_us: i64::from(word) - (1 << 31) },
        9 => WireEvent::Started,
        10 => WireEvent::Lost { bytes: u64::from(word) },
        12 => WireEvent::NewFolder("beside".to_owned()),
        _ => WireEvent::Ended("ended".to_owned()),
    }
}
