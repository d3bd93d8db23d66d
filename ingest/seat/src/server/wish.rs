//! What somebody at the page wishes.

use ingest::plow::ShareCondition;
use ingest::recorder::{PassChoice, Wish};
use serde::Deserialize;

/// Characters of a field's name.
pub(crate) const FIELD_CHARACTERS: usize = 100;
/// Characters of a note.
pub(crate) const NOTE_CHARACTERS: usize = 400;
/// Who ends a run from the page, as it stands in its events.
const THE_PAGE: &str = "the page";

#[derive(Debug, Deserialize)]
#[serde(tag = "wish", rename_all = "snake_case", deny_unknown_fields)]
enum Asked {
    Start(Pass),
    Choose(Pass),
    Stop {},
    Mark {},
}

#[derive(Debug, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
struct Pass {
    setting: Option<String>,
    share: Option<ShareCondition>,
    field: Option<String>,
    note: Option<String>,
}

/// Why a wish makes no sense.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum WishError {
    /// Not JSON, or nothing that can be wished.
    #[error("this is no wish: {0}")]
    NoWish(String),
    /// A setting that the plow does not have.
    #[error("the plow description has no setting of this name")]
    NoSuchSetting,
    /// A text that is too long.
    #[error("the {what} is longer than {most} characters")]
    TooLong {
        /// Which text.
        what: &'static str,
        /// How long it may be.
        most: usize,
    },
    /// A text with line ends or other control characters.
    #[error("the {0} has characters that cannot be written in one line")]
    NotOneLine(&'static str),
}

/// The wish in the body of a request, for a plow with these settings.
///
/// # Errors
/// [`WishError`] is one sentence.
pub fn parse_wish(body: &[u8], is_setting: impl Fn(&str) -> bool) -> Result<Wish, WishError> {
    let asked = serde_json::from_slice(body).map_err(|error| WishError::NoWish(error.to_string()))?;
    Ok(match asked {
        Asked::Mark {} => Wish::Mark,
        Asked::Stop {} => Wish::Stop(THE_PAGE),
        Asked::Start(pass) => Wish::Start(pass.choice(is_setting)?),
        Asked::Choose(pass) => Wish::Choose(pass.choice(is_setting)?),
    })
}

impl Pass {
    fn choice(self, is_setting: impl Fn(&str) -> bool) -> Result<PassChoice, WishError> {
        if self.setting.as_deref().is_some_and(|name| !is_setting(name)) {
            return Err(WishError::NoSuchSetting);
        }
        Ok(PassChoice {
            setting_name: self.setting,
            assumed: false,
            share: self.share,
            field: one_line("field", self.field, FIELD_CHARACTERS)?,
            note: one_line("note", self.note, NOTE_CHARACTERS)?,
        })
    }
}

/// A text as it was typed, without spaces around it; an empty one takes back what was there.
fn one_line(what: &'static str, text: Option<String>, most: usize) -> Result<Option<String>, WishError> {
    let Some(text) = text else { return Ok(None) };
    let text = text.trim();
    if text.chars().count() > most {
        return Err(WishError::TooLong { what, most });
    }
    if text.chars().any(char::is_control) {
        return Err(WishError::NotOneLine(what));
    }
    Ok(Some(text.to_owned()))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn wish(body: &str) -> Result<Wish, WishError> {
        parse_wish(body.as_bytes(), |name| name == "low")
    }

    #[test]
    fn what_the_page_says_is_understood() {
        assert_eq!(wish(r#"{"wish":"mark"}"#), Ok(Wish::Mark));
        assert_eq!(wish(r#"{"wish":"stop"}"#), Ok(Wish::Stop("the page")));
        assert_eq!(wish(r#"{"wish":"start"}"#), Ok(Wish::Start(PassChoice::default())));
        let all = r#"{"wish":"start","setting":"low","share":"worn","field":" by the brook ","note":""}"#;
        let choice = PassChoice {
            setting_name: Some("low".to_owned()),
            assumed: false,
            share: Some(ShareCondition::Worn),
            field: Some("by the brook".to_owned()),
            note: Some(String::new()),
        };
        assert_eq!(wish(all), Ok(Wish::Start(choice.clone())));
        assert_eq!(wish(&all.replace("start", "choose")), Ok(Wish::Choose(choice)));
    }

    #[test]
    fn what_makes_no_sense_is_refused_in_one_sentence() {
        let long = "x".repeat(401);
        let deep = "[".repeat(8000);
        for wrong in [
            "",
            "{}",
            "null",
            "\"mark\"",
            r#"{"wish":"end"}"#,
            r#"{"wish":"start","setting":"high"}"#,
            r#"{"wish":"start","share":"new"}"#,
            r#"{"wish":"start","duration":"1 s"}"#,
            r#"{"wish":"start","note":"a\nb"}"#,
            r#"{"wish":"start","field":"\u001b[2J"}"#,
            &format!(r#"{{"wish":"start","note":"{long}"}}"#),
            &format!(r#"{{"wish":"start","note":{deep}"#),
        ] {
            let said = wish(wrong).unwrap_err().to_string();
            assert!(!said.contains('\n') && !said.contains('\u{1b}') && said.len() < 300, "{wrong}: {said}");
        }
        assert!(parse_wish(&[0xFF, 0xFE], |_| true).is_err());
    }
}
