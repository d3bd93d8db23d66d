//! `describe`: a plow described by answering, one measurement at a time.

mod answer;
mod file;
mod questions;

use super::args::DescribeArgs;
use super::output::{self, CommandError, Done};
use super::statics::expected_of_description;
use crate::report::units::Units;
use file::Answered;
use ingest::plow::read_plow_text;
use ingest::safety::BEFORE_HANDS;
use questions::{QUESTIONS, Question, SHAPES, Shape};
use std::io::{Lines, StdinLock, Write};
use std::path::PathBuf;

/// Key of the kind among the answers.
const KIND: &str = "kind";
/// Key of the units, before it.
const UNITS: &str = "units";

/// What a line was.
enum Said {
    Text(String),
    Back,
    Explain,
    Quit,
    /// There is no further line.
    End,
}

struct Dialogue<'a> {
    args: &'a DescribeArgs,
    /// Units of answers without one.
    units: Units,
    lines: Lines<StdinLock<'static>>,
    part: PathBuf,
    /// Answers as they were typed, in order; empty where one was left out.
    typed: Vec<(String, String)>,
}

pub(super) fn describe(args: &DescribeArgs) -> Result<Done, CommandError> {
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
    Dialogue { args, units, lines: std::io::stdin().lines(), part, typed }.run()
}

fn say(text: &str) -> Result<(), CommandError> {
    output::print(&format!("{text}\n"))
}

impl Dialogue<'_> {
    fn run(mut self) -> Result<Done, CommandError> {
        say(
            "Describe the plow: one measurement at a time. An empty answer leaves out what may be left out;\n\
             back: the question before; ?: more about it; quit: go on later with the same command.",
        )?;
        say(BEFORE_HANDS)?;
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
                say(shape.drawing)?;
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
            Said::Quit => self.stopped(false).map(Some),
            Said::End => self.stopped(true).map(Some),
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
            let known = answered.iter().flat_map(|(_, entries)| entries.clone()).collect();
            let entries = answer::read(question, text, self.units, &known)
                .map_err(|why| CommandError::at(&self.part, format!("{key}: {why}")))?;
            answered.push((question, entries));
        }
        Ok(answered)
    }

    fn next(&self, shape: &Shape, answered: &[Answered]) -> Option<&'static Question> {
        QUESTIONS.iter().find(|question| {
            file::has_table(shape, question.beside)
                && !self.typed.iter().any(|(key, _)| key == question.key)
                && !answered.iter().any(|(_, entries)| entries.iter().any(|(key, _)| key == question.key))
        })
    }

    fn ask(
        &mut self,
        shape: &Shape,
        question: &'static Question,
        mut answered: Vec<Answered>,
    ) -> Result<Option<Done>, CommandError> {
        let left_out = if question.optional { " (may be left out)" } else { "" };
        say(&format!("\n{}{left_out}\n  {}", question.what, question.how))?;
        if question.form.is_measured() {
            say(&format!("  {BEFORE_HANDS}"))?;
        }
        if let Some(example) = file::example_of(shape, question.key) {
            let example = answer::shown(&example, self.units);
            say(&format!("  the example plow (invented) has: {example}"))?;
        }
        let text = match self.line("> ")? {
            Said::Text(text) => text,
            Said::Back => {
                self.typed.pop();
                self.save()?;
                return Ok(None);
            }
            Said::Explain => {
                say(shape.drawing)?;
                say(&format!(
                    "  This is {} in plow.toml. 0 is {}. A ± may stand behind the number: how far it may be off.\n\
                     \x20 Rows of holes: 16 in, 1 1/2 in apart, 10 holes; or each height with commas between.",
                    question.key,
                    file::in_example(shape, &[])
                        .map_or("the 0 of the drawing", |plow| plow.part_names().origin)
                ))?;
                return Ok(None);
            }
            Said::Quit => return self.stopped(false).map(Some),
            Said::End => return self.stopped(true).map(Some),
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
        let known = answered.iter().flat_map(|(_, entries)| entries.clone()).collect();
        let entries = match answer::read(question, &text, self.units, &known) {
            Ok(entries) => entries,
            Err(why) => {
                say(&format!("  {why}"))?;
                return Ok(None);
            }
        };
        for (key, value) in &entries {
            say(&format!("  {key} = {}", value.to_string().trim()))?;
        }
        answered.push((question, entries));
        match file::in_example(shape, &answered) {
            // What is wrong with another entry is told where that is asked, or when all is written.
            Err(why) if entries_named(&answered, &why) => {
                say(&format!("  {}", why.split_once(": ").map_or(why.as_str(), |(_, fault)| fault)))?;
                return Ok(None);
            }
            Err(_) => {}
            Ok(plow) => {
                let is_known = |key: &String| {
                    answered.iter().any(|(_, entries)| entries.iter().any(|(known, _)| known == key))
                };
                let concerned = |keys: &[String]| {
                    let of_kind = |key: &&String| {
                        QUESTIONS.iter().any(|one| one.key == **key && file::has_table(shape, one.beside))
                    };
                    answered
                        .last()
                        .is_some_and(|(_, entries)| entries.iter().any(|(key, _)| keys.contains(key)))
                        && keys.iter().filter(of_kind).all(is_known)
                };
                for (_, sentence) in file::unusual(&plow).into_iter().filter(|(keys, _)| concerned(keys)) {
                    match self.line(&format!("  that is unusual: {sentence} Keep it? [y/n] "))? {
                        Said::Text(text) if text.eq_ignore_ascii_case("y") => {}
                        Said::Quit => return self.stopped(false).map(Some),
                        Said::End => return self.stopped(true).map(Some),
                        _ => return Ok(None),
                    }
                }
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
        output::print(prompt)?;
        std::io::stdout().flush()?;
        let Some(line) = self.lines.next() else {
            say("")?;
            return Ok(Said::End);
        };
        let line = line?;
        Ok(match line.trim() {
            "back" => Said::Back,
            "?" => Said::Explain,
            "quit" => Said::Quit,
            text => Said::Text(text.to_owned()),
        })
    }

    /// The answers stay for the next time.
    fn stopped(&self, at_the_end: bool) -> Result<Done, CommandError> {
        let sentence =
            format!("answers kept in {}; the same command goes on from there", self.part.display());
        if at_the_end {
            return Err(CommandError::failed(format!(
                "the answers ended before the last question: {sentence}"
            )));
        }
        self.save()?;
        Ok(Done::say(vec![sentence]))
    }

    fn write(&mut self, shape: &Shape, answered: &[Answered]) -> Result<Done, CommandError> {
        let path = &self.args.plow.clone();
        let text = file::described(shape, answered);
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

/// Whether a fault is that of the last answer.
fn entries_named(answered: &[Answered], why: &str) -> bool {
    answered.last().is_some_and(|(question, entries)| {
        let names = |key: &str| why.contains(&format!(": {key}")) || why.contains(&format!("in [{key}"));
        // A hole that is not there is told of its setting; the other end's was judged before, or is there.
        let setting = question.key.starts_with("settings.") && why.contains(": settings.");
        setting || names(question.key) || entries.iter().any(|(key, _)| names(key))
    })
}
