mod edges;
mod faults;
mod text;

use super::pending::HOLD_US;
use super::{Assembler, EventKind, Item, Row, RunEvent};
use crate::plow::ChannelRole;
use crate::script::{Script, assemble, bytes, counts, hello, sensors};
use crate::wire_file::{Record, WireEvent};
use firmware_protocol::{Channel, ChannelKind, Frame, Hello, Label, Mark, MarkSource, Status};

/// Box clock ahead of the host's by 1 h: 32 bits hold 71.6 min, so it wraps after 11.6 min.
const AHEAD_US: u64 = 3_600_000_000;

fn kinds(events: &[RunEvent]) -> Vec<&'static str> {
    events.iter().map(|event| event.kind.name()).collect()
}

/// The readings that row number `row` must give.
fn readings(row: u32) -> [f64; 2] {
    let [pull, depth] = counts(row);
    [0.5 * (f64::from(pull) - 1000.0), 0.1 * f64::from(depth)]
}

fn is_row(row: &Row, number: u32) -> bool {
    row.values().iter().zip(readings(number)).all(|(got, wanted)| (got - wanted).abs() < 1e-9)
}

fn strictly_rising(rows: &[Row]) -> bool {
    rows.windows(2).all(|pair| pair[0].t_us < pair[1].t_us)
}

#[test]
fn rows_come_out_as_they_went_in() {
    let mut script = Script::begun(AHEAD_US, 0);
    script.send_rows(50);
    let (rows, events, assembler) = assemble(&script.ended());
    assert_eq!(assembler.columns().roles, [ChannelRole::Pull, ChannelRole::Depth]);
    assert_eq!(rows.len(), 400);
    assert!((0u32..).zip(&rows).all(|(number, row)| is_row(row, number)));
    // One frame comes a microsecond after the other eight milliseconds: the script's clock.
    assert!(rows.windows(2).all(|pair| (pair[1].t_us - pair[0].t_us).abs_diff(1000) <= 2));
    assert!(rows[0].t_us < 100, "{}", rows[0].t_us);
    assert_eq!(kinds(&events), ["first-row", "ended"]);
    let counters = assembler.counters();
    assert_eq!((counters.rows, counters.rows_lost, counters.frames_damaged), (400, 0, 0));
}

#[test]
fn a_gap_is_counted_and_its_time_is_that_of_the_row_before() {
    let mut script = Script::begun(AHEAD_US, 0);
    script.send_rows(2);
    let _ = script.rows();
    let _ = script.rows();
    script.send_rows(2);
    let (rows, events, assembler) = assemble(&script.ended());
    assert_eq!(kinds(&events), ["first-row", "gap", "ended"]);
    assert_eq!(events[1].detail, "rows=16; lasted_s=0.016000");
    assert_eq!(events[1].t_us, rows[15].t_us);
    assert!((rows[16].t_us - rows[15].t_us).abs_diff(17_000) <= 10);
    assert_eq!(assembler.counters().rows_lost, 16);
}

#[test]
fn rows_lost_before_the_first_one_that_came_are_counted_only_if_they_are_of_this_run() {
    // Row 0 was sampled after the last ping that was answered before the start.
    let mut script = Script::begun(AHEAD_US, 0);
    let _ = script.rows();
    script.send_rows(1);
    let (_, events, _) = assemble(&script.ended());
    assert_eq!(kinds(&events), ["first-row", "gap", "ended"]);
    // A box whose numbers go on from an earlier run has lost nothing.
    let mut script = Script::begun(AHEAD_US, 80_000);
    script.send_rows(1);
    let (_, events, _) = assemble(&script.ended());
    assert_eq!(kinds(&events), ["first-row", "ended"]);
}

#[test]
fn a_gap_longer_than_a_wrap_of_the_box_clock_is_as_long_as_its_rows() {
    let mut script = Script::begun(AHEAD_US, 0);
    script.send_rows(1);
    // 100 min at 1 kHz; the clock has wrapped once or twice.
    script.row += 6_000_000;
    script.host_us += 6_000_000_000;
    script.send_rows(1);
    let (rows, events, _) = assemble(&script.ended());
    assert_eq!(kinds(&events), ["first-row", "gap", "ended"]);
    assert!((rows[8].t_us - rows[7].t_us).abs_diff(6_000_001_000) <= 10);
}

