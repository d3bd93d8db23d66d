//! The tokens of the page, made once and kept: a link that was scanned works tomorrow as well.

use super::config::ServiceConfig;
use crate::server::{Token, Tokens};
use ingest::run_folder::folder_of;
use ingest::system::for_owner_alone;
use serde::{Deserialize, Serialize};
use std::fs::OpenOptions;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

/// What the file says.
#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct TokensToml {
    control: String,
    look_on: String,
}

/// Why a file gives no tokens.
#[derive(Debug, thiserror::Error)]
pub enum TokenFileError {
    /// What the system said.
    #[error("{}: {cause}", file.display())]
    System {
        /// The file.
        file: PathBuf,
        /// What it said.
        cause: io::Error,
    },
    /// It holds something else.
    #[error(
        "{}: these are no tokens of the page (control and look_on, of 32 hexadecimal digits each): delete the file, and new \
         ones are made at the next start",
        .0.display()
    )]
    NoTokens(PathBuf),
}

/// Where the tokens are: as the description says, or beside the runs.
pub fn token_file_of(config: &ServiceConfig) -> PathBuf {
    let said = config.live.as_ref().and_then(|page| page.token_file.clone());
    said.unwrap_or_else(|| folder_of(&config.runs).join("tokens"))
}

/// The tokens of a file, which is made if it is not there, for its owner's eyes only.
///
/// # Errors
/// [`TokenFileError`].
pub fn tokens_of(file: &Path) -> Result<Tokens, TokenFileError> {
    if let Some(tokens) = kept_tokens(file)? {
        return Ok(tokens);
    }
    let said = |cause| TokenFileError::System { file: file.to_owned(), cause };
    let tokens = Tokens::random().map_err(said)?;
    write(file, &tokens).map_err(said)?;
    Ok(tokens)
}

/// The tokens of a file; `None` if it is not there.
///
/// # Errors
/// [`TokenFileError`].
pub fn kept_tokens(file: &Path) -> Result<Option<Tokens>, TokenFileError> {
    match std::fs::read_to_string(file) {
        Ok(text) => read(&text).map(Some).ok_or_else(|| TokenFileError::NoTokens(file.to_owned())),
        Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(None),
        Err(cause) => Err(TokenFileError::System { file: file.to_owned(), cause }),
    }
}

fn read(text: &str) -> Option<Tokens> {
    let said: TokensToml = toml::from_str(text).ok()?;
    let (control, look_on) = (Token::from_text(&said.control)?, Token::from_text(&said.look_on)?);
    (control != look_on).then_some(Tokens { control, look_on })
}

fn write(file: &Path, tokens: &Tokens) -> io::Result<()> {
    let TokensToml { control, look_on } =
        TokensToml { control: tokens.control.text().to_owned(), look_on: tokens.look_on.text().to_owned() };
    let text = format!(
        "# Links to the page: http://ADDRESS:PORT/?token=TOKEN, to start, stop and mark with the first token, to look on\n\
         # with the second. Without this file, new ones are made at the next start.\n\
         control = \"{control}\"\nlook_on = \"{look_on}\"\n"
    );
    std::fs::create_dir_all(folder_of(file))?;
    let beside = file.with_extension("new");
    let mut options = OpenOptions::new();
    options.write(true).create(true).truncate(true);
    for_owner_alone(&mut options);
    let mut new = options.open(&beside)?;
    new.write_all(text.as_bytes())?;
    new.sync_all()?;
    std::fs::rename(&beside, file)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tokens_are_made_once_and_what_holds_none_is_not_overwritten() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("state/tokens");
        let made = tokens_of(&file).unwrap();
        assert_eq!(tokens_of(&file).unwrap(), made);
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            assert_eq!(std::fs::metadata(&file).unwrap().permissions().mode() & 0o777, 0o600);
        }
        let text = std::fs::read_to_string(&file).unwrap();
        let control = made.control.text();
        let same_twice = format!("control = \"{control}\"\nlook_on = \"{control}\"\n");
        for wrong in ["", "control = \"\"\nlook_on = \"\"\n", &text.replace(control, "short"), &same_twice] {
            std::fs::write(&file, wrong).unwrap();
            let said = tokens_of(&file).unwrap_err().to_string();
            assert!(said.contains("no tokens of the page"), "{said}");
            assert_eq!(std::fs::read_to_string(&file).unwrap(), wrong);
        }
        std::fs::remove_file(&file).unwrap();
        assert_ne!(tokens_of(&file).unwrap(), made);
    }
}
