//! Wrong bits on the line never become a frame.
//!
//! What CRC-32C finds for certain it finds in the bytes that it covers. A wrong bit in a COBS code byte
//! becomes many wrong bytes after decoding, where one such chunk in 2^32 could pass; the frames here are
//! fixed, so that these tests always give the same answer.

use firmware_protocol::{Dropped, Event, Frame, Readings};
use proptest::collection::vec;
use proptest::prelude::*;

use crate::samples::{any_frame, body, events, frames, one_of_each, wire, wire_of_body};

fn flip(bytes: &mut [u8], bit: usize) {
    bytes[bit / 8] ^= 1 << (bit % 8);
}

fn full_readings() -> Frame {
    let counts: Vec<i32> = (0..54).map(|n| 8_000_000 + n * n * 37 - (n % 7) * 1_000_000).collect();
    Frame::Readings(Readings::new(1800, 4_000_000_000, 1000, 6, &counts).unwrap())
}

#[test]
fn no_single_wrong_bit_passes_and_the_next_frame_is_read() {
    let next = Frame::Ping { token: 99 };
    let mut tried = 0;
    for frame in one_of_each().into_iter().chain([full_readings()]) {
        let good = wire(&frame);
        for bit in 0..good.len() * 8 {
            let mut bytes = good.clone();
            flip(&mut bytes, bit);
            let closing_zero_hit = bit / 8 == good.len() - 1;
            bytes.extend(wire(&next));
            let got = frames(&events(&bytes));
            // A hit on the closing 0x00 joins two frames and loses both; anything else loses one.
            let expected = if closing_zero_hit { vec![] } else { vec![next] };
            assert_eq!(got, expected, "{frame:?} bit {bit}");
            tried += 1;
        }
    }
    assert!(tried > 3000, "{tried}");
}

#[test]
fn no_two_wrong_bits_in_a_short_frame_pass() {
    for frame in [Frame::Ping { token: 0x0102_0304 }, Frame::Start] {
        let good = wire(&frame);
        let bits = (good.len() - 1) * 8;
        for first in 0..bits {
            for second in first + 1..bits {
                let mut bytes = good.clone();
                flip(&mut bytes, first);
                flip(&mut bytes, second);
                assert_eq!(frames(&events(&bytes)), vec![], "{frame:?} bits {first} and {second}");
            }
        }
    }
}

#[test]
fn the_stream_cut_at_every_byte_loses_only_the_frames_that_the_cut_touches() {
    let sent = [full_readings(), one_of_each()[0], full_readings()];
    let wires = sent.map(|frame| wire(&frame));
    let all: Vec<u8> = wires.concat();
    // Where each frame begins, and where the last one ends.
    let marks = [0, 1, 2, 3].map(|count| wires[..count].concat().len());
    for cut in 0..=all.len() {
        let before = &sent[..marks[1..].iter().filter(|end| **end <= cut).count()];
        assert_eq!(frames(&events(&all[..cut])), before, "cut at {cut}");
        // What comes first from a port just opened is the rest of a frame.
        let after = &sent[marks.iter().filter(|start| **start < cut).count()..];
        assert_eq!(frames(&events(&all[cut..])), after, "cut at {cut}");
        // A reset of the box in mid-frame: the torn frame runs into the next.
        let again = if marks.contains(&cut) { &sent[..] } else { &sent[1..] };
        let torn = [&all[..cut], &all].concat();
        assert_eq!(frames(&events(&torn)), [before, again].concat(), "torn at {cut}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2000))]

    #[test]
    fn three_to_five_wrong_bits_under_the_crc_are_found(
        frame in any_frame(), places in prop::collection::btree_set(any::<u16>(), 3..=5),
    ) {
        let good = body(&wire(&frame));
        let bits = good.len() * 8;
        let mut bad = good.clone();
        for place in &places {
            flip(&mut bad, usize::from(*place) * bits / 65536);
        }
        prop_assume!(bad != good);
        let got = events(&wire_of_body(&bad));
        prop_assert_eq!(got, vec![Event::Dropped(Dropped::Crc)]);
    }

    #[test]
    fn a_burst_of_up_to_32_bits_is_found(frame in any_frame(), at in any::<u16>(), pattern in 1u32..) {
        let good = body(&wire(&frame));
        let bits = good.len() * 8;
        let start = usize::from(at) * bits / 65536;
        let mut bad = good.clone();
        for bit in (0..32).filter(|bit| pattern >> bit & 1 == 1 && start + bit < bits) {
            flip(&mut bad, start + bit);
        }
        prop_assume!(bad != good);
        prop_assert_eq!(events(&wire_of_body(&bad)), vec![Event::Dropped(Dropped::Crc)]);
    }

    #[test]
    fn wrong_bytes_on_the_line_never_make_a_frame_that_was_not_sent(
        sent in vec(any_frame(), 1..5), hits in vec((any::<u16>(), any::<u8>()), 1..6),
    ) {
        let mut bytes: Vec<u8> = sent.iter().flat_map(wire).collect();
        let len = bytes.len();
        for (place, value) in hits {
            bytes[usize::from(place) * len / 65536] = value;
        }
        // In order, each at most once: a subsequence of what was sent.
        let mut rest = sent.iter();
        for frame in frames(&events(&bytes)) {
            prop_assert!(rest.any(|sent| *sent == frame), "{:?} was not sent", frame);
        }
    }
}
