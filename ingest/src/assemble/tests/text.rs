//! The text variant: the same rows, gaps and counters come of sentences.

use super::{is_row, kinds, strictly_rising};
use crate::assemble::{Assembler, Row, RunEvent};
use crate::script::{Script, assemble, counts, hello, nmea_line};
use crate::wire_file::{Record, WireEvent};
use firmware_protocol::{Form, Frame, sentences};
use rand::{RngExt, SeedableRng};

/// A box that only prints: a row every 10 ms and hello once a second, from power-up on.
struct Printer {
    records: Vec<Record>,
    host_us: f64,
    /// Host time at which the box's clock is 0, and how many times as fast it runs.
    power_up_us: f64,
    rate: f64,
    row: u32,
    random: rand_chacha::ChaCha8Rng,
    last_us: u64,
}

impl Printer {
    /// A run that begins two seconds after the port was opened.
    fn begun(rate: f64) -> Self {
        let random = rand_chacha::ChaCha8Rng::seed_from_u64(7);
        let mut printer =
            Self { records: Vec::new(), host_us: 5e6, power_up_us: 0.0, rate, row: 900, random, last_us: 0 };
        printer.record(0.0, WireEvent::PortOpened("port".to_owned()));
        printer.print(200, |_| true);
        printer.record(0.0, WireEvent::Started);
        printer
    }

    fn record(&mut self, late_us: f64, what: WireEvent) {
        self.last_us = ((self.host_us + late_us) as u64).max(self.last_us + 1);
        self.records.push(Record { host_us: self.last_us, what });
    }

    /// A chunk of the line arrives 1 to 5 ms after it was printed, as over a bridge.
    fn arrive(&mut self, bytes: Vec<u8>) {
        let late_us = self.random.random_range(1_000.0..5_000.0);
        self.record(late_us, WireEvent::Received(bytes));
    }

    fn clock_us(&self) -> u32 {
        ((self.host_us - self.power_up_us) * self.rate) as u64 as u32
    }

    /// Rows, those that `comes` lets through.
    fn print(&mut self, rows: u32, comes: impl Fn(u32) -> bool) {
        for _ in 0..rows {
            if self.row.is_multiple_of(100) {
                let mut said = hello(7);
                said.row_rate_mhz = 100_000;
                self.arrive(lines(&Frame::Hello(said)));
            }
            let [pull, depth] = counts(self.row);
            let body = format!("PHTWR,{},{},{pull},{depth}", self.row, self.clock_us());
            if comes(self.row) {
                self.arrive(nmea_line(&body).into_bytes());
            }
            self.row += 1;
            self.host_us += 10_000.0;
        }
    }

    fn ended(mut self) -> (Vec<Row>, Vec<RunEvent>, Assembler) {
        self.record(0.0, WireEvent::Ended("test".to_owned()));
        assemble(&self.records)
    }
}

fn lines(frame: &Frame) -> Vec<u8> {
    sentences(frame).flat_map(|sentence| sentence.as_bytes().to_vec()).collect()
}

#[test]
fn rows_of_sentences_come_out_as_they_went_in_and_losses_are_counted() {
    let mut printer = Printer::begun(1.0);
    let lost = |row: u32| [1200, 1201, 1202, 1507].contains(&row);
    printer.print(1000, |row| !lost(row));
    // What is printed besides is no row, and the loop stops for a second.
    printer.arrive(b"battery low\r\n$PHTWR,1,2*00\r\n".to_vec());
    printer.host_us += 1e6;
    printer.print(100, |_| true);
    let (rows, events, assembler) = printer.ended();
    assert_eq!(assembler.handshake.decoder.form(), Some(Form::Text));
    assert_eq!(kinds(&events), ["first-row", "gap", "gap", "without-readings", "ended"]);
    assert_eq!(events[1].detail, "rows=3; lasted_s=0.030000");
    let numbers: Vec<u32> = (1100..2200).filter(|row| !lost(*row)).collect();
    assert_eq!(rows.len(), numbers.len());
    assert!(rows.iter().zip(&numbers).all(|(row, number)| is_row(row, *number)));
    assert!(strictly_rising(&rows));
    let pause_us = rows[996].t_us - rows[995].t_us;
    assert!(pause_us.abs_diff(1_010_000) < 1_000, "{pause_us}");
    let counters = assembler.counters();
    assert_eq!((counters.rows, counters.rows_lost, counters.gaps), (1096, 4, 2));
    assert!(counters.without_readings_ms.abs_diff(1_000) < 2, "{}", counters.without_readings_ms);
    // 200 rows before the run, but for the first hundred, which came before the hello.
    assert_eq!((counters.rows_before_start, counters.frames_damaged), (200, 2));
}

