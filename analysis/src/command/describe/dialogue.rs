//! The dialogue: questions and answers, kept until the description is whole.

use super::answer::{self, Entries};
use super::drawings::drawing;
use super::file::{self, Answered};
use super::lines::{Heard, Lines};
use super::questions::{QUESTIONS, Question, Tape};
use super::shapes::{SHAPES, Shape};
use super::terminal;
use super::usual::{Usual, outside};
use crate::command::args::DescribeArgs;
use crate::command::output::{self, CommandError, Done};
use crate::command::statics::expected_of_description;
use crate::report::units::Units;
use ingest::plow::read_plow_text;
use ingest::safety::{BEFORE_HANDS, CAUTIONS};
use std::path::PathBuf;

/// Key of the kind among the answers.
const KIND: &str = "kind";
/// Key of the units, before it.
const UNITS: &str = "units";
/// Columns of a terminal that lines keep to.
const COLUMNS: usize = 79;

/// What a line was.
enum Said {
    Text(String),
    Back,
    Explain,
    Quit,
    /// There is no further line, and why.
    End(&'static str),
}

struct Dialogue<'a> {
    args: &'a DescribeArgs,
    /// Units of answers without one.
    units: Units,
    lines: Lines,
    part: PathBuf,
    /// Answers as they were typed, in order; empty where one was left out.
    typed: Vec<(String, String)>,
}

pub(super) fn describe(args: &DescribeArgs) -> Result<Done, CommandError> {
    output::folder_exists(&args.plow)?;
    if args.plow.is_dir() {
        return Err(CommandError::at(&args.plow, "this is a folder: name the file to write in it"));
    }
    let mut part = args.plow.clone().into_os_string();
    part.push(".part");
    let part = PathBuf::from(part);
    let mut typed = file::kept(&part)?;
    // Answers without a unit stay in the unit they were given in.
    let first = typed.first().filter(|(key, _)| key == UNITS).map(|(_, word)| word.as_str());
    let units = match first {
        Some("us") => Units::Us,
        Some("si") => Units::Si,
        _ => args.units,
    };
    typed.retain(|(key, _)| key != UNITS);
    Dialogue { args, units, lines: Lines::listen()?, part, typed }.run()
}

fn say(text: &str) -> Result<(), CommandError> {
    output::print(&format!("{text}\n"))
}

