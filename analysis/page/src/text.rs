//! Text that a page may show, made safe to look at when it is made: one line, no characters that act instead of show,
//! no characters the typeface lacks, no longer than its place. A template is given no other text.

use std::fmt;
use std::ops::Deref;

use serde::{Serialize, Serializer};

use super::typeset::typeface_has;

/// A title: two lines of the largest text.
pub type Title = Text<90>;
/// Characters of a sentence.
const SENTENCE: usize = 330;
/// A sentence.
pub type Sentence = Text<SENTENCE>;
/// What to do: it is whole on every page, so this only bounds what a broken file could hold.
pub type Order = Text<2000>;
/// One half of the words in large letters.
pub type LargeWord = Text<20>;
/// A cell of a table.
pub type Cell = Text<44>;
/// Name or figure of a row that has the page's width or half of it.
pub type RowCell = Text<80>;
/// A unit.
pub type Unit = Text<12>;

/// Text of at most `MOST` characters on one line, without a character that acts or that the typeface lacks. A longer
/// one ends in "…".
///
/// Serialized, words too long for any column have places where they may be broken.
#[derive(Clone, Default, PartialEq, Eq)]
pub struct Text<const MOST: usize>(String);

impl<S: AsRef<str>, const MOST: usize> From<S> for Text<MOST> {
    fn from(text: S) -> Self {
        Self(one_line(text.as_ref(), MOST))
    }
}

impl<const MOST: usize> Deref for Text<MOST> {
    type Target = str;

    fn deref(&self) -> &str {
        &self.0
    }
}

impl<const MOST: usize> fmt::Display for Text<MOST> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&self.0)
    }
}

impl<const MOST: usize> fmt::Debug for Text<MOST> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Debug::fmt(&self.0, f)
    }
}

impl<const MOST: usize> Serialize for Text<MOST> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.serialize_str(&breakable(&self.0))
    }
}

/// A figure as it may be shown: a number that is none becomes "not shown", whoever let it through.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Figure<const MOST: usize>(Text<MOST>);

impl<S: AsRef<str>, const MOST: usize> From<S> for Figure<MOST> {
    fn from(text: S) -> Self {
        let text = text.as_ref();
        let no_number = |word: &str| {
            let bare = word.trim_matches(|c: char| !c.is_alphanumeric());
            ["nan", "inf", "infinity"].iter().any(|bad| bare.eq_ignore_ascii_case(bad))
        };
        Self(if text.split_whitespace().any(no_number) { "not shown" } else { text }.into())
    }
}

impl<const MOST: usize> Deref for Figure<MOST> {
    type Target = str;

    fn deref(&self) -> &str {
        &self.0
    }
}

impl<const MOST: usize> fmt::Display for Figure<MOST> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

/// At most `MOST` lines of at most `EACH` characters, none of them empty; a last line says how many are left out.
#[derive(Clone, Debug, Default, Serialize)]
pub struct Lines<const MOST: usize, const EACH: usize = SENTENCE>(Vec<Text<EACH>>);

impl<S: AsRef<str>, const MOST: usize, const EACH: usize> From<Vec<S>> for Lines<MOST, EACH> {
    fn from(all: Vec<S>) -> Self {
        Self(first(&all, MOST))
    }
}

impl<const MOST: usize, const EACH: usize> Deref for Lines<MOST, EACH> {
    type Target = [Text<EACH>];

    fn deref(&self) -> &[Text<EACH>] {
        &self.0
    }
}

/// Sentences as far as `MOST` characters go; a last one says how many are left out. A number of sentences would cut the
/// reservations, which stand last, from a page that has room for them.
#[derive(Clone, Debug, Default, Serialize)]
pub struct Passage<const MOST: usize>(Vec<Sentence>);

impl<S: AsRef<str>, const MOST: usize> From<Vec<S>> for Passage<MOST> {
    fn from(all: Vec<S>) -> Self {
        let mut characters = 0;
        let fits = |sentence: &&S| {
            characters += sentence.as_ref().chars().count().min(SENTENCE);
            characters <= MOST
        };
        Self(first(&all, all.iter().take_while(fits).count()))
    }
}

impl<const MOST: usize> Deref for Passage<MOST> {
    type Target = [Sentence];

    fn deref(&self) -> &[Sentence] {
        &self.0
    }
}

/// The first `most` lines that hold anything, and how many there are beyond them.
fn first<S: AsRef<str>, const EACH: usize>(all: &[S], most: usize) -> Vec<Text<EACH>> {
    let mut shown: Vec<Text<EACH>> = all.iter().map(Text::from).filter(|line| !line.is_empty()).collect();
    if shown.len() > most {
        let left_out = shown.len() - most;
        shown.truncate(most);
        shown.push(format!("… and {left_out} more: see the JSON output.").into());
    }
    shown
}

/// A word longer than this gets places where it may be broken, so that it cannot run out of its column.
const LONGEST_WORD: usize = 32;
/// Letters between two such places.
const BREAK_EVERY: usize = 8;
const BREAK_HERE: char = '\u{200B}';

