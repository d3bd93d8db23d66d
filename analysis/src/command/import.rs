//! `import`: any logger's CSV into a run folder, its rows in the columns and units of a run.

use super::args::ImportArgs;
use super::output::{CommandError, Done, setting_of, write};
use ingest::assemble::Row;
use ingest::csv_text::{EVENTS_HEADER, push_row, rows_header};
use ingest::passes::rule::{AFTER_S, BEFORE_S, TRIM_S, WORKING_S_MIN};
use ingest::passes::{PassEvent, PassFinder, Watched};
use ingest::plow::{ChannelRole, Plow, read_plow};
use ingest::quantity::{Unit, unit_for};
use ingest::run_folder::{RowsFile, create_run_folder, datapackage, fill_new_folder, run_name};
use ingest::run_toml::{RunDescription, RunInfo, RunState};
use signals::run::CSV_BYTES_MAX;
use std::collections::BTreeSet;
use std::ops::Range;
use std::path::Path;

pub(super) fn import(args: &ImportArgs) -> Result<Done, CommandError> {
    let sources = args.columns.iter().map(|text| source_of(text)).collect::<Result<Vec<_>, _>>()?;
    check_sources(&sources, args)?;
    let plow = read_plow(&args.plow)?;
    let setting = setting_of(&plow, &args.plow, &args.setting)?.1.clone();
    let started = started(args)?;
    let imported = read_rows(args, &sources)?;
    let roles: Vec<ChannelRole> = in_column_order(&sources).into_iter().filter_map(|s| s.role).collect();
    std::fs::create_dir_all(&args.out).map_err(|cause| CommandError::at(&args.out, cause))?;
    let missing = plow.missing_for_a_verdict(|role| roles.contains(&role));
    let passes = passes_of(&plow, &roles, &imported.rows);
    let mut notices = Vec::new();
    if imported.left_out > 0 {
        notices.push(format!("{} rows without a number in every column are gaps now", imported.left_out));
    }
    if let Some(missing) = missing {
        notices.push(format!("{missing}: map it with --column too"));
    }
    if let [_, _, ..] = passes[..] {
        notices.push(format!(
            "the plow was in the ground {} times: one run a pass, headlands left out",
            passes.len()
        ));
    }
    let whole = Piece { rows: 0..imported.rows.len(), pass: None };
    let pieces = if passes.len() > 1 { passes } else { vec![whole] };
    for Piece { rows, pass } in pieces {
        let rows = imported.rows.get(rows).unwrap_or_default();
        let from_us = if pass.is_some() { rows.first().map_or(0, |row| row.t_us) } else { 0 };
        let since = jiff::SignedDuration::from_micros(from_us.cast_signed());
        let started = started.checked_add(since)?;
        let folder = create_run_folder(&args.out, &run_name(&started, &args.setting, pass))
            .map_err(|cause| CommandError::at(&args.out, cause))?;
        let rows: Vec<Row> = rows.iter().copied().map(|row| row.earlier_by(from_us)).collect();
        let id = file_name(&folder);
        let description = RunDescription {
            run: RunInfo {
                id: id.clone(),
                started: started.strftime("%Y-%m-%dT%H:%M:%S%:z").to_string(),
                setting_name: args.setting.clone(),
                field: args.field.clone(),
                soil: args.soil.clone(),
                soil_class: args.soil_class,
                note: args.note.clone(),
                share: args.share.unwrap_or(plow.bottoms.share),
                software: concat!("hitchwright ", env!("CARGO_PKG_VERSION")).to_owned(),
                state: RunState::Imported,
                ended: Some(format!("imported from {}", file_name(&args.file))),
                lasted_s: rows.last().map(|row| row.t_us as f64 / 1e6),
            },
            setting: setting.clone(),
            plow: plow.clone(),
            boxes: Vec::new(),
            gnss: None,
        };
        fill_new_folder(&folder, || write_files(&folder, &id, &description, &roles, &rows))?;
        notices.push(format!("{} rows imported into {}", rows.len(), folder.display()));
    }
    Ok(Done::say(notices))
}

