//! One run a pass from a recording that ran all afternoon: its `plow.wire` goes through the same look-back and the same
//! rule as a recorder that begins its runs when the plow goes into the ground, as fast as the disk allows.

use crate::assemble::{Assembler, CalibratedSensor, calibrated};
use crate::calibration::CalibrationFault;
use crate::csv_text::EVENTS_HEADER;
use crate::description_file::DescriptionError;
use crate::gnss::Receiver;
use crate::passes::cannot_find;
use crate::passes::still::{Standing, ZeroBefore};
use crate::recorder::{BEFORE_US, ByPlow, LookBack, RunEnd, SoFar, as_said, put_end};
use crate::run_event::{EventKind, Item};
use crate::run_folder::{
    RowsFile, create_parent, create_run_folder, datapackage, fill_new_folder, run_name, write_whole,
};
use crate::run_toml::{RunDescription, RunState, read_run_toml};
use crate::tables::Tables;
use crate::wire_file::{Record, WIRE_MAGIC, WireEvent, WireFault, WireReader};
use std::io;
use std::path::{Path, PathBuf};

/// A pass that was cut out.
#[derive(Clone, Debug, PartialEq)]
pub struct CutPass {
    /// Its run folder.
    pub folder: PathBuf,
    /// Its time 0, in run time of the recording, in s.
    pub from_s: f64,
    /// How long it lasts, in s.
    pub lasted_s: f64,
    /// How long the plow worked in it, in s, if that is too short for a verdict.
    pub too_short_s: Option<f64>,
}

/// What came of a recording.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Cut {
    /// Its passes.
    pub passes: Vec<CutPass>,
    /// What was left out of the wire files, one sentence each.
    pub notices: Vec<String>,
}

/// Why a recording cannot be cut. Each is one sentence.
#[derive(Debug, thiserror::Error)]
#[allow(missing_docs, reason = "the sentences say what they are")]
pub enum CutError {
    #[error(transparent)]
    Description(#[from] DescriptionError),
    #[error(
        "{}: the run was not recorded from a sensor box: import the file that it was made from again, which makes one \
         run a pass", .0.display()
    )]
    NoBox(PathBuf),
    #[error("{}: its passes cannot be found, as {why}", folder.display())]
    CannotFind { folder: PathBuf, why: &'static str },
    #[error(transparent)]
    Calibration(#[from] CalibrationFault),
    #[error("{}: {cause}", path.display())]
    Io { path: PathBuf, cause: io::Error },
    #[error("{0}")]
    Out(String),
    #[error("{}: when it was recorded cannot be read: {why}", folder.display())]
    Time { folder: PathBuf, why: String },
    #[error("{}: {cause}", folder.display())]
    Text { folder: PathBuf, cause: toml::ser::Error },
}

/// Cuts the passes out of a recording, each into a run folder of its own in `out`; the recording stays as it is.
///
/// # Errors
/// [`CutError`]; what was made before it stays.
pub fn cut_passes(folder: &Path, out: &Path) -> Result<Cut, CutError> {
    let description = read_run_toml(&folder.join("run.toml"))?;
    if description.boxes.is_empty() {
        return Err(CutError::NoBox(folder.to_owned()));
    }
    if let Some(why) = cannot_find(&description.plow) {
        return Err(CutError::CannotFind { folder: folder.to_owned(), why });
    }
    let mut wires = Vec::new();
    for file in description.wire_files() {
        let path = folder.join(file);
        let bytes = std::fs::read(&path).map_err(|cause| CutError::Io { path: path.clone(), cause })?;
        wires.push((path, bytes));
    }
    let sensors = calibrated(&description.plow.sensors, &description.plow.own_sensors)?;
    let mut readers: Vec<_> = wires.iter().map(|(_, bytes)| WireReader::new(bytes).peekable()).collect();
    let mut cutter = Cutter::new(folder, out, &description, sensors)?;
    loop {
        // The earliest record; of several boxes' at one time that of the first box.
        let times = readers
            .iter_mut()
            .enumerate()
            .filter_map(|(number, reader)| reader.peek().map(|record| (record.host_us, number)));
        let Some((_, number)) = times.min() else { break };
        let Some(record) = readers.get_mut(number).and_then(Iterator::next) else { break };
        cutter.take(number, record)?;
    }
    cutter.end(RunEnd::OutOfGround)?;
    let mut cut = Cut { passes: cutter.passes, notices: Vec::new() };
    for (path, bytes) in &wires {
        let mut reader = WireReader::new(bytes);
        reader.by_ref().for_each(drop);
        cut.notices.extend(reader.fault().map(|fault: WireFault| format!("{}: {fault}", path.display())));
    }
    Ok(cut)
}

/// A box of the recording, as a recorder sees it live.
struct Live {
    assembler: Assembler,
    columns_since_us: u64,
}

/// A pass that is being cut out.
struct Piece {
    at_us: u64,
    records: Vec<(usize, Record)>,
    zero: Vec<ZeroBefore>,
}

struct Cutter<'a> {
    out: &'a Path,
    description: &'a RunDescription,
    /// When the recording began.
    started: jiff::ZonedDateTime,
    sensors: Vec<CalibratedSensor>,
    boxes: Vec<Live>,
    look_back: LookBack,
    by_plow: ByPlow,
    standing: Standing,
    started_us: Option<u64>,
    last_us: u64,
    last_end_us: u64,
    piece: Option<(Piece, u32)>,
    passes: Vec<CutPass>,
}

