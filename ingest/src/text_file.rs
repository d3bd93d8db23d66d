//! Reading a description from a file of bounded size.

use std::io;
use std::path::Path;

/// Why the text of a file cannot be had.
#[derive(Debug)]
pub enum TextFileFault {
    /// What the system said; a file that is not UTF-8 among it.
    Unreadable(io::Error),
    /// The file is larger than what was asked for can be.
    TooLarge {
        /// Its size.
        bytes: u64,
    },
}

/// Reads the text of a file of at most `bytes_max`: what comes from outside has a bound.
///
/// # Errors
/// [`TextFileFault`]; the caller knows what the file should have been and says so.
pub fn read_text(path: &Path, bytes_max: u64) -> Result<String, TextFileFault> {
    let bytes = std::fs::metadata(path).map_err(TextFileFault::Unreadable)?.len();
    if bytes > bytes_max {
        return Err(TextFileFault::TooLarge { bytes });
    }
    let bytes = std::fs::read(path).map_err(TextFileFault::Unreadable)?;
    let not_text = |what: &str| TextFileFault::Unreadable(io::Error::new(io::ErrorKind::InvalidData, what));
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_is_read_up_to_its_bound_and_not_beyond() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("plow.toml");
        std::fs::write(&path, "name").unwrap();
        assert_eq!(read_text(&path, 4).unwrap(), "name");
        assert!(matches!(read_text(&path, 3), Err(TextFileFault::TooLarge { bytes: 4 })));
        std::fs::write(&path, b"\xff").unwrap();
        assert!(matches!(read_text(&path, 4), Err(TextFileFault::Unreadable(_))));
        for utf16 in [&b"\xFF\xFEn\0"[..], b"\xFE\xFF\0n", b"n\0a\0", b"\0n\0a"] {
            std::fs::write(&path, utf16).unwrap();
            let Err(TextFileFault::Unreadable(why)) = read_text(&path, 9) else { panic!("{utf16:?}") };
            assert!(why.to_string().contains("UTF-16"), "{why}");
        }
    }
}
