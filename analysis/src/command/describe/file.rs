//! From answers to a description: written with a comment beside each entry, and read again.

use super::answer::Entries;
use super::questions::Question;
use super::shapes::Shape;
use crate::report::units::Units;
use ingest::description_file::DescriptionError;
use ingest::plow::{Doubt, Plow, read_plow_text};
use ingest::quantity::{Length, Measured, UnitSystem};
use std::path::Path;
use toml_edit::{DocumentMut, Item, Table, Value};

/// What was answered to a question.
pub(super) type Answered = (&'static Question, Entries);

/// Puts a value at a dotted key, making the tables on the way.
fn put(document: &mut DocumentMut, dotted: &str, value: Value, comment: &str) {
    let mut table: &mut Table = document.as_table_mut();
    let mut key = dotted;
    while let Some((outer, inner)) = key.split_once('.') {
        let item = table.entry(outer).or_insert_with(|| {
            let mut made = Table::new();
            made.set_implicit(true);
            Item::Table(made)
        });
        let Some(found) = item.as_table_mut() else { return };
        (table, key) = (found, inner);
    }
    table.set_implicit(false);
    table.insert(key, Item::Value(value));
    if let Some(mut placed) = table.key_mut(key) {
        placed.leaf_decor_mut().set_prefix(comment);
    }
}

/// The description that the answers give. Whoever answered in these units reads in them.
pub(super) fn described(shape: &Shape, units: Units, answered: &[Answered]) -> String {
    let mut document = DocumentMut::new();
    let kind = format!(
        "# A plow of the kind \"{}\": {}. Written by hitchwright describe; ± is half of a 95 % interval.\n# What is told of it is in these units: \"us\" or \"si\".\n",
        shape.name, shape.what
    );
    put(&mut document, "units", UnitSystem::from(units).to_string().into(), &kind);
    for (question, entries) in answered {
        for (key, value) in entries {
            let comment = format!("# {}: {}.\n", question.what, question.how);
            put(&mut document, key, value.clone(), &comment);
        }
    }
    document.to_string()
}

/// The example of a kind, with the answers in their places: whole from the first answer on, so the program's own reader
/// and a look at the whole can judge each.
///
/// # Errors
/// What is wrong, each in a sentence that begins with its key.
pub(super) fn in_example(shape: &Shape, answered: &[Answered]) -> Result<Plow, Vec<String>> {
    let mut document: DocumentMut = shape.example.parse().map_err(|error| vec![format!("{error}")])?;
    // The example's settings name its own holes.
    document.insert("settings", Item::Table(Table::new()));
    let entries = || answered.iter().flat_map(|(_, entries)| entries);
    // The example's weight may lie behind the tail of a shorter plow.
    let is_tail = |key: &str| ["tail_wheel.x", "rolling_landside.x", "heel.x"].contains(&key);
    let tail = entries().find(|(key, _)| is_tail(key)).and_then(|(_, value)| value.as_str());
    if let Some(Ok(tail)) = tail.map(str::parse::<Measured<Length>>) {
        put(&mut document, "weight.x", format!("{} m", tail.si() / 2.0).into(), "");
    }
    for (key, value) in entries() {
        put(&mut document, key, value.clone(), "");
    }
    // What is not answered yet is the first hole, which is there.
    for (hitch, key) in [("plow_hitch", "plow_hole"), ("tractor_hitch", "tractor_hole")] {
        let first = document.get(hitch).and_then(|table| table.get("holes")?.as_array()?.get(0));
        let name = first.and_then(|hole| Some(hole.as_inline_table()?.get("name")?.as_str()?.to_owned()));
        let dotted = format!("settings.today.{key}");
        let is_answered = entries().any(|(known, _)| *known == dotted);
        if let Some(name) = name.filter(|_| !is_answered) {
            put(&mut document, &dotted, name.into(), "");
        }
    }
    read_plow_text(&document.to_string(), Path::new("")).map_err(faults)
}

/// The faults of a description, each without its file and line.
pub(super) fn faults(error: DescriptionError) -> Vec<String> {
    match error {
        DescriptionError::Invalid { faults, .. } => faults.into_iter().map(|fault| fault.message).collect(),
        other => vec![other.to_string()],
    }
}

/// Whether a fault is that of an answer.
pub(super) fn is_of(fault: &str, (question, entries): &Answered) -> bool {
    let names = |key: &str| fault.starts_with(key) || fault.contains(&format!("in [{key}"));
    // A hole that is not there is told of its setting.
    let setting = question.key.starts_with("settings.") && fault.starts_with("settings.");
    setting || names(question.key) || entries.iter().any(|(key, _)| names(key))
}

/// What is unusual in the answers: of entries that were all given.
pub(super) fn doubts(shape: &Shape, plow: &Plow, answered: &[Answered]) -> Vec<Doubt> {
    let is_asked = |key: &&String| shape.asked().any(|question| question.key == **key);
    let is_given = |key: &String| answered.iter().any(|one| gives(one, key));
    let all = plow.questions().into_iter();
    all.filter(|doubt| doubt.keys.iter().any(is_given) && doubt.keys.iter().filter(is_asked).all(is_given))
        .collect()
}

/// Whether an answer gives an entry.
pub(super) fn gives((_, entries): &Answered, key: &str) -> bool {
    entries.iter().any(|(known, _)| known == key)
}
