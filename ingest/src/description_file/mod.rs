//! Reading the descriptions of a plow and of a run, with errors that name file, line and what would be right.

mod fault;
mod kind;
mod missing;
mod pass;
mod reader;
mod stand_in;
mod stop;
mod syntax;
mod wanted;

pub use fault::{KeyFault, KeyFaults, LineFault};
pub use kind::DescriptionKind;

use fault::{as_shown, line_at};
use missing::not_there;
use reader::read;
use serde::de::DeserializeOwned;
use std::io;
use std::path::{Path, PathBuf};
use syntax::{Mended, Syntax};
use toml::de::{DeTable, DeValue};

/// Why a description cannot be used: one sentence, or one for each fault with its line under it.
#[derive(Debug, thiserror::Error)]
#[allow(missing_docs, reason = "the sentences say what they are, the names of fields their unit")]
pub enum DescriptionError {
    #[error("{}: {cause}", path.display())]
    Unreadable { path: PathBuf, cause: io::Error },
    /// A description is some pages of text; this is not one.
    #[error(
        "{}: {bytes} bytes is too large for a {} description (at most {})",
        path.display(), kind.facts().0, kind.facts().1
    )]
    TooLarge { kind: DescriptionKind, path: PathBuf, bytes: u64 },
    /// Not TOML, not its keys and values, or well-formed nonsense: each fault with its line as it stands there.
    #[error("{}", all_of(path, faults))]
    Invalid { path: PathBuf, faults: Vec<LineFault> },
}

/// So many faults are told at once.
const TOLD_MAX: usize = 20;

fn all_of(path: &Path, faults: &[LineFault]) -> String {
    let file = path.display();
    let told = faults.iter().take(TOLD_MAX).map(|LineFault { line, shown, message }| {
        let shown = if shown.is_empty() { String::new() } else { format!("\n    {shown}") };
        format!("{file}, line {line}: {message}{shown}")
    });
    let more = faults.len().saturating_sub(TOLD_MAX);
    let more = (more > 0).then(|| format!("{file}: and {more} more"));
    told.chain(more).collect::<Vec<_>>().join("\n")
}

impl DescriptionError {
    /// Of a file of this kind; one that is not there is said with what to do.
    #[must_use]
    pub fn unreadable(kind: DescriptionKind, path: &Path, cause: io::Error) -> Self {
        let cause = match cause.kind() {
            // Of a path through a file the system says that this is no folder.
            io::ErrorKind::NotFound | io::ErrorKind::NotADirectory => {
                io::Error::new(cause.kind(), not_there(kind, path))
            }
            _ => cause,
        };
        Self::Unreadable { path: path.to_owned(), cause }
    }

    /// The same in one line, the first fault alone: for a log, and for files that no person writes.
    #[must_use]
    pub fn in_one_line(mut self) -> Self {
        if let Self::Invalid { faults, .. } = &mut self {
            let more = faults.len().saturating_sub(1);
            faults.truncate(1);
            for fault in faults {
                fault.shown.clear();
                if more > 0 {
                    fault.message.push_str(&format!(" (and {more} more)"));
                }
            }
        }
        self
    }
}

/// Reads the text of a description.
///
/// # Errors
/// [`DescriptionError`] if the file cannot be read, is no text or too large.
pub fn read_description(path: &Path, kind: DescriptionKind) -> Result<String, DescriptionError> {
    let unreadable = |cause| DescriptionError::unreadable(kind, path, cause);
    let not_text = |what| unreadable(io::Error::new(io::ErrorKind::InvalidData, what));
    let bytes = std::fs::metadata(path).map_err(unreadable)?.len();
    if bytes > kind.facts().1 {
        return Err(DescriptionError::TooLarge { kind, path: path.to_owned(), bytes });
    }
    let bytes = std::fs::read(path).map_err(unreadable)?;
    if is_utf16(&bytes) {
        return Err(not_text(UTF16_SENTENCE));
    }
    String::from_utf8(bytes).map_err(|_| not_text("the file is not text in UTF-8"))
}

/// What to say of a file in UTF-16.
pub const UTF16_SENTENCE: &str = "the file is text in UTF-16: save it as UTF-8";

/// Whether a file begins with the byte order mark of UTF-16 (RFC 2781), of either order, or as ASCII text does in
/// it without one.
#[must_use]
pub fn is_utf16(start: &[u8]) -> bool {
    match start {
        [0xFF, 0xFE, ..] | [0xFE, 0xFF, ..] => true,
        [0, a, 0, b, ..] | [a, 0, b, 0, ..] => *a != 0 && *b != 0 && a.is_ascii() && b.is_ascii(),
        _ => false,
    }
}

