//! What can be wrong with a CSV of a run.

use std::path::PathBuf;

/// Largest CSV that is read: about 5 hours at 1 kHz with seven columns. Memory peaks at about three
/// times the file, which a cheap laptop still has.
pub const CSV_BYTES_MAX: u64 = 1 << 30;

/// Why a CSV cannot be used. Each is one sentence with file and, where there is one, line.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum CsvError {
    /// The file cannot be read.
    #[error("{}: {cause}", path.display())]
    Unreadable {
        /// The file.
        path: PathBuf,
        /// What the system said.
        cause: std::io::Error,
    },
    /// Larger than [`CSV_BYTES_MAX`].
    #[error(
        "{}: {:.1} GB is more than the {:.1} GB that are read at once; record shorter passes, or import \
         a part of it", path.display(), *bytes as f64 / 1e9, CSV_BYTES_MAX as f64 / 1e9
    )]
    TooLarge {
        /// The file.
        path: PathBuf,
        /// Its size.
        bytes: u64,
    },
    /// Nothing in it.
    #[error(
        "{}: there is no whole row in this file{}", path.display(),
        if *header_only { ": it holds only the header, so the recording ended before the first reading" } else { "" }
    )]
    Empty {
        /// The file.
        path: PathBuf,
        /// Whether there is a header: the recording ended before the first reading.
        header_only: bool,
    },
    /// Another header than the run's.
    #[error("{}, line 1: {problem}", path.display())]
    Header {
        /// The file.
        path: PathBuf,
        /// What is wrong with it.
        problem: String,
    },
    /// A row that is not one.
    #[error("{}, line {line}: {problem}", path.display())]
    Row {
        /// The file.
        path: PathBuf,
        /// Line, from 1 (the header).
        line: usize,
        /// What is wrong there.
        problem: String,
    },
}
