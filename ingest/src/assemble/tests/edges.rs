//! What a box does before its run begins, at the end of it, and with converters of either sign.

use super::*;
use crate::assemble::columns::{Column, Fills, columns_of};

fn status(uptime_ms: u32, rows_dropped: u32) -> Frame {
    Frame::Status(Status { uptime_ms, rows_dropped, supply_mv: 12_000, temperature_centi_c: 2000 })
}

/// Takes out the record with which the run begins, and puts it at the end.
fn begins_now(script: &mut Script) {
    script.records.retain(|record| record.what != WireEvent::Started);
    script.record(WireEvent::Started);
}

#[test]
fn what_a_box_dropped_or_began_anew_before_the_run_is_not_of_the_run() {
    let mut script = Script::begun(AHEAD_US, 0);
    script.frame(&status(9_000, 40));
    script.frame(&status(10_000, 90));
    script.send_rows(2);
    script.row = 0;
    script.frame(&Frame::Hello(hello(8)));
    script.ping();
    begins_now(&mut script);
    script.send_rows(2);
    script.frame(&status(1_000, 7));
    script.frame(&status(2_000, 9));
    let (rows, events, assembler) = assemble(&script.ended());
    assert_eq!(rows.len(), 16);
    // A count that fell has begun anew with the box.
    assert_eq!(kinds(&events), ["first-row", "box-dropped", "box-dropped", "ended"]);
    let details: Vec<&str> = events[1..3].iter().map(|event| event.detail.as_str()).collect();
    assert_eq!(details, ["rows=7", "rows=2"]);
    let counters = assembler.counters();
    assert_eq!((counters.rows_dropped_in_box, counters.resets, counters.rows_before_start), (9, 0, 16));
}

/// One channel more, which nobody wants, changes nothing of what is read.
#[test]
fn a_channel_that_comes_in_mid_run_beside_the_wanted_ones_is_told_and_read_past() {
    let channel =
        |name, kind| Channel { name: Label::new(name).unwrap(), kind, adc_bits: 16, rate_mhz: 1_000_000 };
    let table = [
        channel("spare", ChannelKind::Other(77)),
        channel("pull", ChannelKind::Pull),
        channel("depth", ChannelKind::Depth),
    ];
    let (serial, name) = (Label::new("0001").unwrap(), Label::new("box").unwrap());
    let other = Hello::new(8, (1, 2, 3), 1_000_000, serial, name, &table).unwrap();
    let mut script = Script::begun(AHEAD_US, 0);
    script.send_rows(1);
    script.frame(&Frame::Hello(other));
    script.row = 0;
    script.ping();
    script.send_counts(3, &[-5, 1000, 30].repeat(8));
    let (rows, events, assembler) = assemble(&script.ended());
    assert_eq!(kinds(&events), ["first-row", "reset", "channels-changed", "ended"]);
    assert_eq!(events[2].detail, "the wanted ones are all there");
    assert!(rows[8..].iter().all(|row| (row.values()[0], row.values()[1]) == (0.0, 3.0)), "{:?}", rows[8]);
    assert_eq!((rows.len(), assembler.counters().rows_refused), (16, 0));
}

/// The channels may change before the run as they like.
#[test]
fn channels_that_change_before_the_run_are_no_event() {
    let mut script = Script::begun(AHEAD_US, 0);
    let mut slower = hello(7);
    slower.version = (1, 9);
    script.frame(&Frame::Hello(slower));
    begins_now(&mut script);
    script.send_rows(1);
    let (rows, events, _) = assemble(&script.ended());
    assert_eq!((rows.len(), kinds(&events)), (8, vec!["first-row", "ended"]));
}

#[test]
fn a_stretch_at_the_end_of_a_converter_ends_with_the_run_and_with_a_boot() {
    let full = [65_535, 5].repeat(8);
    let mut script = Script::begun(AHEAD_US, 0);
    script.send_counts(2, &full);
    script.frame(&Frame::Hello(hello(8)));
    script.ping();
    script.row = 0;
    script.send_rows(1);
    script.send_counts(2, &full);
    script.send_counts(2, &full);
    let (_, events, assembler) = assemble(&script.ended());
    let expected =
        ["first-row", "saturated", "saturated-end", "reset", "saturated", "saturated-end", "ended"];
    assert_eq!(kinds(&events), expected);
    let rows: Vec<&str> = [2, 5].map(|at| events[at].detail.as_str()).into();
    assert_eq!(rows, ["column=pull_n; rows=8", "column=pull_n; rows=16"]);
    assert_eq!(assembler.counters().rows_saturated, 24);
}

