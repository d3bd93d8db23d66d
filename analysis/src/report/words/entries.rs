//! Entries of a description or a sensor that may be wrong, and by how much.

use super::inputs::input;
use super::plow::hole_named;
use crate::report::units::{Units, percent, signed};
use ingest::plow::PartNames;
use statics::contradiction::{Entry, Suspect, Unit};
use statics::inputs::Input;
use statics::verdict::{RestsOn, Verdict};

/// Entries are named as far as this goes, so that the sentence is whole on a page.
const TOLD_CHARACTERS: usize = 190;

/// How many suspects are named.
const NAMED: usize = 3;

/// Which entries would explain a contradiction, the most suspicious first.
pub(super) fn suspects(all: &[Suspect], parts: &PartNames, units: Units) -> String {
    let one = |suspect: &Suspect| {
        let (words, moved) = entry_words(&suspect.entry, (suspect.moves_by, suspect.unit), parts, units);
        let Some(moved) = moved else { return words };
        let in_u = suspect
            .moves_by_u
            .map(|u| format!(", {u:.0} times its standard uncertainty"))
            .unwrap_or_default();
        format!("{words} ({moved}{in_u})")
    };
    let told: Vec<String> = all.iter().take(NAMED).map(one).collect();
    format!(
        "Each of these alone would explain it, the most suspicious first (which slips are usual is by choice): {}.",
        told.join("; ")
    )
}

/// Entries that, off by a usual slip, would make what is shown false: the class, or that the soil lifts the plow.
pub(super) fn rests_on(
    other_share: f64,
    verdict: &Verdict,
    soil_lifts: bool,
    parts: &PartNames,
    units: Units,
) -> String {
    let would_be = |on: &RestsOn| match soil_lifts {
        true => "the soil does not lift".to_owned(),
        // Where half of the cases are on the one side of the stated class and half on the other, none of them is named.
        false if on.class == verdict.class => format!("no longer {}", on.class),
        false => on.class.to_string(),
    };
    let really = |on: &RestsOn| match entry_words(&on.entry, (on.by, on.unit), parts, units) {
        (_, Some(moved)) => format!("if really {moved}: {}", would_be(on)),
        (_, None) => match &on.entry {
            Entry::Setting(name) => format!("if really {}: {}", hole_named(name), would_be(on)),
            _ => format!("if turned: {}", would_be(on)),
        },
    };
    let mut told = String::new();
    for on in &verdict.rests_on {
        let one = format!("{} ({})", entry_alone(on, parts), really(on));
        if told.is_empty() {
            told = one;
        } else if told.len() + one.len() <= TOLD_CHARACTERS {
            told = format!("{told}; {one}");
        }
    }
    format!(
        "What to check, as no reading would show it wrong: {told}. One entry off by a usual slip (by choice) makes \
         another verdict in {} of the cases.",
        percent(other_share)
    )
}

/// The entry alone: `the height of the hole at the plow`.
pub(super) fn entry_alone(on: &RestsOn, parts: &PartNames) -> String {
    match &on.entry {
        Entry::Setting(_) => "the name of the setting".to_owned(),
        Entry::TailReversed => format!("the sign of the {}'s sensor", parts.tail),
        entry => entry_name(entry, parts),
    }
}

fn entry_name(entry: &Entry, parts: &PartNames) -> String {
    match entry {
        Entry::Input(name) => input(*name, parts),
        Entry::PullGain => "the slope of the pull sensor's calibration".to_owned(),
        Entry::PullZero => "the zero of the pull sensor".to_owned(),
        Entry::LoadTable => format!("the load table of the {}", parts.tail),
        Entry::TailZero => format!("the zero of the {}'s sensor", parts.tail),
        Entry::TailReversed => format!("the {}'s sensor may read with its sign turned", parts.tail),
        Entry::Setting(name) => format!("the setting driven may have been {name}"),
    }
}

/// An entry, and how far it is moved; `None` for the latter where nothing moves.
fn entry_words(
    entry: &Entry,
    (by, unit): (f64, Unit),
    parts: &PartNames,
    units: Units,
) -> (String, Option<String>) {
    let words = entry_name(entry, parts);
    let more = |up: &'static str, down: &'static str| if by >= 0.0 { up } else { down };
    let moved = match unit {
        Unit::Metre => {
            let way = match entry {
                Entry::Input(Input::PlowHoleHeight | Input::TractorHoleHeight) => more("higher", "lower"),
                Entry::Input(Input::MemberLength) => more("longer", "shorter"),
                Entry::TailZero => more("further pressed in", "less pressed in"),
                _ => more("further forward", "further back"),
            };
            format!("{} {way}", units.height(by.abs()))
        }
        Unit::Newton => format!("{} {}", units.force_n(by.abs()), more("more", "less")),
        Unit::Share => format!("{} {}", percent(by.abs()), more("more", "less")),
        Unit::Slope => format!("{} {}", signed(by.abs()), more("higher", "lower")),
        Unit::None => return (words, None),
    };
    (words, Some(moved))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::invented_plow::plow;

    #[test]
    fn an_entry_is_named_with_its_way_and_how_far() {
        let suspect = |entry: Entry, moves_by, moves_by_u| Suspect {
            unit: entry.unit(),
            entry,
            moves_by,
            moves_by_u,
            suspicion: 0.5,
            left: 0.0,
        };
        let all = [
            suspect(Entry::Input(Input::PlowHoleHeight), -0.11, Some(13.4)),
            suspect(Entry::TailReversed, 0.0, None),
            suspect(Entry::PullGain, 0.25, Some(20.0)),
            suspect(Entry::LoadTable, 0.25, Some(20.0)),
        ];
        let told = suspects(&all, &plow().part_names(), Units::Si);
        let told = told.split(": ").nth(1).unwrap();
        assert!(told.starts_with("the height of the hole at the plow (110 mm lower, 13 times"), "{told}");
        assert!(told.contains("sign turned") && told.contains("25 % more"), "{told}");
        assert!(!told.contains("load table"), "three are named: {told}");
    }
}
