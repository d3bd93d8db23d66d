//! `plow.csv` to columns, with polars; and the slow, plain reading of what it refuses.
//!
//! Known of the file: how much of it is whole (a torn last row is cut by whoever opened the run), and that it
//! may have been through somebody's spreadsheet. Promise: a value never lands under another column's name,
//! and every fault is an error that names row and column. polars alone
//! does not promise this (a torn number is still a number, a schema goes by position), so the header is
//! compared here, types are given by name, and the rows are counted against the line ends.

use ingest::memory::{TooLittleMemory, check_room};
use ingest::open_run::WholeFile;
use ingest::plow::{ChannelRole, OWN_PREFIX, OwnColumn};
use polars::prelude::*;
use std::collections::BTreeMap;
use std::io::{Cursor, Read};
use std::path::{Path, PathBuf};

/// Largest CSV that is read: about 4 hours at 1 kHz with seven columns.
pub const CSV_BYTES_MAX: u64 = 1 << 30;
/// Bytes of memory that reading takes at its peak for each byte of the file: 3.6 were measured.
pub const MEMORY_PER_BYTE: u64 = 4;

/// Why a CSV cannot be used. Each is one sentence with file and, where there is one, line.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
#[allow(missing_docs, reason = "names of fields say what they are, and their unit")]
pub enum CsvError {
    /// The file cannot be read: `cause` is what the system said.
    #[error("{}: {cause}", path.display())]
    Unreadable { path: PathBuf, cause: std::io::Error },
    /// Larger than [`CSV_BYTES_MAX`].
    #[error(
        "{}: {:.1} GB is more than the {:.1} GB that are read at once; record shorter passes, or import \
         a part of it", path.display(), *bytes as f64 / 1e9, CSV_BYTES_MAX as f64 / 1e9
    )]
    TooLarge { path: PathBuf, bytes: u64 },
    /// There is not enough memory for it.
    #[error("{}: {:.0} MB of readings: {cause}", path.display(), *bytes as f64 / 1e6)]
    NoMemory { path: PathBuf, bytes: u64, cause: TooLittleMemory },
    /// No whole row in it; with `header_only` the recording ended before the first reading.
    #[error(
        "{}: there is no whole row in this file{}", path.display(),
        if *header_only { ": it holds only the header, so the recording ended before the first reading" } else { "" }
    )]
    Empty { path: PathBuf, header_only: bool },
    /// Another header than the run's.
    #[error("{}, line 1: {problem}", path.display())]
    Header { path: PathBuf, problem: String },
    /// A row that is not one; its line counts from 1, the header.
    #[error("{}, line {line}: {problem}", path.display())]
    Row { path: PathBuf, line: usize, problem: String },
}

/// Columns of a run as they are in the file.
#[derive(Clone, Debug, Default)]
pub struct Table {
    /// Run time of each row in s, strictly rising.
    pub t_s: Vec<f64>,
    /// Readings of each channel, one a row, in the column's unit; all finite.
    pub channels: BTreeMap<ChannelRole, Vec<f64>>,
    /// The user's own columns, by their names, in their own units; NaN where a row has no reading.
    pub own: BTreeMap<String, Vec<f64>>,
}

/// Reads the whole rows of a CSV of the run format: `t_s`, then one column a channel, and those of the user's own.
///
/// # Errors
/// [`CsvError`]; the file is never changed.
pub(super) fn read_table(file: &WholeFile, own: &[OwnColumn]) -> Result<Table, CsvError> {
    table_of(text_of(file)?, &file.path, own)
}

/// `text` ends with a line end or is empty.
fn table_of(text: Vec<u8>, path: &Path, own: &[OwnColumn]) -> Result<Table, CsvError> {
    let (names, columns) = columns_of(text, path, |header| names_of_table(header, own))?;
    let mut columns = columns.into_iter();
    let mut table = Table { t_s: columns.next().unwrap_or_default(), ..Table::default() };
    for (name, values) in names.into_iter().zip(columns) {
        match ChannelRole::of_column(&name) {
            Some(role) => drop(table.channels.insert(role, values)),
            None => drop(table.own.insert(name, values)),
        }
    }
    Ok(table)
}

