//! Names of runs, as they come from outside.

use serde::Serialize;
use std::path::{Path, PathBuf};

/// Longest name, in bytes: what file systems take.
const BYTES_MAX: usize = 255;

/// Name of a run folder: one plain name, which leads nowhere but into its folder.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
pub struct RunName(String);

impl RunName {
    /// The name, unless it is none: a path, a hidden name, or one with control characters.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        let is_plain = |c: char| !c.is_control() && !matches!(c, '/' | '\\' | ':');
        let is_name =
            (1..=BYTES_MAX).contains(&text.len()) && !text.starts_with('.') && text.chars().all(is_plain);
        is_name.then(|| Self(text.to_owned()))
    }

    /// The name of a folder.
    #[must_use]
    pub fn of_folder(folder: &Path) -> Option<Self> {
        Self::parse(folder.file_name()?.to_str()?)
    }

    /// The name as it is.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }

    /// Its folder.
    pub(super) fn folder_in(&self, out: &Path) -> PathBuf {
        out.join(&self.0)
    }

    /// A name to save a file of this run under: letters, digits, `.`, `-` and `_` alone, which mean nothing in a header.
    pub(super) fn download(&self, file: &str) -> String {
        download_name(&format!("{}_{file}", self.0))
    }
}

/// The text as a name to save a file under.
pub(super) fn download_name(text: &str) -> String {
    let plain = |c: char| if c.is_ascii_alphanumeric() || matches!(c, '.' | '-' | '_') { c } else { '-' };
    let name: String = text.chars().map(plain).collect();
    name.trim_start_matches('.').to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_never_leads_elsewhere() {
        let long = "x".repeat(256);
        for wrong in [
            "",
            ".",
            "..",
            "../x",
            "x/y",
            "/etc",
            "x\\y",
            "..\\x",
            "C:x",
            ".hidden",
            "x\0y",
            "x\ny",
            "x\u{1b}[2J",
            &long,
        ] {
            assert_eq!(RunName::parse(wrong), None, "{wrong:?}");
        }
        for right in ["2027-04-11T0914_flat", "a run of mine", "läuft…", "-x", "x..y"] {
            let name = RunName::parse(right).unwrap();
            let folder = name.folder_in(Path::new("/runs"));
            assert_eq!(
                (folder.parent(), folder.components().count()),
                (Some(Path::new("/runs")), 3),
                "{right}"
            );
        }
    }

    #[test]
    fn a_name_to_save_under_means_nothing_in_a_header() {
        let name = RunName::parse("a \"b\"; filename=..x\u{202e}").unwrap();
        assert_eq!(name.download("plow.csv"), "a--b---filename-..x-_plow.csv");
        assert_eq!(
            RunName::parse("2027-04-11T0914_flat").unwrap().download("page.pdf"),
            "2027-04-11T0914_flat_page.pdf"
        );
    }
}