/// Nothing but arrivals shows the box's clock: run time keeps to the host's within their jitter.
#[test]
fn run_time_follows_a_box_that_answers_no_ping() {
    for (rate, apart) in [(1.0 + 200e-6, false), (1.0 - 200e-6, false), (1.004, true)] {
        let mut printer = Printer::begun(rate);
        printer.print(24_000, |_| true);
        let (rows, events, assembler) = printer.ended();
        let apart_events = events.iter().filter(|event| event.kind.name() == "clocks-apart").count();
        assert_eq!(apart_events, usize::from(apart), "rate {rate}");
        assert_eq!(assembler.clock().apart.is_some(), apart);
        assert!(!assembler.clock().answers && rows.len() == 24_000 && strictly_rising(&rows));
        if apart {
            let ratio = assembler.clock().apart.unwrap();
            assert!((ratio - rate).abs() < 1e-3, "{ratio}");
            continue;
        }
        let line = assembler.clock().line().unwrap();
        assert!((line.rate + (rate - 1.0)).abs() < 20e-6, "rate {} of {rate}", line.rate);
        assert!((10.0..2_000.0).contains(&line.residual_us), "{}", line.residual_us);
        let worst_us = (0u32..)
            .zip(&rows)
            .skip(3_000)
            .map(|(n, row)| (row.t_us as f64 - (10_000.0 * f64::from(n))).abs())
            .fold(0.0, f64::max);
        assert!(worst_us < 6_000.0, "{worst_us} us from the host's time");
    }
}

#[test]
fn a_reset_of_a_box_that_counts_no_boots_is_a_restart() {
    let mut printer = Printer::begun(1.0);
    printer.print(500, |_| true);
    printer.host_us += 2e6;
    (printer.row, printer.power_up_us) = (0, printer.host_us);
    printer.print(300, |_| true);
    let (rows, events, assembler) = printer.ended();
    assert_eq!(kinds(&events), ["first-row", "restart", "without-readings", "ended"]);
    assert_eq!((rows.len(), assembler.counters().rows_lost), (800, 0));
    let without_ms = assembler.counters().without_readings_ms;
    assert!(without_ms.abs_diff(2_000) < 10, "{without_ms}");
    assert!(is_row(&rows[500], 0) && strictly_rising(&rows));
}

/// Found by fresh eyes: a cable that was out to the end left a run that had "lost nothing". Neither lost rows nor a pause
/// that a loop may make are told of, and of a box that is slow its own two intervals are none.
#[test]
fn time_in_which_no_row_came_is_told_where_no_count_holds_it() {
    let without = |pause_us: [f64; 2], lost: u32| {
        let mut printer = Printer::begun(1.0);
        printer.host_us += pause_us[0];
        printer.print(300, |row| !(1200..1200 + lost).contains(&row));
        printer.host_us += pause_us[1];
        let (_, events, assembler) = printer.ended();
        let told = events.iter().filter(|event| event.kind.name() == "without-readings").count();
        (told, assembler.counters().without_readings_ms)
    };
    assert_eq!(without([400e3, 500e3], 150), (0, 0));
    let (told, ms) = without([0.0, 7e6], 0);
    assert!(told == 1 && ms.abs_diff(7_000) < 10, "{told} {ms}");
    let (told, ms) = without([3e6, 7e6], 150);
    assert!(told == 2 && ms.abs_diff(10_000) < 20, "{told} {ms}");
}

/// Found: rows of a box that was reset within its first two seconds had the numbers and clocks of rows that were
/// written already, were said to have come twice, and all later ones were placed too early.
#[test]
fn a_reset_in_the_first_seconds_of_a_box_that_counts_no_boots_joins_nothing() {
    let mut printer = Printer::begun(1.0);
    for (rows, later_us) in [(10, 0.0), (50, 137.0), (400, 0.0)] {
        printer.print(rows, |_| true);
        printer.host_us += 300_000.0;
        (printer.row, printer.power_up_us) = (0, printer.host_us - later_us);
    }
    let (rows, events, assembler) = printer.ended();
    assert_eq!(kinds(&events), ["first-row", "restart", "restart", "ended"]);
    assert_eq!((assembler.counters().rows_duplicate, assembler.counters().resets), (0, 2));
    assert!(rows.len() == 460 && strictly_rising(&rows), "{}", rows.len());
    let pause_us = rows[60].t_us - rows[59].t_us;
    assert!(pause_us.abs_diff(310_000) < 6_000, "{pause_us}");
}