/// The whole rows of a file.
pub(super) fn text_of(file: &WholeFile) -> Result<Vec<u8>, CsvError> {
    let WholeFile { path, whole_bytes, .. } = file;
    let bytes = *whole_bytes;
    if bytes > CSV_BYTES_MAX {
        return Err(CsvError::TooLarge { path: path.clone(), bytes });
    }
    check_room(bytes.saturating_mul(MEMORY_PER_BYTE)).map_err(|cause| CsvError::NoMemory {
        path: path.clone(),
        bytes,
        cause,
    })?;
    let mut text = Vec::with_capacity(usize::try_from(bytes).unwrap_or(0) + 1);
    std::fs::File::open(path)
        .and_then(|file| file.take(bytes).read_to_end(&mut text))
        .map_err(|cause| CsvError::Unreadable { path: path.clone(), cause })?;
    Ok(text)
}

/// Names and values of all columns of a CSV whose first column is a rising `t_s`; `names` takes the header and
/// says what is wrong with it. `text` ends with a line end or is empty.
pub(super) fn columns_of(
    text: Vec<u8>,
    path: &Path,
    names: impl Fn(&str) -> Result<Vec<String>, String>,
) -> Result<(Vec<String>, Vec<Vec<f64>>), CsvError> {
    let Some(header_end) = text.iter().position(|byte| *byte == b'\n') else {
        return Err(CsvError::Empty { path: path.to_owned(), header_only: false });
    };
    let header = std::str::from_utf8(text.get(..header_end).unwrap_or_default())
        .map_err(|_| "the header is not text; is this a CSV file?".to_owned());
    let names = header
        .and_then(|header| names(header.strip_suffix('\r').unwrap_or(header)))
        .map_err(|problem| CsvError::Header { path: path.to_owned(), problem })?;
    let rows = text.iter().filter(|byte| **byte == b'\n').count() - 1;
    if rows == 0 {
        return Err(CsvError::Empty { path: path.to_owned(), header_only: true });
    }
    let all: Vec<&str> = std::iter::once("t_s").chain(names.iter().map(String::as_str)).collect();
    let text = Arc::new(text);
    match columns_by_polars(&text, &all) {
        Some(columns)
            if columns.iter().all(|column| column.len() == rows)
                && time_rises(&columns)
                && cells_are_counted(&text, &columns) =>
        {
            Ok((names, columns))
        }
        // Whatever is wrong, the slow reader finds the first row that is and says what.
        _ => Err(first_fault(&text, &all, path)),
    }
}

fn names_of_table(header: &str, own: &[OwnColumn]) -> Result<Vec<String>, String> {
    let mut names = header.split(',');
    if names.next() != Some("t_s") {
        let start: String = header.chars().take(40).collect();
        return Err(format!(
            "the header must begin with t_s, not '{start}'; for another logger's file use `hitchwright import`"
        ));
    }
    let roles = ChannelRole::ALL.iter().map(|role| role.column());
    let known: Vec<&str> = roles.chain(own.iter().map(OwnColumn::column)).collect();
    let mut found: Vec<String> = Vec::new();
    for name in names {
        if !known.contains(&name) {
            let cure = if name.starts_with(OWN_PREFIX) {
                "; run.toml has the name and the unit of each column of your own, in an entry of [[plow.sensors]] with \
                 measures = \"other\""
            } else {
                ""
            };
            return Err(format!("'{name}' is not a column of a run (columns: {}){cure}", known.join(", ")));
        }
        if found.iter().any(|other| other == name) {
            return Err(format!("the column '{name}' stands there twice"));
        }
        found.push(name.to_owned());
    }
    Ok(found)
}

/// All columns as polars reads them, `t_s` first, NaN for an empty cell where there may be one; `None` if it refuses the
/// file, or a cell is no finite number.
fn columns_by_polars(text: &Arc<Vec<u8>>, names: &[&str]) -> Option<Vec<Vec<f64>>> {
    let types = Schema::from_iter(names.iter().map(|name| Field::new((*name).into(), DataType::Float64)));
    let frame = CsvReadOptions::default()
        .with_has_header(true)
        .with_schema_overwrite(Some(Arc::new(types)))
        .with_parse_options(CsvParseOptions::default().with_quote_char(None))
        .into_reader_with_file_handle(Cursor::new(ArcBytes(Arc::clone(text))))
        .finish()
        .ok()?;
    names
        .iter()
        .map(|name| {
            let column = frame.column(name).ok()?.f64().ok()?;
            let empty = column.null_count();
            if empty > 0 {
                let values: Vec<f64> = column.iter().map(|value| value.unwrap_or(f64::NAN)).collect();
                // The word NaN is no empty cell.
                let unknown = values.iter().filter(|value| !value.is_finite()).count();
                return (may_be_empty(name) && unknown == empty).then_some(values);
            }
            let mut values = Vec::with_capacity(column.len());
            for chunk in column.downcast_iter() {
                values.extend_from_slice(chunk.values().as_slice());
            }
            values.iter().all(|value| value.is_finite()).then_some(values)
        })
        .collect()
}

