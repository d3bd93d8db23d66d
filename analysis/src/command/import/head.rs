//! The lines that say what a logger's file has: names of columns, and their units.

use super::clock::Place;
use super::codes::Missing;
use super::columns::{Columns, OwnSource, Source, Time, meant};
use super::stamp::TimeFormat;
use ingest::description_file::{UTF16_SENTENCE, is_utf16};
use ingest::quantity::{Unit, unit_for};
use std::io::Read;

/// Of the names of a file's columns so many are told, each up to so many characters.
const NAMES_TOLD: usize = 30;
const CHARS_TOLD: usize = 40;

/// What the names and the units say.
pub struct Head {
    pub places: Places,
    /// What was taken without being typed: a sentence each.
    pub taken: Vec<String>,
    /// Of each reading, and of the time: no unit of it is said anywhere.
    pub no_unit: (Vec<bool>, bool),
    /// Of each of the user's own columns: the unit that the file says, where none was typed.
    pub own_units: Vec<Option<String>>,
}

/// One column of the file: its place, and its unit in the run column's.
#[derive(Clone, Copy)]
pub struct Cell {
    pub place: usize,
    pub factor: f64,
}

/// Where time and readings of a row are found.
pub struct Places {
    pub time: TimePlace,
    pub readings: Vec<Cell>,
    pub own: Vec<Cell>,
    pub decimal_comma: bool,
    pub missing: Missing,
}

pub enum TimePlace {
    Cell(Cell),
    /// One column, or date and time in two.
    Stamp(Vec<usize>, TimeFormat),
    Rate(f64),
}

/// A fault, its place as the reader of CSV knows it.
pub enum Unplaced {
    At(Place, String),
    File(String),
}

pub fn place_of(record: &csv::ByteRecord) -> Place {
    record.position().cloned().unwrap_or_else(csv::Position::new)
}

