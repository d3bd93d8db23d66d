//! A logger's file: its rows, in the columns and units of a run.

use super::columns::{Columns, Source, Time};
use ingest::assemble::Row;
use ingest::description_file::{UTF16_SENTENCE, is_utf16};
use std::io::{self, BufReader, Read, Seek};

/// Of the names of a file's columns so many are told, each up to so many characters.
const NAMES_TOLD: usize = 30;
const CHARS_TOLD: usize = 40;

/// Why a file cannot be read. Each is one sentence, which says what to do.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[allow(missing_docs, reason = "the sentences say what they are")]
pub enum LoggerFault {
    #[error("line {line}: {why}")]
    Line { line: u64, why: String },
    #[error("{0}")]
    File(String),
}

/// What the file had.
#[derive(Debug, Default, PartialEq)]
pub struct Imported {
    /// Its rows, in run time: it begins at 0 and rises.
    pub rows: Vec<Row>,
    /// Rows without a number in every wanted column.
    pub left_out: usize,
}

/// One column of the file: its place, and its unit in the run column's.
#[derive(Clone, Copy)]
struct Cell {
    place: usize,
    factor: f64,
}

/// Where time and readings of a row are found.
struct Places {
    time: TimePlace,
    readings: Vec<Cell>,
    decimal_comma: bool,
}

enum TimePlace {
    Cell(Cell),
    Rate(f64),
}

/// All rows that have a number in every wanted column. An empty cell or NaN leaves its row out, which is
/// then a gap; anything else that is no number, and infinity, is an error with its line.
///
/// # Errors
/// [`LoggerFault`].
pub fn read_rows(mut file: impl Read + Seek, columns: &Columns) -> Result<Imported, LoggerFault> {
    rows_in(&mut file, columns).map_err(|fault| match fault {
        Unplaced::At(position, why) => match line_at(&mut file, &position) {
            Ok(line) => LoggerFault::Line { line, why },
            // A pipe cannot be read again.
            Err(_) => LoggerFault::File(format!("near line {}: {why}", position.line())),
        },
        Unplaced::File(why) => LoggerFault::File(why),
    })
}

/// A fault, its place as the reader of CSV knows it: where it began to look for the row, empty lines before it included.
enum Unplaced {
    At(csv::Position, String),
    File(String),
}

fn rows_in(file: impl Read, columns: &Columns) -> Result<Imported, Unplaced> {
    let mut reader =
        csv::ReaderBuilder::new().delimiter(columns.separator).trim(csv::Trim::All).from_reader(file);
    let header = reader.byte_headers().map_err(|error| of_csv(&error))?.clone();
    let places = places(&header, columns)?;
    let mut imported = Imported::default();
    let mut clock = Clock::default();
    let mut record = csv::ByteRecord::new();
    for index in 0u64.. {
        if !reader.read_byte_record(&mut record).map_err(|error| of_csv(&error))? {
            break;
        }
        let at = |why: String| Unplaced::At(place_of(&record), why);
        match places.row(&record, index).map_err(at)? {
            None => imported.left_out += 1,
            Some((t_s, values)) => {
                let mut row = Row::at(clock.next_us(t_s).map_err(at)?);
                values.into_iter().for_each(|value| row.push(value));
                imported.rows.push(row);
            }
        }
    }
    if imported.rows.is_empty() {
        return Err(Unplaced::File(
            "no row has a number in every wanted column: are they the right columns?".to_owned(),
        ));
    }
    Ok(imported)
}

fn place_of(record: &csv::ByteRecord) -> csv::Position {
    record.position().cloned().unwrap_or_else(csv::Position::new)
}

/// The line of the first byte from this place on that ends no line. A line ends with a line feed, a carriage return, or
/// both.
fn line_at(file: &mut (impl Read + Seek), position: &csv::Position) -> io::Result<u64> {
    file.rewind()?;
    let (mut line, mut before) = (1, 0);
    for (place, byte) in (0u64..).zip(BufReader::new(file).bytes()) {
        let byte = byte?;
        let ends = matches!(byte, b'\r' | b'\n');
        if place >= position.byte() && !ends {
            break;
        }
        line += u64::from(ends && (before, byte) != (b'\r', b'\n'));
        before = byte;
    }
    Ok(line)
}

