//! Which entries would have to be otherwise, in words.

use crate::statics::contradiction::{Entry, Suspect, Unit};
use crate::statics::inputs::Input;
use crate::units_out::{Units, percent, signed};
use ingest::plow::PartNames;

/// How many entries are named.
const NAMED: usize = 3;

/// Beside the class where description and readings contradict each other.
pub(super) const HEADLINE: &str = "description and readings contradict each other";

/// The entries, the most suspicious first; `None` if none is known.
pub(super) fn named(suspects: &[Suspect], (parts, units): (&PartNames, Units)) -> Option<String> {
    let told: Vec<String> = suspects.iter().take(NAMED).map(|suspect| one(suspect, parts, units)).collect();
    (!told.is_empty()).then(|| {
        format!(
            "Each of these alone would explain it, the most suspicious first (which slips are usual is by \
             choice): {}.",
            told.join("; ")
        )
    })
}

fn one(suspect: &Suspect, parts: &PartNames, units: Units) -> String {
    let (words, moved) = entry_words(&suspect.entry, (suspect.moves_by, suspect.unit), parts, units);
    let Some(moved) = moved else { return words };
    let in_u =
        suspect.moves_by_u.map(|u| format!(", {u:.0} times its standard uncertainty")).unwrap_or_default();
    format!("{words} ({moved}{in_u})")
}

/// An entry, and how far it is moved; `None` for the latter where nothing moves.
pub(super) fn entry_words(
    entry: &Entry,
    (by, unit): (f64, Unit),
    parts: &PartNames,
    units: Units,
) -> (String, Option<String>) {
    let words = match entry {
        Entry::Input(input) => input.words(parts),
        Entry::PullGain => "the slope of the pull sensor's calibration".to_owned(),
        Entry::PullZero => "the zero of the pull sensor".to_owned(),
        Entry::LoadTable => format!("the load table of the {}", parts.tail),
        Entry::TailZero => format!("the zero of the {}'s sensor", parts.tail),
        Entry::TailReversed => format!("the {}'s sensor may read with its sign turned", parts.tail),
        Entry::Setting(name) => format!("the setting driven may have been {name}"),
    };
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
    use crate::statics::invented_plow::plow;

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
        let told = named(&all, (&plow().part_names(), Units::Si)).unwrap();
        let told = told.split(": ").nth(1).unwrap();
        assert!(told.starts_with("the height of the hole at the plow (110 mm lower, 13 times"), "{told}");
        assert!(told.contains("sign turned") && told.contains("25 % more"), "{told}");
        assert!(!told.contains("load table"), "three are named: {told}");
        assert_eq!(named(&[], (&plow().part_names(), Units::Si)), None);
    }
}