/// Found by simulation: the first row after the hello waits for the next one; sampled before the run began, it was
/// placed at its beginning, and all later rows came too late by what it was early, for minutes.
#[test]
fn a_row_from_before_the_run_does_not_push_the_others_back() {
    let mut said = hello(7);
    said.row_rate_mhz = 1_000;
    let mut records = vec![Record { host_us: 1, what: WireEvent::PortOpened("port".to_owned()) }];
    let mut record = |host_us, what| records.push(Record { host_us, what });
    record(2_000, WireEvent::Received(lines(&Frame::Hello(said))));
    for row in 1..60u32 {
        if row == 2 {
            record(1_900_000, WireEvent::Started);
        }
        let [pull, depth] = counts(row);
        let line = nmea_line(&format!("PHTWR,{row},{},{pull},{depth}", row * 1_000_000));
        record(u64::from(row) * 1_000_000, WireEvent::Received(line.into_bytes()));
    }
    let (rows, _, assembler) = assemble(&records);
    assert!(is_row(&rows[0], 2));
    assert_eq!(assembler.counters().rows_before_start, 1);
    let late = |row: &Row, number: u64| row.t_us.abs_diff(number * 1_000_000 - 1_900_000);
    assert!(late(&rows[0], 2) < 1_000 && late(&rows[50], 52) < 1_000, "{} {}", rows[0].t_us, rows[50].t_us);
}

/// Found by simulation: the first rows after a reset that no boot number tells were lost and not counted.
#[test]
fn rows_lost_right_after_a_restart_are_counted() {
    let mut printer = Printer::begun(1.0);
    printer.print(500, |_| true);
    printer.host_us += 300_000.0;
    (printer.row, printer.power_up_us) = (0, printer.host_us);
    printer.print(300, |row| row >= 3);
    let (rows, events, assembler) = printer.ended();
    assert_eq!(kinds(&events), ["first-row", "restart", "gap", "ended"]);
    assert_eq!((rows.len(), assembler.counters().rows_lost), (797, 3));
}

/// Found by simulation: after a sleep of the computer, a box that answers no ping was said to run apart, as an arrival
/// from before the sleep was held against one after it.
#[test]
fn a_computer_that_slept_is_no_clock_that_runs_apart() {
    // At every place of the second whose quickest arrival is looked for.
    for before in 300..400 {
        let mut printer = Printer::begun(1.0);
        printer.print(before, |_| true);
        (printer.row, printer.power_up_us) = (printer.row + 6_000, printer.power_up_us - 60e6);
        printer.record(0.0, WireEvent::ClockStep { step_us: 60_000_000 });
        printer.print(300, |_| true);
        let (_, events, assembler) = printer.ended();
        assert_eq!(kinds(&events), ["first-row", "clock-step", "gap", "ended"], "after {before} rows");
        assert_eq!(assembler.counters().rows_lost, 6_000);
    }
}

/// Rows once a second of a box that prints, with hello before the first; each at its host time.
fn slow_rows(script: &mut Script, rows: impl IntoIterator<Item = (u32, bool)>) {
    for (row, with_all_channels) in rows {
        let [pull, depth] = counts(row);
        let third = if with_all_channels { "" } else { ",5" };
        let body = format!("PHTWR,{row},{},{pull},{depth}{third}", row * 1_000_000);
        script.host_us += 1_000_000 - 1;
        script.record(WireEvent::Received(nmea_line(&body).into_bytes()));
    }
}

fn slow_hello() -> Vec<u8> {
    let mut said = hello(7);
    said.row_rate_mhz = 1_000;
    lines(&Frame::Hello(said))
}

/// Found: the first row of a boot is held until the next one comes; where that one was refused, the first one's late
/// arrival was taken for all that is known of the clock, which then seemed to run apart.
#[test]
fn a_row_that_was_held_says_nothing_of_the_clock_by_its_arrival() {
    let mut script = Script::bare();
    script.record(WireEvent::PortOpened("port".to_owned()));
    script.record(WireEvent::Received(slow_hello()));
    script.record(WireEvent::Started);
    slow_rows(&mut script, (0..40).map(|row| (row, row != 1)));
    script.record(WireEvent::Ended("test".to_owned()));
    let (rows, events, assembler) = assemble(&script.records);
    assert_eq!(kinds(&events), ["first-row", "gap", "refused", "ended"]);
    assert_eq!((rows.len(), assembler.clock().apart), (39, None));
}

/// Found: a row from before the run that was held until one of the run came was taken for a row of the run, and what was
/// lost between the two for a loss of the run.
#[test]
fn a_held_row_from_before_the_run_is_none_of_it() {
    let mut script = Script::bare();
    script.record(WireEvent::PortOpened("port".to_owned()));
    script.record(WireEvent::Received(slow_hello()));
    slow_rows(&mut script, [(0, true)]);
    // Row 1 is lost.
    script.host_us += 1_200_000;
    script.record(WireEvent::Started);
    script.host_us -= 200_000;
    slow_rows(&mut script, (2..5).map(|row| (row, true)));
    script.record(WireEvent::Ended("test".to_owned()));
    let (rows, events, assembler) = assemble(&script.records);
    assert_eq!(kinds(&events), ["first-row", "ended"]);
    assert_eq!(events[0].detail, "row=2");
    let counters = assembler.counters();
    assert_eq!((rows.len(), counters.rows_lost, counters.rows_before_start), (3, 0, 1));
}