/// All four combinations of a wrap and a reset.
#[test]
fn a_wrap_is_no_reset_and_a_reset_is_no_wrap() {
    for (wraps, resets) in [(false, false), (true, false), (false, true), (true, true)] {
        let ahead = if wraps { (1u64 << 32) - 60_000 } else { AHEAD_US };
        let mut script = Script::begun(ahead, 0);
        script.send_rows(10);
        if resets {
            // Young again; after a wrap, at a clock that goes on as if nothing had happened.
            script.box_ahead_us = if wraps { script.box_ahead_us } else { 5_000_000 };
            script.row = 0;
            script.frame(&Frame::Hello(hello(8)));
            script.ping();
        }
        script.send_rows(10);
        let (rows, events, assembler) = assemble(&script.ended());
        let expected: &[_] = if resets { &["first-row", "reset", "ended"] } else { &["first-row", "ended"] };
        assert_eq!(kinds(&events), expected, "wraps {wraps}, resets {resets}");
        assert_eq!((rows.len(), assembler.counters().rows_lost), (160, 0));
        assert!(strictly_rising(&rows));
        let pause = rows[80].t_us - rows[79].t_us;
        assert!(pause.abs_diff(1000) < 1000, "{pause} us, wraps {wraps}, resets {resets}");
    }
}

#[test]
fn a_reset_without_its_hello_is_a_restart() {
    let mut script = Script::begun(AHEAD_US, 0);
    script.send_rows(400);
    script.box_ahead_us = 0;
    script.row = 0;
    script.send_rows(1);
    let (rows, events, assembler) = assemble(&script.ended());
    assert_eq!(kinds(&events), ["first-row", "restart", "ended"]);
    assert_eq!((rows.len(), assembler.counters().resets), (3208, 1));
    assert!(is_row(&rows[3200], 0) && strictly_rising(&rows));
}

#[test]
fn an_uptime_that_falls_is_a_reset_for_boxes_without_a_boot_number() {
    let status = |uptime_ms| {
        Frame::Status(Status { uptime_ms, rows_dropped: 0, supply_mv: 12_000, temperature_centi_c: 2000 })
    };
    let mut script = Script::begun(AHEAD_US, 0);
    script.frame(&status(50_000));
    script.send_rows(1);
    // A status that was overtaken is none.
    script.frame(&status(49_000));
    script.send_rows(1);
    script.frame(&status(1_000));
    script.row = 0;
    script.send_rows(1);
    let (rows, events, _) = assemble(&script.ended());
    assert_eq!(kinds(&events), ["first-row", "reset", "ended"]);
    assert_eq!(rows.len(), 24);
}

#[test]
fn after_a_reset_rows_wait_for_the_first_ping_and_no_longer_than_a_while() {
    let mut script = Script::begun(AHEAD_US, 0);
    script.send_rows(1);
    script.box_ahead_us = 1_000_000;
    script.row = 0;
    script.frame(&Frame::Hello(hello(8)));
    // The bridge holds the first rows back for 40 ms: by arrival they would be 40 ms late.
    let late = script.rows();
    script.host_us += 40_000;
    script.frame(&Frame::Readings(late));
    let rows_so_far = |records: &[Record]| {
        let (mut assembler, mut items) = (Assembler::new(sensors()), Vec::new());
        records.iter().for_each(|record| assembler.take(record, &mut items));
        items.iter().filter(|item| matches!(item, Item::Row(_))).count()
    };
    assert_eq!(rows_so_far(&script.records), 8);
    script.ping();
    let (rows, _, _) = assemble(&script.records);
    assert_eq!(rows.len(), 16);
    let pause = rows[8].t_us - rows[7].t_us;
    assert!(pause.abs_diff(1000) < 1000, "{pause} us");
    // Without an answer they are placed by arrival.
    script.records.truncate(script.records.len() - 1);
    script.host_us += HOLD_US;
    script.record(WireEvent::PingSent { token: 99 });
    assert_eq!(rows_so_far(&script.records), 16);
}

