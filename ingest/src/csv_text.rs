//! Rows and events as lines of CSV (RFC 4180, with LF line ends, said so in `datapackage.json`).
//!
//! Decimals are fixed a column, finer than any sensor that could fill it: `t_s` 6 (µs), forces 2,
//! `tail_mm` 4, `depth_mm` and `front_height_mm` 3, `speed_mps` 4, `pitch_deg` and `drawbar_deg` 4; of a GNSS
//! receiver `lat_deg` and `lon_deg` 7 (1 cm), `speed_mps` 3, `course_deg` 2. Fixed ones keep files small and make
//! two rebuilds byte for byte equal. A column of the user's own has twelve significant digits, and an empty cell where there
//! is no reading.

use crate::assemble::Row;
use crate::gnss::Fix;
use crate::own_column::OwnColumn;
use crate::row_columns::RowColumns;
use crate::run_event::RunEvent;
use std::fmt::Write;

/// First line of `events.csv`.
pub const EVENTS_HEADER: &str = "t_s,kind,detail\n";
/// First line of `gnss.csv`.
pub const FIXES_HEADER: &str = "t_s,lat_deg,lon_deg,speed_mps,course_deg\n";

/// First line of a box's file.
#[must_use]
pub fn rows_header(columns: &RowColumns) -> String {
    std::iter::once("t_s").chain(columns.names()).collect::<Vec<_>>().join(",") + "\n"
}

fn push_time(t_us: u64, out: &mut String) {
    // Writing to a String cannot fail.
    let _ = write!(out, "{}.{:06}", t_us / 1_000_000, t_us % 1_000_000);
}

/// Appends a row as a line.
pub fn push_row(row: &Row, columns: &RowColumns, out: &mut String) {
    push_time(row.t_us, out);
    let mut values = row.values().iter();
    for (role, value) in columns.roles.iter().zip(&mut values) {
        push_number(*value, role.decimals(), out);
    }
    for (_, value) in columns.own.iter().zip(values) {
        out.push(',');
        out.push_str(&OwnColumn::cell(*value));
    }
    out.push('\n');
}

/// Appends a fix as a line.
pub fn push_fix(fix: &Fix, out: &mut String) {
    push_time(fix.t_us, out);
    // What rounds up to a full turn is north.
    let course_deg = if fix.course_deg >= 359.995 { 0.0 } else { fix.course_deg };
    for (value, decimals) in
        [(fix.position.lat_deg, 7), (fix.position.lon_deg, 7), (fix.speed_mps, 3), (course_deg, 2)]
    {
        push_number(value, decimals, out);
    }
    out.push('\n');
}

fn push_number(value: f64, decimals: usize, out: &mut String) {
    out.push(',');
    let from = out.len();
    let _ = write!(out, "{value:.decimals$}");
    // "-0.00" is no reading: the sign of what was rounded away.
    let is_zero = out.get(from..).is_some_and(|cell| {
        cell.starts_with('-') && cell.bytes().all(|byte| matches!(byte, b'-' | b'0' | b'.'))
    });
    if is_zero {
        out.remove(from);
    }
}

/// Appends an event as a line; `of_box` names the box when a run has several.
pub fn push_event(event: &RunEvent, of_box: Option<&str>, out: &mut String) {
    push_time(event.t_us, out);
    let _ = write!(out, ",{},", event.kind.name());
    match of_box {
        Some(name) => push_cell(&format!("box={name}; {}", event.detail), out),
        None => push_cell(&event.detail, out),
    }
    out.push('\n');
}

/// A cell of text: control characters become blanks, quotes are doubled, and no cell begins with a
/// character that a spreadsheet takes for a formula.
fn push_cell(text: &str, out: &mut String) {
    let clean: String = text.chars().map(|c| if c.is_control() { ' ' } else { c }).collect();
    let formula = clean.trim_start().starts_with(['=', '+', '-', '@']);
    if formula || clean.contains(['"', ',']) {
        let mark = if formula { "'" } else { "" };
        let _ = write!(out, "\"{mark}{}\"", clean.replace('"', "\"\""));
    } else {
        out.push_str(&clean);
    }
}

/// Reads the lines of an `events.csv` as [`push_event`] writes them; lines that are none are skipped
/// and their numbers (from 1) returned.
#[must_use]
pub fn read_events(text: &str) -> (Vec<RunEvent>, Vec<usize>) {
    let mut events = Vec::new();
    let mut bad_lines = Vec::new();
    for (number, line) in (2..).zip(text.split_inclusive('\n').skip(1)) {
        // A line without its end is torn.
        let event = line.strip_suffix('\n').and_then(|line| read_event(line.trim_end_matches('\r')));
        match event {
            Some(event) => events.push(event),
            None => bad_lines.push(number),
        }
    }
    (events, bad_lines)
}