impl<'a> Cutter<'a> {
    fn new(
        folder: &'a Path,
        out: &'a Path,
        description: &'a RunDescription,
        sensors: Vec<CalibratedSensor>,
    ) -> Result<Self, CutError> {
        let time = |why: String| CutError::Time { folder: folder.to_owned(), why };
        let text = &description.run.started;
        let parsed =
            jiff::fmt::strtime::parse("%Y-%m-%dT%H:%M:%S%:z", text).map_err(|e| time(e.to_string()))?;
        let live = || Live { assembler: Assembler::new(sensors.clone()), columns_since_us: 0 };
        Ok(Self {
            out,
            description,
            started: parsed.to_zoned_datetime().map_err(|error| time(error.to_string()))?,
            boxes: description.boxes.iter().map(|_| live()).collect(),
            sensors,
            look_back: LookBack::default(),
            by_plow: ByPlow::of_plow(&description.plow),
            standing: Standing::of(&description.plow),
            started_us: None,
            last_us: 0,
            last_end_us: 0,
            piece: None,
            passes: Vec::new(),
        })
    }

    fn take(&mut self, number: usize, record: Record) -> Result<(), CutError> {
        self.last_us = self.last_us.max(record.host_us);
        let mut said = (None, None);
        if let Some(Live { assembler, columns_since_us }) = self.boxes.get_mut(number) {
            let (hellos, known) = (assembler.handshake.hellos, assembler.handshake.hello.is_some());
            let mut items = Vec::new();
            assembler.take(&record, &mut items);
            let (rows, events) = Item::split(items);
            let now_known = assembler.handshake.hello.is_some();
            if known != now_known || events.iter().any(|event| event.kind == EventKind::ChannelsChanged) {
                *columns_since_us = record.host_us;
            }
            let live_us = assembler.clock().run_at_host(record.host_us);
            for row in &rows {
                self.standing.take(row.t_us as f64 / 1e6, &assembler.columns().roles, row.values());
            }
            self.by_plow.take(&assembler.columns().roles, &rows, (record.host_us, live_us));
            let form = assembler.handshake.decoder.form();
            let hello = assembler.handshake.hello.as_ref().filter(|_| assembler.handshake.hellos != hellos);
            said = (hello.map(|hello| as_said(hello, form)), form);
        }
        match &record.what {
            WireEvent::Started => {
                self.started_us.get_or_insert(record.host_us);
            }
            WireEvent::Ended(_) | WireEvent::NewFolder(_) => {}
            _ => {
                if let Some((piece, _)) = &mut self.piece {
                    piece.records.push((number, record.clone()));
                }
                self.look_back.push(number, record, SoFar::default(), said);
            }
        }
        if self.piece.is_some() {
            if self.by_plow.is_out_since(self.last_us) {
                self.end(RunEnd::OutOfGround)?;
            }
        } else if let (Some(started_us), Some((asked_us, pass))) =
            (self.started_us, self.by_plow.take_went_in())
        {
            let since = self.boxes.iter().map(|live| live.columns_since_us);
            let earliest_us = since.fold(started_us.max(self.last_end_us + 1), u64::max);
            let at_us = self.look_back.free_us(asked_us.saturating_sub(BEFORE_US).max(earliest_us));
            let records = self.look_back.of_run(at_us, self.ports());
            self.by_plow.run_begins(true);
            // Run time of the recording is what its boxes' rows have.
            let began_s = at_us.saturating_sub(started_us) as f64 / 1e6;
            let zero = self.standing.take_zero(began_s);
            self.piece = Some((Piece { at_us, records, zero }, pass));
        }
        Ok(())
    }