/// A converter is taken for an unsigned one until it gives a negative count.
#[test]
fn the_ends_of_a_converter_follow_from_its_bits_and_its_sign() {
    let mut columns = columns_of(&hello(1), &sensors()).unwrap();
    let depth = columns.iter().position(|column| column.fills == Fills::Role(ChannelRole::Depth)).unwrap();
    let column = &mut columns[depth];
    let ends = |column: &Column, negative| {
        let counts = [-40_000, -32_768, -32_767, 0, 1, 32_766, 32_767, 65_534, 65_535, 70_000];
        counts.into_iter().filter(|count| column.is_saturated(*count, negative)).collect::<Vec<_>>()
    };
    assert_eq!(ends(column, false), [-40_000, -32_768, -32_767, 0, 65_535, 70_000]);
    assert_eq!(ends(column, true), [-40_000, -32_768, 32_767, 65_534, 65_535, 70_000]);
    column.limits = Some((1, 65_534));
    assert_eq!(ends(column, true), [-40_000, -32_768, -32_767, 0, 1, 65_534, 65_535, 70_000]);
}

/// A signed converter at its lower end: its rows are marked once a negative count has shown its sign.
#[test]
fn a_signed_converter_at_its_lower_end_is_saturated() {
    let mut script = Script::begun(AHEAD_US, 0);
    script.send_counts(2, &[-3, 5].repeat(8));
    script.send_counts(2, &[-32_768, 5].repeat(8));
    // Where an unsigned one would end.
    script.send_counts(2, &[0, 5].repeat(8));
    let (rows, events, assembler) = assemble(&script.ended());
    assert_eq!(kinds(&events), ["first-row", "saturated", "saturated-end", "ended"]);
    assert_eq!((rows.len(), assembler.counters().rows_saturated), (24, 8));
}

/// The same fault as rows of another width: rows come, and none can be written.
#[test]
fn rows_that_no_converter_can_give_are_told_of_as_what_comes_instead_of_rows() {
    let mut script = Script::begun(AHEAD_US, 0);
    script.send_rows(10);
    for _ in 0..4 {
        script.host_us += 990_000;
        script.row += 990;
        script.send_counts(2, &[70_000, 5].repeat(8));
        script.ping();
    }
    let (rows, events, assembler) = assemble(&script.ended());
    assert_eq!((rows.len(), assembler.counters().rows_refused), (80, 32));
    let told = events.iter().find(|event| event.kind == EventKind::NoRows).unwrap();
    assert_eq!(told.detail, "its rows hold counts that their converters cannot give");
}

/// A clock that jumps while row numbers go on is a restart that loses nothing for certain but the rows skipped.
#[test]
fn a_clock_that_jumps_under_rows_that_go_on_is_a_restart() {
    let mut script = Script::begun(AHEAD_US, 0);
    script.send_rows(200);
    script.box_ahead_us += 700_000_000;
    script.row += 8;
    script.send_rows(1);
    let (rows, events, assembler) = assemble(&script.ended());
    assert_eq!(kinds(&events), ["first-row", "gap", "restart", "ended"]);
    let restart = events.iter().find(|event| event.kind == EventKind::Restart).unwrap();
    assert!(restart.detail.starts_with("row=1608; expected_row=1600; clock_off_s=699.99"), "{restart:?}");
    let counters = assembler.counters();
    assert_eq!((rows.len(), counters.rows_lost, counters.resets), (1608, 8, 1));
    assert!(strictly_rising(&rows));
}

