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
    std::fs::read_to_string(path).map_err(TextFileFault::Unreadable)
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
    }
}
