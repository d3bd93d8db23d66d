//! Opening a run folder for reading: what is whole in it, whatever happened to the recorder.
//!
//! Nothing is changed. A row counts only with its line end, so the torn last row that a kill or a power
//! cut leaves is left out with a notice, and so is a tail of zero bytes.

use crate::csv_text::read_events;
use crate::description_file::{DescriptionError, DescriptionKind};
use crate::run_event::RunEvent;
use crate::run_folder::GNSS_CSV;
use crate::run_toml::{RunDescription, RunState, read_run_toml};
use schemars::JsonSchema;
use serde::Serialize;
use std::fs::File;
use std::io::{self, Read, Seek, SeekFrom};
use std::path::{Path, PathBuf};

/// A file of rows with the part of it that is whole.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct WholeFile {
    /// Where it is.
    pub path: PathBuf,
    /// Bytes up to and including the last line end.
    pub whole_bytes: u64,
    /// Bytes after it that are left out.
    pub cut_bytes: u64,
}

/// A run that was opened.
#[derive(Clone, Debug)]
pub struct OpenedRun {
    /// The folder.
    pub folder: PathBuf,
    /// Its `run.toml`.
    pub description: RunDescription,
    /// The files of rows of the boxes, `plow.csv` first.
    pub files: Vec<WholeFile>,
    /// `gnss.csv`, if it is there.
    pub gnss: Option<WholeFile>,
    /// Its events.
    pub events: Vec<RunEvent>,
    /// What is not as it should be.
    pub notices: Vec<OpenNotice>,
}

/// What of a run is not whole, or cannot be read and is not needed. Each is one sentence.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, JsonSchema, thiserror::Error)]
#[serde(tag = "kind", rename_all = "snake_case")]
#[allow(missing_docs, reason = "names of fields say what they are, and their unit")]
pub enum OpenNotice {
    /// The recording was not ended properly.
    #[error(
        "{}: the run was not ended properly (recorder killed, power cut, or still recording); what is there is used",
        folder.display()
    )]
    NotEndedProperly { folder: PathBuf },
    /// The same, and it was repaired since.
    #[error(
        "{}: the run was not ended properly (recorder killed or power cut) and was repaired since: its last second may \
         be missing", folder.display()
    )]
    Repaired { folder: PathBuf },
    /// A file ends in the middle of a row, which is left out.
    #[error("{}: torn last row of {bytes} bytes left out", path.display())]
    TornRow { path: PathBuf, bytes: u64 },
    /// The file of fixes cannot be read.
    #[error("{}: {cause}: places and speeds of the receiver are not known", path.display())]
    NoFixes { path: PathBuf, cause: String },
    /// The file of events ends in the middle of one, which is left out.
    #[error("{}: torn last event of {bytes} bytes left out", path.display())]
    TornEvent { path: PathBuf, bytes: u64 },
    /// Lines of the file of events are none.
    #[error("{}: {lines} lines are no events, the first is line {first_line}", path.display())]
    BadEvents { path: PathBuf, lines: usize, first_line: usize },
    /// The file of events cannot be read.
    #[error("{}: {cause}: events are not known", path.display())]
    NoEvents { path: PathBuf, cause: String },
}

/// Largest `events.csv` that is read, in bytes: a million events.
const EVENTS_BYTES_MAX: u64 = 64 * 1024 * 1024;
/// How much of a file's end is looked at at a time.
const TAIL_BYTES: u64 = 64 * 1024;

/// Opens a run folder.
///
/// # Errors
/// [`DescriptionError`] if `run.toml` or a file of rows cannot be read.
pub fn open_run(folder: &Path) -> Result<OpenedRun, DescriptionError> {
    let description = read_run_toml(&folder.join("run.toml"))?;
    let mut notices = Vec::new();
    match description.run.state {
        RunState::Recording => notices.push(OpenNotice::NotEndedProperly { folder: folder.to_owned() }),
        RunState::Repaired => notices.push(OpenNotice::Repaired { folder: folder.to_owned() }),
        RunState::Ended | RunState::Imported => {}
    }
    let names: Vec<String> = if description.boxes.is_empty() {
        vec!["plow.csv".to_owned()]
    } else {
        description.boxes.iter().map(|info| format!("{}.csv", info.file)).collect()
    };
    let mut files = Vec::new();
    for name in names {
        let path = folder.join(name);
        let file = whole_part(&path)
            .map_err(|cause| DescriptionError::unreadable(DescriptionKind::Run, &path, cause))?;
        note_cut(&file, &mut notices);
        files.push(file);
    }
    let gnss = open_gnss(&folder.join(GNSS_CSV), description.gnss.is_some(), &mut notices);
    let events = open_events(&folder.join("events.csv"), &mut notices);
    Ok(OpenedRun { folder: folder.to_owned(), description, files, gnss, events, notices })
}

