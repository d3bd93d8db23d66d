//! What README says of the text variant, both ways: the page is the specification.

use firmware_protocol::{Event, Frame, Readings, SENTENCE_BYTES_MAX, TextDecoder, sentences};

use super::lines::{lines, more_text_events, text_events};
use crate::samples::{frames, one_of_each, page, table};

fn section() -> String {
    let page = page();
    let (_, rest) = page.split_once("## The text variant\n").unwrap();
    rest.split_once("\n## ").unwrap().0.to_owned()
}

#[test]
fn each_example_is_what_the_code_prints_and_reads() {
    let section = section();
    let (_, examples) = section.split_once("### Examples of sentences\n").unwrap();
    let printed: String =
        examples.lines().filter(|line| line.starts_with('$')).map(|line| format!("{line}\r\n")).collect();
    let expected: Vec<Frame> =
        one_of_each().into_iter().filter(|frame| sentences(frame).next().is_some()).collect();
    assert_eq!(printed.as_bytes(), expected.iter().flat_map(lines).collect::<Vec<u8>>());
    // A frame of two rows comes back as two of one row.
    let mut expected = expected;
    let Frame::Readings(two) = expected[1] else { panic!("{:?}", expected[1]) };
    let row = |n: u32, counts: &[i32]| {
        let clock_us = two.clock_us + n * two.interval_us;
        Frame::Readings(Readings::new(two.first_row + n, clock_us, two.interval_us, 2, counts).unwrap())
    };
    let rows: Vec<Frame> = (0u32..).zip(two.rows()).map(|(n, counts)| row(n, counts)).collect();
    expected.splice(1..2, rows);
    assert_eq!(frames(&text_events(printed.as_bytes())), expected);
}

#[test]
fn what_is_to_be_typed_at_a_terminal_is_a_ping() {
    let section = section();
    let typed =
        section.lines().find_map(|line| line.strip_prefix("printf '")?.split_once("\\r\\n'")).unwrap().0;
    let events = more_text_events(&mut TextDecoder::new(), format!("{typed}\r\n").as_bytes());
    assert_eq!(events, [Event::Frame(Frame::Ping { token: 7 })]);
}

#[test]
fn the_figures_are_right() {
    let section = section();
    assert!(section.contains(&format!("at most {SENTENCE_BYTES_MAX} characters")));
    let row = |counts: &[i32]| {
        let readings = Readings::new(u32::MAX, u32::MAX, 1, counts.len(), counts).unwrap();
        lines(&Frame::Readings(readings)).len()
    };
    let example = row(&[-8_388_608, 1023, 1023]);
    assert!(section.contains(&format!("to {example} characters with its line end")), "{example}");
    let rates = table(&section, "| baud | rows a second |");
    assert_eq!(rates.len(), 3);
    for rate in rates {
        assert_eq!(rate[1], rate[0] / 10 * 4 / 5 / example, "{rate:?}");
    }
    // With its line end, NMEA 0183's limit of 82.
    assert!(row(&[-8_388_608; 5]) <= 82 && row(&[-8_388_608; 6]) > 82, "{}", row(&[-8_388_608; 5]));
}
