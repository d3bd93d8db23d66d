//! Answers as they were typed, in a file beside the plow's until that is written: all of them, whatever is gone back to;
//! and which of them are to be asked again.

use super::answer;
use super::file::{self, Answered};
use super::questions::{QUESTIONS, Question};
use super::shapes::{SHAPES, Shape};
use crate::command::output::{self, CommandError};
use crate::report::units::Units;
use std::path::{Path, PathBuf};
use toml_edit::{DocumentMut, Item, Value};

/// Keys of the file that are no question's.
const UNITS: &str = "units";
const KIND: &str = "kind";
const AGAIN: &str = "again";

/// Entries that are measured anew where another has changed: heights hang on where the land is, and those of the plow on
/// what it stands on.
const OF_THE_LAND: &[&str] = &[
    "lower_links.pins.plow_z",
    "lower_links.pins.tractor_z",
    "plow_hitch.holes",
    "plow_hitch.clearance_z",
    "tractor_hitch.holes",
    "bottoms.soil_force_z",
];
const OF_THE_PLOW: &[&str] = &["lower_links.pins.plow_z", "plow_hitch.holes", "plow_hitch.clearance_z"];
const HANG_ON: [(&str, &[&str]); 6] = [
    ("bottoms.depth", OF_THE_LAND),
    ("front_wheels.runs_in", OF_THE_PLOW),
    ("tail_wheel.runs_in", OF_THE_PLOW),
    ("bottoms.count", &["bottoms.x"]),
    ("plow_hitch.holes", &["settings.today.plow_hole"]),
    ("tractor_hitch.holes", &["settings.today.tractor_hole"]),
];

pub(super) struct Kept {
    path: PathBuf,
    /// Units of answers without one: those that the first was given in.
    pub units: Units,
    kind: Option<&'static Shape>,
    /// By key, empty where one was left out; those of another kind stay too.
    typed: Vec<(String, String)>,
    /// Keys of answers that are in doubt since another was changed.
    again: Vec<String>,
}

impl Kept {
    /// What was kept for a plow's file; nothing where there is no such file yet.
    pub(super) fn beside(plow: &Path, units: Units) -> Result<Self, CommandError> {
        let mut path = plow.as_os_str().to_owned();
        path.push(".part");
        let path = PathBuf::from(path);
        let mut kept = Self { path, units, kind: None, typed: Vec::new(), again: Vec::new() };
        if !kept.path.exists() {
            return Ok(kept);
        }
        let text =
            std::fs::read_to_string(&kept.path).map_err(|cause| CommandError::at(&kept.path, cause))?;
        let document: DocumentMut = text.parse().map_err(|error| CommandError::at(&kept.path, error))?;
        for (key, text) in document.iter().filter_map(|(key, item)| Some((key, item.as_str()?))) {
            match key {
                UNITS if text == "us" => kept.units = Units::Us,
                UNITS if text == "si" => kept.units = Units::Si,
                UNITS => {}
                KIND => kept.kind = SHAPES.iter().find(|shape| shape.name == text),
                AGAIN => kept.again = text.split_whitespace().map(str::to_owned).collect(),
                _ if QUESTIONS.iter().any(|question| question.key == key) => {
                    kept.typed.push((key.to_owned(), text.to_owned()));
                }
                _ => {
                    let sentence = format!("nothing asks for \"{key}\" of a plow: take the line out");
                    return Err(CommandError::at(&kept.path, sentence));
                }
            }
        }
        Ok(kept)
    }

    pub(super) fn path(&self) -> &Path {
        &self.path
    }