/// What a description's text says, as `check` takes it; `path` is for the errors.
///
/// All faults are found in one reading, as far as one does not hide another; `check` says what is wrong beyond keys and
/// types.
///
/// # Errors
/// [`DescriptionError::Invalid`] if it is not TOML, not the keys and values that are wanted, or not what `check` takes.
pub fn parse_description<T: DeserializeOwned, U>(
    text: &str,
    path: &Path,
    check: impl Fn(T) -> Result<U, KeyFaults>,
) -> Result<U, DescriptionError> {
    let invalid = |faults| DescriptionError::Invalid { path: path.to_owned(), faults };
    let error = match toml::from_str(text) {
        Ok(said) => return check(said).map_err(|wrong| invalid(in_lines(text, text, &wrong, &[]))),
        Err(error) => error,
    };
    let mended = Mended::of(text);
    let syntax = Syntax::of(&mended, text);
    let mut faults = syntax.faults.clone();
    let reading = read::<T>(mended.text(), syntax.document.clone());
    for found in &reading.found {
        let message = format!("{}: {}", as_shown(&found.place), found.message);
        let (line, of_all) = (line_at(text, found.at), found.is_missing && !found.place.contains('.'));
        let may_be_hidden = found.is_missing && syntax.may_hide(text, Some(line).filter(|_| !of_all));
        if !(syntax.is_lost(line) || may_be_hidden) {
            faults.push(match of_all {
                true => LineFault::of_all(&message),
                false => LineFault::in_line(text, line, &message),
            });
        }
    }
    if let Some(Err(wrong)) = reading.value.map(check) {
        faults.extend(
            in_lines(mended.text(), text, &wrong, &reading.unread)
                .into_iter()
                .filter(|fault| !syntax.is_lost(fault.line)),
        );
    }
    if faults.is_empty() {
        let line = error.span().map_or(1, |span| line_at(text, span.start));
        faults.push(LineFault::in_line(text, line, error.message()));
    }
    faults.sort_by_key(|fault| fault.line);
    Err(invalid(faults))
}

/// The faults in the lines of the text, but for those that rest on what could not be read; `mended` says where keys are.
fn in_lines(mended: &str, text: &str, wrong: &KeyFaults, unread: &[String]) -> Vec<LineFault> {
    let (document, _) = DeTable::parse_recoverable(mended);
    let said = wrong.0.iter().filter(|fault| fault.holds_without(unread));
    let mut faults: Vec<LineFault> = said
        .map(|fault| match offset_of(document.get_ref(), &fault.key) {
            Some(at) => LineFault::in_line(text, line_at(text, at), &fault.to_string()),
            None => LineFault::of_all(&fault.to_string()),
        })
        .collect();
    faults.sort_by_key(|fault| fault.line);
    faults
}

/// Where the deepest part of a key stands that the document has; `None` if it has none.
fn offset_of(mut table: &DeTable<'_>, key: &str) -> Option<usize> {
    let mut at = None;
    for part in key.split('.') {
        let mut steps = part.split(['[', ']']).filter(|step| !step.is_empty());
        let Some((found, value)) = steps.next().and_then(|name| table.get_key_value(name)) else { break };
        at = Some(found.span().start);
        let mut value = value;
        for step in steps {
            let Some(one) = step.parse().ok().and_then(|step: usize| value.get_ref().get(step)) else {
                break;
            };
            (at, value) = (Some(one.span().start), one);
        }
        let DeValue::Table(inner) = value.get_ref() else { break };
        table = inner;
    }
    at
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_is_read_up_to_its_bound_and_not_beyond() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("plow.toml");
        let read = || read_description(&path, DescriptionKind::Plow);
        let largest = DescriptionKind::Plow.facts().1;
        let text = "n".repeat(largest as usize);
        std::fs::write(&path, &text).unwrap();
        assert_eq!(read().unwrap(), text);
        std::fs::write(&path, text + "n").unwrap();
        assert!(matches!(read(), Err(DescriptionError::TooLarge { bytes, .. }) if bytes == largest + 1));
        std::fs::write(&path, b"\xff").unwrap();
        assert!(matches!(read(), Err(DescriptionError::Unreadable { .. })));
        for utf16 in [&b"\xFF\xFEn\0"[..], b"\xFE\xFF\0n", b"n\0a\0", b"\0n\0a"] {
            std::fs::write(&path, utf16).unwrap();
            let Err(DescriptionError::Unreadable { cause, .. }) = read() else { panic!("{utf16:?}") };
            assert!(cause.to_string().contains("UTF-16"), "{cause}");
        }
    }

    /// Two zero bytes among the first four are UTF-16 only beside letters.
    #[test]
    fn zero_bytes_alone_are_no_utf_16() {
        for other in [&b"\0\0\0\0"[..], b"n\0\0\0", b"\0n\0\0", b"n\0\xE9\0", b"\0\xE9\0n", b"nnn", b"n\0"] {
            assert!(!is_utf16(other), "{other:?}");
        }
    }

    #[test]
    fn a_fault_is_in_the_line_of_the_deepest_part_of_its_key() {
        let text = "a = 1\n[table]\nb = 2\n[[list]]\nc = 3\n[[list]]\nc = [\n  4,\n  5,\n]\n";
        let line = |key: &str| {
            let (document, _) = DeTable::parse_recoverable(text);
            offset_of(document.get_ref(), key).map(|at| line_at(text, at))
        };
        assert_eq!(
            (line("a"), line("table.b"), line("table.none"), line("none.b")),
            (Some(1), Some(3), Some(2), None)
        );
        assert_eq!((line("list[0].c"), line("list[1].c[1]"), line("list[7].c")), (Some(5), Some(9), Some(4)));
        assert_eq!(line("a.b"), Some(1), "a value has no parts");
    }
}
