//! Rows and events from `plow.wire`, with the calibration of the run or another one.

use crate::assemble::{RunCounters, calibrated};
use crate::calibration::CalibrationFault;
use crate::csv_text::EVENTS_HEADER;
use crate::description_file::DescriptionError;
use crate::plow::Plow;
use crate::row_columns::RowColumns;
use crate::run_folder::RowsFile;
use crate::run_toml::{RunDescription, read_run_toml};
use crate::tables::Tables;
use crate::wire_file::{Record, WireEvent, WireReader};
use std::path::{Path, PathBuf};

/// A file's name and its bytes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RebuiltFile {
    /// Name in the run folder.
    pub name: String,
    /// What it holds.
    pub bytes: Vec<u8>,
}

/// The files that a rebuild gives. Writing them is for the caller to decide.
#[derive(Clone, Debug, PartialEq)]
pub struct Rebuilt {
    /// One CSV a box, `gnss.csv` if there was a receiver, then `events.csv`.
    pub files: Vec<RebuiltFile>,
    /// What was counted, box by box.
    pub counters: Vec<RunCounters>,
    /// What was left out of the wire files, one sentence each.
    pub notices: Vec<String>,
}

impl Rebuilt {
    /// The boxes' files of rows with their columns, by the run's description.
    #[must_use]
    pub fn rows_files(&self, description: &RunDescription) -> Vec<RowsFile> {
        let own = description.plow.own_columns();
        let of_box = |file: &RebuiltFile| {
            let header = file.bytes.split(|byte| *byte == b'\n').next().unwrap_or_default();
            let columns = RowColumns::of_header(&String::from_utf8_lossy(header), &own);
            RowsFile { name: file.name.clone(), columns }
        };
        self.files.iter().take(description.boxes.len()).map(of_box).collect()
    }
}

/// Why a run cannot be rebuilt.
#[derive(Debug, thiserror::Error)]
#[allow(missing_docs, reason = "the sentences say what they are, the names of fields their unit")]
pub enum RebuildError {
    #[error(transparent)]
    Description(#[from] DescriptionError),
    #[error("{}: {cause}", path.display())]
    Unreadable { path: PathBuf, cause: std::io::Error },
    #[error(
        "{}: there is no such file: without the raw bytes the tables cannot be held against them, and the run \
         cannot be rebuilt", .0.display()
    )]
    NoRawBytes(PathBuf),
    #[error("{}: the run was not recorded from a sensor box, so there is nothing to rebuild it from", .0.display())]
    NoBox(PathBuf),
    #[error(transparent)]
    Calibration(#[from] CalibrationFault),
}

/// Rebuilds a run's CSV files in memory; `plow` brings other calibrations than those of the run.
///
/// # Errors
/// [`RebuildError`] if the description or a wire file cannot be read. A damaged wire file is no error:
/// what stands before the damage is rebuilt and a notice says how much was left out.
pub fn rebuild(folder: &Path, plow: Option<&Plow>) -> Result<Rebuilt, RebuildError> {
    let description = read_run_toml(&folder.join("run.toml"))?;
    if description.boxes.is_empty() {
        return Err(RebuildError::NoBox(folder.to_owned()));
    }
    let mut wires = Vec::new();
    for file in description.wire_files() {
        let path = folder.join(file);
        let bytes = std::fs::read(&path).map_err(|cause| match cause.kind() {
            std::io::ErrorKind::NotFound => RebuildError::NoRawBytes(path.clone()),
            _ => RebuildError::Unreadable { path: path.clone(), cause },
        })?;
        wires.push((path, bytes));
    }
    Ok(rebuild_from(&description, plow, &wires)?)
}

/// The same from the bytes of the wire files, each with its name for the notices, in the order of
/// [`RunDescription::wire_files`].
///
/// # Errors
/// [`CalibrationFault`] for a calibration that gives no readings.
pub fn rebuild_from(
    description: &RunDescription,
    plow: Option<&Plow>,
    wires: &[(PathBuf, Vec<u8>)],
) -> Result<Rebuilt, CalibrationFault> {
    Ok(replay(description, plow, wires)?.rebuilt)
}

/// What the wire files of a run give, and how far it can be relied on.
pub(crate) struct Replayed {
    pub rebuilt: Rebuilt,
    /// The state machines after the last record.
    pub tables: Tables,
    /// So many bytes of each file no further record could have changed.
    pub settled_bytes: Vec<usize>,
    /// Whether each wire file was read to its end, and that is the end of the run.
    pub closed: Vec<bool>,
    /// Host time of the last record, in µs.
    pub last_host_us: u64,
}

/// As [`rebuild_from`].
pub(crate) fn replay(
    description: &RunDescription,
    plow: Option<&Plow>,
    wires: &[(PathBuf, Vec<u8>)],
) -> Result<Replayed, CalibrationFault> {
    let plow = plow.unwrap_or(&description.plow);
    let sensors = calibrated(&plow.sensors, &plow.own_sensors)?;
    let boxes: Vec<String> = description.boxes.iter().map(|info| info.file.clone()).collect();
    let mut notices = Vec::new();
    let mut closed = Vec::new();
    let mut records: Vec<(usize, Record)> = Vec::new();
    for (number, (path, bytes)) in wires.iter().enumerate() {
        let mut reader = WireReader::new(bytes);
        let before = records.len();
        records.extend(reader.by_ref().map(|record| (number, record)));
        let last = records.get(before..).and_then(<[_]>::last);
        let is_end = last.is_some_and(|(_, record)| matches!(record.what, WireEvent::Ended(_)));
        closed.push(is_end && reader.fault().is_none());
        notices.extend(reader.fault().map(|fault| format!("{}: {fault}", path.display())));
    }
    // Stable, so records of one box stay in order; the recorder gives no two boxes the same time.
    records.sort_by_key(|(_, record)| record.host_us);
    let tables = Tables::new(&boxes, &sensors, description.gnss.is_some());
    Ok(tables_of(tables, &records, notices, closed))
}

fn tables_of(
    mut tables: Tables,
    records: &[(usize, Record)],
    notices: Vec<String>,
    closed: Vec<bool>,
) -> Replayed {
    let files = tables.files();
    let mut rows = vec![String::new(); files.len()];
    let mut events = EVENTS_HEADER.to_owned();
    for (number, record) in records {
        if let Some(rows) = rows.get_mut(*number) {
            tables.take(*number, record, rows, &mut events);
        }
    }
    let settled_bytes = rows.iter().chain([&events]).map(String::len).collect();
    for (number, rows) in rows.iter_mut().enumerate() {
        tables.finish(number, rows, &mut events);
    }
    let counters = (0..files.len())
        .filter_map(|number| tables.assembler(number).map(|assembler| assembler.counters()))
        .collect();
    let mut rebuilt: Vec<_> = files
        .iter()
        .zip(rows)
        .map(|(file, rows)| RebuiltFile { name: format!("{file}.csv"), bytes: rows.into_bytes() })
        .collect();
    rebuilt.push(RebuiltFile { name: "events.csv".to_owned(), bytes: events.into_bytes() });
    let last_host_us = records.last().map_or(0, |(_, record)| record.host_us);
    let rebuilt = Rebuilt { files: rebuilt, counters, notices };
    Replayed { rebuilt, tables, settled_bytes, closed, last_host_us }
}