fn read_event(line: &str) -> Option<RunEvent> {
    let (time, rest) = line.split_once(',')?;
    let (kind, detail) = rest.split_once(',')?;
    let (whole, part) = time.split_once('.')?;
    let part = (part.len() == 6).then(|| part.parse::<u64>().ok())??;
    let t_us = whole.parse::<u64>().ok()?.checked_mul(1_000_000)?.checked_add(part)?;
    let detail = match detail.strip_prefix('"').and_then(|inner| inner.strip_suffix('"')) {
        Some(quoted) => quoted.replace("\"\"", "\""),
        None => detail.to_owned(),
    };
    Some(RunEvent { t_us, kind: kind.parse().ok()?, detail })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::gnss::Position;
    use crate::plow::ChannelRole;
    use crate::run_event::EventKind;
    use proptest::prelude::*;

    #[test]
    fn a_row_has_the_decimals_of_its_columns_and_no_minus_zero() {
        let columns = RowColumns::from([ChannelRole::Pull, ChannelRole::Tail, ChannelRole::Depth]);
        let mut row = Row::at(12_003_004);
        for value in [-0.001, 12.345_678, -149.999_9] {
            row.push(value);
        }
        let mut line = String::new();
        push_row(&row, &columns, &mut line);
        assert_eq!(rows_header(&columns), "t_s,pull_n,tail_mm,depth_mm\n");
        assert_eq!(line, "12.003004,0.00,12.3457,-150.000\n");
    }

    #[test]
    fn columns_of_ones_own_stand_behind_and_may_be_empty() {
        let own = ["engine speed", "draft angle"].map(|name| OwnColumn::new(name, "1/min").unwrap());
        let columns = RowColumns { roles: vec![ChannelRole::Pull], own: own.to_vec() };
        let mut text = rows_header(&columns);
        for values in [[5.0, 1500.25, f64::NAN], [6.0, f64::NAN, -1.5]] {
            let mut row = Row::at(0);
            values.into_iter().for_each(|value| row.push(value));
            push_row(&row, &columns, &mut text);
        }
        let expected =
            "t_s,pull_n,own_engine_speed,own_draft_angle\n0.000000,5.00,1500.25,\n0.000000,6.00,,-1.5\n";
        assert_eq!(text, expected);
        assert_eq!(RowColumns::of_header(text.lines().next().unwrap(), &own), columns);
    }

    #[test]
    fn a_fix_has_its_decimals_and_its_course_never_is_a_full_turn() {
        let position = Position { lat_deg: -30.000_000_04, lon_deg: -40.123_456_78 };
        let fix = Fix { t_us: 1_500_000, position, speed_mps: 1.600_4, course_deg: 359.996 };
        let mut line = FIXES_HEADER.to_owned();
        push_fix(&fix, &mut line);
        let expected =
            "t_s,lat_deg,lon_deg,speed_mps,course_deg\n1.500000,-30.0000000,-40.1234568,1.600,0.00\n";
        assert_eq!(line, expected);
    }

    #[test]
    fn text_from_outside_stays_one_harmless_cell() {
        let cell = |text: &str| {
            let mut out = String::new();
            push_cell(text, &mut out);
            out
        };
        assert_eq!(cell("gone, \"again\"\n\u{1b}[31m"), "\"gone, \"\"again\"\"  [31m\"");
        assert_eq!(cell("=1+1"), "\"'=1+1\"");
        assert_eq!(cell(" @x"), "\"' @x\"");
        assert_eq!(cell("rows=3"), "rows=3");
    }

    #[test]
    fn a_torn_event_is_not_read() {
        let (events, bad) = read_events("t_s,kind,detail\n1.000000,gap,rows=12\n1.500000,gap,rows=1");
        assert_eq!((events.len(), bad), (1, vec![3]));
    }

    proptest! {
        #[test]
        fn events_read_back(t_us in 0u64..1 << 50, detail in "[a-z][ -~é]{0,30}") {
            let event = RunEvent { t_us, kind: EventKind::PortGone, detail };
            let mut text = EVENTS_HEADER.to_owned();
            push_event(&event, None, &mut text);
            prop_assert_eq!(read_events(&text), (vec![event], vec![]));
        }
    }
}
