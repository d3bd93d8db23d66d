//! What is found in a run that is to be repaired, and why it may not be: a sentence each.

use crate::calibration::CalibrationFault;
use crate::description_file::DescriptionError;
use crate::memory::TooLittleMemory;
use std::io;
use std::path::PathBuf;

/// What is put right in one file, or cannot be. Each is one sentence.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[allow(missing_docs, reason = "the sentences say what they are, the names of fields their unit")]
pub enum Finding {
    #[error("{name}: {rows} {} gained from the raw bytes", line_of(name, *rows))]
    Gained { name: String, rows: usize },
    #[error("{name}: {bytes} bytes are cut, from the first line on that is not whole")]
    Cut { name: String, bytes: usize },
    #[error("{name}: is not there; made from the raw bytes, with {rows} {}", line_of(name, *rows))]
    WasMissing { name: String, rows: usize },
    #[error(
        "{name}: is not what the raw bytes give ({before} {} were in it); made anew from them, with {rows}",
        line_of(name, *before)
    )]
    MadeAnew { name: String, before: usize, rows: usize },
    #[error("{name}: its last {rows} {} are kept, though the raw bytes end or are damaged before them", line_of(name, *rows))]
    Kept { name: String, rows: usize },
    #[error("run.toml: the end of the run after {lasted_s:.1} s is put in, with what was counted")]
    End { lasted_s: DisplayedS },
    #[error("run.toml: what was counted is not what the raw bytes give; put right")]
    Counters,
    #[error("datapackage.json: made anew")]
    Package,
    #[error("{name}: there is no whole line in it, and the raw bytes give none: it cannot be repaired")]
    Hopeless { name: String },
}

impl Finding {
    /// No repair changes it.
    pub(super) fn stays(&self) -> bool {
        matches!(self, Self::Kept { .. } | Self::Hopeless { .. })
    }
}

/// A time in s for a sentence, so that findings can be compared.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct DisplayedS(pub(super) u64);

impl std::fmt::Display for DisplayedS {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        std::fmt::Display::fmt(&(self.0 as f64 / 1e6), f)
    }
}

fn line_of(name: &str, lines: usize) -> &'static str {
    match (name, lines) {
        ("events.csv", 1) => "event",
        ("events.csv", _) => "events",
        (_, 1) => "row",
        _ => "rows",
    }
}

/// Why a run cannot be repaired; nothing is changed then.
#[derive(Debug, thiserror::Error)]
#[allow(missing_docs, reason = "the sentences say what they are, the names of fields their unit")]
pub enum RepairError {
    #[error("{0}; without its run.toml a run cannot be repaired")]
    Description(#[from] DescriptionError),
    #[error(
        "{}: is there, and run.toml knows nothing of it, so that run.toml was cut short; without it a run cannot be \
         repaired", .0.display()
    )]
    UnknownWire(PathBuf),
    #[error("{}: to hold the tables against the raw bytes, {cause}", folder.display())]
    NoMemory { folder: PathBuf, cause: TooLittleMemory },
    #[error(transparent)]
    Calibration(#[from] CalibrationFault),
    #[error("{}: {cause}", path.display())]
    Unreadable { path: PathBuf, cause: io::Error },
    #[error("{}: a recorder is writing into it: end the recording first", .0.display())]
    StillRecording(PathBuf),
    #[error("{}: {cause}; what was not yet repaired is as it was: make room and repair again", path.display())]
    Unwritten { path: PathBuf, cause: String },
}