fn places(header: &csv::ByteRecord, columns: &Columns) -> Result<Places, Unplaced> {
    if is_utf16(header.as_slice()) {
        return Err(Unplaced::File(UTF16_SENTENCE.to_owned()));
    }
    let names: Vec<String> = header.iter().map(clean_name).collect();
    if names.iter().all(String::is_empty) {
        return Err(Unplaced::File(
            "the first line has no names of columns: is it the right file?".to_owned(),
        ));
    }
    let cell = |source: &Source| {
        let named = |(_, name): &(usize, &String)| **name == source.name;
        let found: Vec<usize> = names.iter().enumerate().filter(named).map(|(place, _)| place).collect();
        let why = match found.as_slice() {
            [place] => return Ok(Cell { place: *place, factor: source.factor }),
            [] => {
                let hint = if names.len() == 1 {
                    "; is another sign between its columns? See --separator"
                } else {
                    ""
                };
                format!("there is no column '{}' (columns: {}){hint}", source.name, told(&names))
            }
            many => format!(
                "the column '{}' stands there {} times; rename all but the one that is meant",
                source.name,
                many.len()
            ),
        };
        Err(Unplaced::At(place_of(header), why))
    };
    let time = match &columns.time {
        Time::Column(source) => TimePlace::Cell(cell(source)?),
        Time::Rate(rate) => TimePlace::Rate(*rate),
    };
    let readings = columns.readings.iter().map(|(_, source)| cell(source)).collect::<Result<_, _>>()?;
    Ok(Places { time, readings, decimal_comma: columns.decimal_comma })
}

fn told(names: &[String]) -> String {
    let short = |name: &String| name.chars().take(CHARS_TOLD).collect::<String>();
    let shown: Vec<String> = names.iter().take(NAMES_TOLD).map(short).collect();
    let more = names.len().saturating_sub(NAMES_TOLD);
    let more = if more > 0 { format!(" and {more} more") } else { String::new() };
    format!("{}{more}", shown.join(", "))
}

impl Places {
    /// Time and readings of a row, `None` if one of them is missing.
    fn row(&self, record: &csv::ByteRecord, index: u64) -> Result<Option<(f64, Vec<f64>)>, String> {
        let read = |cell: &Cell| {
            let value = number(record.get(cell.place).unwrap_or(&[]), self.decimal_comma)?;
            let value = value.map(|value| value * cell.factor);
            match value.filter(|value| !value.is_finite()) {
                Some(_) => Err("a number is too large: is it in that unit?".to_owned()),
                None => Ok(value),
            }
        };
        let t_s = match &self.time {
            TimePlace::Cell(cell) => read(cell)?,
            TimePlace::Rate(rate) => Some(index as f64 / rate),
        };
        let values = self.readings.iter().map(read).collect::<Result<Option<Vec<f64>>, _>>()?;
        Ok(t_s.zip(values))
    }
}

/// The file's time as run time, which starts at 0 and only rises.
#[derive(Default)]
struct Clock {
    first_s: Option<f64>,
    before_us: Option<u64>,
}

impl Clock {
    fn next_us(&mut self, t_s: f64) -> Result<u64, String> {
        let since_s = t_s - *self.first_s.get_or_insert(t_s);
        let us = (since_s * 1e6).round();
        if let Some(before_us) = self.before_us.filter(|before| us <= *before as f64) {
            let before_s = before_us as f64 / 1e6;
            return Err(format!(
                "time does not rise: {} s after {before_s} s since the first row; sort the rows by time, or take this \
                 one out",
                short(since_s)
            ));
        }
        // A day is more than any recording.
        if !(0.0..86_400.0 * 1e6).contains(&us) {
            return Err(format!(
                "{} s since the first row is more than a day: is the time in that unit?",
                short(since_s)
            ));
        }
        self.before_us = Some(us as u64);
        Ok(us as u64)
    }
}