    pub(super) const fn shape(&self) -> Option<&'static Shape> {
        self.kind
    }

    /// Answers, the kind with them.
    pub(super) fn count(&self) -> usize {
        self.typed.len() + usize::from(self.kind.is_some())
    }

    /// What was typed; empty where it was left out.
    pub(super) fn text(&self, question: &Question) -> Option<&str> {
        self.typed.iter().find(|(key, _)| key == question.key).map(|(_, text)| text.as_str())
    }

    pub(super) fn is_asked_again(&self, question: &Question) -> bool {
        self.again.iter().any(|key| key == question.key)
    }

    pub(super) fn put_kind(&mut self, shape: &'static Shape) -> Result<(), CommandError> {
        let before = self.kind.replace(shape);
        // Where 0 is another place, or the plow stands otherwise, all that was measured is another measure.
        if before.is_some_and(|before| before.stands != shape.stands || before.kind != shape.kind) {
            let measured = QUESTIONS.iter().filter(|question| question.form.is_measured());
            self.ask_again(measured.map(|question| question.key));
        }
        self.save()
    }

    /// Keeps an answer; what hangs on it is asked again if it was another one before.
    pub(super) fn put(&mut self, question: &Question, text: &str) -> Result<(), CommandError> {
        self.again.retain(|key| key != question.key);
        match self.typed.iter_mut().find(|(key, _)| key == question.key) {
            None => self.typed.push((question.key.to_owned(), text.to_owned())),
            Some((_, typed)) if typed == text => {}
            Some((_, typed)) => {
                text.clone_into(typed);
                let hang = HANG_ON.iter().filter(|(key, _)| *key == question.key);
                self.ask_again(hang.flat_map(|(_, keys)| keys.iter().copied()));
            }
        }
        self.save()
    }

    /// Has answers asked again; what was never answered is asked anyway, and what was left out stays so.
    pub(super) fn ask_again<'a>(&mut self, keys: impl Iterator<Item = &'a str>) {
        for key in keys {
            let is_given = self.typed.iter().any(|(known, text)| known == key && !text.is_empty());
            if is_given && !self.again.iter().any(|known| known == key) {
                self.again.push(key.to_owned());
            }
        }
    }

    pub(super) fn save(&self) -> Result<(), CommandError> {
        let mut document = DocumentMut::new();
        let mut put = |key: &str, text: &str| {
            document.insert(key, Item::Value(Value::from(text)));
        };
        put(
            UNITS,
            match self.units {
                Units::Us => "us",
                Units::Si => "si",
            },
        );
        self.kind.iter().for_each(|shape| put(KIND, shape.name));
        let given = |question: &Question| self.text(question).map(|text| (question.key, text));
        for (key, text) in QUESTIONS.iter().filter_map(given) {
            put(key, text);
        }
        if !self.again.is_empty() {
            put(AGAIN, &self.again.join(" "));
        }
        output::write(&self.path, document.to_string().as_bytes())
    }

    /// The answers of this kind, read, in the order in which they are asked. One that is asked again may not be
    /// readable any more: it is then as if it were not given.
    pub(super) fn answered(&self, shape: &Shape) -> Result<Vec<Answered>, CommandError> {
        let mut answered: Vec<Answered> = Vec::new();
        for question in shape.asked() {
            let text = self.text(question).filter(|text| !text.is_empty());
            let Some(text) = text.filter(|_| !follows(question, &answered)) else { continue };
            match answer::read(question, text, self.units, &entries_of(&answered)) {
                Ok(entries) => answered.push((question, entries)),
                Err(_) if self.is_asked_again(question) => {}
                Err(why) => return Err(CommandError::at(&self.path, format!("{}: {why}", question.key))),
            }
        }
        Ok(answered)
    }

    /// Whether a question waits for an answer.
    pub(super) fn is_open(&self, question: &Question, answered: &[Answered]) -> bool {
        (self.text(question).is_none() || self.is_asked_again(question)) && !follows(question, answered)
    }

    /// The next question of a kind that is open.
    pub(super) fn next(&self, shape: &Shape, answered: &[Answered]) -> Option<&'static Question> {
        shape.asked().find(|question| self.is_open(question, answered))
    }
}

/// Whether the answer to a question follows from that to another: the place of the weight from both ends' weights.
pub(super) fn follows(question: &Question, answered: &[Answered]) -> bool {
    answered.iter().any(|one| one.0.key != question.key && file::gives(one, question.key))
}

pub(super) fn entries_of(answered: &[Answered]) -> answer::Entries {
    answered.iter().flat_map(|(_, entries)| entries.clone()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_hangs_on_another_is_a_question_of_its_own() {
        for key in HANG_ON.iter().flat_map(|(key, keys)| std::iter::once(key).chain(keys.iter())) {
            assert!(QUESTIONS.iter().any(|question| question.key == *key), "{key}");
        }
    }

    /// What of a plow of one kind was measured from another 0 is asked again of another kind, and what only the first is
    /// asked stays in the file.
    #[test]
    fn another_kind_loses_nothing() {
        let folder = tempfile::tempdir().unwrap();
        let plow = folder.path().join("plow.toml");
        let question = |key: &str| QUESTIONS.iter().find(|question| question.key == key).unwrap();
        let shape = |name: &str| SHAPES.iter().find(|shape| shape.name == name).unwrap();
        let mut kept = Kept::beside(&plow, Units::Us).unwrap();
        kept.put_kind(shape("trailed")).unwrap();
        for (key, text) in [
            ("name", "n"),
            ("front_wheels.diameter", "24"),
            ("bottoms.depth", "7"),
            ("bottoms.share", "sharp"),
        ] {
            kept.put(question(key), text).unwrap();
        }
        let again = |kept: &Kept| kept.again.join(" ");
        kept.put_kind(shape("landside")).unwrap();
        assert_eq!(again(&kept), "");
        kept.put_kind(shape("walking")).unwrap();
        assert_eq!(again(&kept), "front_wheels.diameter bottoms.depth");
        let mut read = Kept::beside(&plow, Units::Si).unwrap();
        assert_eq!((read.text(question("front_wheels.diameter")), read.units), (Some("24"), Units::Us));
        assert_eq!((read.count(), again(&read).as_str()), (5, "front_wheels.diameter bottoms.depth"));
        // Kept as it is, it is settled; another one has what hangs on it asked again.
        read.put(question("bottoms.depth"), "7").unwrap();
        assert_eq!(again(&read), "front_wheels.diameter");
        read.put(question("plow_hitch.holes"), "1, 1 apart, 9 holes").unwrap();
        read.put(question("settings.today.plow_hole"), "9").unwrap();
        read.put(question("bottoms.depth"), "8").unwrap();
        assert_eq!(again(&read), "front_wheels.diameter plow_hitch.holes");
        read.put(question("plow_hitch.holes"), "1, 1 apart, 3 holes").unwrap();
        assert_eq!(again(&read), "front_wheels.diameter settings.today.plow_hole");
    }
}
