//! In which form a port speaks is found out by what comes.

use firmware_protocol::{Counters, Event, Form, Frame, PortDecoder};
use proptest::collection::vec;
use proptest::prelude::*;

use super::lines::{hello, line_of, lines, text_events};
use crate::samples::{any_frame, events, frames, one_of_each, pieces, wire};

fn port_events(decoder: &mut PortDecoder, mut bytes: &[u8]) -> Vec<Event> {
    std::iter::from_fn(|| decoder.next_event(&mut bytes)).collect()
}

fn rows(from: u32, count: u32) -> Vec<u8> {
    (from..from + count).flat_map(|n| line_of(&format!("PHTWR,{n},{},5,-6", n * 10_000))).collect()
}

proptest! {
    /// A binary stream gives what the binary decoder gives, in any pieces.
    #[test]
    fn binary_frames_in_any_pieces(
        garbage in vec(any::<u8>(), 0..300), sent in vec(any_frame(), 1..6), cuts in vec(any::<u16>(), 0..40),
    ) {
        let mut bytes = garbage;
        bytes.extend(sent.iter().flat_map(wire));
        let mut decoder = PortDecoder::new();
        let got: Vec<_> = pieces(&bytes, &cuts).flat_map(|piece| port_events(&mut decoder, piece)).collect();
        prop_assert_eq!(&got, &events(&bytes));
        if !frames(&got).is_empty() {
            prop_assert_eq!(decoder.form(), Some(Form::Binary));
        }
    }

    /// A stream of sentences gives what the text decoder gives, but for what was dropped before the first.
    #[test]
    fn sentences_in_any_pieces(
        garbage in vec(1u8.., 0..300), lost in vec(0u32..60, 0..20), cuts in vec(any::<u16>(), 0..40),
    ) {
        let mut bytes = garbage;
        bytes.extend(lines(&hello(1)));
        (0..60).filter(|n| !lost.contains(n)).for_each(|n| bytes.extend(rows(n, 1)));
        let mut decoder = PortDecoder::new();
        let got: Vec<_> = pieces(&bytes, &cuts).flat_map(|piece| port_events(&mut decoder, piece)).collect();
        let expected = text_events(&bytes);
        prop_assert_eq!(frames(&got), frames(&expected));
        prop_assert_eq!(decoder.form(), Some(Form::Text));
        let dropped = expected.len() - frames(&expected).len();
        prop_assert_eq!(decoder.counters().damaged() + decoder.counters().other_device, dropped as u64);
    }

    #[test]
    fn any_bytes_in_any_pieces_give_the_same(
        parts in vec(prop_oneof![
            any_frame().prop_map(|frame| wire(&frame)),
            any_frame().prop_map(|frame| lines(&frame)),
            vec(any::<u8>(), 0..900),
            vec(0x20u8..0x7F, 0..900),
        ], 0..12),
        cuts in vec(any::<u16>(), 0..60),
    ) {
        let bytes = parts.concat();
        let mut whole = PortDecoder::new();
        let expected = port_events(&mut whole, &bytes);
        let mut decoder = PortDecoder::new();
        let got: Vec<_> = pieces(&bytes, &cuts).flat_map(|piece| port_events(&mut decoder, piece)).collect();
        prop_assert_eq!(got, expected);
        prop_assert_eq!((decoder.form(), decoder.counters()), (whole.form(), whole.counters()));
    }
}

#[test]
fn nothing_is_known_before_something_of_ours_came() {
    let mut decoder = PortDecoder::new();
    port_events(&mut decoder, b"ready\r\n$GPGGA,1*00\r\n\x00\x01\x00");
    assert_eq!(decoder.form(), None);
    let receiver = b"$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47\r\n".repeat(100);
    assert_eq!(port_events(&mut decoder, &receiver), []);
    assert_eq!((decoder.form(), decoder.counters_as_text().gnss), (None, 100));
    port_events(&mut decoder, &line_of("PHTWQ"));
    assert_eq!(decoder.form(), Some(Form::Text));
    assert_eq!(decoder.counters().gnss, 100);
}

/// Another box behind the same port, without and with the port having been closed in between.
#[test]
fn another_form_is_taken_up() {
    let readings = wire(&one_of_each()[1]);
    for closed in [false, true] {
        let mut decoder = PortDecoder::new();
        port_events(&mut decoder, &[lines(&hello(1)), rows(0, 10)].concat());
        assert_eq!(decoder.form(), Some(Form::Text));
        if closed {
            decoder.reset();
        }
        let got = frames(&port_events(&mut decoder, &readings.repeat(80)));
        // As long as there is no reason for doubt the old form is listened to: 2048 bytes.
        let deaf = if closed { 0 } else { 2048usize.div_ceil(readings.len()) };
        assert!(got.len() >= 79 - deaf, "{} frames", got.len());
        assert_eq!(decoder.form(), Some(Form::Binary));
        if closed {
            decoder.reset();
        }
        let got = port_events(&mut decoder, &[rows(0, 200), lines(&hello(1)), rows(200, 50)].concat());
        assert!(frames(&got).len() > 100, "{}", frames(&got).len());
        assert_eq!(decoder.form(), Some(Form::Text));
    }
}

/// Damage never makes one form into the other: that takes a right CRC or checksum of ours.
#[test]
fn a_bad_line_stays_in_its_form() {
    let mut decoder = PortDecoder::new();
    port_events(&mut decoder, &lines(&hello(1)));
    let noise: Vec<u8> = (0..50_000u32).map(|n| (n.wrapping_mul(2_654_435_761) >> 24) as u8).collect();
    port_events(&mut decoder, &noise);
    assert_eq!(decoder.form(), Some(Form::Text));
    assert!(decoder.counters().damaged() > 0);
    assert_eq!(decoder.counters().cobs, 0);
    assert_eq!(frames(&port_events(&mut decoder, &[b"\n", &rows(0, 10)[..]].concat())).len(), 10);
    let Counters { frames, .. } = decoder.counters();
    assert_eq!(frames, 11);
}

/// Before anything of ours came the port is taken for binary, as most are.
#[test]
fn damage_before_the_first_frame_counts() {
    let mut decoder = PortDecoder::new();
    port_events(&mut decoder, &[&[7, 7, 0], &wire(&Frame::Start)[..]].concat());
    assert_eq!((decoder.counters().damaged(), decoder.counters().frames), (1, 1));
    let mut decoder = PortDecoder::new();
    port_events(&mut decoder, &[&b"garbage\n"[..], &line_of("PHTWG")].concat());
    assert_eq!((decoder.counters().damaged(), decoder.counters().frames), (1, 1));
}