/// A unit, and what says so.
type SaidUnit = (String, &'static str);

/// Where the wanted columns are, by the names and the units of the file.
pub fn places(reader: &mut csv::Reader<impl Read>, columns: &Columns) -> Result<Head, Unplaced> {
    let header = reader.byte_headers().map_err(|error| of_csv(&error))?.clone();
    if is_utf16(header.as_slice()) {
        return Err(Unplaced::File(UTF16_SENTENCE.to_owned()));
    }
    let names: Vec<String> = header.iter().map(clean_name).collect();
    if names.iter().all(String::is_empty) {
        return Err(Unplaced::File(
            "the first line has no names of columns: is it the right file?".to_owned(),
        ));
    }
    let mut units = csv::ByteRecord::new();
    if columns.units_row {
        reader.read_byte_record(&mut units).map_err(|error| of_csv(&error))?;
    }
    let mut taken = Vec::new();
    let mut cell = |source: &Source| {
        let place = place_in(&names, &source.name, columns.separator)
            .map_err(|why| Unplaced::At(place_of(&header), why))?;
        let (unit, from) =
            unit_of(source, units.get(place)).map_err(|why| Unplaced::At(place_of(&units), why))?;
        if let Some(from) = from {
            taken.push(format!(
                "{} is read in {}, by {from}",
                source.name,
                unit.unwrap_or(source.own).symbol
            ));
        }
        Ok((Cell { place, factor: unit.unwrap_or(source.own).per(source.own) }, unit.is_none()))
    };
    let own = |source: &OwnSource| {
        let place = place_in(&names, &source.name, columns.separator)
            .map_err(|why| Unplaced::At(place_of(&header), why))?;
        Ok((Cell { place, factor: 1.0 }, own_unit_of(source, units.get(place))))
    };
    let own = columns.own.iter().map(own).collect::<Result<Vec<_>, _>>()?;
    let (own, own_said): (Vec<Cell>, Vec<Option<SaidUnit>>) = own.into_iter().unzip();
    let (time, time_no_unit) = match (&columns.time, &columns.time_format) {
        (Time::Rate(rate), _) => (TimePlace::Rate(*rate), false),
        (Time::Column(source), None) => {
            let (cell, no_unit) = cell(source)?;
            (TimePlace::Cell(cell), no_unit)
        }
        (Time::Column(source), Some(format)) => {
            let place = |name: &str| place_in(&names, name, columns.separator);
            // Date and time of day in two columns: `Date+Time`.
            let places = match source.name.split_once('+').filter(|_| !names.contains(&source.name)) {
                Some((date, time)) => place(date).and_then(|date| Ok(vec![date, place(time)?])),
                None => place(&source.name).map(|place| vec![place]),
            };
            let places = places.map_err(|why| Unplaced::At(place_of(&header), why))?;
            (TimePlace::Stamp(places, format.clone()), false)
        }
    };
    let readings = columns.readings.iter().map(|(_, source)| cell(source)).collect::<Result<Vec<_>, _>>()?;
    let of_own =
        columns.own.iter().zip(&own_said).filter_map(|(source, said)| Some((source, said.as_ref()?)));
    taken
        .extend(of_own.map(|(source, (unit, from))| format!("{} is read in {unit}, by {from}", source.name)));
    let own_units = own_said.into_iter().map(|said| said.map(|(unit, _)| unit)).collect();
    let no_unit = (readings.iter().map(|(_, no_unit)| *no_unit).collect(), time_no_unit);
    let readings = readings.into_iter().map(|(cell, _)| cell).collect();
    let (decimal_comma, missing) = (columns.decimal_comma, columns.missing.clone());
    let places = Places { time, readings, own, decimal_comma, missing };
    Ok(Head { places, taken, no_unit, own_units })
}

/// The place of the column of this name.
fn place_in(names: &[String], wanted: &str, separator: u8) -> Result<usize, String> {
    let named = |(_, name): &(usize, &String)| **name == *wanted;
    let found: Vec<usize> = names.iter().enumerate().filter(named).map(|(place, _)| place).collect();
    match found.as_slice() {
        [place] => Ok(*place),
        [] => {
            // Another sign between the columns, or none.
            let sign = |sign: &&(char, &str)| {
                u32::from(sign.0) != u32::from(separator) && names.iter().any(|name| name.contains(sign.0))
            };
            let signs = [(';', "';'"), (',', "','"), ('\t', "tab")];
            let hint = match signs.iter().find(sign).filter(|_| names.len() == 1) {
                Some((_, typed)) => format!("; is another sign between its columns? Try --separator {typed}"),
                None if names.len() == 1 => {
                    "; is another sign between its columns? See --separator".to_owned()
                }
                None => meant(wanted, names.iter().map(String::as_str)),
            };
            let skipped =
                if names.len() == 1 { ", or do lines stand before the names? See --skip-rows" } else { "" };
            Err(format!("there is no column '{wanted}' (columns: {}){hint}{skipped}", told(names)))
        }
        many => Err(format!(
            "the column '{wanted}' stands there {} times; rename all but the one that is meant",
            many.len()
        )),
    }
}

/// The unit of a column, if any is said, and where it was found if it was not typed.
fn unit_of(source: &Source, cell: Option<&[u8]>) -> Result<(Option<Unit>, Option<&'static str>), String> {
    if source.unit.is_some() {
        return Ok((source.unit, None));
    }
    if let Some(symbol) = unit_in_line(cell) {
        let symbol: String = symbol.chars().take(CHARS_TOLD).collect();
        let unit = unit_for(source.own.dimension, &symbol);
        let unit = unit.map_err(|error| {
            format!(
                "'{symbol}' {error}; say the unit of {} behind its name in --column, as NAME:UNIT",
                source.name
            )
        })?;
        return Ok((Some(*unit), Some("the line of units")));
    }
    let unit =
        unit_in_name(&source.name).and_then(|symbol| unit_for(source.own.dimension, &symbol).ok().copied());
    Ok((unit, unit.map(|_| "its name")))
}

/// The unit that the file says of one of the user's own columns, and where, if none was typed.
fn own_unit_of(source: &OwnSource, cell: Option<&[u8]>) -> Option<SaidUnit> {
    if source.unit.is_some() {
        return None;
    }
    let of_line = unit_in_line(cell).map(|unit| (unit, "the line of units"));
    of_line.or_else(|| unit_in_name(&source.name).map(|unit| (unit, "its name")))
}

fn plain_unit(text: &str) -> String {
    text.trim_matches(['[', ']', '(', ')', ' ']).to_owned()
}

fn unit_in_line(cell: Option<&[u8]>) -> Option<String> {
    cell.map(|cell| plain_unit(&clean_name(cell))).filter(|unit| !unit.is_empty())
}

fn unit_in_name(name: &str) -> Option<String> {
    name.rsplit_once(['[', '(']).map(|(_, unit)| plain_unit(unit))
}

fn told(names: &[String]) -> String {
    let short = |name: &String| name.chars().take(CHARS_TOLD).collect::<String>();
    let shown: Vec<String> = names.iter().take(NAMES_TOLD).map(short).collect();
    let more = names.len().saturating_sub(NAMES_TOLD);
    let more = if more > 0 { format!(" and {more} more") } else { String::new() };
    format!("{}{more}", shown.join(", "))
}

pub fn clean_name(name: &[u8]) -> String {
    let name = String::from_utf8_lossy(name.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(name)).into_owned();
    name.chars().filter(|c| !c.is_control()).collect()
}

/// What the reader of CSV says.
pub fn of_csv(error: &csv::Error) -> Unplaced {
    match error.kind() {
        csv::ErrorKind::UnequalLengths { pos, expected_len, len } => Unplaced::At(
            pos.clone().unwrap_or_else(csv::Position::new),
            format!("{len} cells where the header has {expected_len}: correct the line, or take it out"),
        ),
        csv::ErrorKind::Io(cause) => Unplaced::File(cause.to_string()),
        _ => Unplaced::File(error.to_string()),
    }
}
