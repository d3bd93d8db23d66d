//! The dialogue: questions and answers, kept until the description is whole.

use super::answer;
use super::file::{self, Answered};
use super::kept::{Kept, entries_of, follows};
use super::lines::{Heard, Lines};
use super::more::more;
use super::questions::{Question, Tape};
use super::said::{Said, caution, list, number_of, pose, remind, say, say_wrapped, wrapped};
use super::shapes::{SHAPES, Shape};
use crate::command::args::DescribeArgs;
use crate::command::output::{self, CommandError, Done};
use crate::command::statics::expected_of_description;
use ingest::plow::{Doubt, read_plow_text};
use ingest::safety::BEFORE_HANDS;

/// Where the dialogue is.
#[derive(Clone, Copy)]
enum At {
    /// At the first question that is open.
    Open,
    Kind,
    /// At a question that was gone to.
    Question(&'static Question),
}

struct Dialogue<'a> {
    args: &'a DescribeArgs,
    lines: Lines,
    kept: Kept,
    at: At,
    /// The question that was posed last: told something, it is not drawn once more, which would push that off the screen.
    posed: Option<&'static str>,
}

pub(super) fn describe(args: &DescribeArgs) -> Result<Done, CommandError> {
    output::folder_exists(&args.plow)?;
    if args.plow.is_dir() {
        return Err(CommandError::at(&args.plow, "this is a folder: name the file to write in it"));
    }
    let kept = Kept::beside(&args.plow, args.units)?;
    Dialogue { args, lines: Lines::listen()?, kept, at: At::Open, posed: None }.run()
}