/// Rows of the file that make one run.
struct Piece {
    rows: Range<usize>,
    /// The number of the pass, where the file holds several.
    pass: Option<u32>,
}

/// The passes that are long enough to be judged, each with the seconds before and after that a recorder keeps; none
/// where depth or pull is not among the columns.
fn passes_of(plow: &Plow, roles: &[ChannelRole], rows: &[Row]) -> Vec<Piece> {
    let (mut finder, mut watched) = (PassFinder::of(plow), Watched::default());
    let mut stretches = Vec::new();
    let mut found = |event| match event {
        PassEvent::WentIn { at_s } => stretches.push((at_s, f64::INFINITY)),
        PassEvent::CameOut { from_s, at_s } => {
            stretches.pop();
            stretches.push((from_s, at_s));
        }
    };
    for row in rows {
        finder.take(&watched.reading(row.t_us as f64 / 1e6, roles, row.values()), &mut found);
    }
    let last_s = rows.last().map_or(0.0, |row| row.t_us as f64 / 1e6);
    stretches.retain(|(from_s, to_s)| to_s.min(last_s) - from_s >= WORKING_S_MIN + 2.0 * TRIM_S);
    let place = |t_s: f64| rows.partition_point(|row| (row.t_us as f64) < t_s * 1e6);
    let mut pieces: Vec<Piece> = Vec::new();
    for ((from_s, to_s), pass) in stretches.into_iter().zip(1..) {
        let before = pieces.last().map_or(0, |piece: &Piece| piece.rows.end);
        let rows = before.max(place(from_s - BEFORE_S))..place(to_s + AFTER_S);
        pieces.push(Piece { rows, pass: Some(pass) });
    }
    pieces
}

fn file_name(path: &Path) -> String {
    path.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default()
}

/// `pull_n=Force:kN`.
fn source_of(text: &str) -> Result<Source, CommandError> {
    let wrong = |why: String| CommandError::Usage(format!("--column '{text}': {why}"));
    let (column, rest) =
        text.split_once('=').ok_or_else(|| wrong("write RUN_COLUMN=NAME, such as pull_n=Force:kN".into()))?;
    let (name, unit) = rest.rsplit_once(':').map_or((rest, None), |(name, unit)| (name, Some(unit)));
    let role = match column {
        "t_s" => None,
        _ => Some(ChannelRole::of_column(column).ok_or_else(|| {
            let known: Vec<_> = ChannelRole::ALL.iter().map(|role| role.column()).collect();
            wrong(format!("'{column}' is not a column of a run (columns: t_s, {})", known.join(", ")))
        })?),
    };
    let own = role.map_or(Unit::SECOND, ChannelRole::column_unit);
    let named = |symbol: &str| {
        let unit = unit_for(own.dimension, symbol).map_err(|error| wrong(format!("'{symbol}' {error}")))?;
        Ok::<_, CommandError>(unit.per(own))
    };
    let factor = unit.map_or(Ok(1.0), named)?;
    Ok(Source { role, name: name.to_owned(), factor })
}

fn check_sources(sources: &[Source], args: &ImportArgs) -> Result<(), CommandError> {
    let usage = |why: &str| Err(CommandError::Usage(why.to_owned()));
    let times = sources.iter().filter(|source| source.role.is_none()).count();
    if sources.iter().map(|source| source.role).collect::<BTreeSet<_>>().len() < sources.len() {
        return usage("--column: a column of the run is filled twice");
    }
    match (times, args.rate) {
        (1, Some(_)) => usage("the time comes from --column t_s=… or from --rate, not from both"),
        (0, None) => usage("a time is needed: --column t_s=NAME:s, or --rate HZ for a file without one"),
        (_, Some(rate)) if !(rate.is_finite() && rate > 0.0) => usage("--rate must be above 0"),
        _ if args.decimal_comma && args.separator == ',' => {
            usage("--decimal-comma needs another --separator, such as --separator ';'")
        }
        _ if !args.separator.is_ascii() => usage("--separator must be an ASCII character"),
        _ => Ok(()),
    }
}