/// Lets the reader borrow the text that the slow reader may need again.
struct ArcBytes(Arc<Vec<u8>>);

impl AsRef<[u8]> for ArcBytes {
    fn as_ref(&self) -> &[u8] {
        &self.0
    }
}

/// A slow sensor's column has readings in some rows only.
fn may_be_empty(column: &str) -> bool {
    column.starts_with(OWN_PREFIX)
}

fn time_rises(columns: &[Vec<f64>]) -> bool {
    columns.first().is_some_and(|t| t.windows(2).all(|pair| pair[0] < pair[1]))
}

/// Where cells may be empty, a row that ends too soon would look like one with empty cells.
fn cells_are_counted(text: &[u8], columns: &[Vec<f64>]) -> bool {
    let any_empty = columns.iter().any(|column| column.iter().any(|value| value.is_nan()));
    let count = |line: &[u8]| line.iter().filter(|byte| **byte == b',').count() + 1 == columns.len();
    !any_empty || text.strip_suffix(b"\n").unwrap_or(text).split(|byte| *byte == b'\n').all(count)
}

/// The first fault of a file whose header is right and whose rows are not.
pub(super) fn first_fault(text: &[u8], names: &[&str], path: &Path) -> CsvError {
    let mut before = f64::NEG_INFINITY;
    let text = text.strip_suffix(b"\n").unwrap_or(text);
    for (index, line) in text.split(|byte| *byte == b'\n').enumerate().skip(1) {
        let line_number = index + 1;
        let row = |problem: String| CsvError::Row { path: path.to_owned(), line: line_number, problem };
        let line = line.strip_suffix(b"\r").unwrap_or(line);
        let t_s = match row_fault(line, names) {
            Err(problem) => return row(problem),
            Ok(t_s) => t_s,
        };
        if t_s <= before {
            let what = if t_s < before { "goes backwards" } else { "stands still" };
            return row(format!("time {what}: {t_s} s after {before} s"));
        }
        before = t_s;
    }
    // The two readers disagree although each row is right by itself.
    CsvError::Row {
        path: path.to_owned(),
        line: 1,
        problem: "the rows and the line ends of this file do not agree".to_owned(),
    }
}

/// Time of a sound row, or what is wrong with it.
fn row_fault(line: &[u8], names: &[&str]) -> Result<f64, String> {
    let text = std::str::from_utf8(line).map_err(|_| "this row is not text".to_owned())?;
    if text.is_empty() {
        return Err("this row is empty".to_owned());
    }
    let fields: Vec<&str> = text.split(',').collect();
    if fields.len() != names.len() {
        return Err(format!("{} fields where the header has {}", fields.len(), names.len()));
    }
    let mut t_s = 0.0;
    for (name, field) in names.iter().zip(&fields) {
        if field.is_empty() && may_be_empty(name) {
            continue;
        }
        let shown: String = field.chars().filter(|c| !c.is_control()).take(24).collect();
        let value: f64 = field.parse().map_err(|_| format!("'{shown}' under {name} is not a number"))?;
        if !value.is_finite() {
            return Err(format!("'{shown}' under {name} is not a finite number"));
        }
        if *name == "t_s" {
            t_s = value;
        }
    }
    Ok(t_s)
}

/// Time from row to row: the mean of the steps that are near the median one, for the median alone carries the
/// rounding of the file. `None` for fewer than two rows.
pub fn usual_step(t_s: &[f64]) -> Option<f64> {
    let mut steps: Vec<f64> = t_s.windows(2).map(|pair| pair[1] - pair[0]).collect();
    if steps.is_empty() {
        return None;
    }
    let middle = steps.len() / 2;
    let (_, median, _) = steps.select_nth_unstable_by(middle, f64::total_cmp);
    let median = *median;
    let near: Vec<f64> = steps.into_iter().filter(|step| (step / median - 1.0).abs() < 0.5).collect();
    Some(near.iter().sum::<f64>() / near.len() as f64)
}

