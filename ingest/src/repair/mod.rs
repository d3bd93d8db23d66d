//! A run whose recorder was killed, whose power was cut or whose files were damaged, made whole from its raw bytes.
//!
//! The wire files are never touched. A table that they give more of, or otherwise, is made anew from them; one that goes
//! on where they are damaged keeps its whole lines. `run.toml` gets its end, counters and clocks, as the recorder would
//! have written them. Each file is replaced whole, `run.toml` last, so that a power cut in between leaves a run that
//! can be repaired to the same; what a new file does not hold of the old one stays beside it as `NAME.before-repair`.

mod finding;
mod table;

pub use finding::{DisplayedS, Finding, RepairError};

use crate::csv_text::EVENTS_HEADER;
use crate::memory::check_room;
use crate::plow::OwnColumn;
use crate::rebuild::{Replayed, replay};
use crate::recorder::put_end;
use crate::row_columns::RowColumns;
use crate::run_folder::{GNSS_CSV, RowsFile, datapackage};
use crate::run_toml::{RunDescription, RunState, read_run_toml};
use std::fs::{File, TryLockError};
use std::io;
use std::path::{Path, PathBuf};
use table::{Lines, Stands, stands};

/// What `run.toml` says of how a repaired run ended.
const ENDED: &str = "not ended properly: the recorder was killed or the power was cut";

/// A file that is to be replaced.
#[derive(Clone, Debug, PartialEq, Eq)]
struct Replacement {
    name: String,
    bytes: Vec<u8>,
    /// What is in the file and not in the new one.
    old: Option<Vec<u8>>,
}

/// What is wrong with a run, and what makes it whole.
#[derive(Debug)]
pub struct Repair {
    folder: PathBuf,
    /// A recorder has its files open.
    pub still_recording: bool,
    /// What is to be put right, in the order in which it is done, and what cannot be.
    pub findings: Vec<Finding>,
    /// Tables that are not what the raw bytes give.
    pub differing: Vec<String>,
    /// What was left out of the wire files, one sentence each.
    pub notices: Vec<String>,
    /// Wire files that are not there.
    pub missing_wires: Vec<PathBuf>,
    wire_files: Vec<String>,
    replacements: Vec<Replacement>,
}

impl Repair {
    /// Looks at a run; nothing is changed.
    ///
    /// # Errors
    /// [`RepairError`] if `run.toml` or another file cannot be read.
    pub fn of(folder: &Path) -> Result<Self, RepairError> {
        let description = read_run_toml(&folder.join("run.toml"))?;
        let mut repair = Self {
            folder: folder.to_owned(),
            still_recording: false,
            findings: Vec::new(),
            differing: Vec::new(),
            notices: Vec::new(),
            missing_wires: Vec::new(),
            wire_files: description.wire_files(),
            replacements: Vec::new(),
        };
        repair.check_wires()?;
        repair.still_recording = repair.locks(File::try_lock_shared).is_none();
        repair.check_room(&description)?;
        // The tables first: while they are recorded, the raw bytes are ahead of them.
        let names = tables_of(&description);
        let on_disk = names.iter().map(|name| repair.read(name)).collect::<Result<Vec<_>, _>>()?;
        let mut wires = Vec::new();
        for name in description.wire_files() {
            let path = folder.join(&name);
            let bytes = repair.read(&name)?;
            repair.missing_wires.extend(bytes.is_none().then(|| path.clone()));
            wires.push((path, bytes.unwrap_or_default()));
        }
        let replayed = replay(&description, None, &wires)?;
        drop(wires);
        repair.notices.clone_from(&replayed.rebuilt.notices);
        let tables: Vec<LookedAt> = names
            .iter()
            .zip(on_disk)
            .enumerate()
            .map(|(number, (name, old))| repair.look_at_table(&description, name, old, number, &replayed))
            .collect();
        repair.look_at_package(&description, &tables)?;
        repair.look_at_description(description, &tables, &replayed)?;
        Ok(repair)
    }

    /// Whether nothing is to be put right.
    #[must_use]
    pub fn is_nothing(&self) -> bool {
        self.replacements.is_empty()
    }

