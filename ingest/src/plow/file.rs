//! Reading `plow.toml`, with errors that name file, line and what would be right.

use super::Plow;
use super::check::check;
use super::fault::PlowFault;
use crate::text_file::{TextFileFault, read_text};
use std::path::{Path, PathBuf};

/// Why a plow description cannot be used. Each is one sentence.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum PlowFileError {
    /// The file cannot be read.
    #[error("{}: {cause}", path.display())]
    Unreadable {
        /// The file.
        path: PathBuf,
        /// What the system said.
        cause: std::io::Error,
    },
    /// A description is a page of text; this is not one.
    #[error("{}: {bytes} bytes is too large for a plow description (at most {max})", path.display())]
    TooLarge {
        /// The file.
        path: PathBuf,
        /// Its size.
        bytes: u64,
        /// The largest size read.
        max: u64,
    },
    /// Not TOML, or not the keys and values that a plow has.
    #[error("{}, line {line}: {message}", path.display())]
    Malformed {
        /// The file.
        path: PathBuf,
        /// Line, from 1.
        line: usize,
        /// What is wrong there.
        message: String,
    },
    /// Well-formed, but it would make nonsense.
    #[error("{}, line {line}: {fault}", path.display())]
    Nonsense {
        /// The file.
        path: PathBuf,
        /// Line, from 1.
        line: usize,
        /// What is wrong there.
        fault: PlowFault,
    },
}

/// Bound on a description's size: nesting and length of what comes from outside have one.
const PLOW_BYTES_MAX: u64 = 256 * 1024;

/// Reads and checks a plow description.
///
/// # Errors
/// [`PlowFileError`] if it cannot be read, is not TOML, or would make nonsense.
pub fn read_plow(path: &Path) -> Result<Plow, PlowFileError> {
    let text = read_text(path, PLOW_BYTES_MAX).map_err(|fault| match fault {
        TextFileFault::Unreadable(cause) => PlowFileError::Unreadable { path: path.to_owned(), cause },
        TextFileFault::TooLarge { bytes } => {
            PlowFileError::TooLarge { path: path.to_owned(), bytes, max: PLOW_BYTES_MAX }
        }
    })?;
    read_plow_text(&text, path)
}

/// The same from text that is already there; `path` is for the errors.
///
/// # Errors
/// As [`read_plow`].
pub fn read_plow_text(text: &str, path: &Path) -> Result<Plow, PlowFileError> {
    let plow: Plow = toml::from_str(text).map_err(|error| {
        let (line, message) = toml_error(text, &error);
        PlowFileError::Malformed { path: path.to_owned(), line, message }
    })?;
    match check(&plow).into_iter().next() {
        None => Ok(plow),
        Some(fault) => {
            Err(PlowFileError::Nonsense { path: path.to_owned(), line: line_of(text, &fault.key), fault })
        }
    }
}

/// Line (from 1) and one-sentence message of a TOML error, with the nearest known key for a typo.
#[must_use]
pub fn toml_error(text: &str, error: &toml::de::Error) -> (usize, String) {
    let line = error.span().map_or(1, |span| line_at(text, span.start));
    let mut message = error.message().replace('\n', " ");
    if message.starts_with("missing field ")
        && let Some(table) = error.span().and_then(|span| table_at(text, span.start))
    {
        message.push_str(&format!(" in [{table}]"));
    }
    (line, nearest_key(&message).map_or(message.clone(), |key| format!("{message}; did you mean `{key}`?")))
}

/// The table whose header stands on the line of `offset` or last before it; the document itself, which begins
/// at 0, has none.
fn table_at(text: &str, offset: usize) -> Option<&str> {
    let header = |line: &'_ str| line.trim_start().starts_with('[');
    let line = text.lines().take(line_at(text, offset)).filter(|line| header(line)).last()?;
    let name = line.trim_start().trim_start_matches('[').split(']').next()?.trim();
    (offset > 0 && !name.is_empty()).then_some(name)
}

fn line_at(text: &str, offset: usize) -> usize {
    1 + text.bytes().take(offset).filter(|byte| *byte == b'\n').count()
}

/// In "unknown field `a`, expected one of `b`, `c`": the expected one that is most like `a`.
fn nearest_key(message: &str) -> Option<String> {
    let mut quoted = message.strip_prefix("unknown field ")?.split('`').skip(1).step_by(2);
    let typed = quoted.next()?;
    let likeness = |key: &str| strsim::jaro_winkler(typed, key);
    let best = quoted.max_by(|a, b| likeness(a).total_cmp(&likeness(b)))?;
    (likeness(best) > 0.7).then(|| best.to_owned())
}

/// Line of a dotted key such as `tail_wheel.x`: the deepest part of it that the text has.
fn line_of(text: &str, key: &str) -> usize {
    let Ok(document) = toml::de::DeTable::parse(text) else { return 1 };
    let mut line = 1;
    let mut table = document.get_ref();
    for part in key.split('.') {
        let Some((found, value)) = table.get_key_value(part) else { break };
        line = line_at(text, found.span().start);
        let toml::de::DeValue::Table(inner) = value.get_ref() else { break };
        table = inner;
    }
    line
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Found by someone who wrote a description from scratch: "missing field `x`" names one of four tables.
    #[test]
    fn a_missing_key_is_named_with_its_table() {
        let error = |text: &str| read_plow_text(text, Path::new("p.toml")).unwrap_err().to_string();
        let start = "name = \"n\"\n[weight]\ntotal = \"1 kN\"\n";
        assert_eq!(error(start), "p.toml, line 2: missing field `x` in [weight]");
        assert_eq!(error(&start[11..]), "p.toml, line 1: missing field `x`");
        assert_eq!(error(""), "p.toml, line 1: missing field `name`");
    }
}
