//! The text box in C, compiled with a board that prints to a pipe: what it says is decoded by this crate.

use std::path::{Path, PathBuf};
use std::process::Command;

use firmware_protocol::{Event, Form, Frame, Hello, PortDecoder, Readings};

use crate::driver::{SANITIZED, SMALL, WARNINGS, c_compiler, compile};

/// Lines that the box prints in the test: a quarter of an hour of them.
const LINES: usize = 50_000;

/// What a box of these compiler flags prints.
fn printed(name: &str, flags: &[&str]) -> Vec<u8> {
    let program: PathBuf = Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
    compile(&c_compiler(), &[&WARNINGS, flags].concat(), "test/text_board.c", &program)
        .unwrap_or_else(|error| panic!("{error}"));
    let output =
        Command::new(&program).arg(LINES.to_string()).env("ASAN_OPTIONS", "detect_leaks=0").output().unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    output.stdout
}

fn counts(row: u32) -> [i32; 3] {
    let pull = i32::try_from(row.wrapping_mul(70_001) % 16_777_216).unwrap() - 8_388_608;
    [pull, i32::try_from(row % 1024).unwrap(), if row.is_multiple_of(2) { i32::MIN } else { i32::MAX }]
}

#[test]
fn every_row_of_the_text_box_in_c_is_read_as_it_was_sampled() {
    let bytes = printed("text-box-sanitized", SANITIZED);
    assert_eq!(bytes, printed("text-box-small", &[SMALL, &["-funsigned-char"]].concat()));
    let mut decoder = PortDecoder::new();
    let mut rest = bytes.as_slice();
    let events: Vec<Event> = std::iter::from_fn(|| decoder.next_event(&mut rest)).collect();
    assert_eq!(decoder.form(), Some(Form::Text));
    let (mut hellos, mut rows): (Vec<Hello>, Vec<Readings>) = (Vec::new(), Vec::new());
    for event in events {
        match event {
            Event::Frame(Frame::Hello(hello)) => hellos.push(hello),
            Event::Frame(Frame::Readings(readings)) => rows.push(readings),
            // Those before the first hello was whole.
            other => assert!(rows.is_empty() && hellos.is_empty(), "{other:?}"),
        }
    }
    assert!(hellos.iter().all(|hello| *hello == hellos[0]) && hellos.len() > LINES / 60);
    let hello = hellos[0];
    let names: Vec<_> =
        hello.channels().iter().map(|c| (c.name.as_str(), c.kind.code(), c.adc_bits)).collect();
    assert_eq!(names, [("pull", 1, 24), ("tail", 2, 10), ("depth", 3, 10)]);
    assert_eq!((hello.row_rate_mhz, hello.name.as_str(), hello.boot), (50_000, "first text box", 0));
    assert_eq!(rows[0].first_row, 4, "four rows went by before the table was whole");
    // In each second 50 rows and 4 sentences of the hello.
    assert!(rows.len() > LINES * 50 / 54 - 60, "{}", rows.len());
    for (number, row) in (4u32..).zip(&rows) {
        assert_eq!((row.first_row, row.counts()), (number, &counts(number)[..]));
    }
    // The clock wraps on the way, and rows are where they are due, to one look at the clock.
    let apart = rows.windows(2).map(|two| two[1].clock_us.wrapping_sub(two[0].clock_us));
    assert!(apart.into_iter().all(|us| us.abs_diff(20_000) <= 250));
    assert!(rows[0].clock_us > rows[rows.len() - 1].clock_us);
    let counters = decoder.counters();
    assert_eq!((counters.damaged(), counters.before_hello), (0, 4));
}