#[test]
fn a_saturated_stretch_has_a_begin_and_an_end() {
    let mut script = Script::begun(AHEAD_US, 0);
    script.send_rows(2);
    script.send_counts(2, &[65_535, 5].repeat(8));
    script.send_rows(20);
    let (_, events, assembler) = assemble(&script.ended());
    assert_eq!(kinds(&events), ["first-row", "saturated", "saturated-end", "ended"]);
    assert_eq!(events[1].detail, "column=pull_n; count=65535");
    assert_eq!(events[2].detail, "column=pull_n; rows=8");
    assert_eq!(assembler.counters().rows_saturated, 8);
}

#[test]
fn counts_that_the_converter_cannot_give_are_not_written() {
    let mut script = Script::begun(AHEAD_US, 0);
    script.send_rows(1);
    script.send_counts(2, &[65_536, 5].repeat(8));
    script.send_rows(1);
    let (rows, events, assembler) = assemble(&script.ended());
    assert_eq!((rows.len(), assembler.counters().rows_refused), (16, 8));
    assert_eq!(kinds(&events), ["first-row", "refused", "ended"]);
}

#[test]
fn rows_of_another_width_than_the_hello_says_are_left_to_the_gap() {
    let mut script = Script::begun(AHEAD_US, 0);
    script.send_rows(1);
    script.send_counts(1, &[5; 8]);
    script.send_rows(1);
    let (rows, _, assembler) = assemble(&script.ended());
    let counters = assembler.counters();
    assert_eq!((rows.len(), counters.rows_lost, counters.frames_refused), (16, 8, 1));
}

/// Rows of another width until the end leave no gap: their time is that of rows that are counted as refused.
#[test]
fn time_of_refused_rows_is_not_told_a_second_time() {
    let mut script = Script::begun(AHEAD_US, 0);
    script.send_rows(2);
    (0..200).for_each(|_| script.send_counts(1, &[5; 8]));
    let (_, events, assembler) = assemble(&script.ended());
    let counters = assembler.counters();
    assert_eq!((counters.rows_refused, counters.without_readings_ms), (1600, 0));
    assert!(!kinds(&events).contains(&"without-readings"));
}

#[test]
fn marks_of_both_kinds_are_events() {
    let mut script = Script::begun(AHEAD_US, 0);
    script.send_rows(2);
    let mark = |clock_us, source, number| Frame::Mark(Mark { clock_us, source, number });
    let clock_us = (script.host_us + AHEAD_US - 3_000) as u32;
    script.frame(&mark(clock_us, MarkSource::Button, 1));
    script.record(WireEvent::HostMark(bytes(&mark(0, MarkSource::Host, 2))));
    let (rows, events, _) = assemble(&script.ended());
    assert_eq!(events[1].detail, "number=1; by=button");
    assert!(events[1].t_us.abs_diff(rows[13].t_us) < 100);
    assert_eq!((events[2].kind, events[2].detail.as_str()), (EventKind::Mark, "number=2; by=host"));
}

#[test]
fn a_box_that_does_not_fit_is_refused_by_name() {
    let refusal = |hello: Hello| {
        let mut assembler = Assembler::new(sensors());
        let record = Record { host_us: 1, what: WireEvent::Received(bytes(&Frame::Hello(hello))) };
        assembler.take(&record, &mut Vec::new());
        assembler.refusal().map_or_else(String::new, ToString::to_string)
    };
    assert_eq!(refusal(hello(1)), "");
    let mut newer = hello(1);
    newer.version = (9, 0);
    let newer = refusal(newer);
    assert!(newer.contains("protocol 9") && newer.contains("speaks 1"), "{newer}");
    let with = |name, kind| {
        let channel = Channel { name: Label::new(name).unwrap(), kind, adc_bits: 16, rate_mhz: 1000 };
        Hello::new(1, (0, 0, 0), 1000, Label::default(), Label::new("b").unwrap(), &[channel]).unwrap()
    };
    let missing = refusal(with("wheel", ChannelKind::Other(77)));
    assert!(missing.contains("it has \"wheel\", and [[sensors]] names \"pull\", \"depth\""), "{missing}");
    let swapped = refusal(with("pull", ChannelKind::Depth));
    assert!(swapped.contains("measures depth, but the plow description says pull"), "{swapped}");
    // A kind that this version does not know is the plow description's to name.
    assert_eq!(refusal(with("pull", ChannelKind::Other(77))), "");
}