impl Dialogue<'_> {
    fn run(mut self) -> Result<Done, CommandError> {
        say_wrapped(
            "Describe the plow: one measurement at a time. An empty answer leaves out what may be left out; back: the \
             question before, back 5: question 5, whose answer stays unless you give another; on: to where you were; \
             list: all answers; ?: more about the question; quit: go on later with the same command.",
        )?;
        say_wrapped(BEFORE_HANDS)?;
        if self.kept.count() > 0 {
            let (count, part) = (self.kept.count(), self.kept.path().display());
            say(&format!("taking up again after {count} answers, from {part}"))?;
        }
        let mut shown = None;
        loop {
            let done = match (self.at, self.kept.shape()) {
                (At::Kind, _) | (_, None) => self.ask_kind()?,
                (at, Some(shape)) => {
                    if shown != Some(shape.name) {
                        say("")?;
                        say_wrapped(shape.stands)?;
                        shown = Some(shape.name);
                    }
                    let answered = self.kept.answered(shape)?;
                    let open = match at {
                        At::Question(question) => Some(question),
                        _ => self.kept.next(shape, &answered),
                    };
                    match open {
                        Some(question) => self.ask(shape, question, answered)?,
                        None => self.finish(shape, &answered)?,
                    }
                }
            };
            if let Some(done) = done {
                return Ok(done);
            }
        }
    }

    fn ask_kind(&mut self) -> Result<Option<Done>, CommandError> {
        for (at, shape) in SHAPES.iter().enumerate() {
            say(&format!("  {} {}: {}", at + 1, shape.name, shape.what))?;
        }
        if let Some(shape) = self.kept.shape() {
            say_wrapped(&format!("Your answer: {}. Enter keeps it.", shape.name))?;
        }
        match self.line("kind of plow> ")? {
            Said::Text(text) => {
                let number = text.parse::<usize>().ok().and_then(|number| number.checked_sub(1));
                let shape = number.and_then(|at| SHAPES.get(at));
                let shape = shape.or_else(|| SHAPES.iter().find(|shape| shape.name == text));
                match shape.or_else(|| self.kept.shape().filter(|_| text.is_empty())) {
                    Some(shape) => {
                        self.kept.put_kind(shape)?;
                        self.at = At::Open;
                    }
                    None => say("one of the numbers or names above")?,
                }
            }
            Said::On if self.kept.shape().is_some() => self.at = At::Open,
            Said::Back(_) | Said::On | Said::List | Said::Explain => {}
            Said::Quit => return self.quit().map(Some),
            Said::End(why) => return Err(self.ended(why)),
        }
        Ok(None)
    }

    /// To a question by its number, or to the one before another; the kind comes before the first.
    fn go_back(
        &mut self,
        shape: &Shape,
        answered: &[Answered],
        (from, number): (Option<&Question>, Option<usize>),
    ) -> Result<(), CommandError> {
        let is_other = |one: &&Question| from.is_none_or(|from| one.key != from.key);
        let to = match number {
            None => shape.asked().take_while(is_other).filter(|one| !follows(one, answered)).last(),
            Some(number) => {
                let Some(question) = number.checked_sub(1).and_then(|at| shape.asked().nth(at)) else {
                    return say(&format!("  questions are numbered 1 to {}", shape.asked().count()));
                };
                if follows(question, answered) {
                    return say_wrapped("that follows from the weights of both ends: go back to those");
                }
                Some(question)
            }
        };
        (self.at, self.posed) = (to.map_or(At::Kind, At::Question), None);
        Ok(())
    }

    fn ask(
        &mut self,
        shape: &Shape,
        question: &'static Question,
        answered: Vec<Answered>,
    ) -> Result<Option<Done>, CommandError> {
        match self.posed.replace(question.key) {
            Some(posed) if posed == question.key => remind(shape, question)?,
            _ => pose(&self.kept, shape, question)?,
        }
        let text = match self.line("> ")? {
            Said::Text(text) => text,
            Said::Back(number) => {
                self.go_back(shape, &answered, (Some(question), number))?;
                return Ok(None);
            }
            Said::On => {
                self.at = At::Open;
                return Ok(None);
            }
            Said::List => return list(&self.kept, shape).map(|()| None),
            Said::Explain => return self.explain(shape, question).map(|()| None),
            Said::Quit => return self.quit().map(Some),
            Said::End(why) => return Err(self.ended(why)),
        };
        let before = self.kept.text(question).map(str::to_owned);
        let is_none = question.left_out.is_some() && text.eq_ignore_ascii_case("none");
        let text = match (text.as_str(), before, question.left_out) {
            ("", Some(_), _) if !self.kept.is_asked_again(question) => {
                self.at = At::Open;
                return Ok(None);
            }
            ("", Some(before), _) => before,
            ("", None, None) => {
                say("  this cannot be left out")?;
                return Ok(None);
            }
            (_, _, Some(missed)) if is_none || text.is_empty() => {
                say_wrapped(&format!("left out: {missed}"))?;
                self.kept.put(question, "")?;
                self.at = At::Open;
                return Ok(None);
            }
            _ => text,
        };
        self.take(shape, question, (&text, answered))
    }

    fn explain(&self, shape: &Shape, question: &Question) -> Result<(), CommandError> {
        say_wrapped(&format!("{} {}", caution(question), more(question.key, self.kept.units)))?;
        if matches!(question.tape, Tape::None | Tape::Count | Tape::RunsIn | Tape::Hole(_)) {
            return Ok(());
        }
        say_wrapped("A ± may stand behind a number, for how far it may be off.")?;
        say_wrapped(shape.stands)
    }

    /// Reads an answer, asks back what is unusual in it, and keeps it.
    fn take(
        &mut self,
        shape: &Shape,
        question: &'static Question,
        (text, before): (&str, Vec<Answered>),
    ) -> Result<Option<Done>, CommandError> {
        let mut now: Vec<Answered> = before.iter().filter(|one| one.0.key != question.key).cloned().collect();
        let entries = match answer::read(question, text, self.kept.units, &entries_of(&now)) {
            Ok(entries) => entries,
            Err(why) => return say_wrapped(&why).map(|()| None),
        };
        for (key, value) in &entries {
            say_wrapped(&format!("{key} = {}", value.to_string().trim()))?;
        }
        let given = (question, entries);
        now.retain(|(other, _)| !file::gives(&given, other.key));
        now.push(given.clone());
        let (mut doubts, mut faults) = (Vec::new(), Vec::new());
        match file::in_example(shape, &now) {
            Err(found) => faults = found,
            Ok(plow) => doubts = file::doubts(shape, &plow, &now),
        }
        if let Some(fault) = faults.iter().find(|fault| file::is_of(fault, &given)) {
            return say_wrapped(fault).map(|()| None);
        }
        let is_of_this = |doubt: &Doubt| doubt.keys.iter().any(|key| file::gives(&given, key));
        for doubt in doubts.iter().filter(|doubt| is_of_this(doubt)) {
            let stop = if doubt.sentence.ends_with('?') { "" } else { "." };
            let sentence = format!("that is unusual: {}{stop} Keep it? [y/n]", doubt.sentence);
            loop {
                match self.line(&(wrapped(&sentence) + " "))? {
                    Said::Text(text) if text.eq_ignore_ascii_case("y") => break,
                    Said::Quit => return self.quit().map(Some),
                    Said::End(why) => return Err(self.ended(why)),
                    // Found by a plowman: a figure typed here was taken for a no, and was gone.
                    Said::Text(text) if !text.eq_ignore_ascii_case("n") => {
                        say("y keeps it; n asks for it anew, and another figure is typed then")?;
                    }
                    _ => return Ok(None),
                }
            }
        }
        let is_another = self.kept.text(question).is_some_and(|before| before != text);
        self.kept.put(question, text)?;
        (self.at, self.posed) = (At::Open, None);
        if is_another {
            self.doubt_others(shape, (&before, &now), (&doubts, &faults))?;
        }
        Ok(None)
    }

    /// What another answer puts in doubt is asked again.
    fn doubt_others(
        &mut self,
        shape: &Shape,
        (before, now): (&[Answered], &[Answered]),
        (doubts, faults): (&[Doubt], &[String]),
    ) -> Result<(), CommandError> {
        let known = file::in_example(shape, before).map(|plow| file::doubts(shape, &plow, before));
        let known = known.unwrap_or_default();
        let is_new = |doubt: &&Doubt| !known.contains(doubt);
        let Some(((this, _), others)) = now.split_last() else { return Ok(()) };
        let doubted = |one: &&Answered| {
            let mut keys = doubts.iter().filter(is_new).flat_map(|doubt| &doubt.keys);
            keys.any(|key| file::gives(one, key)) || faults.iter().any(|fault| file::is_of(fault, one))
        };
        self.kept.ask_again(others.iter().filter(doubted).map(|(question, _)| question.key));
        self.kept.save()?;
        let again: Vec<String> = shape
            .asked()
            .filter(|one| one.key != this.key && self.kept.is_asked_again(one))
            .map(|one| number_of(shape, one).to_string())
            .collect();
        match again.as_slice() {
            [] => Ok(()),
            again => {
                say_wrapped(&format!("asked again because of that (Enter keeps each): {}", again.join(", ")))
            }
        }
    }

    fn line(&mut self, prompt: &str) -> Result<Said, CommandError> {
        loop {
            output::print(prompt)?;
            match self.lines.next() {
                Heard::Line(line) => return Ok(Said::line(&line)),
                Heard::Unreadable => say("  that is no text in UTF-8: type it again")?,
                Heard::End(why) => {
                    // The prompt's line ends. A terminal that is gone hears nothing of it.
                    let _ = say("");
                    return Ok(Said::End(why));
                }
            }
        }
    }

    /// Where the answers stay for the next time: each was kept as it was given.
    fn kept_where(&self) -> String {
        if self.kept.count() == 0 {
            return "nothing was answered yet".to_owned();
        }
        format!("answers kept in {}; the same command goes on from there", self.kept.path().display())
    }

    fn quit(&self) -> Result<Done, CommandError> {
        Ok(Done::say(vec![self.kept_where()]))
    }

    fn ended(&self, why: &str) -> CommandError {
        CommandError::failed(format!("{why}: {}", self.kept_where()))
    }

    /// All is answered: what follows from it, and then it is written, or gone back.
    fn finish(&mut self, shape: &Shape, answered: &[Answered]) -> Result<Option<Done>, CommandError> {
        let (path, part) = (&self.args.plow, self.kept.path().to_owned());
        let text = file::described(shape, self.kept.units, answered);
        let plow = match read_plow_text(&text, path) {
            Ok(plow) => plow,
            Err(error) => {
                let faults = file::faults(error);
                let wrong = |one: &&Answered| faults.iter().any(|fault| file::is_of(fault, one));
                let keys: Vec<&str> =
                    answered.iter().filter(wrong).map(|(question, _)| question.key).collect();
                if keys.is_empty() {
                    return Err(CommandError::failed(format!(
                        "{}; nothing was written, the answers are in {}",
                        faults.join("; "),
                        part.display()
                    )));
                }
                faults.iter().try_for_each(|fault| say_wrapped(fault))?;
                self.kept.ask_again(keys.into_iter());
                return Ok(None);
            }
        };
        say(&format!("\n{}", expected_of_description(&plow, path, self.kept.units)?))?;
        let is_there = path.exists();
        loop {
            let prompt = match is_there {
                true => format!("{} is there already. Overwrite it? [y/n] ", path.display()),
                false => format!("all is answered. Enter writes {}; back 5 goes back to 5> ", path.display()),
            };
            match self.line(&prompt)? {
                Said::Text(text) if text.is_empty() && !is_there => break,
                Said::Text(text) if text.eq_ignore_ascii_case("y") => break,
                Said::Text(_) if is_there => {
                    return Err(CommandError::at(
                        path,
                        format!(
                            "left as it was; the answers are in {}. To have them in another file, name that one OTHER.toml.part, and say \
                             hitchwright describe OTHER.toml",
                            part.display()
                        ),
                    ));
                }
                Said::Back(number) => {
                    self.go_back(shape, answered, (None, number))?;
                    if let At::Question(_) = self.at {
                        return Ok(None);
                    }
                }
                Said::List => list(&self.kept, shape)?,
                Said::Text(_) | Said::On | Said::Explain => {}
                Said::Quit => return self.quit().map(Some),
                Said::End(why) => return Err(self.ended(why)),
            }
        }
        output::write(path, text.as_bytes())?;
        std::fs::remove_file(&part).map_err(|cause| CommandError::at(&part, cause))?;
        Ok(Some(Done::say(vec![format!("written and read again: {}", path.display())])))
    }
}