fn note_cut(file: &WholeFile, notices: &mut Vec<OpenNotice>) {
    if file.cut_bytes > 0 {
        notices.push(OpenNotice::TornRow { path: file.path.clone(), bytes: file.cut_bytes });
    }
}

/// Speed and place go with the rows of the boxes; a run without them is still a run.
fn open_gnss(path: &Path, recorded: bool, notices: &mut Vec<OpenNotice>) -> Option<WholeFile> {
    match whole_part(path) {
        Ok(file) => {
            note_cut(&file, notices);
            Some(file)
        }
        Err(error) if !recorded && error.kind() == io::ErrorKind::NotFound => None,
        Err(error) => {
            notices.push(OpenNotice::NoFixes { path: path.to_owned(), cause: error.to_string() });
            None
        }
    }
}

/// Events explain rows; a run whose events cannot be read is still a run.
fn open_events(path: &Path, notices: &mut Vec<OpenNotice>) -> Vec<RunEvent> {
    let read = whole_part(path).and_then(|file| {
        if file.whole_bytes > EVENTS_BYTES_MAX {
            return Err(io::Error::other(format!("{} bytes is too large", file.whole_bytes)));
        }
        let mut bytes = Vec::new();
        File::open(path)?.take(file.whole_bytes).read_to_end(&mut bytes)?;
        Ok((file.cut_bytes, String::from_utf8_lossy(&bytes).into_owned()))
    });
    match read {
        Ok((cut_bytes, text)) => {
            let (events, bad_lines) = read_events(&text);
            let path = path.to_owned();
            if cut_bytes > 0 {
                notices.push(OpenNotice::TornEvent { path: path.clone(), bytes: cut_bytes });
            }
            if let Some(&first_line) = bad_lines.first() {
                notices.push(OpenNotice::BadEvents { path, lines: bad_lines.len(), first_line });
            }
            events
        }
        Err(error) => {
            notices.push(OpenNotice::NoEvents { path: path.to_owned(), cause: error.to_string() });
            Vec::new()
        }
    }
}

/// The part of a file up to its last line end; a line that holds a zero byte is no line of ours.
///
/// # Errors
/// What the system said.
pub fn whole_part(path: &Path) -> io::Result<WholeFile> {
    let mut file = File::open(path)?;
    let length = file.seek(SeekFrom::End(0))?;
    let mut whole_bytes = 0;
    let mut end = length;
    let mut block = Vec::new();
    // From the end backwards, block by block, to the last line end: the file may be of any size.
    while end > 0 {
        let from = end.saturating_sub(TAIL_BYTES);
        file.seek(SeekFrom::Start(from))?;
        block.clear();
        file.by_ref().take(end - from).read_to_end(&mut block)?;
        if let Some(at) = block.iter().rposition(|byte| *byte == b'\n') {
            whole_bytes = from + at as u64 + 1;
            break;
        }
        end = from;
    }
    Ok(WholeFile { path: path.to_owned(), whole_bytes, cut_bytes: length - whole_bytes })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_cut_of_a_file_leaves_its_whole_lines() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("plow.csv");
        let text = "t_s,pull_n\n0.000000,1240.00\n0.001000,12.00\n";
        for cut in 0..=text.len() {
            for zeros in [0, 5, 70_000] {
                let mut bytes = text.as_bytes()[..cut].to_vec();
                let whole = text[..cut].rfind('\n').map_or(0, |at| at + 1);
                bytes.extend(std::iter::repeat_n(0, zeros));
                std::fs::write(&path, &bytes).unwrap();
                let file = whole_part(&path).unwrap();
                assert_eq!((file.whole_bytes, file.cut_bytes), (whole as u64, (bytes.len() - whole) as u64));
            }
        }
    }
}