    /// What is put right.
    pub fn put_right(&self) -> impl Iterator<Item = &Finding> {
        self.findings.iter().filter(|finding| !finding.stays())
    }

    /// What stays as it is, and is to be known.
    pub fn beyond_repair(&self) -> impl Iterator<Item = &Finding> {
        self.findings.iter().filter(|finding| finding.stays())
    }

    /// Replaces what is to be replaced, by name and bytes and each file whole or not at all; gives the names of what is
    /// kept of the old files.
    ///
    /// # Errors
    /// [`RepairError`] if a recorder is at work, or the disk fails; then repairing again does the rest.
    pub fn carry_out(
        &self,
        mut replace: impl FnMut(&str, &[u8]) -> io::Result<()>,
    ) -> Result<Vec<String>, RepairError> {
        // Held to the end, so that no two do it at once.
        let still_recording = || RepairError::StillRecording(self.folder.clone());
        let _locks =
            self.locks(File::try_lock).filter(|_| !self.still_recording).ok_or_else(still_recording)?;
        let mut kept = Vec::new();
        for Replacement { name, bytes, old } in &self.replacements {
            let unwritten = |cause: io::Error| RepairError::Unwritten {
                path: self.folder.join(name),
                cause: cause.to_string(),
            };
            if let Some(old) = old {
                let beside = self.name_beside(name, old)?;
                if let (beside, true) = &beside {
                    replace(beside, old).map_err(unwritten)?;
                }
                kept.push(beside.0);
            }
            replace(name, bytes).map_err(unwritten)?;
        }
        Ok(kept)
    }

    /// A name beside a file for its old bytes, and whether they are to be written there: they may be there already, from
    /// a repair that was cut short.
    fn name_beside(&self, name: &str, old: &[u8]) -> Result<(String, bool), RepairError> {
        let mut number = 1u32;
        loop {
            let count = if number == 1 { String::new() } else { format!("-{number}") };
            let beside = format!("{name}.before-repair{count}");
            match self.read(&beside)? {
                None => return Ok((beside, true)),
                Some(bytes) if bytes == old => return Ok((beside, false)),
                Some(_) => number += 1,
            }
        }
    }

    /// A `run.toml` that was cut behind a box may read as one without it.
    fn check_wires(&self) -> Result<(), RepairError> {
        let unreadable = |cause| RepairError::Unreadable { path: self.folder.clone(), cause };
        for entry in std::fs::read_dir(&self.folder).map_err(unreadable)? {
            let path = entry.map_err(unreadable)?.path();
            let is_wire = path.extension().is_some_and(|ending| ending == "wire");
            let is_known = |name: &String| path.file_name().is_some_and(|there| there == name.as_str());
            if is_wire && !self.wire_files.iter().any(is_known) {
                return Err(RepairError::UnknownWire(path));
            }
        }
        Ok(())
    }

    fn check_room(&self, description: &RunDescription) -> Result<(), RepairError> {
        let bytes = |names: &[String]| -> u64 {
            let length =
                |name: &String| std::fs::metadata(self.folder.join(name)).map_or(0, |about| about.len());
            names.iter().map(length).sum()
        };
        let (tables, wires) = (bytes(&tables_of(description)), bytes(&self.wire_files));
        // The tables as they are, and as rebuilt in strings that double as they grow; the raw bytes, and as records.
        let needed = tables.saturating_add(tables.max(2 * wires).saturating_mul(3)).saturating_add(4 * wires);
        let folder = || self.folder.clone();
        check_room(needed).map_err(|cause| RepairError::NoMemory { folder: folder(), cause })
    }

    /// Locks of the wire files; `None` if a recorder has one.
    fn locks(&self, lock: impl Fn(&File) -> Result<(), TryLockError>) -> Option<Vec<File>> {
        let mut locks = Vec::new();
        for name in &self.wire_files {
            // One that cannot be opened or locked is held by nobody that we know of.
            let Ok(file) = File::open(self.folder.join(name)) else { continue };
            if let Err(TryLockError::WouldBlock) = lock(&file) {
                return None;
            }
            locks.push(file);
        }
        Some(locks)
    }

