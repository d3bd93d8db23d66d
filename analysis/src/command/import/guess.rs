//! How a logger's file is likely written, by its lines.

use super::codes::{Code, Ends};
use super::stamp::Common;
use ingest::quantity::{Dimension, unit_for};
use std::collections::BTreeMap;

/// Signs between columns, the likeliest first: a comma may be decimal.
const SEPARATORS: [char; 4] = ['\t', ';', ',', '|'];
/// So many lines are enough to see how a file is written.
const LINES_SEEN: usize = 400;

/// How a file is likely written.
#[derive(Debug)]
pub struct Guess {
    pub separator: char,
    pub decimal_comma: bool,
    /// Lines before that of the names.
    pub skip_rows: u64,
    pub names: Vec<String>,
    pub units: Option<Vec<String>>,
    /// Cells of the rows, and the line of each.
    pub rows: Vec<Vec<String>>,
    pub lines: Vec<u64>,
    pub time: Option<TimeGuess>,
}

/// Which column seems to have the time.
#[derive(Debug, PartialEq)]
pub enum TimeGuess {
    /// Stamps; `name` is two columns with a `+` between where the date has its own.
    Stamp { name: String, format: Common, others: Vec<&'static str> },
    /// A number; whether the file says its unit.
    Number { name: String, unit: &'static str, said: bool },
}

impl Guess {
    /// The numbers of a column, each with its line.
    pub fn numbers(&self, column: usize) -> impl Iterator<Item = (u64, f64)> {
        let of_row = move |row: &Vec<String>| row.get(column).and_then(|cell| self.number(cell));
        self.lines.iter().zip(&self.rows).filter_map(move |(line, row)| Some((*line, of_row(row)?)))
    }

    /// Those of them that look like codes for a missing reading.
    pub fn codes(&self, column: usize) -> Vec<Code<u64>> {
        let mut ends = Ends::default();
        self.numbers(column).for_each(|(line, number)| ends.take(number, &line));
        ends.codes()
    }

    /// The unit of a column by the line of units, or by its name; empty where neither says one.
    pub fn unit_said(&self, column: usize) -> Option<(&str, &'static str)> {
        let line = self.units.as_ref().and_then(|units| units.get(column)).map(String::as_str);
        let of_line = line.filter(|unit| !unit.is_empty()).map(|unit| (unit, "by the line of units"));
        let bracketed = |name: &String| name.ends_with([')', ']']);
        let name = self.names.get(column).filter(|name| bracketed(name)).and_then(|name| unit_in(name));
        of_line.or(name.map(|unit| (unit, "by its name")))
    }

    /// A cell as a number.
    pub fn number(&self, cell: &str) -> Option<f64> {
        let plain = if self.decimal_comma { cell.replace(',', ".") } else { cell.to_owned() };
        plain.parse().ok().filter(|x: &f64| x.is_finite())
    }

    /// Whether a column is the time, or part of it.
    pub fn is_of_time(&self, column: usize) -> bool {
        let Some(name) = self.names.get(column) else { return false };
        match &self.time {
            Some(TimeGuess::Stamp { name: of, .. }) => of == name || of.split('+').any(|part| part == name),
            Some(TimeGuess::Number { name: of, .. }) => of == name,
            None => false,
        }
    }
}

/// What a file's text is likely to be; `None` where no table is seen.
pub fn guess(text: &str) -> Option<Guess> {
    // Lines as a person counts them.
    let plain = text.replace("\r\n", "\n").replace('\r', "\n");
    let lines: Vec<&str> = plain.split('\n').collect();
    let seen = || lines.iter().take(LINES_SEEN).filter(|line| !line.trim().is_empty());
    // The sign by which most lines have the same number of cells; of equals, the first.
    let usual = |separator: char| {
        let mut counts: BTreeMap<usize, usize> = BTreeMap::new();
        seen().for_each(|line| *counts.entry(cells(line, separator).len()).or_default() += 1);
        counts.into_iter().filter(|(cells, _)| *cells > 1).max_by_key(|(_, lines)| *lines)
    };
    let found =
        SEPARATORS.iter().rev().filter_map(|sign| usual(*sign).map(|(cells, lines)| (*sign, cells, lines)));
    let (separator, width, _) = found.max_by_key(|(_, _, lines)| *lines)?;
    let rows = |from: usize| lines.iter().skip(from).map(move |line| cells(line, separator));
    let is_data = |row: &Vec<String>| {
        let filled = row.iter().filter(|cell| !cell.is_empty());
        let (all, with_digit) =
            filled.fold((0, 0), |(all, with), cell| (all + 1, with + usize::from(begins_as_value(cell))));
        row.len() == width && all > 0 && 2 * with_digit > all
    };
    let first = rows(0).position(|row| is_data(&row))?;
    let above = || (0..first).rev().filter_map(|k| lines.get(k).map(|line| (k, cells(line, separator))));
    let mut above = above().filter(|(_, row)| row.len() == width);
    let nearest = above.next()?;
    let (header, units) = match above.next() {
        Some(header) if is_units(&nearest.1) && header.0 + 1 == nearest.0 => (header, Some(nearest.1)),
        _ => (nearest, None),
    };
    let data = (first as u64 + 1..).zip(rows(first)).filter(|(_, row)| is_data(row));
    let (line_numbers, rows): (Vec<u64>, Vec<Vec<String>>) = data.unzip();
    let with_comma = |row: &Vec<String>| row.iter().any(|cell| is_decimal(cell, ','));
    let decimal_comma = separator != ',' && rows.iter().take(LINES_SEEN).any(with_comma);
    let strip = |unit: &String| unit.trim_matches(['[', ']', '(', ')', ' ']).to_owned();
    let mut seen = Guess {
        separator,
        decimal_comma,
        skip_rows: header.0 as u64,
        names: header.1,
        units: units.map(|units| units.iter().map(strip).collect()),
        rows,
        lines: line_numbers,
        time: None,
    };
    seen.time = stamps(&seen).or_else(|| number_of_time(&seen));
    Some(seen)
}

fn cells(line: &str, separator: char) -> Vec<String> {
    let sign = u8::try_from(separator).unwrap_or(b',');
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .delimiter(sign)
        .trim(csv::Trim::All)
        .from_reader(line.as_bytes());
    let record = reader.records().next().and_then(Result::ok).unwrap_or_default();
    record.iter().map(|cell| cell.chars().filter(|c| !c.is_control()).collect()).collect()
}

/// A number, a stamp or NaN.
fn begins_as_value(cell: &str) -> bool {
    let cell = cell.trim_start_matches(['-', '+', '.', ',']);
    cell.starts_with(|c: char| c.is_ascii_digit()) || cell.eq_ignore_ascii_case("nan")
}

fn is_decimal(cell: &str, sign: char) -> bool {
    let digits = |text: &str| !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit());
    cell.trim_start_matches(['-', '+'])
        .split_once(sign)
        .is_some_and(|(whole, part)| digits(whole) && digits(part))
}

/// Most cells are units or in brackets; others are short, as a unit is that no run has.
fn is_units(row: &[String]) -> bool {
    let unit = |cell: &&String| cell.starts_with(['[', '(']) || is_unit(cell);
    let filled = row.iter().filter(|cell| !cell.is_empty());
    let known = filled.clone().filter(unit).count();
    2 * known > filled.clone().count() && filled.clone().all(|cell| unit(&cell) || cell.chars().count() <= 4)
}

fn is_unit(symbol: &str) -> bool {
    use Dimension::{Angle, Force, Length, Speed, Time};
    [Length, Force, Speed, Angle, Time].into_iter().any(|dimension| unit_for(dimension, symbol).is_ok())
}

/// The unit that a name ends with: `Force [kN]`, `Depth (cm)`, `pull_kN`.
pub fn unit_in(name: &str) -> Option<&str> {
    let (_, unit) = name.rsplit_once(['[', '(', '_'])?;
    Some(unit.trim_matches([']', ')', ' ']))
}

/// A column of stamps, or one of dates before one of times of day.
fn stamps(seen: &Guess) -> Option<TimeGuess> {
    let texts = |columns: &[usize]| {
        let text = |row: &Vec<String>| {
            columns
                .iter()
                .filter_map(|column| row.get(*column))
                .map(String::as_str)
                .collect::<Vec<_>>()
                .join(" ")
        };
        seen.rows.iter().take(LINES_SEEN).map(text).filter(|text| !text.trim().is_empty()).collect::<Vec<_>>()
    };
    let fits = |texts: &[String]| -> Vec<Common> {
        let all = |format: &Common| !texts.is_empty() && texts.iter().all(|text| format.read(text).is_some());
        Common::ALL.into_iter().filter(all).collect()
    };
    let columns = 0..seen.names.len();
    let single = columns.clone().map(|k| vec![k]);
    let pairs = columns.clone().zip(columns.skip(1)).map(|(date, time)| vec![date, time]);
    let dated = |formats: &[Common]| formats.iter().any(|format| *format != Common::TimeOfDay);
    let found: Vec<(Vec<usize>, Vec<Common>)> = single
        .chain(pairs)
        .map(|columns| (columns.clone(), fits(&texts(&columns))))
        .filter(|(_, formats)| !formats.is_empty())
        .collect();
    let best = found.iter().find(|(_, formats)| dated(formats)).or_else(|| found.first())?;
    let (columns, formats) = best;
    let names: Vec<&str> = columns.iter().filter_map(|k| seen.names.get(*k)).map(String::as_str).collect();
    let others = formats.iter().skip(1).map(|format| format.words().0).collect();
    Some(TimeGuess::Stamp { name: names.join("+"), format: *formats.first()?, others })
}

/// A column of numbers that rise, by its name and its steps.
fn number_of_time(seen: &Guess) -> Option<TimeGuess> {
    let rises = |column: usize| {
        let numbers: Option<Vec<f64>> =
            seen.rows.iter().take(LINES_SEEN).map(|row| seen.number(row.get(column)?)).collect();
        numbers.filter(|numbers| numbers.len() > 1 && numbers.is_sorted() && numbers.first() < numbers.last())
    };
    let named = |name: &str| {
        let lower = name.to_lowercase();
        lower.contains("time")
            || ["t", "t_s", "s", "ms", "us", "sec", "clock"]
                .contains(&lower.split(['[', '(', ' ']).next().unwrap_or(""))
    };
    let rising: Vec<(usize, Vec<f64>)> =
        (0..seen.names.len()).filter_map(|column| rises(column).map(|numbers| (column, numbers))).collect();
    let (column, numbers) =
        rising.iter().find(|(column, _)| seen.names.get(*column).is_some_and(|name| named(name)))?;
    let name = seen.names.get(*column)?;
    let unit = |symbol: &str| unit_for(Dimension::Time, symbol).ok().map(|unit| unit.symbol);
    let line = seen.units.as_ref().and_then(|units| units.get(*column)).and_then(|symbol| unit(symbol));
    let said = line.or_else(|| unit_in(name).and_then(unit)).or_else(|| unit(name));
    let step = (numbers.last()? - numbers.first()?) / (numbers.len() - 1) as f64;
    let by_step = if step >= 500.0 {
        "us"
    } else if step >= 2.0 {
        "ms"
    } else {
        "s"
    };
    Some(TimeGuess::Number { name: name.clone(), unit: said.unwrap_or(by_step), said: said.is_some() })
}
