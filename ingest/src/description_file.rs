//! Reading the descriptions of a plow and of a run, with errors that name file, line and what would be right.

use serde::de::DeserializeOwned;
use std::io;
use std::path::{Path, PathBuf};

/// What a file describes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DescriptionKind {
    /// A plow: `plow.toml`.
    Plow,
    /// A run: `run.toml`, and the files beside it.
    Run,
    /// What a recorder that runs by itself does: `recorder.toml`.
    Recorder,
}

impl DescriptionKind {
    /// Its name, a bound on the size of its file (nesting and length of what comes from outside have one), and what
    /// to ask where it cannot be read.
    const fn facts(self) -> (&'static str, u64, &'static str) {
        match self {
            Self::Plow => ("plow", 256 * 1024, ""),
            Self::Run => ("run", 1024 * 1024, ": is this a run folder?"),
            Self::Recorder => ("recorder", 64 * 1024, ""),
        }
    }
}

/// Why a description cannot be used. Each is one sentence.
#[derive(Debug, thiserror::Error)]
#[allow(missing_docs, reason = "the sentences say what they are, the names of fields their unit")]
pub enum DescriptionError {
    #[error("{}: {}{}", path.display(), in_words(*kind, cause), kind.facts().2)]
    Unreadable { kind: DescriptionKind, path: PathBuf, cause: io::Error },
    /// A description is some pages of text; this is not one.
    #[error(
        "{}: {bytes} bytes is too large for a {} description (at most {})",
        path.display(), kind.facts().0, kind.facts().1
    )]
    TooLarge { kind: DescriptionKind, path: PathBuf, bytes: u64 },
    /// Not TOML, not its keys and values, or well-formed nonsense.
    #[error("{}, line {line}: {message}", path.display())]
    Invalid { path: PathBuf, line: usize, message: String },
}

/// One thing that is wrong with a description.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{key}: {sentence}")]
pub struct KeyFault {
    /// Dotted key, such as `tail_wheel.x`.
    pub key: String,
    /// What is wrong and what to do.
    pub sentence: String,
}

impl KeyFault {
    /// A fault of what stands at a key.
    #[must_use]
    pub fn at(key: impl Into<String>, sentence: impl Into<String>) -> Self {
        Self { key: key.into(), sentence: sentence.into() }
    }

    /// The same fault of a description that is a table of a larger document.
    pub(crate) fn within(self, table: &str) -> Self {
        Self { key: format!("{table}.{}", self.key), ..self }
    }
}

/// What the system said, for whoever typed the name.
fn in_words(kind: DescriptionKind, cause: &io::Error) -> String {
    match (cause.kind(), kind) {
        (io::ErrorKind::NotFound, DescriptionKind::Plow) => {
            "there is no such file; `hitchwright describe` asks for a plow and writes one".to_owned()
        }
        (io::ErrorKind::NotFound, _) => "there is no such file".to_owned(),
        _ => cause.to_string(),
    }
}

/// Reads the text of a description.
///
/// # Errors
/// [`DescriptionError`] if the file cannot be read, is no text or too large.
pub fn read_description(path: &Path, kind: DescriptionKind) -> Result<String, DescriptionError> {
    let unreadable = |cause| DescriptionError::Unreadable { kind, path: path.to_owned(), cause };
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

/// What a description's text says; `path` is for the errors.
///
/// # Errors
/// [`DescriptionError::Invalid`] if it is not TOML, or not the keys and values that are wanted.
pub fn parse_description<T: DeserializeOwned>(text: &str, path: &Path) -> Result<T, DescriptionError> {
    toml::from_str(text).map_err(|error| {
        let (line, message) = toml_error(text, &error);
        DescriptionError::Invalid { path: path.to_owned(), line, message }
    })
}

/// Line (from 1) and one-sentence message of a TOML error, with the nearest known key for a typo.
fn toml_error(text: &str, error: &toml::de::Error) -> (usize, String) {
    // An error of no place is one of the whole document, which begins in line 1.
    let line = error.span().map_or(1, |span| line_at(text, span.start));
    if let Some(sign) = text.lines().nth(line - 1).and_then(curly_quote) {
        let cure = "write straight ones (\" before and after), as an editor for plain text does";
        return (line, format!("there is a curly quotation mark ({sign}) around a name or value: {cure}"));
    }
    let mut message = in_plain_words(&error.message().replace('\n', " "));
    if message.starts_with("missing field ")
        && let Some(table) = error.span().and_then(|span| table_at(text, span.start))
    {
        message.push_str(&format!(" in [{table}]"));
    }
    (line, nearest_key(&message).map_or(message.clone(), |key| format!("{message}; did you mean `{key}`?")))
}

/// A curly quotation mark where a value or a name begins.
fn curly_quote(line: &str) -> Option<char> {
    let said = line.split('"').step_by(2).find(|outside| outside.contains(['“', '”', '‘', '’']))?;
    let code = said.split('#').next()?;
    code.chars().find(|sign| "“”‘’".contains(*sign))
}

/// What the parser calls kinds of values, as whoever writes a description would.
fn in_plain_words(message: &str) -> String {
    const WORDS: &[(&str, &str)] = &[
        ("expected struct Hole", "expected a hole such as { name = \"1\", z = \"3 in\" }"),
        ("expected u32", "expected a whole number without quotation marks, such as 2"),
        ("expected f64", "expected a number without quotation marks, such as 0.08"),
        ("expected a tuple of size 2", "expected a pair such as [\"40 mm\", \"1000 N\"]"),
        ("expected a sequence", "expected a list such as [ ... ]"),
        ("invalid literal string", "the text has no end"),
        ("invalid basic string", "the text has no end"),
        ("expected struct ", "expected a table of keys and values, for "),
    ];
    WORDS.iter().fold(message.to_owned(), |said, (jargon, plain)| said.replace(jargon, plain))
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

/// The fault of what stands at a dotted key, as an error of the text in which it is.
#[must_use]
pub fn fault_in(text: &str, path: &Path, fault: &KeyFault) -> DescriptionError {
    let line = line_of(text, &fault.key);
    DescriptionError::Invalid { path: path.to_owned(), line, message: fault.to_string() }
}

/// Line (from 1) of a dotted key such as `tail_wheel.x`: the deepest part of it that the text has.
fn line_of(text: &str, key: &str) -> usize {
    // What the text does not have is missing in the document, which begins in line 1.
    let mut line = 1;
    let Ok(document) = toml::de::DeTable::parse(text) else { return line };
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
        let text = "a = 1\n[table]\nb = 2\n[[list]]\nc = 3\n";
        let line = |key: &str| line_of(text, key);
        assert_eq!((line("a"), line("table.b"), line("table.none"), line("none.b")), (1, 3, 2, 1));
        // Of a list, its first table; and a value has no parts.
        assert_eq!((line("list.c"), line("a.b")), (4, 1));
        let fault = KeyFault::at("b", "is too large").within("table");
        let error = fault_in(text, Path::new("plow.toml"), &fault);
        assert_eq!(error.to_string(), "plow.toml, line 3: table.b: is too large");
        // A text that is no TOML any more has its fault in line 1.
        assert_eq!(line_of("[[[", "a"), 1);
    }
}