    /// A file of the run; `None` if there is none.
    fn read(&self, name: &str) -> Result<Option<Vec<u8>>, RepairError> {
        let path = self.folder.join(name);
        match std::fs::read(&path) {
            Ok(bytes) => Ok(Some(bytes)),
            Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(None),
            Err(cause) => Err(RepairError::Unreadable { path, cause }),
        }
    }

    fn look_at_table(
        &mut self,
        description: &RunDescription,
        name: &str,
        old: Option<Vec<u8>>,
        number: usize,
        replayed: &Replayed,
    ) -> LookedAt {
        let lines = if name == "events.csv" { Lines::Events } else { Lines::Rows };
        let has_wire = !description.boxes.is_empty();
        let wire = match replayed.rebuilt.files.get(number) {
            Some(file) if has_wire => file.bytes.as_slice(),
            // An imported run has no raw bytes, and may have no events.
            _ if lines == Lines::Events => EVENTS_HEADER.as_bytes(),
            _ => &[],
        };
        let settled = replayed.settled_bytes.get(number).copied().unwrap_or(0);
        let closed = match lines {
            Lines::Rows => replayed.closed.get(number).copied().unwrap_or(false),
            Lines::Events => !replayed.closed.is_empty() && replayed.closed.iter().all(|closed| *closed),
        };
        let was_there = old.is_some();
        let old = old.unwrap_or_default();
        let whole = lines.whole_part(&old);
        let stands = stands(lines, whole, wire, settled, closed);
        let new = if stands == Stands::File { whole } else { wire };
        let goes_on = stands == Stands::File;
        let looked_at = LookedAt::of(name, new, goes_on, &description.plow.own_columns());
        let ended = description.run.state == RunState::Ended;
        // What was written at the moment of a power cut may be in one file and not in the other.
        let agrees =
            old == wire || (!ended && (stands == Stands::Wire || (goes_on && whole.len() == old.len())));
        if has_wire && !(agrees || self.still_recording) {
            self.differing.push(name.to_owned());
        }
        if new.is_empty() && (!old.is_empty() || !was_there) {
            self.findings.push(Finding::Hopeless { name: name.to_owned() });
            return looked_at;
        }
        let rows = |bytes: &[u8]| bytes.iter().filter(|byte| **byte == b'\n').count().saturating_sub(1);
        let (name, before, now) = (name.to_owned(), rows(whole), rows(new));
        let cut_bytes = old.len() - whole.len();
        let given = rows(wire).min(now);
        if goes_on && has_wire && now > given {
            self.findings.push(Finding::Kept { name: name.clone(), rows: now - given });
        }
        if old == new {
            return looked_at;
        }
        if stands == Stands::WireInstead {
            self.findings.push(Finding::MadeAnew { name: name.clone(), before, rows: now });
        } else if !was_there {
            self.findings.push(Finding::WasMissing { name: name.clone(), rows: now });
        } else {
            if cut_bytes > 0 {
                self.findings.push(Finding::Cut { name: name.clone(), bytes: cut_bytes });
            }
            if now > before {
                self.findings.push(Finding::Gained { name: name.clone(), rows: now - before });
            }
        }
        // Zero bytes at its end, and the beginning of a row that is there now, say nothing.
        let end = old.iter().rposition(|byte| *byte != 0).map_or(0, |at| at + 1);
        let is_in_new = old.get(..end).is_some_and(|said| new.starts_with(said));
        let bytes = new.to_vec();
        self.replacements.push(Replacement { name, bytes, old: (!is_in_new).then_some(old) });
        looked_at
    }

    fn look_at_package(
        &mut self,
        description: &RunDescription,
        tables: &[LookedAt],
    ) -> Result<(), RepairError> {
        const NAME: &str = "datapackage.json";
        let old = self.read(NAME)?;
        let is_whole = |bytes: &Vec<u8>| serde_json::from_slice::<serde_json::Value>(bytes).is_ok();
        if old.as_ref().is_some_and(is_whole) {
            return Ok(());
        }
        let of_boxes = tables.iter().filter(|table| table.name != GNSS_CSV && table.name != "events.csv");
        let files: Vec<RowsFile> = of_boxes
            .map(|table| RowsFile { name: table.name.clone(), columns: table.columns.clone() })
            .collect();
        let text = datapackage(&description.run.id, &files, description.gnss.is_some());
        self.findings.push(Finding::Package);
        // A description that is made anew from what is there loses nothing.
        self.replacements.push(Replacement { name: NAME.to_owned(), bytes: text.into_bytes(), old: None });
        Ok(())
    }