/// Found: a box that booted twice before it was told to start, the first time seen by its status only, had its second boot
/// taken for the first, and its rows placed by the clock of the boot before.
#[test]
fn a_boot_after_one_that_only_the_status_showed_is_told_by_the_number_of_boots() {
    let mut script = Script::begun(AHEAD_US, 0);
    script.frame(&status(60_000, 0));
    script.send_rows(20);
    script.host_us += 100_000;
    // Boot 8: its hello does not come whole. Its clock is answered, and stands at 2.5 s when it boots again.
    script.box_ahead_us = 1_500_000u64.wrapping_sub(script.host_us);
    script.frame(&status(1_500, 0));
    (0..4).for_each(|_| {
        script.host_us += 250_000;
        script.ping();
    });
    // Boot 9: its clock begins anew.
    script.host_us += 10_000;
    let second_us = script.host_us;
    script.box_ahead_us = 1_600_000u64.wrapping_sub(script.host_us);
    script.frame(&Frame::Hello(hello(9)));
    script.row = 0;
    (0..3).for_each(|_| script.ping());
    script.send_rows(20);
    let (rows, events, assembler) = assemble(&script.ended());
    let resets: Vec<&str> =
        events.iter().filter(|event| event.kind == EventKind::Reset).map(|event| &*event.detail).collect();
    assert_eq!(resets, ["uptime_s=1.500", "boot=9; before=7"]);
    assert_eq!((rows.len(), assembler.counters().rows_lost), (320, 0));
    let first_us = rows[160].t_us + 11_243;
    assert!(first_us.abs_diff(second_us) < 20_000, "{first_us} us, not {second_us}");
}

/// Found: a boot before the run that neither a hello nor a status had told was not seen, though the rows began anew.
/// The clock of the boot before then put the rows of the run before it, and the status that told the boot at last
/// counted them as a gap.
#[test]
fn rows_that_begin_anew_before_the_run_or_with_it_show_the_boot() {
    for (frames_before, frames_lost) in [(20, 0), (0, 0), (0, 3)] {
        let mut script = Script::begun(AHEAD_US, 4_000);
        script.frame(&status(9_000, 0));
        script.send_rows(50);
        script.row = 0;
        script.box_ahead_us = AHEAD_US - 3_000_000;
        script.send_rows(frames_before);
        begins_now(&mut script);
        for _ in 0..frames_lost {
            let _ = script.rows();
        }
        script.send_rows(100);
        script.frame(&status(1_000, 0));
        script.send_rows(100);
        let (rows, events, assembler) = assemble(&script.ended());
        let lost = 8 * u64::from(frames_lost);
        let expected: &[_] = if lost > 0 { &["first-row", "gap", "ended"] } else { &["first-row", "ended"] };
        assert_eq!(kinds(&events), expected, "{frames_before} {frames_lost}");
        assert_eq!(rows.len(), 1600);
        assert!(is_row(&rows[0], 8 * (frames_before + frames_lost)) && strictly_rising(&rows));
        let counters = assembler.counters();
        assert_eq!((counters.rows_lost, counters.resets), (lost, 0));
    }
}

/// Found by the emulated box on a line of 9600 baud, which takes up a ping behind other work: by the middle of the round
/// trip its first rows, which it sampled when it was told to start, lie before the run.
#[test]
fn the_first_rows_of_a_box_on_a_slow_line_are_of_the_run() {
    let mut script = Script::bare();
    script.box_ahead_us = 77_000_000;
    script.record(WireEvent::PortOpened("port".to_owned()));
    script.frame(&Frame::Hello(hello(7)));
    script.record(WireEvent::Started);
    let first = script.rows();
    script.record(WireEvent::PingSent { token: 9 });
    script.host_us += 80_000;
    let clock_us = (script.host_us + script.box_ahead_us) as u32;
    script.frame(&Frame::Time(firmware_protocol::Time { token: 9, clock_us }));
    script.frame(&Frame::Readings(first));
    for token in 10..30 {
        script.send_rows(100);
        script.record(WireEvent::PingSent { token });
        script.host_us += 80_000;
        let clock_us = (script.host_us + script.box_ahead_us) as u32;
        script.frame(&Frame::Time(firmware_protocol::Time { token, clock_us }));
    }
    let box_us = script.host_us;
    script.send_rows(1);
    let (rows, _, assembler) = assemble(&script.ended());
    assert!(is_row(&rows[0], 0), "{:?}", rows.first());
    assert_eq!(assembler.counters().rows_before_start, 0);
    // Nor is run time bent to where they would lie before it.
    let lasted_us = rows[rows.len() - 8].t_us - rows[0].t_us;
    assert!(box_us.abs_diff(lasted_us) < 1_000, "{lasted_us} of {box_us} us");
}

