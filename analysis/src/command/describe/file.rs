//! From answers to a description: written with a comment beside each entry, and read again.

use super::answer::Entries;
use super::questions::Question;
use super::shapes::Shape;
use crate::command::output::CommandError;
use crate::report::units::Units;
use ingest::plow::{Front, Plow, read_plow_text};
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
pub(super) fn in_example(shape: &Shape, answered: &[Answered]) -> Result<Plow, String> {
    let mut document: DocumentMut = shape.example.parse().map_err(|error| format!("{error}"))?;
    // The example's settings name its own holes.
    document.insert("settings", Item::Table(Table::new()));
    for (_, entries) in answered {
        for (key, value) in entries {
            // The example's weight may lie behind the tail of a shorter plow.
            let is_tail = ["tail_wheel.x", "rolling_landside.x", "heel.x"].contains(&key.as_str());
            if let Some(Ok(tail)) = value.as_str().filter(|_| is_tail).map(str::parse::<Measured<Length>>) {
                put(&mut document, "weight.x", format!("{} m", tail.si() / 2.0).into(), "");
            }
            put(&mut document, key, value.clone(), "");
        }
    }
    // What is not answered yet is the first hole, which is there.
    for (hitch, key) in [("plow_hitch", "plow_hole"), ("tractor_hitch", "tractor_hole")] {
        let first = document.get(hitch).and_then(|table| table.get("holes")?.as_array()?.get(0));
        let name = first.and_then(|hole| Some(hole.as_inline_table()?.get("name")?.as_str()?.to_owned()));
        let dotted = format!("settings.today.{key}");
        let is_answered =
            answered.iter().any(|(_, entries)| entries.iter().any(|(known, _)| *known == dotted));
        if let Some(name) = name.filter(|_| !is_answered) {
            put(&mut document, &dotted, name.into(), "");
        }
    }
    read_plow_text(&document.to_string(), Path::new("")).map_err(|error| error.in_one_line().to_string())
}

/// What is unusual in a plow though it can be: keys that are concerned, and the sentence. What is questioned of every
/// description is questioned here too.
fn unusual(plow: &Plow) -> Vec<(Vec<String>, String)> {
    let (tail, bottoms, weight) = (plow.tail.x().si(), plow.bottoms.x.si(), plow.weight.x.si());
    let rises = |holes: &[ingest::plow::Hole]| {
        holes.windows(2).all(|two| matches!(two, [low, high] if low.z.si() < high.z.si()))
    };
    let highest =
        |holes: &[ingest::plow::Hole]| holes.iter().map(|hole| hole.z.si()).fold(f64::NEG_INFINITY, f64::max);
    let lower_pin = match plow.front {
        Front::MeetingLinks(links) => Some(links.pins.plow_z.si()),
        _ => None,
    };
    let does_not_rise = "the holes do not rise from the lowest, number 1";
    let further = [
        (
            tail >= bottoms,
            &["tail_wheel.x", "rolling_landside.x", "heel.x", "bottoms.x"] as &[&str],
            "the tail is not behind the middle of the bottoms",
        ),
        (
            plow.standing_loads().is_none() && !(tail..=0.0).contains(&weight),
            &["weight.x", "weight.total"],
            "the weight is not between what carries the front (0) and the tail",
        ),
        (
            plow.bottoms.depth.m() > plow.bottoms.cut_width.m(),
            &["bottoms.cut_width", "bottoms.depth"],
            "the bottoms go deeper than each is wide",
        ),
        (
            plow.plow_hitch.clearance_z.is_some_and(|clear| highest(&plow.plow_hitch.holes) < clear.m()),
            &["plow_hitch.clearance_z", "plow_hitch.holes"],
            "every hole is lower than the height at which nothing drags",
        ),
        (
            lower_pin.is_some_and(|pin| highest(&plow.plow_hitch.holes) <= pin),
            &["lower_links.pins.plow_z", "plow_hitch.holes"],
            "the top link's holes at the plow are not above the lower links' pins",
        ),
        (!rises(&plow.plow_hitch.holes), &["plow_hitch.holes"], does_not_rise),
        (!rises(&plow.tractor_hitch.holes), &["tractor_hitch.holes"], does_not_rise),
    ];
    let further = further.into_iter().filter(|(is, ..)| *is).map(|(_, keys, sentence)| {
        (keys.iter().map(|key| (*key).to_owned()).collect(), format!("{sentence}."))
    });
    plow.questions().into_iter().map(|asked| (vec![asked.key], asked.sentence)).chain(further).collect()
}

/// What the last answer makes unusual together with others, all of which were given.
pub(super) fn doubts(shape: &Shape, plow: &Plow, answered: &[Answered]) -> Vec<String> {
    let Some((last, before)) = answered.split_last() else { return Vec::new() };
    let has = |(_, entries): &Answered, wanted: &String| entries.iter().any(|(key, _)| key == wanted);
    let is_asked = |key: &&String| shape.asked().any(|question| question.key == **key);
    let concerned = |keys: &[String]| {
        let known = |key: &String| has(last, key) || before.iter().any(|one| has(one, key));
        keys.iter().any(|key| has(last, key)) && keys.iter().filter(is_asked).all(known)
    };
    unusual(plow).into_iter().filter(|(keys, _)| concerned(keys)).map(|(_, sentence)| sentence).collect()
}

/// Answers as they were typed, kept until the description is whole.
pub(super) fn keep(path: &Path, typed: &[(String, String)]) -> Result<(), CommandError> {
    let mut document = DocumentMut::new();
    for (key, text) in typed {
        document.insert(key, Item::Value(text.as_str().into()));
    }
    crate::command::output::write(path, document.to_string().as_bytes())
}

/// What [`keep`] kept; nothing where there is no such file.
pub(super) fn kept(path: &Path) -> Result<Vec<(String, String)>, CommandError> {
    if !path.exists() {
        return Ok(Vec::new());
    }
    let text = std::fs::read_to_string(path).map_err(|cause| CommandError::at(path, cause))?;
    let document: DocumentMut = text.parse().map_err(|error| CommandError::at(path, error))?;
    Ok(document.iter().filter_map(|(key, item)| Some((key.to_owned(), item.as_str()?.to_owned()))).collect())
}