    fn ports(&self) -> usize {
        self.boxes.len() + usize::from(self.description.gnss.is_some())
    }

    /// Writes the pass that is being cut out, if there is one.
    fn end(&mut self, end: RunEnd) -> Result<(), CutError> {
        let Some((Piece { at_us, mut records, zero }, pass)) = self.piece.take() else { return Ok(()) };
        self.by_plow.run_ends();
        let ended_us = self.last_us + 1;
        self.last_end_us = ended_us;
        let ended = format!("{end}; cut out of {}", self.description.run.id);
        records.extend(
            (0..self.ports())
                .map(|number| (number, Record { host_us: ended_us, what: WireEvent::Ended(ended.clone()) })),
        );
        let from_us = at_us.saturating_sub(self.started_us.unwrap_or(at_us));
        let from = jiff::SignedDuration::from_micros(i64::try_from(from_us).unwrap_or(0));
        let started = self.started.checked_add(from).unwrap_or_else(|_| self.started.clone());
        create_parent(self.out).map_err(CutError::Out)?;
        let name = run_name(&started, &self.description.run.setting_name, Some(pass));
        let folder = create_run_folder(self.out, &name)
            .map_err(|cause| CutError::Io { path: self.out.join(&name), cause })?;
        let mut description = self.description.clone();
        description.run.id = folder.file_name().unwrap_or_default().to_string_lossy().into_owned();
        description.run.started = started.strftime("%Y-%m-%dT%H:%M:%S%:z").to_string();
        description.zero = zero;
        let lasted_us = ended_us.saturating_sub(at_us);
        let mut lasted_s = 0.0;
        fill_new_folder(&folder, || {
            lasted_s = write_run(&folder, description, &self.sensors, &records, (ended, lasted_us))?;
            Ok::<(), CutError>(())
        })?;
        let too_short_s = self.by_plow.too_short_s();
        self.passes.push(CutPass { folder, from_s: from_us as f64 / 1e6, lasted_s, too_short_s });
        Ok(())
    }
}

/// Writes all files of a run that is over, from its records.
fn write_run(
    folder: &Path,
    mut description: RunDescription,
    sensors: &[CalibratedSensor],
    records: &[(usize, Record)],
    (ended, ended_us): (String, u64),
) -> Result<f64, CutError> {
    let names: Vec<String> = description.boxes.iter().map(|info| info.file.clone()).collect();
    let mut tables = Tables::new(&names, sensors, description.gnss.is_some());
    let ports = tables.files();
    let mut wires = vec![WIRE_MAGIC.to_vec(); ports.len()];
    let (mut rows, mut events) = (vec![String::new(); ports.len()], EVENTS_HEADER.to_owned());
    for (number, record) in records {
        if let (Some(wire), Some(rows)) = (wires.get_mut(*number), rows.get_mut(*number)) {
            record.write_to(wire);
            tables.take(*number, record, rows, &mut events);
        }
    }
    let assemblers: Vec<Assembler> =
        (0..names.len()).filter_map(|number| tables.assembler(number).cloned()).collect();
    for (info, assembler) in description.boxes.iter_mut().zip(&assemblers) {
        info.boot = assembler.handshake.hello.map_or(info.boot, |hello| hello.boot);
    }
    let receiver: Option<&Receiver> = tables.receiver();
    let lasted_s = put_end(&mut description, RunState::Ended, ended, ended_us, &assemblers, receiver);
    let files: Vec<RowsFile> = names
        .iter()
        .zip(&assemblers)
        .map(|(name, assembler)| RowsFile {
            name: format!("{name}.csv"),
            columns: assembler.columns().clone(),
        })
        .collect();
    let toml = description.to_toml().map_err(|cause| CutError::Text { folder: folder.to_owned(), cause })?;
    let package = datapackage(&description.run.id, &files, description.gnss.is_some());
    let write = |name: String, bytes: &[u8]| {
        let path = folder.join(name);
        write_whole(&path, bytes).map_err(|cause| CutError::Io { path, cause })
    };
    for ((port, wire), rows) in ports.iter().zip(&wires).zip(&rows) {
        write(format!("{port}.wire"), wire)?;
        write(format!("{port}.csv"), rows.as_bytes())?;
    }
    write("events.csv".to_owned(), events.as_bytes())?;
    write("datapackage.json".to_owned(), package.as_bytes())?;
    write("run.toml".to_owned(), toml.as_bytes())?;
    Ok(lasted_s)
}

#[cfg(test)]
mod tests;
