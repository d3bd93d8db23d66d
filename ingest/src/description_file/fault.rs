//! What is wrong with a description: at a key of it, and in a line of its text.

use std::fmt::{Display, Formatter};

/// One thing that is wrong with a description.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct KeyFault {
    /// Dotted key, such as `tail_wheel.x`; which one of a list stands behind it, from 0: `plow_hitch.holes[2].z`.
    pub key: String,
    /// What is wrong and what to do.
    pub sentence: String,
    /// Other keys that it was held against: where one of them is wrong itself, this says nothing.
    pub(super) beside: Vec<String>,
}

impl KeyFault {
    /// A fault of what stands at a key.
    #[must_use]
    pub fn at(key: impl Into<String>, sentence: impl Into<String>) -> Self {
        Self { key: key.into(), sentence: sentence.into(), beside: Vec::new() }
    }

    /// The same, held against what stands at these keys.
    #[must_use]
    pub fn beside<'a>(mut self, keys: impl IntoIterator<Item = &'a str>) -> Self {
        self.beside.extend(keys.into_iter().map(str::to_owned));
        self
    }

    /// Whether it says something, where what stands at these keys could not be read.
    pub fn holds_without(&self, unread: &[impl AsRef<str>]) -> bool {
        let mut keys = std::iter::once(&self.key).chain(&self.beside);
        !keys.any(|key| unread.iter().any(|unread| touches(key, unread.as_ref())))
    }

    fn within(mut self, table: &str) -> Self {
        for key in std::iter::once(&mut self.key).chain(&mut self.beside) {
            *key = format!("{table}.{key}");
        }
        self
    }
}

impl Display for KeyFault {
    fn fmt(&self, f: &mut Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}: {}", as_shown(&self.key), self.sentence)
    }
}

impl std::error::Error for KeyFault {}

/// Whether one key is the other, or within it.
fn touches(one: &str, other: &str) -> bool {
    let (short, long) = if one.len() < other.len() { (one, other) } else { (other, one) };
    long.strip_prefix(short).is_some_and(|rest| rest.is_empty() || rest.starts_with(['.', '[']))
}

/// A key as a person reads it, which counts no list from 0.
pub(super) fn as_shown(key: &str) -> String {
    let mut parts = key.split('[');
    let first = parts.next().unwrap_or_default().to_owned();
    parts.fold(first, |shown, part| shown + part.split_once(']').map_or("", |(_, rest)| rest))
}

/// Everything that is wrong with a description, one fault a key.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct KeyFaults(pub Vec<KeyFault>);

impl KeyFaults {
    /// Takes a fault up, unless its key has one already: the first says most.
    pub fn push(&mut self, fault: KeyFault) {
        if !self.0.iter().any(|known| known.key == fault.key) {
            self.0.push(fault);
        }
    }

    /// Takes a fault up unless this is right.
    pub fn unless(&mut self, right: bool, key: impl Into<String>, sentence: impl Into<String>) {
        if !right {
            self.push(KeyFault::at(key, sentence));
        }
    }

    /// The same faults of a description that is a table of a larger document.
    #[must_use]
    pub fn within(self, table: &str) -> Self {
        Self(self.0.into_iter().map(|fault| fault.within(table)).collect())
    }
}

impl From<KeyFault> for KeyFaults {
    fn from(fault: KeyFault) -> Self {
        Self(vec![fault])
    }
}

impl Display for KeyFaults {
    fn fmt(&self, f: &mut Formatter<'_>) -> std::fmt::Result {
        let all: Vec<String> = self.0.iter().map(ToString::to_string).collect();
        f.write_str(&all.join("; "))
    }
}

impl std::error::Error for KeyFaults {}

/// Of a line that is shown, at most so many signs.
const SHOWN_MAX: usize = 100;

/// What is wrong in a line of a description.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LineFault {
    /// The line, from 1.
    pub line: usize,
    /// What stands there; empty where the fault is what the whole document does not have.
    pub shown: String,
    /// What is wrong and what to do.
    pub message: String,
}

impl LineFault {
    /// A fault of what stands in a line of the text.
    pub(super) fn in_line(text: &str, line: usize, message: &str) -> Self {
        let there = text.lines().nth(line - 1).unwrap_or_default().trim();
        let mut shown = in_one_line(&there.chars().take(SHOWN_MAX).collect::<String>());
        if there.chars().count() > SHOWN_MAX {
            shown.push_str(" ...");
        }
        Self { line, shown, message: in_one_line(message) }
    }

    /// A fault of the whole document.
    pub(super) fn of_all(message: &str) -> Self {
        Self { line: 1, shown: String::new(), message: in_one_line(message) }
    }
}

/// Values are said again, and what a value has of line ends is none of the sentence.
fn in_one_line(text: &str) -> String {
    text.chars().map(|one| if one.is_control() { ' ' } else { one }).collect()
}

/// Line, from 1, of a place in a text.
pub(super) fn line_at(text: &str, offset: usize) -> usize {
    1 + text.bytes().take(offset).filter(|byte| *byte == b'\n').count()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn keys_are_shown_without_the_count_of_lists_and_kept_apart_by_it() {
        assert_eq!(as_shown("plow_hitch.holes[2].z"), "plow_hitch.holes.z");
        assert_eq!(as_shown("load_table[1][0]"), "load_table");
        let fault = KeyFault::at("sensors[1].count_limits", "must rise").beside(["weight.x"]);
        assert_eq!(fault.to_string(), "sensors.count_limits: must rise");
        for unread in ["sensors", "sensors[1]", "sensors[1].count_limits[0]", "weight", "weight.x"] {
            assert!(!fault.holds_without(&[unread]), "{unread}");
        }
        for unread in ["sensors[0]", "sensors[1].channel", "weight.total", "sens", "weights"] {
            assert!(fault.holds_without(&[unread]), "{unread}");
        }
    }

    #[test]
    fn a_line_is_shown_in_part_if_it_is_long() {
        let long = LineFault::in_line(&format!("a\n  b = {}\t1", "[".repeat(100_000)), 2, "a\nb");
        assert!(long.shown.starts_with("b = [[") && long.shown.ends_with("[ ..."), "{}", long.shown);
        assert!(long.shown.len() < 110);
        assert_eq!(long.message, "a b");
    }
}
