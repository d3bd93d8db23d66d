//! What to try: lines from a host, and descriptions of boxes, right and wrong.

use firmware_protocol::{CHANNELS_MAX, Frame};
use proptest::collection::vec;
use proptest::prelude::*;

use crate::commands::Told;
use crate::samples::{any_frame, wire, wire_of};

pub fn is_from_host(frame: &Frame) -> bool {
    matches!(frame, Frame::Ping { .. } | Frame::Start | Frame::Stop | Frame::Rate { .. })
}

/// A stretch of what a host's line can hold.
pub fn any_stretch() -> impl Strategy<Value = Vec<u8>> {
    let noise = vec(prop_oneof![3 => any::<u8>(), 1 => 0u8..4], 0..30);
    let kind = prop::sample::select(&[0x41u8, 0x42, 0x43, 0x44, 0x45, 0x01][..]);
    let odd = (kind, vec(prop_oneof![any::<u8>(), 0u8..2], 0..7))
        .prop_map(|(kind, payload)| wire_of(&[&[kind][..], &payload].concat()));
    prop_oneof![
        8 => host_frame().prop_map(|frame| wire(&frame)),
        1 => any_frame().prop_map(|frame| wire(&frame)),
        2 => (host_frame(), any::<prop::sample::Index>(), 1u8..).prop_map(|(frame, at, wrong)| {
            let mut bytes = wire(&frame);
            let at = at.index(bytes.len());
            bytes[at] ^= wrong;
            bytes
        }),
        2 => noise,
        2 => odd,
    ]
}

pub fn host_frame() -> impl Strategy<Value = Frame> {
    let number = || prop_oneof![1u32.., 1u32..1000, Just(0x0001_0000)];
    prop_oneof![
        number().prop_map(|token| Frame::Ping { token: token - 1 }),
        Just(Frame::Start),
        Just(Frame::Stop),
        number().prop_map(|row_rate_mhz| Frame::Rate { row_rate_mhz }),
    ]
}

/// A hello most of whose parts are just inside a limit or just outside.
pub fn any_box() -> impl Strategy<Value = Told> {
    let text = |limit: usize| {
        let printable = vec(0x20u8..=0x7E, 0..=limit + 1);
        prop_oneof![12 => printable, 1 => vec(1u8.., 0..=limit), 1 => vec(0x20u8..=0x7E, 255)]
    };
    let few_names = prop::sample::select(&["a", "b", "ab", "abc", "c", "d", "e", "f"][..]);
    let name = prop_oneof![8 => text(12), 1 => few_names.prop_map(|name| name.as_bytes().to_vec())];
    let channel = (any::<u8>(), prop_oneof![30 => 1u8..=32, 1 => any::<u8>()], rate(), name);
    let table = prop_oneof![
        8 => vec(channel.clone(), 1..=CHANNELS_MAX),
        1 => vec(channel.clone(), 0..=1),
        1 => vec(channel, 9..12),
    ];
    (any::<u32>(), any::<(u8, u8, u8)>(), rate(), text(16), text(24), table).prop_map(
        |(boot, firmware, row_rate_mhz, serial, name, table)| Told {
            boot,
            firmware,
            row_rate_mhz,
            serial,
            name,
            table,
        },
    )
}

pub fn rate() -> impl Strategy<Value = u32> + Clone {
    prop_oneof![30 => 1u32.., 1 => Just(0)]
}

/// Boxes that differ from a right one in one thing, for each thing from far inside its limit to outside.
pub fn boxes_around_the_limits() -> Vec<Told> {
    let line = |name: &[u8]| (1, 24, 1000, name.to_vec());
    let right = Told {
        boot: 1,
        firmware: (0, 1, 2),
        row_rate_mhz: 1000,
        serial: b"1".to_vec(),
        name: b"box".to_vec(),
        table: vec![line(b"a"), line(b"b"), line(b"ab")],
    };
    let mut all = vec![Told { row_rate_mhz: 0, ..right.clone() }];
    let mut with = |change: &dyn Fn(&mut Told)| {
        let mut told = right.clone();
        change(&mut told);
        all.push(told);
    };
    for length in (0..=30).chain([254, 255]) {
        let text = vec![b'x'; length];
        with(&|told| told.serial.clone_from(&text));
        with(&|told| told.name.clone_from(&text));
        with(&|told| told.table[1].3.clone_from(&text));
    }
    for byte in 1..=255u8 {
        with(&|told| told.serial.push(byte));
        with(&|told| told.name.push(byte));
        with(&|told| told.table[1].3.push(byte));
        with(&|told| told.table[2].1 = byte);
    }
    for channels in 0..=255u8 {
        with(&|told| told.table = (1..=channels).map(|n| line(format!("c{n}").as_bytes())).collect());
    }
    for (first, second) in [(0, 1), (0, 2), (1, 2)] {
        with(&|told| told.table[second].3 = told.table[first].3.clone());
        with(&|told| told.table[second].2 = 0);
        with(&|told| told.table[second].1 = 0);
    }
    all
}

/// Every kind with payloads of every length around its own, of zeros and of ones, each with a good CRC.
pub fn payloads_around_the_limits() -> Vec<u8> {
    let of = |kind: u8, length, byte| wire_of(&[&[kind][..], &vec![byte; length]].concat());
    let lengths = (0..=255u8).flat_map(|kind| (0..8).map(move |length| (kind, length)));
    lengths.flat_map(|(kind, length)| [of(kind, length, 0), of(kind, length, 1)].concat()).collect()
}