/// The columns after `t_s`, in order.
const COLUMNS: [&str; 4] = ["lat_deg", "lon_deg", "speed_mps", "course_deg"];

/// Fixes in the order of run time; where there was no fix, there is no row.
#[derive(Clone, Debug, Default)]
pub struct GnssTable {
    /// Run time of each fix in s, strictly rising.
    pub t_s: Vec<f64>,
    /// Latitude in degrees, north +, within ±90.
    pub lat_deg: Vec<f64>,
    /// Longitude in degrees, east +, within ±180.
    pub lon_deg: Vec<f64>,
    /// Speed over ground, m/s, 0 or more.
    pub speed_mps: Vec<f64>,
}

/// Reads the whole rows of a `gnss.csv`.
///
/// # Errors
/// [`CsvError`]; a place that is not on the earth, or a speed below 0, is a row that is none.
pub(super) fn read_gnss(file: &WholeFile) -> Result<GnssTable, CsvError> {
    gnss_of(text_of(file)?, &file.path)
}

fn gnss_of(text: Vec<u8>, path: &Path) -> Result<GnssTable, CsvError> {
    let expected = format!("t_s,{}", COLUMNS.join(","));
    let (_, columns) = columns_of(text, path, |header| {
        if header == expected {
            Ok(COLUMNS.map(str::to_owned).to_vec())
        } else {
            Err(format!("the header must be {expected}"))
        }
    })?;
    let mut columns = columns.into_iter();
    let mut next = || columns.next().unwrap_or_default();
    let table = GnssTable { t_s: next(), lat_deg: next(), lon_deg: next(), speed_mps: next() };
    let bounds =
        [(&table.lat_deg, -90.0, 90.0), (&table.lon_deg, -180.0, 180.0), (&table.speed_mps, 0.0, 1e3)];
    for (name, (values, low, high)) in COLUMNS.iter().zip(bounds) {
        if let Some(row) = values.iter().position(|value| !(low..=high).contains(value)) {
            let problem = format!("{name} must lie between {low} and {high}");
            // The header is line 1.
            return Err(CsvError::Row { path: path.to_owned(), line: row + 2, problem });
        }
    }
    Ok(table)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> Result<Table, String> {
        let own = [OwnColumn::new("x", "1/min").unwrap(), OwnColumn::new("draft angle", "deg").unwrap()];
        table_of(text.as_bytes().to_vec(), Path::new("plow.csv"), &own).map_err(|error| error.to_string())
    }

    #[test]
    fn columns_of_ones_own_may_be_empty_in_places() {
        let table = read("t_s,pull_n,own_x,own_draft_angle\n0.0,1,,-1.5\n0.1,2,3e-7,\r\n0.2,3,4,\n").unwrap();
        let known = |name: &str| {
            let some = |value: &f64| value.is_finite().then_some(*value);
            table.own[name].iter().map(some).collect::<Vec<_>>()
        };
        assert_eq!(known("own_x"), [None, Some(3e-7), Some(4.0)]);
        assert_eq!(known("own_draft_angle"), [Some(-1.5), None, None]);
        assert_eq!(table.channels[&ChannelRole::Pull], [1.0, 2.0, 3.0]);
    }

    #[test]
    fn columns_go_by_name_whatever_their_order() {
        let table = read("t_s,depth_mm,pull_n\n0.0,180,5000\n0.1,181,5001.5\n").unwrap();
        assert_eq!(table.channels[&ChannelRole::Pull], [5000.0, 5001.5]);
        assert_eq!(table.channels[&ChannelRole::Depth], [180.0, 181.0]);
        assert_eq!(table.t_s, [0.0, 0.1]);
    }

    /// Each malformed file with the part of the sentence that must name its fault.
    #[test]
    fn every_malformed_file_is_refused_with_line_and_reason() {
        for (text, expected) in [
            ("", "no whole row"),
            ("t_s,pull_n\n", "only the header"),
            ("t_s,pull_n\n0.0,1\n0.1\n0.2,3\n", "line 3"),
            ("t_s,pull_n\n0.0,1\n0.1,2,3\n", "line 3"),
            ("t_s,pull_n\n0.0,1\n0.1,NaN\n", "line 3"),
            ("t_s,pull_n\n0.0,1\n0.1,inf\n", "line 3"),
            ("t_s,pull_n\n0.0,1\n0.1,1e400\n", "line 3"),
            ("t_s,pull_n\n0.0,1\n0.1,abc\n", "'abc'"),
            ("t_s,pull_n\n0.0,1\n0.1,1,5\n0.2,3\n", "line 3"),
            ("t_s,pull_n\n0.0,1\n\n0.2,3\n", "line 3"),
            ("t_s,pull_n\n0.0,1\n0.1,\n", "line 3"),
            ("t_s,pull_n\n0.1,1\n0.0,2\n", "line 3: time goes backwards"),
            ("t_s,pull_n\n0.1,1\n0.1,2\n", "line 3: time"),
            ("t_s,pull_n\n0.0,\"1\n0.1,2\n", "line 2"),
            ("t_s,pull_n\n0.0,1\0\n0.1,2\n", "line 2"),
            ("t_s;pull_n\n0,0;1\n", "line 1"),
            ("\u{feff}t_s,pull_n\n0.0,1\n", "line 1"),
            ("pull_n,t_s\n1,0\n", "begin with t_s"),
            ("t_s,pull\n0.0,1\n", "'pull' is not a column"),
            ("t_s,pull_n,pull_n\n0.0,1,2\n", "twice"),
            ("t_s,pull_n,own_x\n0.0,1,\n0.1,1\n", "line 3: 2 fields"),
            ("t_s,pull_n,own_x\n0.0,1,\n0.1,,1\n", "line 3: '' under pull_n"),
            ("t_s,pull_n,own_x\n0.0,1,\n0.1,1,NaN\n", "line 3: 'NaN' under own_x"),
            ("t_s,pull_n,own_x\n0.0,1,1\n0.1,1,NaN\n", "line 3: 'NaN' under own_x"),
            ("t_s,pull_n,own_x\n0.0,1,inf\n", "line 2: 'inf' under own_x"),
            ("t_s,pull_n,own_x\n0.0,1,fast\n", "line 2: 'fast' under own_x"),
            ("t_s,pull_n,own_x\n,1,2\n", "line 2: '' under t_s"),
            ("t_s,own_x,own_x\n0.0,1,2\n", "twice"),
            ("t_s,own_y\n0.0,1\n", "'own_y' is not a column of a run"),
        ] {
            let error = read(text).map(|table| format!("{table:?}")).unwrap_err();
            assert!(error.contains(expected), "{text:?} gave: {error}");
            assert!(error.contains("plow.csv") && !error.contains('\n'), "{text:?} gave: {error}");
        }
    }

    #[test]
    fn bytes_that_are_not_text_are_an_error() {
        let mut text = b"t_s,pull_n\n0.0,1\n".to_vec();
        text.extend([0x30, 0xFF, 0xFE, b',', b'1', b'\n']);
        assert!(table_of(text, Path::new("x.csv"), &[]).is_err());
    }

    #[test]
    fn carriage_returns_before_line_ends_are_taken() {
        let table = read("t_s,pull_n\r\n0.0,1\r\n0.1,2\r\n").unwrap();
        assert_eq!(table.channels[&ChannelRole::Pull], [1.0, 2.0]);
    }

    fn fixes(text: &str) -> Result<GnssTable, String> {
        gnss_of(text.as_bytes().to_vec(), Path::new("gnss.csv")).map_err(|error| error.to_string())
    }

    #[test]
    fn fixes_are_read_strictly() {
        const HEADER: &str = "t_s,lat_deg,lon_deg,speed_mps,course_deg\n";
        let table =
            fixes(&format!("{HEADER}0.5,30.0000001,-40.0,1.600,90.00\n1.5,30.0,-40.0,1.6,0.00\n")).unwrap();
        assert_eq!((table.t_s.len(), table.lat_deg[0], table.speed_mps[1]), (2, 30.000_000_1, 1.6));
        for (rows, expected) in [
            ("0.5,90.1,0,1,0\n", "line 2: lat_deg"),
            ("0.5,30,0,1,0\n1.5,30,181,1,0\n", "line 3: lon_deg"),
            ("0.5,30,0,-1,0\n", "line 2: speed_mps"),
            ("0.5,30,0,1\n", "line 2: 4 fields"),
            ("0.5,30,0,1,0\n0.5,30,0,1,0\n", "line 3: time stands still"),
        ] {
            let error = fixes(&format!("{HEADER}{rows}")).unwrap_err();
            assert!(error.contains(expected), "{rows:?} gave: {error}");
        }
        assert!(fixes("t_s,lat_deg\n0,1\n").unwrap_err().contains("the header must be t_s,lat_deg,lon_deg"));
    }
}