    fn look_at_description(
        &mut self,
        description: RunDescription,
        tables: &[LookedAt],
        replayed: &Replayed,
    ) -> Result<(), RepairError> {
        let count = description.boxes.len();
        let assemblers: Vec<_> =
            (0..count).filter_map(|number| replayed.tables.assembler(number).cloned()).collect();
        let state = description.run.state;
        let all_closed = count > 0 && replayed.closed.iter().all(|closed| *closed);
        let counted = description.boxes.iter().zip(&assemblers).all(|(info, assembler)| {
            info.counters.is_some_and(|counters| counters.rows == assembler.counters().rows)
        });
        let mut repaired = description.clone();
        match state {
            RunState::Recording => {
                let on_host =
                    assemblers.iter().map(|one| one.clock().run_at_host(replayed.last_host_us)).max();
                let (ended, receiver) = (ENDED.to_owned(), replayed.tables.receiver());
                let last_us = tables.iter().map(|table| table.last_us).fold(0, u64::max);
                let ended_us = on_host.unwrap_or(0).max(last_us);
                let lasted_s =
                    put_end(&mut repaired, RunState::Repaired, ended, ended_us, &assemblers, receiver);
                // Raw bytes that end before their table do not say what was counted.
                for ((info, before), table) in repaired.boxes.iter_mut().zip(&description.boxes).zip(tables) {
                    if table.goes_on {
                        (info.counters, info.clock) = (before.counters, before.clock.clone());
                    }
                }
                self.findings.push(Finding::End { lasted_s: DisplayedS((lasted_s * 1e6) as u64) });
            }
            RunState::Ended if all_closed && !counted => {
                for (info, assembler) in repaired.boxes.iter_mut().zip(&assemblers) {
                    info.counters = Some(assembler.counters());
                }
                self.findings.push(Finding::Counters);
            }
            _ => return Ok(()),
        }
        let path = self.folder.join("run.toml");
        let text = repaired
            .to_toml()
            .map_err(|error| RepairError::Unreadable { path, cause: io::Error::other(error.to_string()) })?;
        let old = if state == RunState::Ended { self.read("run.toml")? } else { None };
        self.replacements.push(Replacement { name: "run.toml".to_owned(), bytes: text.into_bytes(), old });
        Ok(())
    }
}

/// A table as it is after the repair.
struct LookedAt {
    name: String,
    /// It goes on where the raw bytes end.
    goes_on: bool,
    columns: RowColumns,
    /// Time of its last line, in µs.
    last_us: u64,
}

impl LookedAt {
    fn of(name: &str, text: &[u8], goes_on: bool, own: &[OwnColumn]) -> Self {
        let line = |line: &[u8]| String::from_utf8_lossy(line).into_owned();
        let header = text.split(|byte| *byte == b'\n').next().map(line).unwrap_or_default();
        let last = text.rsplit(|byte| *byte == b'\n').nth(1).map(line).unwrap_or_default();
        let last_s = last.split(',').next().and_then(|time| time.parse::<f64>().ok()).unwrap_or(0.0);
        Self {
            name: name.to_owned(),
            goes_on,
            columns: RowColumns::of_header(&header, own),
            last_us: (last_s * 1e6) as u64,
        }
    }
}

/// Names of a run's tables, in the order in which a rebuild gives them.
fn tables_of(description: &RunDescription) -> Vec<String> {
    if description.boxes.is_empty() {
        return vec!["plow.csv".to_owned(), "events.csv".to_owned()];
    }
    let boxes = description.boxes.iter().map(|info| format!("{}.csv", info.file));
    let gnss = description.gnss.iter().map(|_| GNSS_CSV.to_owned());
    boxes.chain(gnss).chain(["events.csv".to_owned()]).collect()
}
