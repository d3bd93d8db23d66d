//! Whatever is said comes out again, in any pieces and after any garbage; any bytes at all do no harm.

use firmware_protocol::{Event, Frame, MarkSource, Readings, TextDecoder, sentences};
use proptest::collection::vec;
use proptest::prelude::*;

use super::lines::{hello, line_of, lines, more_text_events, rows, text_events};
use crate::samples::{any_frame, frames, one_of_each, pieces};

/// A frame that the text form has, but for readings, which depend on those before.
fn any_said() -> impl Strategy<Value = Frame> {
    any_frame()
        .prop_filter("not readings", |frame| !matches!(frame, Frame::Readings(_)))
        .prop_filter("has a sentence", |frame| sentences(frame).next().is_some())
}

/// Rows of any counts, one after the other, a hundredth of a second apart; some are left out.
fn any_rows() -> impl Strategy<Value = Vec<Readings>> {
    let row = (any::<(i32, i32)>(), 0u8..5);
    (any::<(u32, u32)>(), vec(row, 2..40)).prop_map(|((first, clock_us), rows)| {
        let places = (0u32..).zip(rows).filter(|(n, (_, lost))| *n < 2 || *lost > 0);
        let row = |(n, ((one, two), _)): (u32, ((i32, i32), u8))| {
            let clock_us = clock_us.wrapping_add(n * 10_000);
            Readings::new(first.wrapping_add(n), clock_us, 10_000, 2, &[one, two]).unwrap()
        };
        places.map(row).collect()
    })
}

proptest! {
    #[test]
    fn any_frames_in_any_pieces(sent in vec(any_said(), 1..6), cuts in vec(any::<u16>(), 0..40)) {
        let bytes: Vec<u8> = sent.iter().flat_map(lines).collect();
        let mut decoder = TextDecoder::new();
        let got: Vec<_> = pieces(&bytes, &cuts).flat_map(|piece| more_text_events(&mut decoder, piece)).collect();
        prop_assert_eq!(frames(&got), sent.clone());
        prop_assert_eq!(got.len(), sent.len());
        prop_assert_eq!(decoder.counters().frames, sent.len() as u64);
        prop_assert_eq!(decoder.counters().damaged(), 0);
    }

    #[test]
    fn any_rows_in_any_pieces(sent in any_rows(), cuts in vec(any::<u16>(), 0..40), newline: bool) {
        let sent: Vec<Frame> = [hello(1)].into_iter().chain(sent.into_iter().map(Frame::Readings)).collect();
        let mut bytes: Vec<u8> = sent.iter().flat_map(lines).collect();
        if newline {
            bytes.retain(|byte| *byte != b'\r');
        }
        let mut decoder = TextDecoder::new();
        let got: Vec<_> = pieces(&bytes, &cuts).flat_map(|piece| more_text_events(&mut decoder, piece)).collect();
        prop_assert_eq!(frames(&got), sent);
        prop_assert_eq!(decoder.counters().damaged(), 0);
    }

    #[test]
    fn garbage_before_costs_nothing(garbage in vec(any::<u8>(), 0..700), sent in any_said()) {
        let mut bytes = garbage;
        bytes.extend(lines(&sent));
        prop_assert_eq!(frames(&text_events(&bytes)), vec![sent]);
    }

    #[test]
    fn random_bytes_give_no_frame_and_each_line_one_reason(
        bytes in vec(prop_oneof![6 => any::<u8>(), 1 => prop::sample::select(&b"$*,\r\n0A"[..])], 0..3000),
    ) {
        let mut decoder = TextDecoder::new();
        let got = more_text_events(&mut decoder, &bytes);
        prop_assert_eq!(frames(&got), vec![]);
        let counters = decoder.counters();
        prop_assert_eq!(counters.damaged() + counters.other_device, got.len() as u64);
    }

    /// Sentences of ours with any fields: a frame, part of one, or refused, and never a panic.
    #[test]
    fn any_fields_with_a_good_checksum_do_no_harm(
        said in vec(("[HCRMSTPGXQ]", vec("-?[0-9]{1,11}|[ -~]{0,14}|", 0..11)), 1..20),
    ) {
        let mut decoder = TextDecoder::new();
        for (letter, fields) in said {
            let body = format!("PHTW{letter}{}", fields.iter().map(|f| format!(",{f}")).collect::<String>());
            more_text_events(&mut decoder, &line_of(&body));
        }
        let seen = decoder.counters();
        prop_assert_eq!(seen.cobs + seen.too_short + seen.crc, 0);
    }
}

#[test]
fn every_cut_of_a_stream_gives_the_same() {
    let sent: Vec<Frame> = one_of_each()
        .into_iter()
        .filter(|frame| !matches!(frame, Frame::Readings(_)) && sentences(frame).next().is_some())
        .collect();
    let bytes: Vec<u8> = sent.iter().flat_map(lines).collect();
    for cut in 0..=bytes.len() {
        let mut decoder = TextDecoder::new();
        let mut got = more_text_events(&mut decoder, &bytes[..cut]);
        got.extend(more_text_events(&mut decoder, &bytes[cut..]));
        assert_eq!(frames(&got), sent, "cut at {cut}");
        // What comes first from a port just opened is the rest of a line.
        assert!(frames(&text_events(&bytes[cut..])).len() + 2 >= sent.len() * usize::from(cut == 0));
    }
}

#[test]
fn a_reset_decoder_forgets_the_torn_line_and_keeps_the_hello() {
    let mut decoder = TextDecoder::new();
    more_text_events(&mut decoder, &lines(&hello(1)));
    more_text_events(&mut decoder, b"$PHTWR,1,2");
    decoder.reset();
    let rows = [line_of("PHTWR,7,70000,1,2"), line_of("PHTWR,8,80000,3,4")].concat();
    let events = more_text_events(&mut decoder, &rows);
    assert!(matches!(events[..], [Event::Frame(Frame::Readings(_)), Event::Frame(Frame::Readings(_))]));
}

/// Found: with the port opened anew every minute, a row that stood alone between two openings was dropped though it fits
/// the rows before the first.
#[test]
fn rows_after_a_reset_are_held_against_those_before() {
    let mut decoder = TextDecoder::new();
    let row = |number: u32| line_of(&format!("PHTWR,{number},{}0000,1,2", number));
    let numbers = |events: &[Event]| rows(events).iter().map(|row| row.0).collect::<Vec<_>>();
    let begun = [lines(&hello(1)), row(1), row(2)].concat();
    assert_eq!(numbers(&more_text_events(&mut decoder, &begun)), [1, 2]);
    decoder.reset();
    assert_eq!(numbers(&more_text_events(&mut decoder, &row(5))), [5]);
    // One that fits none is held until the next, over a reset too.
    let booted = line_of("PHTWR,0,40,1,2");
    assert_eq!(numbers(&more_text_events(&mut decoder, &booted)), [0; 0]);
    decoder.reset();
    let next = line_of("PHTWR,3,30040,1,2");
    assert_eq!(numbers(&more_text_events(&mut decoder, &next)), [0, 3]);
}

/// A mark that the host set is kept by the recorder in its own file and never comes from a box.
#[test]
fn a_mark_in_text_is_the_button() {
    let events = text_events(&line_of("PHTWM,12003004,3"));
    assert!(matches!(events[..], [Event::Frame(Frame::Mark(mark))] if mark.source == MarkSource::Button));
}
