//! Every sentence about a run or a plow, in the reader's units: a plowman or a translator reads them here.
//!
//! Findings come in as data; nothing is decided here but wording.

use crate::report::units::Units;

pub mod advice;
pub mod calibration;
pub mod causes;
pub(super) mod comparison;
pub mod draft;
pub mod entries;
mod evidence;
pub mod glossary;
pub mod headline;
pub mod inputs;
pub mod notices;
pub mod own;
pub mod plow;
pub mod run;
pub mod top_view;
pub mod verdict;

/// A message as a sentence: its first letter large, a full stop behind it.
pub(super) fn sentence(message: &str) -> String {
    format!("{}.", capital(message))
}

/// A number of things.
pub(crate) fn counted(count: usize, one: &str, more: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { more })
}

/// Two of several, and how many more there are.
pub(super) fn some_of(all: &[&str]) -> String {
    match all {
        [one, other, _, ..] => format!("{one}, {other} and {} more", all.len() - 2),
        few => few.join(" and "),
    }
}

/// A change of a load: `120 N more`.
pub(super) fn load_change(n: f64, units: Units) -> String {
    format!("{} {}", units.force_n(n.abs()), if n < 0.0 { "less" } else { "more" })
}

/// With its first letter large.
pub(super) fn capital(text: &str) -> String {
    let mut letters = text.chars();
    let first = letters.next().map(|c| c.to_uppercase().to_string()).unwrap_or_default();
    format!("{first}{}", letters.as_str())
}

#[cfg(test)]
mod tests;
