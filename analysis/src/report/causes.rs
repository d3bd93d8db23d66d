//! The causes of a run in words: the list for the terminal, and the few lines that a page has room for.

use crate::causes::{Cause, Causes, Likelihood};
use std::fmt::Write;

/// What is said where no cause is shown or likely.
const NONE_STANDS_OUT: &str = "no cause stands out";
/// Lines on a page, that on the shares included.
const PAGE_LINES: usize = 3;

/// The list, with its line ends: what is supported with all that speaks for and against it, the rest by name.
pub(super) fn causes_text(causes: &Causes) -> String {
    let mut text = String::new();
    // Writing to a String cannot fail; the results are dropped for that reason.
    let none = if causes.stands_out { String::new() } else { format!(": {NONE_STANDS_OUT}") };
    let _ = writeln!(text, "causes{none}");
    for cause in causes.ranked.iter().filter(|cause| cause.likelihood <= Likelihood::Possible) {
        let _ = writeln!(text, "  {}: {}", cause.name, cause.likelihood.words().to_uppercase());
        for (sign, evidence) in [("for", &cause.evidence_for), ("against", &cause.evidence_against)] {
            for sentence in evidence {
                let _ = writeln!(text, "    {sign:<8}{sentence}");
            }
        }
        if let Some(why) = &cause.cannot_tell {
            let _ = writeln!(text, "    {:<8}{why}", "but");
        }
        let _ = writeln!(text, "    {:<8}{}", "check", cause.check);
    }
    for step in [Likelihood::NotShown, Likelihood::SpokenAgainst] {
        let names: Vec<String> =
            causes.ranked.iter().filter(|cause| cause.likelihood == step).map(name_and_why).collect();
        if !names.is_empty() {
            let _ = writeln!(text, "  {}: {}", step.words(), names.join("; "));
        }
    }
    if let Some(sentence) = &causes.shares_first {
        let _ = writeln!(text, "  {sentence}");
    }
    if let Some(words) = &causes.own_swing_words {
        let _ = writeln!(text, "  {words}");
    }
    let _ = writeln!(text, "  {}", order_of_work(causes));
    text
}

fn name_and_why(cause: &Cause) -> String {
    match &cause.cannot_tell {
        Some(why) => format!("{} ({why})", cause.name),
        None => cause.name.to_owned(),
    }
}

/// At most three lines: the causes that stand out, else those that are possible; and that a flatter drawbar hides
/// worn shares, where they are in question.
pub(super) fn causes_lines(causes: &Causes) -> Vec<String> {
    let places = PAGE_LINES - usize::from(causes.shares_first.is_some());
    let mut lines: Vec<String> = Vec::new();
    if causes.stands_out {
        lines.extend(causes.ranked.iter().filter(|cause| cause.stands_out()).take(places).map(line));
    } else {
        let possible: Vec<&str> = causes
            .ranked
            .iter()
            .filter(|cause| cause.likelihood == Likelihood::Possible)
            .map(|cause| cause.name)
            .collect();
        lines.push(match possible.as_slice() {
            [] => format!("{}.", capital(NONE_STANDS_OUT)),
            names => format!("{}; possible: {}.", capital(NONE_STANDS_OUT), names.join(", ")),
        });
    }
    lines.extend(causes.shares_first.clone());
    lines
}

/// In which order a plow is put right, as a sentence.
pub(super) fn order_of_work(causes: &Causes) -> String {
    format!("Order of work: {}.", causes.order_of_work.join(", "))
}

fn line(cause: &Cause) -> String {
    let because = cause.evidence_for.first().map(|why| format!(": {why}")).unwrap_or_default();
    format!("{}, {}{because}.", capital(cause.name), cause.likelihood.words())
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    let first = letters.next().map(|c| c.to_uppercase().to_string()).unwrap_or_default();
    format!("{first}{}", letters.as_str())
}