/// A sentence in lines that a terminal has room for.
fn wrapped(sentence: &str) -> String {
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

fn say_wrapped(sentence: &str) -> Result<(), CommandError> {
    say(&wrapped(sentence))
}

/// What is made safe before this is measured.
fn cautions(question: &Question) -> String {
    let [_, _, under, ..] = CAUTIONS;
    match question.tape {
        _ if !question.form.is_measured() => String::new(),
        // An end is lifted, or hands go under the shares.
        Tape::Scales | Tape::WeightPlace | Tape::BottomsPlace | Tape::Width => {
            format!("{BEFORE_HANDS} {under}")
        }
        _ => BEFORE_HANDS.to_owned(),
    }
}

impl Dialogue<'_> {
    fn run(mut self) -> Result<Done, CommandError> {
        say_wrapped(
            "Describe the plow: one measurement at a time. An empty answer leaves out what may be left out; back: the \
             question before; ?: more about it; quit: go on later with the same command.",
        )?;
        say_wrapped(BEFORE_HANDS)?;
        if !self.typed.is_empty() {
            say(&format!(
                "taking up again after {} answers, from {}",
                self.typed.len(),
                self.part.display()
            ))?;
        }
        let mut shown = None;
        loop {
            let Some(shape) = self.shape() else {
                if let Some(done) = self.ask_kind()? {
                    return Ok(done);
                }
                continue;
            };
            if shown != Some(shape.name) {
                say("")?;
                say_wrapped(shape.stands)?;
                shown = Some(shape.name);
            }
            let answered = self.answered(shape)?;
            let Some(question) = self.next(shape, &answered) else {
                return self.write(shape, &answered);
            };
            if let Some(done) = self.ask(shape, question, answered)? {
                return Ok(done);
            }
        }
    }

    fn shape(&self) -> Option<&'static Shape> {
        let (_, name) = self.typed.first().filter(|(key, _)| key == KIND)?;
        SHAPES.iter().find(|shape| shape.name == name)
    }

    fn ask_kind(&mut self) -> Result<Option<Done>, CommandError> {
        self.typed.clear();
        for (at, shape) in SHAPES.iter().enumerate() {
            say(&format!("  {} {}: {}", at + 1, shape.name, shape.what))?;
        }
        match self.line("kind of plow> ")? {
            Said::Text(text) => {
                let number = text.parse::<usize>().ok().and_then(|number| number.checked_sub(1));
                let shape = number.and_then(|at| SHAPES.get(at));
                match shape.or_else(|| SHAPES.iter().find(|shape| shape.name == text)) {
                    Some(shape) => self.keep(KIND, shape.name)?,
                    None => say("one of the numbers or names above")?,
                }
                Ok(None)
            }
            Said::Back | Said::Explain => Ok(None),
            Said::Quit => self.quit().map(Some),
            Said::End(why) => Err(self.ended(why)),
        }
    }

    /// What was answered so far, read.
    fn answered(&self, shape: &Shape) -> Result<Vec<Answered>, CommandError> {
        let mut answered: Vec<Answered> = Vec::new();
        for (key, text) in self.typed.iter().filter(|(key, text)| key != KIND && !text.is_empty()) {
            let question = QUESTIONS.iter().find(|question| question.key == key);
            let question = question.ok_or_else(|| {
                CommandError::at(
                    &self.part,
                    format!("nothing asks for \"{key}\" of a {} plow: take the line out", shape.name),
                )
            })?;
            let entries = answer::read(question, text, self.units, &entries_of(&answered))
                .map_err(|why| CommandError::at(&self.part, format!("{key}: {why}")))?;
            answered.push((question, entries));
        }
        Ok(answered)
    }

    fn next(&self, shape: &Shape, answered: &[Answered]) -> Option<&'static Question> {
        shape.asked().find(|question| {
            !self.typed.iter().any(|(key, _)| key == question.key)
                && !answered.iter().any(|(_, entries)| entries.iter().any(|(key, _)| key == question.key))
        })
    }

    /// The question, its drawing, and what is usual.
    fn pose(&self, shape: &Shape, question: &Question) -> Result<(), CommandError> {
        let number = shape.asked().take_while(|one| one.key != question.key).count() + 1;
        let left_out = if question.optional { " (may be left out)" } else { "" };
        say(&format!("\n{number} of {}: {}{left_out}", shape.asked().count(), question.what))?;
        say_wrapped(question.how)?;
        if let Some(drawing) = drawing(shape, question.tape) {
            output::print(&terminal::text(&drawing))?;
            if drawing.has_letters() {
                let letters: Vec<_> =
                    shape.letters.iter().map(|(letter, what)| format!("{letter} {what}")).collect();
                say_wrapped(&letters.join(", "))?;
            }
        }
        if let Some(usual) = Usual::of(shape, question, self.units) {
            say(&format!("  usual: {} (common practice, no source)", usual.text()))?;
        }
        if let Some(example) = shape.example_of(question.key) {
            say_wrapped(&format!(
                "the example plow (invented) has: {}",
                answer::shown(&example, self.units)
            ))?;
        }
        let cautions = cautions(question);
        if cautions.is_empty() { Ok(()) } else { say_wrapped(&cautions) }
    }

    fn ask(
        &mut self,
        shape: &Shape,
        question: &'static Question,
        mut answered: Vec<Answered>,
    ) -> Result<Option<Done>, CommandError> {
        self.pose(shape, question)?;
        let text = match self.line("> ")? {
            Said::Text(text) => text,
            Said::Back => {
                self.typed.pop();
                self.save()?;
                return Ok(None);
            }
            Said::Explain => {
                let origin =
                    file::in_example(shape, &[]).map_or("0 of the drawing", |plow| plow.part_names().origin);
                say_wrapped(&format!(
                    "This is {} in plow.toml. 0 is {origin}. A ± may stand behind a number: how far it may be off. Rows \
                     of holes: 16 in, 1 1/2 in apart, 10 holes; or each height with commas between.",
                    question.key
                ))?;
                say_wrapped(shape.stands)?;
                return Ok(None);
            }
            Said::Quit => return self.quit().map(Some),
            Said::End(why) => return Err(self.ended(why)),
        };
        if text.is_empty() {
            if question.optional {
                say("  left out: the report has wider intervals, or says less")?;
                self.keep(question.key, "")?;
            } else {
                say("  this cannot be left out")?;
            }
            return Ok(None);
        }
        let entries = match answer::read(question, &text, self.units, &entries_of(&answered)) {
            Ok(entries) => entries,
            Err(why) => {
                say_wrapped(&why)?;
                return Ok(None);
            }
        };
        for (key, value) in &entries {
            say_wrapped(&format!("{key} = {}", value.to_string().trim()))?;
        }
        let mut doubts = outside(shape, &entries, self.units);
        answered.push((question, entries));
        match file::in_example(shape, &answered) {
            // What is wrong with another entry is told where that is asked, or when all is written.
            Err(why) if entries_named(&answered, &why) => {
                say_wrapped(why.split_once(": ").map_or(why.as_str(), |(_, fault)| fault))?;
                return Ok(None);
            }
            Err(_) => {}
            Ok(plow) => doubts.extend(file::doubts(shape, &plow, &answered)),
        }
        for sentence in doubts {
            match self.line(&(wrapped(&format!("that is unusual: {sentence} Keep it? [y/n]")) + " "))? {
                Said::Text(text) if text.eq_ignore_ascii_case("y") => {}
                Said::Quit => return self.quit().map(Some),
                Said::End(why) => return Err(self.ended(why)),
                _ => return Ok(None),
            }
        }
        self.keep(question.key, &text)?;
        Ok(None)
    }

    fn keep(&mut self, key: &str, text: &str) -> Result<(), CommandError> {
        self.typed.push((key.to_owned(), text.to_owned()));
        self.save()
    }

    fn save(&self) -> Result<(), CommandError> {
        let units = match self.units {
            Units::Us => "us",
            Units::Si => "si",
        };
        let all: Vec<_> =
            std::iter::once((UNITS.to_owned(), units.to_owned())).chain(self.typed.iter().cloned()).collect();
        file::keep(&self.part, &all)
    }

    fn line(&mut self, prompt: &str) -> Result<Said, CommandError> {
        loop {
            output::print(prompt)?;
            let line = match self.lines.next() {
                Heard::Line(line) => line,
                Heard::Unreadable => {
                    say("  that is no text in UTF-8: type it again")?;
                    continue;
                }
                Heard::End(why) => {
                    // The prompt's line ends. A terminal that is gone hears nothing of it.
                    let _ = say("");
                    return Ok(Said::End(why));
                }
            };
            return Ok(match line.trim() {
                "back" => Said::Back,
                "?" => Said::Explain,
                "quit" => Said::Quit,
                text => Said::Text(text.to_owned()),
            });
        }
    }

    /// Where the answers stay for the next time: each was kept as it was given.
    fn kept(&self) -> String {
        if self.typed.is_empty() {
            return "nothing was answered yet".to_owned();
        }
        format!("answers kept in {}; the same command goes on from there", self.part.display())
    }

    fn quit(&self) -> Result<Done, CommandError> {
        Ok(Done::say(vec![self.kept()]))
    }

    fn ended(&self, why: &str) -> CommandError {
        CommandError::failed(format!("{why}: {}", self.kept()))
    }

    fn write(&mut self, shape: &Shape, answered: &[Answered]) -> Result<Done, CommandError> {
        let path = &self.args.plow.clone();
        let text = file::described(shape, self.units, answered);
        let plow = read_plow_text(&text, path).map_err(|error| {
            CommandError::failed(format!(
                "{}; nothing was written, the answers are in {}: correct the line there and start the same command again",
                error.in_one_line(),
                self.part.display()
            ))
        })?;
        say(&format!("\n{}", expected_of_description(&plow, path, self.units)?))?;
        if path.exists() {
            let question = format!("{} is there already. Overwrite it? [y/n] ", path.display());
            if !matches!(self.line(&question)?, Said::Text(text) if text.eq_ignore_ascii_case("y")) {
                return Err(CommandError::at(
                    path,
                    format!(
                        "left as it was; the answers are in {}: name another file, with that beside it as FILE.part",
                        self.part.display()
                    ),
                ));
            }
        }
        output::write(path, text.as_bytes())?;
        std::fs::remove_file(&self.part).map_err(|cause| CommandError::at(&self.part, cause))?;
        Ok(Done::say(vec![format!("written and read again: {}", path.display())]))
    }
}

fn entries_of(answered: &[Answered]) -> Entries {
    answered.iter().flat_map(|(_, entries)| entries.clone()).collect()
}

/// Whether a fault is that of the last answer.
fn entries_named(answered: &[Answered], why: &str) -> bool {
    answered.last().is_some_and(|(question, entries)| {
        let names = |key: &str| why.contains(&format!(": {key}")) || why.contains(&format!("in [{key}"));
        // A hole that is not there is told of its setting; the other end's was judged before, or is there.
        let setting = question.key.starts_with("settings.") && why.contains(": settings.");
        setting || names(question.key) || entries.iter().any(|(key, _)| names(key))
    })
}
