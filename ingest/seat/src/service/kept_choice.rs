//! What the next run is recorded with, kept over a restart in a small file beside the tokens of the page.

use super::config::ServiceConfig;
use super::token_file::token_file_of;
use crate::live::Choice;
use ingest::run_folder::{folder_of, write_whole};
use std::io;
use std::path::{Path, PathBuf};

/// Where it is kept.
pub fn file_of(config: &ServiceConfig) -> PathBuf {
    token_file_of(config).with_file_name("next-run.toml")
}

/// What was kept; `None` before anybody has chosen.
///
/// # Errors
/// A sentence: what the system said, or what stands in the file.
pub fn read(file: &Path) -> Result<Option<Choice>, String> {
    match std::fs::read_to_string(file) {
        Ok(text) => {
            let read = toml::from_str(&text).map(Some);
            read.map_err(|error| format!("{}: {}", file.display(), error.message()))
        }
        Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(None),
        Err(error) => Err(format!("{}: {error}", file.display())),
    }
}

/// Keeps it, without what is of one run (the note) and of one start (whether somebody confirmed it).
///
/// # Errors
/// A sentence.
pub fn write(file: &Path, choice: &Choice) -> Result<(), String> {
    let said = |cause: &dyn std::fmt::Display| format!("{}: {cause}", file.display());
    let text = toml::to_string(&Choice { note: None, assumed: false, ..choice.clone() })
        .map_err(|error| said(&error))?;
    let head = "# What the next run is recorded with, as it was chosen last.\n";
    std::fs::create_dir_all(folder_of(file)).map_err(|error| said(&error))?;
    write_whole(file, format!("{head}{text}").as_bytes()).map_err(|error| said(&error))
}

#[cfg(test)]
mod tests {
    use super::*;
    use ingest::plow::ShareCondition;

    #[test]
    fn what_was_chosen_is_read_again_and_what_is_none_is_told() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("state/next-run.toml");
        assert_eq!(read(&file), Ok(None));
        let (setting, field) = (Some("\"high\"\n".to_owned()), Some("by the brook".to_owned()));
        let chosen = Choice {
            setting,
            assumed: true,
            share: Some(ShareCondition::Worn),
            field,
            note: Some("wet".to_owned()),
        };
        write(&file, &chosen).unwrap();
        assert_eq!(read(&file), Ok(Some(Choice { note: None, assumed: false, ..chosen.clone() })));
        std::fs::write(&file, "share = \"new\"").unwrap();
        let said = read(&file).unwrap_err();
        assert!(said.contains("next-run.toml") && !said.contains('\n'), "{said}");
        write(&file, &chosen).unwrap();
        assert_eq!(read(&file).unwrap().unwrap().setting, chosen.setting);
    }
}
