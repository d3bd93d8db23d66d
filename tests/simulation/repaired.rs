//! What is left after a power cut, repaired.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use held::run_folder::events_of;
use ingest::repair::Repair;
use ingest::run_toml::{RunDescription, RunState, read_run_toml_text};

use crate::world::Left;

pub struct Repaired {
    pub files: BTreeMap<String, Vec<u8>>,
}

impl Repaired {
    pub fn text_of(&self, name: &str) -> Result<String, String> {
        let bytes = self.files.get(name).ok_or(format!("no {name} after the repair"))?;
        String::from_utf8(bytes.clone()).map_err(|error| error.to_string())
    }
}

/// Repairs what is left, in a folder of its own. It must be said if something was lost; the raw bytes stay as they are;
/// what has been repaired needs no repair.
pub fn repaired(left: &Left, before: &RunDescription) -> Result<Repaired, String> {
    repaired_of(&left.files, left.is_cut, before)
}

/// The same of the files of a run, of which a power cut took something if `is_cut`.
pub fn repaired_of(
    were: &BTreeMap<String, Vec<u8>>,
    is_cut: bool,
    before: &RunDescription,
) -> Result<Repaired, String> {
    let folder = tempfile::tempdir().map_err(|error| error.to_string())?;
    let path = |name: &str| folder.path().join(name);
    for (name, bytes) in were {
        fs::write(path(name), bytes).map_err(|error| error.to_string())?;
    }
    let look = || Repair::of(folder.path()).map_err(|error| error.to_string());
    let repair = look()?;
    let is_said = before.run.state == RunState::Recording
        || !(repair.findings.is_empty() && repair.differing.is_empty() && repair.notices.is_empty())
        || rows_are_fewer_than_counted(were, before)?;
    if is_cut && !is_said {
        return Err("the power cut took something of a run that had ended, and nobody is told".to_owned());
    }
    let replace = |name: &str, bytes: &[u8]| fs::write(path(name), bytes);
    repair.carry_out(replace).map_err(|error| format!("cannot be repaired: {error}"))?;
    let again = look()?;
    if !again.is_nothing() {
        return Err(format!("repaired, it is to be repaired again: {:?}", again.findings));
    }
    let mut files = BTreeMap::new();
    for name in were.keys() {
        files.insert(name.clone(), fs::read(path(name)).map_err(|error| error.to_string())?);
    }
    if let Some(wire) = before.wire_files().into_iter().find(|wire| files.get(wire) != were.get(wire)) {
        return Err(format!("{wire}: the repair has changed the raw bytes"));
    }
    let repaired = Repaired { files };
    let text = repaired.text_of("run.toml")?;
    let after = read_run_toml_text(&text, Path::new("run.toml")).map_err(|error| error.to_string())?;
    if before.run.state == RunState::Recording && after.run.state != RunState::Repaired {
        return Err(format!("repaired, but run.toml says {:?}", after.run.state));
    }
    events_of(&repaired.text_of("events.csv")?)?;
    Ok(repaired)
}

/// What `check` sees: `run.toml` counts more rows than there are.
fn rows_are_fewer_than_counted(
    files: &BTreeMap<String, Vec<u8>>,
    description: &RunDescription,
) -> Result<bool, String> {
    for info in &description.boxes {
        let bytes = files.get(&format!("{}.csv", info.file)).map_or(&[][..], Vec::as_slice);
        let lines = bytes.iter().filter(|byte| **byte == b'\n').count().saturating_sub(1);
        if info.counters.is_some_and(|counters| counters.rows > lines as u64) {
            return Ok(true);
        }
    }
    Ok(false)
}