/// Rows that a box sampled before the run and that come when it has begun are none of it, to the millisecond, and are counted.
#[test]
fn rows_of_before_the_run_are_counted_and_not_written() {
    let mut script = Script::begun(77_000_000, 500);
    // Of 24 rows of 1 ms the first twenty lie before it.
    script.box_ahead_us -= 20_000;
    script.send_rows(3);
    script.box_ahead_us += 20_000;
    script.row += 4;
    script.ping();
    script.send_rows(4);
    let (rows, _, assembler) = assemble(&script.ended());
    let counters = assembler.counters();
    assert_eq!((counters.rows + counters.rows_before_start, rows.len() as u64), (7 * 8, counters.rows));
    // What is less than 5 ms before it may be of its first moment.
    assert!((15..=16).contains(&counters.rows_before_start), "{counters:?}");
    assert!(rows[0].t_us < 2_000, "{:?}", rows[0]);
}

/// After each boot rows wait for the first answer to a ping, not only after the first one.
#[test]
fn rows_wait_for_a_ping_after_every_boot() {
    let mut script = Script::begun(77_000_000, 500);
    let started_us = script.host_us;
    script.send_rows(30);
    script.box_ahead_us = 5_000_000;
    script.row = 0;
    script.frame(&Frame::Hello(hello(8)));
    let sampled_us = script.host_us;
    let rows = script.rows();
    // They come 150 ms late, and the answer after them.
    script.host_us += 150_000;
    script.frame(&Frame::Readings(rows));
    script.ping();
    script.send_rows(10);
    let (rows, ..) = assemble(&script.ended());
    let first = rows[30 * 8];
    assert!(
        first.t_us.abs_diff(sampled_us - started_us) < 2_000,
        "{first:?}, not {}",
        sampled_us - started_us
    );
}

/// A mark is of the run that it was set in.
#[test]
fn a_mark_of_the_person_before_the_run_is_none_of_it() {
    let mark = |number| {
        let mark = firmware_protocol::Mark { clock_us: 7, source: MarkSource::Host, number };
        WireEvent::HostMark(crate::script::bytes(&Frame::Mark(mark)))
    };
    let mut script = Script::begun(77_000_000, 500);
    script.send_rows(2);
    script.record(mark(2));
    let run = script.records.split_off(script.records.len() - 3);
    script.records.retain(|record| record.what != WireEvent::Started);
    script.records.push(Record { host_us: run[0].host_us - 2, what: mark(1) });
    script.records.push(Record { host_us: run[0].host_us - 1, what: WireEvent::Started });
    script.records.extend(run);
    let (_, events, assembler) = assemble(&script.ended());
    let marks: Vec<_> = events.iter().filter(|event| event.kind == EventKind::Mark).collect();
    assert_eq!(marks.iter().map(|mark| mark.detail.as_str()).collect::<Vec<_>>(), ["number=2; by=host"]);
    assert_eq!(assembler.counters().marks, 1);
}

/// Row numbers that fall back tell of lost rows only where there was time for them.
#[test]
fn rows_that_a_box_cannot_have_sampled_since_are_not_counted_as_lost() {
    let lost_after = |wait_us: u64| {
        let mut script = Script::begun(77_000_000, 5000);
        script.send_rows(4);
        (script.row, script.box_ahead_us) = (600, 900_000_000);
        script.host_us += wait_us;
        script.send_rows(4);
        let (_, events, assembler) = assemble(&script.ended());
        assert!(events.iter().any(|event| event.kind == EventKind::Restart), "{events:?}");
        assembler.counters().rows_lost
    };
    assert_eq!((lost_after(0), lost_after(700_000)), (0, 600));
}
