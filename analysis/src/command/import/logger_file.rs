//! A logger's file: its rows, in the columns and units of a run.

use super::clock::{Clock, Place};
use super::codes::{Code, Ends, Missing};
use super::columns::{Columns, Time};
use super::head::{Cell, Head, Places, TimePlace, Unplaced, of_csv, place_of, places};
use super::stamp::{Stamp, TimeFormat};
use ingest::assemble::Row;
use jiff::civil::DateTime;
use std::io::{self, BufRead, BufReader, Read, Seek};

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
    /// What was taken without being typed: a sentence each.
    pub taken: Vec<String>,
    /// Of each reading, and of the time: no unit of it is said anywhere, so it was read in the run's.
    pub no_unit: (Vec<bool>, bool),
    /// How long one of the time column's unit is, in s; `None` without such a column, and of stamps.
    pub time_unit_s: Option<f64>,
    /// Of each of the user's own columns: the unit that the file says, where none was typed.
    pub own_units: Vec<Option<String>>,
    /// The first stamp, where the file has dates: by the logger's clock, and how far that goes east of Greenwich in s.
    pub began: Option<(DateTime, Option<i32>)>,
    /// Numbers that look like codes for a missing reading, each with the name of its column and its first line.
    pub codes: Vec<(String, Code<u64>)>,
}

/// A time, and the stamp it was read from.
type TimeRead = (f64, Option<Stamp>);

/// All rows that have a number in every wanted column. An empty cell or NaN leaves its row out, which is
/// then a gap; anything else that is no number, and infinity, is an error with its line.
///
/// # Errors
/// [`LoggerFault`].
pub fn read_rows(mut file: impl Read + Seek, columns: &Columns) -> Result<Imported, LoggerFault> {
    let read = rows_in(&mut file, columns).map_err(|fault| match fault {
        Unplaced::At(position, why) => match line_at(&mut file, &position) {
            Ok(line) => LoggerFault::Line { line, why },
            // A pipe cannot be read again.
            Err(_) => LoggerFault::File(format!("near line {}: {why}", position.line())),
        },
        Unplaced::File(why) => LoggerFault::File(why),
    });
    let (mut imported, codes) = read?;
    let lined = |(column, Code { value, rows, first, others }): (String, Code<Place>)| {
        let first = line_at(&mut file, &first).unwrap_or_else(|_| first.line());
        (column, Code { value, rows, first, others })
    };
    imported.codes = codes.into_iter().map(lined).collect();
    Ok(imported)
}

/// Codes, each with the name of its column and its place.
type CodesPlaced = Vec<(String, Code<Place>)>;

fn rows_in(file: impl Read, columns: &Columns) -> Result<(Imported, CodesPlaced), Unplaced> {
    let mut file = BufReader::new(file);
    let skipped = skip_lines(&mut file, columns.skip_rows)?;
    let mut reader =
        csv::ReaderBuilder::new().delimiter(columns.separator).trim(csv::Trim::All).from_reader(file);
    let fault = |fault: Unplaced| match fault {
        Unplaced::At(place, why) => Unplaced::At(skipped.before(&place), why),
        file @ Unplaced::File(_) => file,
    };
    let mut imported = Imported::default();
    let Head { places, taken, no_unit, own_units } = places(&mut reader, columns).map_err(fault)?;
    (imported.taken, imported.no_unit, imported.own_units) = (taken, no_unit, own_units);
    if let TimePlace::Cell(cell) = &places.time {
        imported.time_unit_s = Some(cell.factor);
    }
    let daily = columns.time_format.as_ref().is_some_and(TimeFormat::is_daily);
    let mut clock = Clock::new(daily, matches!(columns.time, Time::Column(_)));
    let ends = rows_of(&mut reader, &places, &mut clock, &mut imported).map_err(fault)?;
    if imported.rows.is_empty() {
        return Err(Unplaced::File(
            "no row has a number in every wanted column: are they the right columns?".to_owned(),
        ));
    }
    let said = clock.settle(&mut imported.rows).map_err(|(place, why)| fault(Unplaced::At(place, why)))?;
    imported.taken.extend(said);
    let of_column = |(name, ends): (String, Ends<Place>)| {
        ends.codes().into_iter().map(move |code| (name.clone(), code)).collect::<Vec<_>>()
    };
    let mut codes: CodesPlaced = columns.names().zip(ends).flat_map(of_column).collect();
    codes.retain(|_| !columns.missing.no_more);
    codes.iter_mut().for_each(|(_, code)| code.first = skipped.before(&code.first));
    Ok((imported, codes))
}

