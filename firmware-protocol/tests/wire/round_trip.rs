//! Whatever is encoded comes out again, in any pieces and after any garbage.

use firmware_protocol::{Decoder, FRAME_BYTES_MAX, Frame};
use proptest::collection::vec;
use proptest::prelude::*;

use crate::samples::{any_frame, body, events, frames, more_events, pieces, wire, wire_of_body};

proptest! {
    #[test]
    fn any_frames_in_any_pieces(sent in vec(any_frame(), 1..6), cuts in vec(any::<u16>(), 0..40)) {
        let bytes: Vec<u8> = sent.iter().flat_map(wire).collect();
        let mut decoder = Decoder::new();
        let got: Vec<_> = pieces(&bytes, &cuts).flat_map(|piece| more_events(&mut decoder, piece)).collect();
        prop_assert_eq!(frames(&got), sent.clone());
        prop_assert_eq!(got.len(), sent.len());
        prop_assert_eq!(decoder.counters().frames, sent.len() as u64);
        prop_assert_eq!(decoder.counters().damaged(), 0);
    }

    #[test]
    fn garbage_before_costs_nothing_once_a_zero_ends_it(
        garbage in vec(any::<u8>(), 0..700), sent in vec(any_frame(), 1..4), cuts in vec(any::<u16>(), 0..10),
    ) {
        let mut bytes = garbage;
        bytes.push(0);
        bytes.extend(sent.iter().flat_map(wire));
        let mut decoder = Decoder::new();
        let got: Vec<_> = pieces(&bytes, &cuts).flat_map(|piece| more_events(&mut decoder, piece)).collect();
        prop_assert_eq!(frames(&got), sent);
    }

    #[test]
    fn garbage_that_runs_into_a_frame_costs_that_frame_only(
        garbage in vec(1u8.., 1..700), first in any_frame(), then in any_frame(),
    ) {
        let mut bytes = garbage;
        bytes.extend(wire(&first));
        bytes.extend(wire(&then));
        let got = events(&bytes);
        prop_assert_eq!(got.len(), 2);
        prop_assert_eq!(frames(&got), vec![then]);
    }

    #[test]
    fn a_frame_is_no_longer_than_promised_and_has_its_only_zero_at_the_end(frame in any_frame()) {
        let bytes = wire(&frame);
        prop_assert!(bytes.len() <= FRAME_BYTES_MAX);
        prop_assert_eq!(bytes.iter().position(|b| *b == 0), Some(bytes.len() - 1));
        prop_assert_eq!(wire_of_body(&body(&bytes)), bytes);
    }

    #[test]
    fn any_body_of_any_length_survives_cobs(
        body in vec(prop_oneof![Just(0u8), Just(1), any::<u8>()], 0..1100),
    ) {
        let mut bytes = vec![0xAA; body.len() + body.len() / 254 + 1];
        let used = firmware_protocol::cobs_encode(&body, &mut bytes).unwrap();
        prop_assert!(!bytes[..used].contains(&0));
        let len = firmware_protocol::cobs_decode_in_place(&mut bytes[..used]).unwrap();
        prop_assert_eq!(&bytes[..len], &body[..]);
        let mut short = vec![0; used - 1];
        prop_assert!(firmware_protocol::cobs_encode(&body, &mut short).is_err());
    }
}

/// A long run of bytes without a zero makes full blocks, which random bodies above rarely have.
#[test]
fn bodies_without_zero_around_each_full_block() {
    for len in (0usize..1100).filter(|len| len % 254 < 3 || len % 254 > 251) {
        for zero_at in [None, Some(0), Some(len / 2), len.checked_sub(1)] {
            let mut body = vec![7u8; len];
            if let Some(slot) = zero_at.and_then(|at| body.get_mut(at)) {
                *slot = 0;
            }
            let mut bytes = vec![0; len + len / 254 + 1];
            let used = firmware_protocol::cobs_encode(&body, &mut bytes).unwrap();
            assert!(!bytes[..used].contains(&0), "length {len}");
            let back = firmware_protocol::cobs_decode_in_place(&mut bytes[..used]).unwrap();
            assert_eq!(&bytes[..back], &body[..], "length {len}, zero at {zero_at:?}");
        }
    }
}

/// Row numbers and the clock are plain numbers here: no value is special, also not those at the wrap.
#[test]
fn row_number_and_clock_take_every_value_up_to_the_wrap() {
    for edge in [0, 1, 0x7FFF_FFFF, 0x8000_0000, u32::MAX - 1, u32::MAX] {
        for clock_us in [0, 0x8000_0000, u32::MAX] {
            let readings =
                firmware_protocol::Readings::new(edge, clock_us, u32::MAX, 1, &[i32::MIN, i32::MAX]);
            let frame = Frame::Readings(readings.unwrap());
            assert_eq!(frames(&events(&wire(&frame))), vec![frame]);
        }
    }
}