/// `text` on one line with at most `most` characters; a shortened one ends in "…".
pub fn one_line(text: &str, most: usize) -> String {
    let mut shown = String::new();
    // Far more than is shown is never looked at, however long the text.
    for c in text.chars().take(most.saturating_mul(2) + 2) {
        match c {
            c if c.is_whitespace() => {
                if !shown.ends_with(' ') && !shown.is_empty() {
                    shown.push(' ');
                }
            }
            c if acts(c) || !typeface_has(c) => shown.push_str(&format!("[U+{:04X}]", u32::from(c))),
            c => shown.push(c),
        }
    }
    let shown = shown.trim_end();
    if shown.chars().count() <= most {
        return shown.to_owned();
    }
    let mut cut: String = shown.chars().take(most.saturating_sub(1)).collect();
    cut.truncate(cut.trim_end().len());
    cut.push('…');
    cut
}

/// Control characters, and the format characters that reorder, join or hide their neighbours.
fn acts(c: char) -> bool {
    c.is_control()
        || matches!(c, '\u{AD}' | '\u{61C}' | '\u{200B}'..='\u{200F}' | '\u{202A}'..='\u{202E}'
            | '\u{2060}'..='\u{206F}' | '\u{FE00}'..='\u{FE0F}' | '\u{FEFF}'
            | '\u{FFF9}'..='\u{FFFB}' | '\u{E0000}'..='\u{E0FFF}')
}

fn breakable(line: &str) -> String {
    let mut out = String::with_capacity(line.len());
    for (place, word) in line.split(' ').enumerate() {
        if place > 0 {
            out.push(' ');
        }
        let long = word.chars().count() > LONGEST_WORD;
        for (letter, c) in word.chars().enumerate() {
            if long && letter > 0 && letter % BREAK_EVERY == 0 {
                out.push(BREAK_HERE);
            }
            out.push(c);
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    fn serialized<const MOST: usize>(text: &Text<MOST>) -> String {
        serde_json::to_value(text).unwrap().as_str().unwrap().to_owned()
    }

    #[test]
    fn ordinary_text_stays_as_it_is() {
        for text in ["low hole 4, 14 in · b = −0.3 ± 0.1 °", "Grüße, Łódź, поле"] {
            assert_eq!(serialized(&Text::<80>::from(text)), text);
        }
    }

    #[test]
    fn source_code_stays_text() {
        assert_eq!(one_line("#read(\"/etc/passwd\")", 80), "#read(\"/etc/passwd\")");
        assert_eq!(one_line("<script>", 80), "<script>");
    }

    #[test]
    fn what_acts_or_cannot_be_drawn_is_named() {
        assert_eq!(one_line("a\u{1b}[31mb", 80), "a[U+001B][31mb");
        assert_eq!(one_line("x\u{202e}y", 80), "x[U+202E]y");
        assert_eq!(one_line("\u{1F69C} pass", 80), "[U+1F69C] pass");
        assert_eq!(one_line("two\n\n lines\t", 80), "two lines");
    }

    #[test]
    fn long_text_is_cut_and_long_words_may_break() {
        let long = "x".repeat(300);
        assert_eq!(one_line(&long, 20).chars().count(), 20);
        assert!(one_line(&long, 20).ends_with('…'));
        assert!(serialized(&Text::<60>::from(&long)).contains(BREAK_HERE));
        assert!(!Text::<60>::from(&long).contains(BREAK_HERE));
        assert!(!serialized(&Text::<60>::from("a word and another word")).contains(BREAK_HERE));
        assert_eq!(one_line("", 10), "");
        assert_eq!(one_line("abc", 0), "…");
    }

    #[test]
    fn what_is_no_number_is_not_shown() {
        for text in ["NaN", "-inf", "inf", "1.2 to NaN", "(−inf) to 3", "Infinity"] {
            assert_eq!(&*Figure::<40>::from(text), "not shown", "{text}");
        }
        for text in ["6.10", "−0.15 to −0.09", "shown to be under 20 N", "nanometre"] {
            assert_eq!(&*Figure::<40>::from(text), text);
        }
    }

    /// Found on a page: "… and 3 more" stood in place of what the reader had to check first.
    #[test]
    fn reasons_are_shown_as_far_as_their_place_goes() {
        let usual: Vec<String> = (0..9).map(|i| format!("{i}{}", "x".repeat(150))).collect();
        assert_eq!(Passage::<1500>::from(usual).len(), 9);
        let shown = Passage::<1500>::from(vec!["x".repeat(400); 6]);
        assert_eq!((shown.len(), &*shown[4]), (5, "… and 2 more: see the JSON output."));
    }

    #[test]
    fn lines_left_out_are_counted() {
        let all = vec!["a", " ", "b", "c"];
        let shown = |lines: &[Text<50>]| lines.iter().map(|line| line.to_string()).collect::<Vec<_>>();
        assert_eq!(shown(&Lines::<3, 50>::from(all.clone())), ["a", "b", "c"]);
        assert_eq!(shown(&Lines::<1, 50>::from(all)), ["a", "… and 2 more: see the JSON output."]);
    }
}