fn rows_of(
    reader: &mut csv::Reader<impl Read>,
    places: &Places,
    clock: &mut Clock,
    imported: &mut Imported,
) -> Result<Vec<Ends<Place>>, Unplaced> {
    let mut record = csv::ByteRecord::new();
    let mut ends = vec![Ends::default(); places.readings.len() + places.own.len()];
    for index in 0u64.. {
        if !reader.read_byte_record(&mut record).map_err(|error| of_csv(&error))? {
            break;
        }
        let place = place_of(&record);
        let at = |why: String| Unplaced::At(place.clone(), why);
        let units = |why: String| {
            let words = index == 0 && !record.iter().any(|cell| cell.iter().any(u8::is_ascii_digit));
            at(if words { format!("{why}; is it a line of units? See --units-row") } else { why })
        };
        let (time, values) = places.row((&record, &place), index, &mut ends).map_err(units)?;
        let kept = values.filter(|_| time.is_some());
        imported.left_out += usize::from(kept.is_none());
        let Some((t_s, stamp)) = time else { continue };
        let t_us = clock.next_us(t_s, &place, kept.is_some()).map_err(at)?;
        if let Some(values) = kept {
            if imported.rows.is_empty() {
                imported.began = stamp.and_then(|stamp| stamp.began());
            }
            let mut row = Row::at(t_us);
            values.into_iter().for_each(|value| row.push(value));
            imported.rows.push(row);
        }
    }
    Ok(ends)
}

/// What was skipped at the begin of a file.
struct Skipped {
    bytes: u64,
    lines: u64,
}

impl Skipped {
    /// The place in the whole file of one after what was skipped.
    fn before(&self, place: &Place) -> Place {
        let mut whole = place.clone();
        whole.set_byte(place.byte() + self.bytes).set_line(place.line() + self.lines);
        whole
    }
}

