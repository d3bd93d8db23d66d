//! The rows of another logger's CSV, in the columns and units of a run.

use super::args::ImportArgs;
use super::outcome::CommandError;
use ingest::assemble::Row;
use ingest::plow::ChannelRole;
use signals::run::CSV_BYTES_MAX;
use std::path::Path;

/// Where a column of the run comes from.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Source {
    /// The column of the run; `None` for the time.
    pub role: Option<ChannelRole>,
    /// The column of the file.
    pub name: String,
    /// One of the file's unit, in the run column's unit.
    pub factor: f64,
}

/// What the file had.
#[derive(Debug, Default)]
pub(super) struct Imported {
    /// Its rows.
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
    time: Option<Cell>,
    /// Rows per second, where there is no time column.
    rate: Option<f64>,
    readings: Vec<Cell>,
    decimal_comma: bool,
}

/// All rows that have a number in every wanted column. An empty cell or NaN leaves its row out, which is
/// then a gap; anything else that is no number, and infinity, is an error with its line.
pub(super) fn read_rows(args: &ImportArgs, sources: &[Source]) -> Result<Imported, CommandError> {
    let path = &args.file;
    let here = |why: String| failed(path, &why);
    let bytes = std::fs::metadata(path).map_err(|cause| here(cause.to_string()))?.len();
    if bytes > CSV_BYTES_MAX {
        let (size, max) = (bytes as f64 / 1e9, CSV_BYTES_MAX as f64 / 1e9);
        return Err(here(format!(
            "{size:.1} GB is more than the {max:.1} GB that are read at once; split the file"
        )));
    }
    let mut reader = csv::ReaderBuilder::new()
        .delimiter(u8::try_from(args.separator).unwrap_or(b','))
        .trim(csv::Trim::All)
        .from_path(path)
        .map_err(|error| here(error.to_string()))?;
    let header = reader.byte_headers().map_err(|error| here(csv_sentence(&error)))?.clone();
    let places = places(&header, args, sources)?;
    let mut imported = Imported::default();
    let mut clock = Clock::default();
    let mut record = csv::ByteRecord::new();
    for index in 0u64.. {
        if !reader.read_byte_record(&mut record).map_err(|error| here(csv_sentence(&error)))? {
            break;
        }
        let line = record.position().map_or(0, csv::Position::line);
        let at = |why: String| here(format!("line {line}: {why}"));
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
        return Err(here("no row has a number in every wanted column".into()));
    }
    Ok(imported)
}

fn failed(path: &Path, why: &str) -> CommandError {
    CommandError::failed(format!("{}: {why}", path.display()))
}

fn places(header: &csv::ByteRecord, args: &ImportArgs, sources: &[Source]) -> Result<Places, CommandError> {
    if ingest::description_file::is_utf16(header.as_slice()) {
        return Err(failed(&args.file, ingest::description_file::UTF16_SENTENCE));
    }
    let names: Vec<String> = header.iter().map(clean_name).collect();
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
                format!("line 1: there is no column '{}' (columns: {}){hint}", source.name, names.join(", "))
            }
            many => format!("line 1: the column '{}' stands there {} times", source.name, many.len()),
        };
        Err(failed(&args.file, &why))
    };
    let time = sources.iter().find(|source| source.role.is_none()).map(cell).transpose()?;
    let readings = in_column_order(sources).iter().map(cell).collect::<Result<_, _>>()?;
    Ok(Places { time, rate: args.rate, readings, decimal_comma: args.decimal_comma })
}

/// The readings' sources in the order of a run's columns.
pub(super) fn in_column_order(sources: &[Source]) -> Vec<Source> {
    let mut ordered: Vec<Source> = sources.iter().filter(|source| source.role.is_some()).cloned().collect();
    ordered.sort_by_key(|source| source.role);
    ordered
}

impl Places {
    /// Time and readings of a row, `None` if one of them is missing.
    fn row(&self, record: &csv::ByteRecord, index: u64) -> Result<Option<(f64, Vec<f64>)>, String> {
        let read = |cell: &Cell| {
            let value = number(record.get(cell.place).unwrap_or(&[]), self.decimal_comma)?;
            Ok::<_, String>(value.map(|value| value * cell.factor))
        };
        let t_s = match &self.time {
            Some(cell) => read(cell)?,
            None => self.rate.map(|rate| index as f64 / rate),
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
            return Err(format!("time does not rise: {since_s} s after {before_s} s since the first row"));
        }
        // A day is more than any pass.
        if !(0.0..86_400.0 * 1e6).contains(&us) {
            return Err(format!(
                "{since_s} s since the first row is out of range (unit of the time column?)"
            ));
        }
        self.before_us = Some(us as u64);
        Ok(us as u64)
    }
}

fn clean_name(name: &[u8]) -> String {
    let name = String::from_utf8_lossy(name.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(name)).into_owned();
    name.chars().filter(|c| !c.is_control()).collect()
}

/// A finite number, `None` for an empty cell or NaN.
fn number(cell: &[u8], decimal_comma: bool) -> Result<Option<f64>, String> {
    let text = std::str::from_utf8(cell).map_err(|_| "a cell is not text".to_owned())?.trim();
    if text.is_empty() || text.eq_ignore_ascii_case("nan") {
        return Ok(None);
    }
    let shown: String = text.chars().filter(|c| !c.is_control()).take(24).collect();
    let plain = if decimal_comma { text.replace(',', ".") } else { text.to_owned() };
    let hint =
        if text.contains(',') && !decimal_comma { " (decimal comma? see --decimal-comma)" } else { "" };
    let value: f64 = plain.parse().map_err(|_| format!("'{shown}' is not a number{hint}"))?;
    if value.is_finite() { Ok(Some(value)) } else { Err(format!("'{shown}' is not a finite number")) }
}

fn csv_sentence(error: &csv::Error) -> String {
    match error.kind() {
        csv::ErrorKind::UnequalLengths { pos, expected_len, len } => {
            let line = pos.as_ref().map_or(0, csv::Position::line);
            format!("line {line}: {len} cells where the header has {expected_len}")
        }
        _ => error.to_string(),
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
}
