//! Rows are held against those around them: what the checksum misses in their numbers and clocks.

use firmware_protocol::{Dropped, Event, Frame, TextDecoder};

use super::lines::{dropped, hello, line_of, lines, more_text_events, rows, text_events};

/// Time from row to row that the hello says.
const INTERVAL_US: u32 = 10_000;

fn sent(places: &[(u32, u32)]) -> Vec<u8> {
    let mut bytes = lines(&hello(1));
    for (number, clock_us) in places {
        bytes.extend(line_of(&format!("PHTWR,{number},{clock_us},7,-8")));
    }
    bytes
}

/// Numbers of the rows that come through, and how many were dropped.
fn through(places: &[(u32, u32)]) -> (Vec<u32>, usize) {
    let events = text_events(&sent(places));
    let dropped = dropped(&events);
    assert!(dropped.iter().all(|why| *why == Dropped::Implausible), "{dropped:?}");
    (rows(&events).iter().map(|row| row.0).collect(), dropped.len())
}

fn expect_all(places: &[(u32, u32)]) {
    assert_eq!(through(places), (places.iter().map(|place| place.0).collect(), 0), "{places:?}");
}

fn steady(numbers: std::ops::Range<u32>, interval_us: u32) -> Vec<(u32, u32)> {
    numbers.map(|n| (n, n.wrapping_mul(interval_us))).collect()
}

#[test]
fn rows_in_order_come_through_and_the_first_waits_for_the_second() {
    assert_eq!(through(&[(5, 0)]), (vec![], 0));
    expect_all(&steady(0..50, INTERVAL_US));
    // Number and clock wrap, the clock runs 3 % off.
    let near_wrap = |n: u32| ((u32::MAX - 20).wrapping_add(n), (u32::MAX - 99_999).wrapping_add(n * 10_300));
    expect_all(&(0..50).map(near_wrap).collect::<Vec<_>>());
}

#[test]
fn a_wrong_digit_in_number_or_clock_costs_that_row_only() {
    let good = steady(100..120, INTERVAL_US);
    for place in [(111, 1_100_000), (190, 1_100_000), (10, 1_100_000), (110, 1_180_000), (110, 9)] {
        let mut places = good.clone();
        places[10] = place;
        let expected: Vec<_> = (100..120).filter(|n| *n != 110).collect();
        assert_eq!(through(&places), (expected, 1), "{place:?}");
    }
}

#[test]
fn lost_rows_pauses_resets_and_copies_cost_nothing() {
    expect_all(&[(0, 0), (1, 10_000), (4, 40_000), (5, 50_000)]);
    expect_all(&[(0, 0), (1, 10_000), (2, 400_000), (3, 410_000)]);
    expect_all(&[(700, 7_000_000), (701, 7_010_000), (0, 5), (1, 10_005)]);
    expect_all(&[(700, 7_000_000), (701, 7_010_000), (701, 7_010_000), (702, 7_020_000)]);
    // Half an hour and more: the clock has gone half round.
    expect_all(&[(0, 0), (1, 10_000), (300_000, 3_000_000_000), (300_001, 3_000_010_000)]);
}

#[test]
fn a_box_that_is_wrong_about_its_rate_loses_nothing() {
    for interval_us in [3_333, 30_000, 1_000_000] {
        expect_all(&steady(0..20, interval_us));
    }
}

#[test]
fn two_damaged_rows_one_after_the_other_let_the_next_ones_through() {
    let places = [(0, 0), (1, 10_000), (900, 20_000), (3, 30), (4, 40_000), (5, 50_000)];
    assert_eq!(through(&places), (vec![0, 1, 4, 5], 2));
}

/// With another boot number nothing need fit the rows before; a row that was held is of the boot before.
#[test]
fn a_new_boot_begins_anew() {
    let mut decoder = TextDecoder::new();
    let mut bytes = sent(&[(40, 400_000), (41, 410_000), (90, 420_000)]);
    bytes.extend(lines(&hello(2)));
    bytes.extend(line_of("PHTWR,0,50,7,-8"));
    bytes.extend(line_of("PHTWR,1,10050,7,-8"));
    let events = more_text_events(&mut decoder, &bytes);
    assert_eq!(rows(&events).iter().map(|row| row.0).collect::<Vec<_>>(), [40, 41, 0, 1]);
    assert_eq!(decoder.counters().implausible, 1);
    // The same hello again changes nothing.
    let again = more_text_events(&mut decoder, &[lines(&hello(2)), line_of("PHTWR,2,20050,7,-8")].concat());
    assert!(matches!(again[..], [Event::Frame(Frame::Hello(_)), Event::Frame(Frame::Readings(_))]));
}