/// Skips so many lines, as a person counts them.
fn skip_lines(file: &mut impl BufRead, lines: u64) -> Result<Skipped, Unplaced> {
    let mut skipped = Skipped { bytes: 0, lines: 0 };
    let mut after_return = false;
    loop {
        let next = file.fill_buf().map_err(|cause| Unplaced::File(cause.to_string()))?.first().copied();
        let rest_of_end = after_return && next == Some(b'\n');
        if skipped.lines == lines && !rest_of_end {
            return Ok(skipped);
        }
        let Some(byte) = next else {
            let had = skipped.lines;
            return Err(Unplaced::File(format!("--skip-rows skips {lines} lines, and the file has {had}")));
        };
        file.consume(1);
        skipped.bytes += 1;
        skipped.lines += u64::from(matches!(byte, b'\r' | b'\n') && !rest_of_end);
        after_return = byte == b'\r';
    }
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

impl Places {
    /// Time and readings of a row, each `None` if something of it is missing. One of the user's own that is missing is NaN:
    /// the row stands without it.
    #[allow(clippy::type_complexity, reason = "both are taken apart at once")]
    fn row(
        &self,
        (record, at): (&csv::ByteRecord, &Place),
        index: u64,
        ends: &mut [Ends<Place>],
    ) -> Result<(Option<TimeRead>, Option<Vec<f64>>), String> {
        let cell_of = |cell: &Cell| record.get(cell.place).unwrap_or(&[]);
        let in_unit = |cell: &Cell, value: Option<f64>| {
            let value = value.map(|value| value * cell.factor);
            match value.filter(|value| !value.is_finite()) {
                Some(_) => Err("a number is too large: is it in that unit?".to_owned()),
                None => Ok(value),
            }
        };
        let time = match &self.time {
            TimePlace::Cell(cell) => {
                let value = number(cell_of(cell), self.decimal_comma, &Missing::default());
                value.and_then(|value| in_unit(cell, value)).map_err(of_time)?.map(|t_s| (t_s, None))
            }
            TimePlace::Stamp(places, format) => stamp(record, places, format)?,
            TimePlace::Rate(rate) => Some((index as f64 / rate, None)),
        };
        let mut ends = ends.iter_mut();
        let mut read = |cell: &Cell| {
            let value = number(cell_of(cell), self.decimal_comma, &self.missing)?;
            if let Some((value, ends)) = value.zip(ends.next()) {
                ends.take(value, at);
            }
            in_unit(cell, value)
        };
        let values = self.readings.iter().map(&mut read).collect::<Result<Vec<_>, _>>()?;
        let own = self.own.iter().map(|cell| Ok(read(cell)?.unwrap_or(f64::NAN)));
        let own = own.collect::<Result<Vec<f64>, String>>()?;
        let values = values.into_iter().collect::<Option<Vec<f64>>>();
        Ok((time, values.map(|values| [values, own].concat())))
    }
}

/// What is wrong with a number that is to be a time; with a colon in it, it is a time of another kind.
fn of_time(why: String) -> String {
    let cell = why.strip_prefix('\'').and_then(|rest| rest.split_once('\'')).map_or("", |(cell, _)| cell);
    match cell.contains(':') {
        true => format!("'{cell}' is not a number of seconds: a date or a time of day? See --time-format"),
        false => why,
    }
}

fn stamp(
    record: &csv::ByteRecord,
    places: &[usize],
    format: &TimeFormat,
) -> Result<Option<TimeRead>, String> {
    let cells = places.iter().map(|place| std::str::from_utf8(record.get(*place).unwrap_or(&[])));
    let cells = cells.collect::<Result<Vec<_>, _>>().map_err(|_| NOT_TEXT.to_owned())?;
    if cells.iter().any(|cell| cell.trim().is_empty()) {
        return Ok(None);
    }
    let text = cells.join(" ");
    let stamp = format.read(&text).ok_or_else(|| format!("'{}' {}", shown(&text), format.wanted()))?;
    Ok(Some((stamp.seconds(), Some(stamp))))
}

fn shown(cell: &str) -> String {
    cell.chars().filter(|c| !c.is_control()).take(24).collect()
}

const NOT_TEXT: &str = "a cell is not text: save the file as UTF-8";

/// A finite number, `None` for an empty cell, NaN and what stands for a missing reading.
fn number(cell: &[u8], decimal_comma: bool, missing: &Missing) -> Result<Option<f64>, String> {
    let text = std::str::from_utf8(cell).map_err(|_| NOT_TEXT.to_owned())?.trim();
    if text.is_empty() || text.eq_ignore_ascii_case("nan") || missing.is_text(text) {
        return Ok(None);
    }
    let shown = shown(text);
    let plain = if decimal_comma { text.replace(',', ".") } else { text.to_owned() };
    let hint = if text.contains(',') && !decimal_comma {
        " (decimal comma? see --decimal-comma)"
    } else {
        ": correct it, or leave the cell empty for a gap (a word for it: --missing-value)"
    };
    let value: f64 = plain.parse().map_err(|_| format!("'{shown}' is not a number{hint}"))?;
    if missing.is_number(value) {
        return Ok(None);
    }
    if value.is_finite() { Ok(Some(value)) } else { Err(format!("'{shown}' is not a finite number{hint}")) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cells_are_numbers_gaps_or_errors() {
        let none = Missing::default();
        assert_eq!(number(b" 1.5 ", false, &none), Ok(Some(1.5)));
        assert_eq!(number(b"1,5", true, &none), Ok(Some(1.5)));
        assert_eq!(number(b"", false, &none), Ok(None));
        assert_eq!(number(b"NaN", false, &none), Ok(None));
        for wrong in [&b"inf"[..], b"1e400", b"abc", b"1,5", b"\xff"] {
            assert!(number(wrong, false, &none).is_err());
        }
        let missing = Missing::of(&["-9999".to_owned(), "ERR".to_owned(), "1,5".to_owned()], true);
        for gap in [&b"-9999"[..], b" -9999,00", b"-9.999e3", b"ERR", b"1,50"] {
            assert_eq!(number(gap, true, &missing), Ok(None));
        }
        assert_eq!(number(b"9999", true, &missing), Ok(Some(9999.0)));
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
