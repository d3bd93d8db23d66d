//! Text from outside, made safe to look at: one line, no characters that act instead of show, no characters
//! the typeface lacks, no longer than its place.

use super::typeset::typeface_has;

/// A word longer than this gets places where it may be broken, so that it cannot run out of its column.
const LONGEST_WORD: usize = 32;
/// Letters between two such places.
const BREAK_EVERY: usize = 8;
const BREAK_HERE: char = '\u{200B}';

/// `text` on one line with at most `most` characters; a shortened one ends in "…".
#[must_use]
pub fn shortened(text: &str, most: usize) -> String {
    breakable(&one_line(text, most))
}

/// Like [`shortened`], for charts: without places to break, because a chart never breaks a line.
#[must_use]
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

    #[test]
    fn ordinary_text_stays_as_it_is() {
        assert_eq!(
            shortened("low hole 4, 14 in · b = −0.3 ± 0.1 °", 80),
            "low hole 4, 14 in · b = −0.3 ± 0.1 °"
        );
        assert_eq!(shortened("Grüße, Łódź, поле", 80), "Grüße, Łódź, поле");
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
        assert!(shortened(&long, 60).contains(BREAK_HERE));
        assert!(!shortened("a word and another word", 60).contains(BREAK_HERE));
        assert_eq!(one_line("", 10), "");
        assert_eq!(one_line("abc", 0), "…");
    }
}
