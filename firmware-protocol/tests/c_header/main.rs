//! The C header for sensor boxes against this crate, byte for byte, by the machine's own C compiler.
//!
//! The header is compiled into a small program (`c/test/driver.c`) that takes commands on stdin; what it
//! writes is held against what the crate says to the same.
#![allow(clippy::unwrap_used, clippy::panic)] // helpers of tests, which the exemption for tests misses

use std::fs;
use std::path::Path;
use std::process::Command;

use firmware_protocol::{
    CHANNELS_MAX, COUNTS_MAX, ChannelKind, Decoder, Event, Frame, Readings, VERSION_MAJOR, VERSION_MINOR,
};
use proptest::collection::vec;
use proptest::prelude::*;

use commands::{put_bytes, put_command, said_in_c};
use driver::{DRIVERS, WARNINGS, answers, c_compiler, compile, frames_in};
use inputs::{any_box, any_stretch, boxes_around_the_limits, is_from_host, payloads_around_the_limits};
use samples::{any_frame, events, more_events, one_of_each, pieces, wire};

mod box_page;
mod commands;
mod driver;
mod inputs;
#[allow(dead_code)] // the tests of the crate use the rest
#[path = "../wire/samples.rs"]
mod samples;
mod text_box;

/// Holds what each program says to `bytes` in these pieces against what the crate says.
fn assert_same_events(bytes: &[u8], cuts: &[u16]) {
    let expected: Vec<_> = events(bytes).iter().map(|event| (b'D', said_in_c(event))).collect();
    let mut commands = Vec::new();
    for part in bytes.chunks(60_000) {
        pieces(part, cuts).for_each(|piece| put_bytes(&mut commands, piece));
    }
    for program in DRIVERS.iter() {
        assert_eq!(answers(program, &commands), expected, "{}", program.display());
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 30, ..ProptestConfig::default() })]

    #[test]
    fn a_box_in_c_sends_the_bytes_of_the_crate(
        frames in vec(any_frame().prop_filter("from a box", |frame| !is_from_host(frame)), 150),
    ) {
        let mut commands = Vec::new();
        let expected: Vec<_> = frames.iter().map(|frame| wire(&put_command(*frame, &mut commands))).collect();
        for program in DRIVERS.iter() {
            prop_assert_eq!(&frames_in(&answers(program, &commands)), &expected, "{}", program.display());
        }
    }

    #[test]
    fn a_box_in_c_sends_no_hello_that_the_crate_refuses(boxes in vec(any_box(), 150)) {
        let mut commands = Vec::new();
        boxes.iter().for_each(|it| it.put_command(&mut commands));
        let expected: Vec<_> = boxes.iter().map(|it| it.wire().unwrap_or_default()).collect();
        // Neither all right nor all wrong, or this would try nothing.
        prop_assert!(expected.iter().any(Vec::is_empty) && !expected.iter().all(Vec::is_empty));
        for program in DRIVERS.iter() {
            prop_assert_eq!(&frames_in(&answers(program, &commands)), &expected, "{}", program.display());
        }
    }

    #[test]
    fn a_box_in_c_understands_a_host_as_the_crate_does(
        stretches in vec(any_stretch(), 150),
        cuts in vec(any::<u16>(), 0..40),
    ) {
        assert_same_events(&stretches.concat(), &cuts);
    }

    #[test]
    fn any_bytes_leave_a_box_in_c_ready_for_the_next_frame(
        mut bytes in vec(prop_oneof![5 => any::<u8>(), 1 => 0u8..12], 0..4000),
        cuts in vec(any::<u16>(), 0..10),
    ) {
        bytes.push(0);
        bytes.extend(wire(&Frame::Start));
        prop_assert_eq!(events(&bytes).pop(), Some(Event::Frame(Frame::Start)));
        assert_same_events(&bytes, &cuts);
    }
}

#[test]
fn every_wrong_bit_and_every_cut_in_a_host_frame_is_seen_as_by_the_crate() {
    let mut bytes = Vec::new();
    for frame in one_of_each().iter().filter(|frame| is_from_host(frame)) {
        let whole = wire(frame);
        for bit in 0..whole.len() * 8 {
            let mut wrong = whole.clone();
            wrong[bit / 8] ^= 1 << (bit % 8);
            // The frame after each, because a wrong 0x00 joins the two.
            bytes.extend([wrong, whole.clone()].concat());
        }
        for length in 0..whole.len() {
            bytes.extend([&whole[..length], &[0], &whole[length..]].concat());
        }
    }
    assert_same_events(&bytes, &[]);
}

#[test]
fn each_limit_of_a_hello_is_where_the_crate_has_it() {
    let boxes = boxes_around_the_limits();
    let mut commands = Vec::new();
    boxes.iter().for_each(|told| told.put_command(&mut commands));
    for program in DRIVERS.iter() {
        let said = frames_in(&answers(program, &commands));
        assert_eq!(said.len(), boxes.len());
        for (said, told) in said.iter().zip(&boxes) {
            assert_eq!(said, &told.wire().unwrap_or_default(), "{}: {told:?}", program.display());
        }
    }
}

#[test]
fn a_payload_of_another_length_or_a_rate_of_0_is_no_frame() {
    assert_same_events(&payloads_around_the_limits(), &[]);
}

#[test]
fn the_tail_of_something_long_is_never_taken_for_a_frame() {
    let mut bytes = Vec::new();
    for before in 1..600 {
        bytes.extend(vec![0xA5; before]);
        bytes.extend(wire(&Frame::Start));
        bytes.extend(wire(&Frame::Stop));
    }
    let mut decoder = Decoder::new();
    let seen = more_events(&mut decoder, &bytes);
    assert_eq!(seen.iter().filter(|event| **event == Event::Frame(Frame::Stop)).count(), 599);
    assert!(!seen.contains(&Event::Frame(Frame::Start)));
    assert_same_events(&bytes, &[]);
}

