//! Any bytes at all: no panic, bounded memory, and the next frame is read.

use firmware_protocol::{Counters, Decoder, Dropped, Event, FRAME_BYTES_MAX, Frame};
use proptest::collection::vec;
use proptest::prelude::*;

use crate::samples::{events, frames, more_events, one_of_each, wire, wire_of};

fn chunks(counters: Counters) -> u64 {
    counters.frames + counters.damaged() + counters.unknown_kind
}

proptest! {
    #[test]
    fn random_bytes_give_one_event_a_chunk(
        bytes in vec(prop_oneof![3 => any::<u8>(), 1 => 0u8..4], 0..3000),
    ) {
        let mut decoder = Decoder::new();
        let got = more_events(&mut decoder, &bytes);
        let ended = bytes.iter().rposition(|b| *b == 0).map_or(&bytes[..0], |end| &bytes[..end]);
        let expected = ended.split(|b| *b == 0).filter(|chunk| !chunk.is_empty()).count();
        prop_assert_eq!(got.len(), expected);
        prop_assert_eq!(chunks(decoder.counters()), expected as u64);
    }

    #[test]
    fn any_content_with_a_good_crc_is_a_frame_or_is_dropped(content in vec(any::<u8>(), 1..250)) {
        let got = events(&wire_of(&content));
        prop_assert_eq!(got.len(), 1);
        // What is taken for a frame encodes to these very bytes: there is one form of each frame.
        for frame in frames(&got) {
            prop_assert_eq!(wire(&frame), wire_of(&content));
        }
    }

    #[test]
    fn a_known_kind_with_any_payload_is_a_frame_or_is_dropped(
        kind in prop::sample::select(&[1u8, 2, 3, 4, 5, 0x41, 0x42, 0x43, 0x44][..]),
        mut content in vec(prop_oneof![any::<u8>(), 0u8..3], 0..60),
    ) {
        content.insert(0, kind);
        let got = events(&wire_of(&content));
        prop_assert_eq!(got.len(), 1);
        for frame in frames(&got) {
            if !matches!(frame, Frame::Hello(hello) if hello.version.0 != 1) {
                prop_assert_eq!(wire(&frame), wire_of(&content));
            }
        }
    }
}

#[test]
fn megabytes_without_a_zero_are_one_chunk_and_then_frames_are_read() {
    let mut decoder = Decoder::new();
    for _ in 0..512 {
        assert_eq!(more_events(&mut decoder, &[0xFF; 8192]), vec![]);
    }
    assert_eq!(more_events(&mut decoder, &[0]), vec![Event::Dropped(Dropped::TooLong)]);
    let sent = one_of_each();
    let bytes: Vec<u8> = sent.iter().flat_map(wire).collect();
    assert_eq!(frames(&more_events(&mut decoder, &bytes)), sent);
    assert_eq!(decoder.counters().too_long, 1);
    assert_eq!(decoder.counters().damaged(), 1);
}

#[test]
fn megabytes_of_zeros_are_nothing() {
    let mut decoder = Decoder::new();
    assert_eq!(more_events(&mut decoder, &vec![0; 4_000_000]), vec![]);
    assert_eq!(decoder.counters(), Counters::default());
}

/// A decoder holds all its memory itself: its size is fixed when it is compiled.
#[test]
fn a_decoder_is_one_small_value() {
    assert!(size_of::<Decoder>() <= FRAME_BYTES_MAX + 128, "{}", size_of::<Decoder>());
    fn owns_no_heap<T: Clone + Send + Sync + 'static>() -> bool {
        !std::mem::needs_drop::<T>()
    }
    assert!(owns_no_heap::<Decoder>());
}

/// The tail of an over-long chunk may look like a whole frame: it must not be taken for one.
#[test]
fn the_tail_of_an_overlong_chunk_is_never_a_frame() {
    let frame = Frame::Ping { token: 5 };
    for garbage in 0..3 * FRAME_BYTES_MAX {
        for piece in [1, 7, 64, FRAME_BYTES_MAX, 1000] {
            let mut bytes = vec![0x5A; garbage];
            bytes.extend(wire(&frame));
            bytes.extend(wire(&frame));
            let mut decoder = Decoder::new();
            let got: Vec<Event> =
                bytes.chunks(piece).flat_map(|piece| more_events(&mut decoder, piece)).collect();
            let expected = if garbage == 0 { 2 } else { 1 };
            assert_eq!(frames(&got).len(), expected, "{garbage} bytes before, pieces of {piece}");
            assert_eq!(got.len(), 2);
        }
    }
}

#[test]
fn a_reset_decoder_forgets_the_torn_frame_and_an_overflow() {
    let frame = Frame::Ping { token: 5 };
    let bytes = wire(&frame);
    for torn in [&bytes[..4], &[0x5A; 600][..]] {
        let mut decoder = Decoder::new();
        assert_eq!(more_events(&mut decoder, torn), vec![]);
        decoder.reset();
        assert_eq!(more_events(&mut decoder, &bytes), vec![Event::Frame(frame)]);
    }
}

/// Each reason for dropping a chunk, and its counter.
#[test]
fn every_reason_is_named_and_counted() {
    let mut bad_crc = wire(&Frame::Ping { token: 0x0101_0101 });
    bad_crc[3] ^= 2;
    for (bytes, reason) in [
        (vec![9, 1, 1, 0], Dropped::Cobs),
        (vec![5, 1, 1, 1, 1, 0], Dropped::TooShort),
        (vec![4, 1, 1, 1, 0], Dropped::TooShort),
        (bad_crc, Dropped::Crc),
        (wire_of(&[0x42, 0]), Dropped::Malformed),
        (wire_of(&[0x7E, 1, 2, 3]), Dropped::UnknownKind(0x7E)),
        (wire_of(&[0x00]), Dropped::UnknownKind(0)),
        ([vec![0x11; FRAME_BYTES_MAX + 1], vec![0]].concat(), Dropped::TooLong),
    ] {
        let mut decoder = Decoder::new();
        assert_eq!(more_events(&mut decoder, &bytes), vec![Event::Dropped(reason)], "{bytes:02X?}");
        let counters = decoder.counters();
        let (counter, damaged) = match reason {
            Dropped::TooLong => (counters.too_long, 1),
            Dropped::Cobs => (counters.cobs, 1),
            Dropped::TooShort => (counters.too_short, 1),
            Dropped::Crc => (counters.crc, 1),
            Dropped::Malformed | Dropped::Hello(_) => (counters.malformed, 1),
            Dropped::UnknownKind(_) => (counters.unknown_kind, 0),
            of_text => panic!("{of_text:?} is a reason of the text form"),
        };
        assert_eq!((counter, counters.damaged(), counters.frames), (1, damaged, 0), "{reason:?}");
    }
}