fn started(args: &ImportArgs) -> Result<jiff::ZonedDateTime, CommandError> {
    let zone = jiff::tz::TimeZone::system();
    if let Some(text) = &args.started {
        let at: jiff::civil::DateTime = text.parse().map_err(|_| {
            CommandError::Usage(format!("--started '{text}' is not a time like 2027-04-11T09:14"))
        })?;
        return at
            .to_zoned_datetime(zone)
            .map_err(|error| CommandError::Usage(format!("--started: {error}")));
    }
    let modified = std::fs::metadata(&args.file)
        .and_then(|about| about.modified())
        .map_err(|cause| CommandError::at(&args.file, cause))?;
    let at = jiff::Timestamp::try_from(modified)?;
    Ok(at.to_zoned_datetime(zone))
}

fn write_files(
    folder: &Path,
    id: &str,
    description: &RunDescription,
    roles: &[ChannelRole],
    rows: &[Row],
) -> Result<(), CommandError> {
    let mut text = rows_header(roles);
    rows.iter().for_each(|row| push_row(row, roles, &mut text));
    let toml = description.to_toml()?;
    let files = [RowsFile { name: "plow.csv".into(), columns: roles.to_vec() }];
    let all: [(&str, &str); 4] = [
        ("plow.csv", &text),
        ("events.csv", EVENTS_HEADER),
        ("datapackage.json", &datapackage(id, &files, false)),
        ("run.toml", &toml),
    ];
    for (name, text) in all {
        write(&folder.join(name), text.as_bytes())?;
    }
    Ok(())
}

/// Where a column of the run comes from.
#[derive(Clone, Debug, PartialEq)]
struct Source {
    /// The column of the run; `None` for the time.
    role: Option<ChannelRole>,
    /// The column of the file.
    name: String,
    /// One of the file's unit, in the run column's unit.
    factor: f64,
}

/// What the file had.
#[derive(Debug, Default)]
struct Imported {
    rows: Vec<Row>,
    /// Rows without a number in every wanted column.
    left_out: usize,
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
fn read_rows(args: &ImportArgs, sources: &[Source]) -> Result<Imported, CommandError> {
    let path = &args.file;
    let here = |why: String| CommandError::at(path, why);
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

fn places(header: &csv::ByteRecord, args: &ImportArgs, sources: &[Source]) -> Result<Places, CommandError> {
    if ingest::description_file::is_utf16(header.as_slice()) {
        return Err(CommandError::at(&args.file, ingest::description_file::UTF16_SENTENCE));
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
        Err(CommandError::at(&args.file, why))
    };
    let time = sources.iter().find(|source| source.role.is_none()).map(cell).transpose()?;
    let readings = in_column_order(sources).iter().map(cell).collect::<Result<_, _>>()?;
    Ok(Places { time, rate: args.rate, readings, decimal_comma: args.decimal_comma })
}

/// The readings' sources in the order of a run's columns.
fn in_column_order(sources: &[Source]) -> Vec<Source> {
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
        // A day is more than any recording.
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
    fn a_mapping_names_column_source_and_unit() {
        let source = source_of("pull_n=Force x:kN").unwrap();
        assert_eq!(source, Source { role: Some(ChannelRole::Pull), name: "Force x".into(), factor: 1000.0 });
        let source = source_of("depth_mm=Depth:in").unwrap();
        assert!((source.factor - 25.4).abs() < 1e-12);
        assert_eq!(source_of("t_s=ms:ms").unwrap().factor, 1e-3);
        for wrong in ["pull_n", "pull=Force", "pull_n=Force:in", "t_s=T:weeks"] {
            assert!(matches!(source_of(wrong), Err(CommandError::Usage(_))), "{wrong}");
        }
    }

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
