//! What signs a terminal shows, and texts from outside as they may be put on it.

use std::borrow::Cow;

/// What a terminal shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Characters {
    /// All of UTF-8.
    Utf8,
    /// ASCII alone; anything else is shown as `?`.
    Ascii,
}

impl Characters {
    /// What the terminal says of itself by `LC_ALL`, `LC_CTYPE` and `LANG`, the first that is set and not empty.
    #[must_use]
    pub fn of_locale(variable: impl Fn(&str) -> Option<String>) -> Self {
        let set =
            ["LC_ALL", "LC_CTYPE", "LANG"].into_iter().filter_map(variable).find(|value| !value.is_empty());
        let said = set.unwrap_or_default().to_lowercase();
        if said.contains("utf-8") || said.contains("utf8") { Self::Utf8 } else { Self::Ascii }
    }

    /// A text in one line without anything that a terminal would obey: control characters become spaces, and signs that
    /// turn the direction of writing or cannot be seen are left out.
    #[must_use]
    pub fn plain(self, text: &str) -> Cow<'_, str> {
        let harmless = |c: char| !c.is_control() && !is_unseen(c) && (self == Self::Utf8 || c.is_ascii());
        if text.chars().all(harmless) {
            return Cow::Borrowed(text);
        }
        let shown = text.chars().filter(|c| !is_unseen(*c)).map(|c| match c {
            _ if c.is_control() => ' ',
            _ if self == Self::Ascii && !c.is_ascii() => in_ascii(c),
            _ => c,
        });
        Cow::Owned(shown.collect())
    }
}

/// Zero-width signs and those that turn the direction of writing.
fn is_unseen(c: char) -> bool {
    matches!(c, '\u{ad}' | '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2060}'..='\u{206f}' | '\u{feff}' | '\u{fff9}'..='\u{fffb}')
}

/// What our own texts have that ASCII has not.
fn in_ascii(c: char) -> char {
    match c {
        '−' | '–' | '—' => '-',
        '·' => '.',
        '…' => '.',
        '’' | '‘' => '\'',
        '“' | '”' => '"',
        '×' => 'x',
        _ => '?',
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_text_can_command_a_terminal() {
        let evil = "low\u{1b}[2J\u{1b}]0;gone\u{7}\r\nhole\u{9b}31m \u{202e}desrever\u{200b}";
        for characters in [Characters::Utf8, Characters::Ascii] {
            let shown = characters.plain(evil);
            assert!(shown.chars().all(|c| !c.is_control()), "{shown:?}");
            assert!(!shown.contains('\u{202e}') && shown.contains("hole"), "{shown:?}");
        }
    }

    #[test]
    fn ascii_is_shown_where_the_locale_promises_no_more() {
        let of = |set: &'static [(&'static str, &'static str)]| {
            Characters::of_locale(|name| {
                set.iter().find(|(one, _)| *one == name).map(|(_, value)| (*value).to_owned())
            })
        };
        assert_eq!(of(&[("LANG", "en_US.UTF-8")]), Characters::Utf8);
        assert_eq!(of(&[("LC_ALL", ""), ("LC_CTYPE", "C.utf8")]), Characters::Utf8);
        assert_eq!(of(&[("LC_ALL", "C"), ("LANG", "en_US.UTF-8")]), Characters::Ascii);
        assert_eq!(of(&[]), Characters::Ascii);
        assert_eq!(Characters::Ascii.plain("Küche − 5"), "K?che - 5");
        assert_eq!(Characters::Utf8.plain("Küche"), "Küche");
    }
}
