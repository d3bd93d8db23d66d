//! A logger's file: read, or refused in one line that says where and what to do; what was read is what a run can hold,
//! and is cut into passes.

#[path = "../../../analysis/src/command/import/clock.rs"]
mod clock;
#[path = "../../../analysis/src/codes.rs"]
mod codes;
#[path = "../../../analysis/src/command/import/columns.rs"]
mod columns;
#[path = "../../../analysis/src/command/import/head.rs"]
mod head;
#[path = "../../../analysis/src/command/import/logger_file.rs"]
mod logger_file;
#[path = "../../../analysis/src/command/import/own.rs"]
mod own;
#[path = "../../../analysis/src/command/import/pieces.rs"]
mod pieces;
#[path = "../../../analysis/src/command/import/stamp.rs"]
mod stamp;

use columns::Columns;
use ingest::csv_text::{push_row, rows_header};
use ingest::plow::{Plow, read_plow_text};
use logger_file::{LoggerFault, read_rows};
use std::io::Cursor;
use std::path::Path;
use std::sync::LazyLock;

static PLOW: LazyLock<Plow> = LazyLock::new(|| {
    let text = include_str!("../../../sample-runs/plows/two-bottom.toml");
    read_plow_text(text, Path::new("two-bottom.toml")).unwrap_or_else(|error| panic!("{error}"))
});

/// The first byte says how the rest is read: bit by bit semicolons, decimal commas, 50 rows a second and no column of
/// times, times in ms, other units; then times of day, a line to skip, a line of units. A decimal comma cannot stand between
/// commas: that pair of bits is a column of the user's own, whose unit a line of units says, if there is one.
pub fn body(data: &[u8]) {
    let Some((how, file)) = data.split_first() else { return };
    let bit = |number: u8| how & (1 << number) != 0;
    let (time, pull) =
        (if bit(3) { "t_s=t:ms" } else { "t_s=t" }, if bit(4) { "pull_n=f:kN" } else { "pull_n=f" });
    let own = if bit(7) { "own_o=o" } else { "own_o=o:1/min" };
    let mapped = [(!bit(2), time), (true, pull), (true, "depth_mm=d"), (bit(1) && !bit(0), own)];
    let mapped: Vec<String> =
        mapped.iter().filter(|(is_wanted, _)| *is_wanted).map(|(_, column)| (*column).to_owned()).collect();
    let separator = if bit(0) { ';' } else { ',' };
    let columns = Columns::of(&mapped, bit(2).then_some(50.0), separator, bit(1) && bit(0));
    let columns = columns.unwrap_or_else(|why| panic!("{why}"));
    let columns = match if bit(5) { columns.with_time_format("time-of-day") } else { Ok(columns) } {
        Ok(columns) => Columns { skip_rows: u64::from(bit(6)), units_row: bit(7), ..columns },
        Err(why) => {
            assert!(why.contains(if bit(2) { "--rate" } else { "no unit" }), "{why}");
            return;
        }
    };
    let lines = file.iter().filter(|byte| matches!(byte, b'\n' | b'\r')).count() as u64 + 1;
    let imported = match read_rows(Cursor::new(file), &columns) {
        Ok(imported) => imported,
        Err(fault) => {
            let said = fault.to_string();
            assert!(said.lines().count() == 1 && said.chars().count() < 2_000, "not a sentence: {said:?}");
            if let LoggerFault::Line { line, why } = fault {
                assert!((1..=lines).contains(&line), "there is no line {line} of {lines}: {said}");
                // What is shown of a cell stands in the line, or in one of the lines that it goes on in.
                if let Some((shown, _)) = why.strip_prefix('\'').and_then(|rest| rest.split_once('\'')) {
                    let text = String::from_utf8_lossy(file).replace("\r\n", "\n").replace('\r', "\n");
                    let rest: String =
                        text.split('\n').skip(line as usize - 1).take(1 + cell_lines(file)).collect();
                    // A quotation mark may stand between the bytes of one letter: of ASCII alone it is certain what it is.
                    let plain = |text: &str| {
                        text.chars().filter(|c| c.is_ascii_graphic() && *c != '"').collect::<String>()
                    };
                    assert!(plain(&rest).contains(&plain(shown)), "{shown:?} is not in line {line}: {said}");
                }
                assert!(why.contains([';', ':', '?']), "it does not say what to do: {said}");
            }
            return;
        }
    };
    let described = match own::described(&columns, &imported, &PLOW) {
        Ok((described, ..)) => described,
        Err(why) => {
            assert!(why.contains("own_o (o)") && why.lines().count() == 1, "not a sentence: {why:?}");
            return;
        }
    };
    let (rows, roles) = (imported.rows, columns.roles());
    assert!((rows.len() + imported.left_out) as u64 <= lines, "more rows than lines");
    assert!(!rows.is_empty() && rows.is_sorted_by(|a, b| a.t_us < b.t_us), "time does not rise");
    assert!(bit(2) || rows[0].t_us == 0, "a run begins at 0");
    for row in &rows {
        let (known, own) = row.values().split_at(roles.len().min(row.values().len()));
        let numbers = known.iter().all(|value| value.is_finite()) && !own.iter().any(|own| own.is_infinite());
        assert!(row.values().len() == described.count() && numbers, "not a row: {row:?}");
    }
    let found = pieces::passes_of(&PLOW, &roles, &rows);
    let inside = found.passes.iter().all(|piece| piece.start < piece.end && piece.end <= rows.len());
    assert!(inside && found.passes.is_sorted_by(|a, b| a.end <= b.start), "{found:?} of {}", rows.len());
    // As a run has it, it is read again.
    let mut text = rows_header(&described);
    rows.iter().for_each(|row| push_row(row, &described, &mut text));
    let same: Vec<String> =
        std::iter::once("t_s").chain(described.names()).map(|name| format!("{name}={name}")).collect();
    let again = Columns::of(&same, None, ',', false).map(|columns| read_rows(Cursor::new(&text), &columns));
    let Ok(Ok(again)) = again else { panic!("a run's own table is refused: {again:?}") };
    let since =
        |rows: &[ingest::assemble::Row]| rows.iter().map(|row| row.t_us - rows[0].t_us).collect::<Vec<_>>();
    assert_eq!(since(&again.rows), since(&rows));
    for (before, after) in rows.iter().zip(&again.rows) {
        assert_eq!(before.values().len(), after.values().len());
        for (before, after) in before.values().iter().zip(after.values()) {
            let is_none = before.is_nan() && after.is_nan();
            let is_same = is_none || (before - after).abs() <= 0.006 + 1e-9 * before.abs();
            assert!(is_same, "{before} became {after}");
        }
    }
}

/// Line ends that can stand in quoted cells.
fn cell_lines(file: &[u8]) -> usize {
    if file.contains(&b'"') { file.iter().filter(|byte| matches!(byte, b'\n' | b'\r')).count() } else { 0 }
}