/// A number of seconds, as short as it can be said.
fn short(seconds: f64) -> String {
    if seconds.abs() < 1e9 { seconds.to_string() } else { format!("{seconds:e}") }
}

fn clean_name(name: &[u8]) -> String {
    let name = String::from_utf8_lossy(name.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(name)).into_owned();
    name.chars().filter(|c| !c.is_control()).collect()
}

/// A finite number, `None` for an empty cell or NaN.
fn number(cell: &[u8], decimal_comma: bool) -> Result<Option<f64>, String> {
    let text = std::str::from_utf8(cell)
        .map_err(|_| "a cell is not text: save the file as UTF-8".to_owned())?
        .trim();
    if text.is_empty() || text.eq_ignore_ascii_case("nan") {
        return Ok(None);
    }
    let shown: String = text.chars().filter(|c| !c.is_control()).take(24).collect();
    let plain = if decimal_comma { text.replace(',', ".") } else { text.to_owned() };
    let hint = if text.contains(',') && !decimal_comma {
        " (decimal comma? see --decimal-comma)"
    } else {
        ": correct it, or leave the cell empty for a gap"
    };
    let value: f64 = plain.parse().map_err(|_| format!("'{shown}' is not a number{hint}"))?;
    if value.is_finite() { Ok(Some(value)) } else { Err(format!("'{shown}' is not a finite number{hint}")) }
}

/// What the reader of CSV says.
fn of_csv(error: &csv::Error) -> Unplaced {
    match error.kind() {
        csv::ErrorKind::UnequalLengths { pos, expected_len, len } => Unplaced::At(
            pos.clone().unwrap_or_else(csv::Position::new),
            format!("{len} cells where the header has {expected_len}: correct the line, or take it out"),
        ),
        csv::ErrorKind::Io(cause) => Unplaced::File(cause.to_string()),
        _ => Unplaced::File(error.to_string()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cells_are_numbers_gaps_or_errors() {
        assert_eq!(number(b" 1.5 ", false), Ok(Some(1.5)));
        assert_eq!(number(b"1,5", true), Ok(Some(1.5)));
        assert_eq!(number(b"", false), Ok(None));
        assert_eq!(number(b"NaN", false), Ok(None));
        for wrong in [&b"inf"[..], b"1e400", b"abc", b"1,5", b"\xff"] {
            assert!(number(wrong, false).is_err());
        }
    }

    fn fault(text: &str, columns: &[&str]) -> String {
        let columns: Vec<String> = columns.iter().map(|column| (*column).to_owned()).collect();
        let columns = Columns::of(&columns, None, ',', false).unwrap();
        read_rows(io::Cursor::new(text), &columns).unwrap_err().to_string()
    }

    #[test]
    fn faults_say_the_line_and_what_to_do() {
        let columns = ["t_s=T", "pull_n=F:kN"];
        let wide: String = (0..200).map(|number| format!("a column {number},")).collect();
        for (text, parts) in [
            ("T,F\n0,1\n1,1e306\n", &["line 3", "unit"][..]),
            ("T,F\n0,1\n1e300,1\n", &["line 3", "1e300 s", "unit"]),
            ("T,F\n0,1\n\n1,x\n", &["line 4", "'x'", "empty"]),
            // Lines as very old computers end them.
            ("T,F\r0,1\r1,x\r", &["line 3", "'x'"]),
            ("T,F\r0,1\r1\r", &["line 3", "1 cells", "take it out"]),
            ("T,F\r\n0,1\r\n1,x\r\n", &["line 3", "'x'"]),
            ("\u{feff}T,F\r\n0,1\r\n\r\n\r\n1,x", &["line 5", "'x'"]),
            ("\n\nT,G\n0,1\n", &["line 3", "no column 'F'"]),
            ("T,F\n0,\"1\n\"\n1,x\n", &["line 4", "'x'"]),
            ("\n\n", &["names of columns"]),
            (&wide, &["line 1", "no column 'T'", "a column 29 and 171 more"]),
        ] {
            let said = fault(text, &columns);
            assert!(parts.iter().all(|part| said.contains(part)) && said.len() < 700, "{text:.40}: {said}");
        }
    }
}
