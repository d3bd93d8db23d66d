//! What is said to whoever answers, in lines that a terminal has room for; and what a line of theirs is.

use super::answer;
use super::drawings::drawing;
use super::kept::{Kept, entries_of, follows};
use super::questions::{Form, Question, Tape};
use super::shapes::Shape;
use super::terminal;
use super::usual::Usual;
use crate::command::output::{self, CommandError};
use ingest::safety::{BEFORE_HANDS, CAUTIONS};

/// Columns of a terminal that lines keep to.
const COLUMNS: usize = 79;

/// What a line was.
pub(super) enum Said {
    Text(String),
    /// To the question before, or to one by its number.
    Back(Option<usize>),
    /// To the first question that is open.
    On,
    List,
    Explain,
    Quit,
    /// There is no further line, and why.
    End(&'static str),
}

impl Said {
    pub(super) fn line(line: &str) -> Self {
        let line = line.trim();
        match line.to_lowercase().as_str() {
            "back" => Self::Back(None),
            "on" => Self::On,
            "list" => Self::List,
            "?" => Self::Explain,
            "quit" => Self::Quit,
            other => match other.strip_prefix("back ").and_then(|number| number.trim().parse().ok()) {
                Some(number) => Self::Back(Some(number)),
                None => Self::Text(line.to_owned()),
            },
        }
    }
}

pub(super) fn say(text: &str) -> Result<(), CommandError> {
    output::print(&format!("{text}\n"))
}

/// A sentence in lines that a terminal has room for.
pub(super) fn wrapped(sentence: &str) -> String {
    let mut lines = vec![" ".to_owned()];
    for word in sentence.split_whitespace() {
        match lines.last_mut() {
            Some(line) if line.chars().count() + 1 + word.chars().count() <= COLUMNS => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(format!("  {word}")),
        }
    }
    lines.join("\n")
}

pub(super) fn say_wrapped(sentence: &str) -> Result<(), CommandError> {
    say(&wrapped(sentence))
}

/// What is made safe before this is measured: one state of the plow for one job.
pub(super) fn caution(question: &Question) -> &'static str {
    let [_, _, under, ..] = CAUTIONS;
    match question.tape {
        _ if !question.form.is_measured() => "",
        // It hangs or stands high for that.
        Tape::WeightPlace => under,
        _ => BEFORE_HANDS,
    }
}

/// Which of a kind's questions it is, from 1.
pub(super) fn number_of(shape: &Shape, question: &Question) -> usize {
    shape.asked().take_while(|one| one.key != question.key).count() + 1
}

fn heading(shape: &Shape, question: &Question) -> String {
    let (number, all) = (number_of(shape, question), shape.asked().count());
    let left_out = if question.left_out.is_some() { " (may be left out)" } else { "" };
    format!("{number} of {all}: {}{left_out}", question.what)
}

/// The question in short, where it was posed a moment ago.
pub(super) fn remind(shape: &Shape, question: &Question) -> Result<(), CommandError> {
    say(&format!("\n{}", heading(shape, question)))?;
    say_caution(question)
}

fn say_caution(question: &Question) -> Result<(), CommandError> {
    let caution = caution(question);
    if caution.is_empty() { Ok(()) } else { say_wrapped(caution) }
}

/// The question, its drawing, what is usual, and what was answered before.
pub(super) fn pose(kept: &Kept, shape: &Shape, question: &Question) -> Result<(), CommandError> {
    let answered = kept.answered(shape)?;
    say(&format!("\n{}", heading(shape, question)))?;
    say_wrapped(question.how)?;
    if let Some(drawing) = drawing(shape, question.tape) {
        output::print(&terminal::text(&drawing))?;
        if drawing.has_letters() {
            let letters: Vec<_> =
                shape.letters.iter().map(|(letter, what)| format!("{letter} {what}")).collect();
            say_wrapped(&letters.join(", "))?;
        }
    }
    if let Some(usual) = Usual::of(shape, question, kept.units) {
        say(&format!("  usual: {} (common practice, no source)", usual.text()))?;
    }
    if let Some(example) = shape.example_of(question.key) {
        say_wrapped(&format!("the example plow (invented) has: {}", answer::shown(&example, kept.units)))?;
    }
    if let Form::Hole(end) = question.form {
        let holes = answer::holes_known(end, &entries_of(&answered));
        say_wrapped(&format!("your holes: {}", answer::holes_line(&holes)))?;
    }
    say_caution(question)?;
    let Some(text) = kept.text(question) else { return Ok(()) };
    let open = shape.asked().find(|one| one.key != question.key && kept.is_open(one, &answered));
    let further = open.map_or_else(
        || "goes on to the end".to_owned(),
        |open| format!("goes on with question {}", number_of(shape, open)),
    );
    let again = if kept.is_asked_again(question) {
        "Asked again, for another answer that it hangs on is not what it was. "
    } else {
        ""
    };
    say_wrapped(&match (text, question.left_out) {
        ("", _) => format!("{again}You left it out; Enter leaves it so and {further}."),
        (text, None) => format!("{again}Your answer: {text}. Enter keeps it and {further}."),
        (text, Some(_)) => {
            format!("{again}Your answer: {text}. Enter keeps it and {further}; none leaves it out.")
        }
    })
}

/// All questions with their answers.
pub(super) fn list(kept: &Kept, shape: &Shape) -> Result<(), CommandError> {
    let answered = kept.answered(shape)?;
    for (at, question) in shape.asked().enumerate() {
        let answer = match kept.text(question) {
            _ if follows(question, &answered) => "(from both weights)",
            Some("") => "(left out)",
            Some(text) => text,
            None => "?",
        };
        let again = if kept.is_asked_again(question) { " (to be asked again)" } else { "" };
        say_wrapped(&format!("{}  {}: {answer}{again}", at + 1, question.what))?;
    }
    Ok(())
}
