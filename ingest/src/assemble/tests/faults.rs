//! Whatever the line does to frames.

use super::super::EventKind;
use super::{AHEAD_US, is_row, strictly_rising};
use crate::script::{Script, assemble, bytes, hello};
use crate::wire_file::{Record, WireEvent};
use firmware_protocol::Frame;
use proptest::prelude::*;

/// What happens to each frame of rows.
#[derive(Clone, Debug)]
enum Fate {
    Sent,
    Lost,
    Doubled,
    SwappedWithNext,
    Damaged(usize, u8),
    CutOff(usize),
    PortGone,
    Reset(u32),
    Ping,
}

fn fate() -> impl Strategy<Value = Fate> {
    prop_oneof![
        8 => Just(Fate::Sent),
        1 => Just(Fate::Lost),
        1 => Just(Fate::Doubled),
        1 => Just(Fate::SwappedWithNext),
        1 => (0usize..80, 1u8..).prop_map(|(at, mask)| Fate::Damaged(at, mask)),
        1 => (1usize..80).prop_map(Fate::CutOff),
        1 => Just(Fate::PortGone),
        1 => any::<u32>().prop_map(Fate::Reset),
        1 => Just(Fate::Ping),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 1000, failure_persistence: None, ..ProptestConfig::default() })]
    /// Whatever the line does: no row that was not sent, none twice, none out of order, times that rise,
    /// and each row between the first and the last of a boot either written or counted as lost.
    #[test]
    fn no_wrong_reading_is_written_and_every_loss_is_counted(
        ahead_us in any::<u32>(), first_row in prop_oneof![Just(0u32), Just(u32::MAX - 100), any::<u32>()],
        fates in proptest::collection::vec(fate(), 1..80),
    ) {
        let mut script = Script::begun(u64::from(ahead_us), first_row);
        // Row numbers of each boot in the order of sampling, and whether the box was seen to be reset.
        let mut boots: Vec<Vec<u32>> = vec![Vec::new()];
        let mut boot = 7;
        let mut held_back: Option<Vec<u8>> = None;
        for fate in fates {
            if let Fate::Reset(clock_us) = fate {
                boot += 1;
                script.row = 0;
                script.box_ahead_us = u64::from(clock_us);
                // Unasked, and in answer to the start: a torn frame before it can spoil only one.
                script.frame(&Frame::Hello(hello(boot)));
                script.frame(&Frame::Hello(hello(boot)));
                boots.push(Vec::new());
                held_back = None;
                continue;
            }
            if let Fate::Ping = fate {
                script.ping();
                continue;
            }
            if let Fate::PortGone = fate {
                script.record(WireEvent::PortGone("pulled".to_owned()));
                // The box goes on sampling while the cable is out.
                boots.last_mut().unwrap().extend((0..30).map(|k| script.row.wrapping_add(k)));
                script.row = script.row.wrapping_add(30);
                script.host_us += 30_000;
                script.record(WireEvent::PortOpened("port".to_owned()));
                continue;
            }
            let rows = script.rows();
            boots.last_mut().unwrap().extend((0..8).map(|k| rows.first_row.wrapping_add(k)));
            let mut frame = bytes(&Frame::Readings(rows));
            match fate {
                Fate::Lost => frame.clear(),
                Fate::Doubled => frame = [frame.clone(), frame].concat(),
                Fate::SwappedWithNext => {
                    let before = held_back.replace(frame).unwrap_or_default();
                    script.record(WireEvent::Received(before));
                    continue;
                }
                Fate::Damaged(at, mask) => {
                    let at = at % frame.len();
                    frame[at] ^= mask;
                }
                Fate::CutOff(at) => frame.truncate(at % frame.len()),
                _ => {}
            }
            script.record(WireEvent::Received(frame));
            if let Some(before) = held_back.take() {
                script.record(WireEvent::Received(before));
            }
        }
        let (rows, events, assembler) = assemble(&script.ended());
        prop_assert!(strictly_rising(&rows));
        // Each row is the next one of its kind in what was sampled.
        let sampled: Vec<u32> = boots.concat();
        let mut next = sampled.iter();
        for row in &rows {
            prop_assert!(next.any(|number| is_row(row, *number)), "a row that was not sampled, or twice");
        }
        let counters = assembler.counters();
        prop_assert_eq!(counters.rows, rows.len() as u64);
        let in_gaps: u64 = events
            .iter()
            .filter(|event| event.kind == EventKind::Gap)
            .map(|event| event.detail.trim_start_matches("rows=").split(';').next().unwrap().parse::<u64>().unwrap())
            .sum();
        prop_assert_eq!(in_gaps, counters.rows_lost);
        // What was lost at the end of a boot cannot be known; with one boot all else is counted.
        prop_assert!(counters.rows + counters.rows_lost <= sampled.len() as u64);
        if let (1, 0, Some(last)) = (boots.len(), first_row, rows.last()) {
            let after = sampled.iter().rev().take_while(|number| !is_row(last, **number)).count() as u64;
            prop_assert_eq!(counters.rows + counters.rows_lost + after, sampled.len() as u64);
        }
    }

    /// The same bytes cut anywhere, at the same times, give the same rows.
    #[test]
    fn how_bytes_are_cut_into_reads_does_not_matter(cuts in proptest::collection::vec(1usize..300, 1..40)) {
        let mut script = Script::begun(AHEAD_US, 0);
        let mut stream = Vec::new();
        for _ in 0..30 {
            stream.extend(bytes(&Frame::Readings(script.rows())));
        }
        let mut one = script.records.clone();
        one.push(Record { host_us: script.host_us, what: WireEvent::Received(stream.clone()) });
        let mut many = script.records.clone();
        let mut rest = &stream[..];
        for cut in cuts.iter().cycle() {
            let (head, tail) = rest.split_at((*cut).min(rest.len()));
            many.push(Record { host_us: script.host_us, what: WireEvent::Received(head.to_vec()) });
            rest = tail;
            if rest.is_empty() {
                break;
            }
        }
        prop_assert_eq!(assemble(&one).0, assemble(&many).0);
    }

    #[test]
    fn no_bytes_panic(chunks in proptest::collection::vec(proptest::collection::vec(any::<u8>(), 0..600), 0..6)) {
        let mut script = Script::begun(AHEAD_US, 0);
        for chunk in chunks {
            script.record(WireEvent::Received(chunk.clone()));
            script.record(WireEvent::HostMark(chunk));
            script.send_rows(1);
        }
        let (rows, _, _) = assemble(&script.ended());
        prop_assert!(strictly_rising(&rows));
    }
}