#[test]
fn a_frame_in_c_takes_the_rows_that_fit_and_no_more() {
    let interval_us = [1u32, 0];
    let cases: Vec<(u32, u8, u8)> = interval_us
        .iter()
        .flat_map(|us| {
            (0..=12).flat_map(move |channels| {
                [0, 1, 6, 7, 8, 28, 29, 30, 58, 59, 255].map(|rows| (*us, channels, rows))
            })
        })
        .chain([(1, 255, 2), (1, 128, 1)])
        .collect();
    let mut commands = Vec::new();
    let mut expected = Vec::new();
    for &(interval_us, channels, rows) in &cases {
        let (wide, high) = (usize::from(channels), usize::from(rows));
        let counts: Vec<i32> = (0..).map(|n| n * 65_521 - 900_000).take(wide * high).collect();
        commands.extend(
            [b"R\x01\0\0\0\x02\0\0\0".as_slice(), &interval_us.to_le_bytes(), &[channels, rows]].concat(),
        );
        commands.extend(counts.iter().flat_map(|count| count.to_le_bytes()));
        let possible = interval_us > 0 && (1..=CHANNELS_MAX).contains(&wide);
        let taken = if possible { high.min(COUNTS_MAX / wide) } else { 0 };
        expected.push((b'r', vec![u8::try_from(taken).unwrap(), 0, 0, 0, 0]));
        let frame = Readings::new(1, 2, interval_us, wide, &counts[..taken * wide]);
        expected.push((b'R', frame.map(|frame| wire(&Frame::Readings(frame))).unwrap_or_default()));
    }
    for program in DRIVERS.iter() {
        let said = answers(program, &commands);
        assert_eq!(said.len(), expected.len());
        for ((said, expected), case) in
            said.iter().zip(&expected).zip(cases.iter().flat_map(|case| [case; 2]))
        {
            assert_eq!(said, expected, "{}: interval, channels, rows {case:?}", program.display());
        }
    }
}

#[test]
fn the_constants_are_the_crates() {
    let kinds = [
        ChannelKind::Pull,
        ChannelKind::TailDeflection,
        ChannelKind::Depth,
        ChannelKind::FrontLoad,
        ChannelKind::Side,
        ChannelKind::Speed,
        ChannelKind::Pitch,
        ChannelKind::TailLoad,
        ChannelKind::LowerLinks,
        ChannelKind::TopLink,
        ChannelKind::FrontHeight,
        ChannelKind::DrawbarAngle,
    ];
    let narrow = |n: usize| u8::try_from(n).unwrap();
    let mut expected = vec![VERSION_MAJOR, VERSION_MINOR, narrow(CHANNELS_MAX), narrow(COUNTS_MAX)];
    expected.extend(kinds.map(ChannelKind::code));
    for program in DRIVERS.iter() {
        assert_eq!(answers(program, b"C"), vec![(b'C', expected.clone())]);
    }
}

/// As C, and as the C++ that beginners' tools for small boards make of it; for small processors too, where
/// their compilers are installed.
#[test]
fn the_examples_compile() {
    let others: [(&str, &[&str]); 4] = [
        ("c++", &["-x", "c++", "-Wall", "-Wextra", "-Wconversion", "-Wshadow", "-Werror"]),
        ("avr-gcc", &["-mmcu=atmega328p", "-ffreestanding"]),
        ("arm-none-eabi-gcc", &["-mcpu=cortex-m0", "-mthumb", "-ffreestanding"]),
        ("arm-none-eabi-gcc", &["-mcpu=cortex-m4", "-mthumb", "-ffreestanding"]),
    ];
    for example in ["example_box", "example_text_box"] {
        let object = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("{example}.o"));
        let source = format!("{example}.c");
        compile(&c_compiler(), &[&WARNINGS, &["-Os", "-c"][..]].concat(), &source, &object).unwrap();
        for (compiler, flags) in others {
            if Command::new(compiler).arg("--version").output().is_ok() {
                let standard: &[&str] = if compiler == "c++" { &[] } else { &WARNINGS };
                compile(compiler, &[standard, flags, &["-Os", "-c"]].concat(), &source, &object).unwrap();
            }
        }
    }
}

/// What a small processor pays for dearly, or does not have.
#[test]
fn the_header_and_the_text_box_ask_for_integers_only() {
    for (file, known) in [("hitchwright_box.h", "hw_decoder_take"), ("example_text_box.c", "board_print")] {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("c").join(file);
        let text = fs::read_to_string(path).unwrap();
        let code: String =
            text.split("/*").map(|part| part.split_once("*/").map_or(part, |(_, code)| code)).collect();
        let words: Vec<&str> = code.split(|c: char| !c.is_ascii_alphanumeric() && c != '_').collect();
        assert!(words.contains(&known) && words.contains(&"uint32_t"));
        for dear in ["float", "double", "long", "int64_t", "uint64_t", "malloc", "memcpy", "memset", "alloca"]
        {
            assert!(!words.contains(&dear), "{dear} in {file}");
        }
        let includes: Vec<&str> = code.lines().filter(|line| line.starts_with("#include")).collect();
        assert_eq!(includes, ["#include <stdint.h>"], "{file}");
    }
}

#[test]
fn a_missing_compiler_is_named_with_what_to_do() {
    let out = Path::new(env!("CARGO_TARGET_TMPDIR")).join("never");
    let error = compile("no-such-compiler -x", &[], "example_box.c", &out).unwrap_err();
    assert!(error.contains("no-such-compiler") && error.contains("apt install gcc"), "{error}");
}