#[test]
fn channels_that_change_in_mid_run_end_the_readings() {
    let channel =
        Channel { name: Label::new("pull").unwrap(), kind: ChannelKind::Pull, adc_bits: 16, rate_mhz: 1000 };
    let other =
        Hello::new(8, (0, 0, 0), 1000, Label::default(), Label::new("box").unwrap(), &[channel]).unwrap();
    let mut script = Script::begun(AHEAD_US, 0);
    script.send_rows(1);
    script.frame(&Frame::Hello(other));
    script.row = 0;
    script.send_rows(1);
    let (rows, events, assembler) = assemble(&script.ended());
    assert_eq!(rows.len(), 8);
    assert_eq!(kinds(&events), ["first-row", "reset", "channels-changed", "refused", "ended"]);
    assert!(assembler.refusal().is_some());
    assert_eq!(assembler.counters().rows_refused, 8);
}

#[test]
fn a_line_with_more_damaged_than_good_frames_is_said_to_be_unusable() {
    let mut script = Script::begun(AHEAD_US, 0);
    for _ in 0..600 {
        let mut spoiled = bytes(&Frame::Readings(script.rows()));
        spoiled[10] ^= 0x40;
        script.record(WireEvent::Received(spoiled));
    }
    script.send_rows(600);
    let (rows, events, _) = assemble(&script.ended());
    let kinds = kinds(&events);
    assert_eq!(rows.len(), 4800);
    assert_eq!(kinds.iter().filter(|kind| **kind == "line-bad").count(), 1, "{kinds:?}");
    assert_eq!(kinds.iter().filter(|kind| **kind == "line-good").count(), 1, "{kinds:?}");
}

/// Found: a box whose rows have other channels than its hello says was recorded as 0 rows, nothing lost.
#[test]
fn a_box_that_answers_and_brings_no_rows_is_told_of_within_two_seconds() {
    for (wrong, why) in
        [(true, "its rows have 3 channels; its hello says 2"), (false, "it answers, but sends none")]
    {
        let mut script = Script::begun(AHEAD_US, 0);
        script.send_rows(10);
        let stopped_us = script.host_us;
        for _ in 0..4 {
            script.host_us += 990_000;
            if wrong {
                script.send_counts(3, &[7; 24]);
            }
            script.ping();
        }
        script.send_rows(10);
        let (rows, events, assembler) = assemble(&script.ended());
        assert_eq!(rows.len(), 160);
        let told = events.iter().find(|event| event.kind == EventKind::NoRows).unwrap();
        assert_eq!(told.detail, why);
        assert!(told.t_us < stopped_us + 2_000_000, "{told:?}");
        assert_eq!(kinds(&events).iter().filter(|kind| **kind == "rows-back").count(), 1);
        assert_eq!(assembler.counters().rows_refused, if wrong { 32 } else { 0 });
        assert!(!assembler.misses_rows());
    }
}

/// Found by simulation: the answer to a ping that came after a boot and before its hello was taken for a clock that
/// runs apart; over an hour after the boot, when back by most of a wrap looks like ahead, once more.
#[test]
fn an_answer_of_the_next_boot_is_no_clock_that_runs_apart() {
    for (back_us, clock_off_s) in [(7_000_000, -7), (4_100_000_000, 194)] {
        let mut script = Script::begun(AHEAD_US, 0);
        for _ in 0..8 {
            script.send_rows(100);
            script.ping();
        }
        script.host_us += 200_000;
        script.box_ahead_us = script.box_ahead_us.wrapping_sub(back_us);
        let ahead_us = (script.box_ahead_us.wrapping_sub(AHEAD_US) as u32).cast_signed();
        assert_eq!(ahead_us / 1_000_000, clock_off_s);
        script.ping();
        script.frame(&Frame::Hello(hello(8)));
        script.row = 0;
        script.send_rows(10);
        let (rows, events, assembler) = assemble(&script.ended());
        assert_eq!(kinds(&events), ["first-row", "reset", "ended"], "{clock_off_s} s");
        assert_eq!((rows.len(), assembler.clock().apart), (6_480, None));
    }
}
