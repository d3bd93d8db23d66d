//! What if a pin were elsewhere: `tractor_hitch=+2 holes` and the like.

use super::predict::{NoChoice, PinPlace, Prediction, Predictor};
use ingest::plow::{Hole, Plow};
use ingest::quantity::{Length, Quantity, SaidIn, UnitSystem, in_si, parse_quantity};
use schemars::JsonSchema;
use serde::Serialize;
use std::str::FromStr;

/// Heights closer than this are the same hole, m.
const SAME_HOLE_M: f64 = 1e-4;

fn same_hole(hole: &Hole, z: Length) -> bool {
    (hole.z.si() - z.m()).abs() < SAME_HOLE_M
}

/// Which end of the member that is moved.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum End {
    /// At the plow.
    PlowHitch,
    /// At the tractor.
    TractorHitch,
}

/// How a pin is moved.
#[derive(Clone, Debug, PartialEq)]
enum Way {
    Holes(isize),
    ToHole(String),
    Washers(isize),
    /// By a length, as it was typed.
    By(Length, String),
}

/// One move of one pin.
#[derive(Clone, Debug, PartialEq)]
pub struct Move {
    end: End,
    way: Way,
}

/// Why a move cannot be.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub enum MoveError {
    /// It cannot be read.
    Unreadable {
        /// As it was typed.
        text: String,
    },
    /// It ends where there is no hole, or beyond the holes.
    NoSuchPlace {
        /// What was asked for.
        asked: String,
        /// Which end.
        end: &'static str,
        /// The holes, from the lowest.
        holes: String,
    },
    /// Washers of unknown thickness.
    NoWasher {
        /// Table of the description.
        table: &'static str,
    },
    /// The plow cannot stand there.
    CannotBe(Box<NoChoice>),
}

impl SaidIn for MoveError {
    fn said_in(&self, units: UnitSystem) -> String {
        let (length, washer) = match units {
            UnitSystem::Si => ("25 mm", "5 mm"),
            UnitSystem::Us => ("1 in", "3/16 in"),
        };
        match self {
            Self::Unreadable { text } => format!(
                "'{text}' is no move of a pin: write tractor_hitch=+2 holes, plow_hitch=-1 hole, tractor_hitch=hole 5, \
                 plow_hitch=+{length}, or tractor_hitch=-3 washers"
            ),
            Self::NoSuchPlace { asked, end, holes } => {
                format!("{asked} at the {end} is not there: it has the holes {holes}")
            }
            Self::NoWasher { table } => format!(
                "{table} has no washer in the description: add washer = \"{washer}\" to it, as thick as one is"
            ),
            Self::CannotBe(there) => {
                let NoChoice { plow_hole, tractor_hole, cannot_be, .. } = there.as_ref();
                format!(
                    "with hole {plow_hole} at the plow and {tractor_hole} at the tractor {}, in {:.0} % of the cases and \
                     with every figure at its middle",
                    cannot_be.would_be(),
                    100.0 * there.cannot_be_probability
                )
            }
        }
    }
}

impl FromStr for Move {
    type Err = MoveError;

    fn from_str(text: &str) -> Result<Self, MoveError> {
        let unreadable = || MoveError::Unreadable { text: text.to_owned() };
        let (end, way) = text.split_once('=').ok_or_else(unreadable)?;
        let end = match end.trim() {
            "plow_hitch" | "plow_hole" => End::PlowHitch,
            "tractor_hitch" | "tractor_hole" => End::TractorHitch,
            _ => return Err(unreadable()),
        };
        let way = way.trim();
        // A bare number without a sign is the name of a hole: lengths have units, and moves a sign.
        let bare = (!way.is_empty() && way.bytes().all(|one| one.is_ascii_digit())).then_some(way);
        if let Some(name) = way.strip_prefix("hole ").or(bare) {
            return Ok(Self { end, way: Way::ToHole(name.trim().to_owned()) });
        }
        let counted = |unit: &str| -> Option<isize> { way.strip_suffix(unit)?.trim().parse().ok() };
        let way = if let Some(holes) = counted("holes").or_else(|| counted("hole")) {
            Way::Holes(holes)
        } else if let Some(washers) = counted("washers").or_else(|| counted("washer")) {
            Way::Washers(washers)
        } else {
            // The sign belongs to the move, not to the quantity, whose parser knows no plus.
            let (sign, size) = match way.strip_prefix('-') {
                Some(size) => (-1.0, size),
                None => (1.0, way.strip_prefix('+').unwrap_or(way)),
            };
            let length: Length = parse_quantity(size.trim()).map_err(|_| unreadable())?;
            Way::By(Length::from_m(sign * length.si()), way.to_owned())
        };
        Ok(Self { end, way })
    }
}

/// Holes from the lowest, and where a washer is described.
struct Row<'a> {
    holes: Vec<&'a Hole>,
    washer: Option<Length>,
    end: &'static str,
    table: &'static str,
}

impl<'a> Row<'a> {
    fn of(plow: &'a Plow, end: End) -> Self {
        let (holes, washer, end, table) = match end {
            End::PlowHitch => (&plow.plow_hitch.holes, plow.plow_hitch.washer, "plow", "[plow_hitch]"),
            End::TractorHitch => {
                (&plow.tractor_hitch.holes, plow.tractor_hitch.washer, "tractor", "[tractor_hitch]")
            }
        };
        let mut holes: Vec<&Hole> = holes.iter().collect();
        holes.sort_by(|a, b| a.z.si().total_cmp(&b.z.si()));
        Self { holes, washer, end, table }
    }

    /// The place at a height among the holes.
    fn at(&self, z: Length) -> Option<PinPlace> {
        if let Some(hole) = self.holes.iter().find(|hole| same_hole(hole, z)) {
            return Some(PinPlace::of(hole));
        }
        let above = self.holes.iter().position(|hole| hole.z.value > z)?;
        let (below, above) = (self.holes.get(above.checked_sub(1)?)?, self.holes.get(above)?);
        Some(PinPlace { name: format!("{} to {}", below.name, above.name), z })
    }

    fn moved(&self, from: &PinPlace, way: &Way) -> Result<PinPlace, MoveError> {
        let (there, asked) = match way {
            Way::ToHole(name) => {
                let hole = self.holes.iter().find(|hole| hole.name == *name);
                (hole.map(|hole| PinPlace::of(hole)), format!("hole {name}"))
            }
            Way::Holes(count) => {
                let here = self.holes.iter().position(|hole| same_hole(hole, from.z));
                let hole = here.and_then(|here| self.holes.get(here.checked_add_signed(*count)?));
                (hole.map(|hole| PinPlace::of(hole)), format!("{count:+} holes from {}", from.name))
            }
            Way::Washers(count) => {
                let washer = self.washer.ok_or(MoveError::NoWasher { table: self.table })?;
                let z = from.z + Length::from_m(*count as f64 * washer.m());
                (self.at(z), format!("{count:+} washers from {}", from.name))
            }
            Way::By(length, typed) => (self.at(from.z + *length), format!("{typed} from {}", from.name)),
        };
        there.ok_or_else(|| {
            let holes: Vec<String> = self.holes.iter().map(|hole| format!("\"{}\"", hole.name)).collect();
            MoveError::NoSuchPlace { asked, end: self.end, holes: holes.join(", ") }
        })
    }
}

/// A plow as it stands and as it would stand.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct WhatIf {
    /// In the setting.
    pub now: Prediction,
    /// With the pins moved.
    pub then: Prediction,
    /// What is left under the plow's pin, if the description says what it needs; below 0 it would drag.
    #[serde(rename = "clearance_left_m", serialize_with = "in_si")]
    pub clearance_left: Option<Length>,
}

/// What one or several moves, one after the other, would do.
///
/// # Errors
/// [`MoveError`] for a place that is not there, washers of unknown thickness, and a plow that cannot stand so.
pub fn what_if(plow: &Plow, predictor: &Predictor, moves: &[Move]) -> Result<WhatIf, MoveError> {
    let setting = predictor.setting;
    let rows = (Row::of(plow, End::PlowHitch), Row::of(plow, End::TractorHitch));
    let mut places = (PinPlace::of(&setting.plow_hole), PinPlace::of(&setting.tractor_hole));
    let predict = |places: &(PinPlace, PinPlace)| {
        predictor.at(&places.0, &places.1).map_err(|why| MoveError::CannotBe(Box::new(why)))
    };
    let now = predict(&places)?;
    for one in moves {
        match one.end {
            End::PlowHitch => places.0 = rows.0.moved(&places.0, &one.way)?,
            End::TractorHitch => places.1 = rows.1.moved(&places.1, &one.way)?,
        }
    }
    let clearance_left = plow.plow_hitch.clearance_z.map(|lowest| places.0.z - lowest);
    Ok(WhatIf { now, then: predict(&places)?, clearance_left })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::invented_plow::{plow, setting};
    use crate::predict::{Along, Predictor, nominal, plow_states};
    use crate::report::statics_report;
    use ingest::plow::Setting;
    use ingest::quantity::Force;

    fn tried(moves: &[&str]) -> Result<WhatIf, MoveError> {
        let mut plow = plow();
        plow.tractor_hitch.washer = Some(Length::from_m(0.005));
        let holes = setting("4", "4");
        asked(&plow, &holes, Along::Pull(Force::from_n(8_000.0)), moves)
    }

    fn asked(plow: &Plow, holes: &Setting, along: Along, moves: &[&str]) -> Result<WhatIf, MoveError> {
        let middle = nominal(plow, holes, along).unwrap().state;
        let states = plow_states(plow, holes, middle.soil_draft, 1);
        let moves: Result<Vec<Move>, MoveError> = moves.iter().map(|text| text.parse()).collect();
        what_if(plow, &Predictor::of(plow, holes, &states, Some(&middle)), &moves?)
    }

    /// Found by a plowman: `--try` of a hole refused what `statics` with the pin in that hole gave figures of.
    #[test]
    fn what_a_try_says_of_holes_is_what_statics_says_in_them() {
        let mut plow = plow();
        plow.plow_hitch.holes.retain(|hole| ["1", "4", "7"].contains(&hole.name.as_str()));
        plow.tractor_hitch.holes.retain(|hole| ["1", "4", "7"].contains(&hole.name.as_str()));
        let mut met = [0; 3];
        for soil_n in [3_000.0, 8_000.0, 14_000.0, 22_000.0] {
            let along = Along::SoilDraft(Force::from_n(soil_n));
            let start = setting("7", "1");
            for (at_plow, at_tractor) in ["1", "4", "7"].iter().flat_map(|a| ["1", "4", "7"].map(|b| (a, b)))
            {
                let moves = [format!("plow_hitch={at_plow}"), format!("tractor_hitch=hole {at_tractor}")];
                let tried = asked(&plow, &start, along, &moves.each_ref().map(String::as_str));
                let there = setting(at_plow, at_tractor);
                let report = statics_report(&plow, ("there", &there), along, None, 1);
                let found =
                    report.as_ref().ok().and_then(|report| report.holes.iter().find(|one| one.is_now));
                let (then, found) = match (tried, found) {
                    (Ok(tried), Some(found)) => (tried.then, found),
                    (Err(MoveError::CannotBe(_)), None) => {
                        met[0] += 1;
                        continue;
                    }
                    (tried, found) => panic!("{at_plow} {at_tractor} at {soil_n}: {tried:?} {found:?}"),
                };
                met[if then.cannot_be_probability > 0.0 { 1 } else { 2 }] += 1;
                assert_eq!(then.cannot_be_probability, found.cannot_be_probability);
                let all = |of: &Prediction| {
                    [
                        of.balance_index,
                        of.pull_line_offset.si(),
                        of.front_load.si(),
                        of.tail_load.si(),
                        of.pull.si(),
                        of.tractor_load.si(),
                    ]
                };
                for (tried, found) in all(&then).iter().zip(all(found)) {
                    for (a, b) in
                        [(tried.value, found.value), (tried.low, found.low), (tried.high, found.high)]
                    {
                        assert!((a - b).abs() < 1e-6 * (1.0 + b.abs()), "{at_plow} {at_tractor}: {a} {b}");
                    }
                }
                // And with the pull that the try names, which is the same soil.
                let pulled = nominal(&plow, &there, then.pull.value).unwrap();
                assert!((pulled.state.soil_draft.n() - soil_n).abs() < 1e-6 * soil_n, "{pulled:?}");
                // What the diagram of that hole shows is what the try names.
                let (front, tail) = report.as_ref().unwrap().loads.carried_loads();
                assert!((front.n() - then.front_load.value.n()).abs() < 1e-6, "{front:?}");
                assert!((tail.n() - then.tail_load.value.n()).abs() < 1e-6, "{tail:?}");
            }
        }
        assert!(met.iter().all(|met| *met >= 3), "{met:?}");
    }

    /// Found by a plowman who wanted millimeters, and one who wanted inches.
    #[test]
    fn what_can_be_written_is_in_the_units_of_who_reads() {
        for (units, length, not) in [(UnitSystem::Si, "+25 mm", " in,"), (UnitSystem::Us, "+1 in", "mm")] {
            for text in ["tractor_hitch=up", "plow_hitch=+2 washers"] {
                let said = tried(&[text]).unwrap_err().said_in(units);
                assert!(said.contains(length) || text.ends_with("washers"), "{said}");
                assert!(!said.contains(not), "{said}");
            }
        }
    }

    #[test]
    fn there_and_back_is_nothing() {
        let there = ["tractor_hitch=+2 holes", "plow_hitch=-1 hole"];
        let and_back = ["tractor_hitch=hole 4", "plow_hitch=+1 hole"];
        let back = tried(&[there, and_back].concat()).unwrap();
        assert_eq!(back.now, back.then);
        assert!(back.now.is_now && back.now.better_probability == 0.0);
    }

    /// By the closed form: at the tractor's end z up by 25.4 mm moves the line of pull at the weight by
    /// (1 + t²)(x_w − x_h)/(x_T − x_h) of it, downwards, t the drawbar's slope midway; the drawbar keeps its length.
    #[test]
    fn a_hole_at_the_tractor_moves_the_line_of_pull_as_the_lever_says() {
        let found = tried(&["tractor_hitch=+1 hole"]).unwrap();
        let moved_m = found.then.pull_line_offset.value.m() - found.now.pull_line_offset.value.m();
        let lever = -0.90 / (1.12f64.powi(2) - (9.0f64 * 0.0254).powi(2)).sqrt();
        assert!((moved_m - 0.0254 * lever).abs() < 0.002, "{moved_m} {}", 0.0254 * lever);
        assert_eq!((found.then.tractor_hole.as_str(), found.then.plow_hole.as_str()), ("5", "4"));
    }

    #[test]
    fn washers_and_lengths_lie_between_holes() {
        let washers = tried(&["tractor_hitch=-2 washers"]).unwrap().then;
        assert_eq!(washers.tractor_hole, "3 to 4");
        assert!((washers.tractor_z.m() - (13.0 * 0.0254 - 0.010)).abs() < 1e-12);
        let length = tried(&["plow_hitch=+1 in"]).unwrap();
        assert_eq!(length.then.plow_hole, "5", "an inch is a hole here");
        assert!((length.clearance_left.map(Length::m).unwrap() - 3.0 * 0.0254).abs() < 1e-12);
    }

    #[test]
    fn what_cannot_be_is_refused_with_what_can() {
        let said = |text: &str| tried(&[text]).unwrap_err().said_in(UnitSystem::Us);
        assert!(said("tractor_hitch=+9 holes").contains("+9 holes from 4 at the tractor"));
        assert!(said("plow_hitch=hole 77").contains("it has the holes \"1\", \"2\""));
        assert!(said("plow_hitch=+2 washers").contains("[plow_hitch] has no washer"));
        for text in ["hitch=+1 hole", "tractor_hitch", "tractor_hitch=up", "plow_hitch=+3 lbf", "plow_hitch="]
        {
            assert!(said(text).contains("write tractor_hitch=+2 holes"), "{text}: {}", said(text));
        }
        assert!(said("plow_hitch=+99999999999 holes").contains("is not there"));
        assert!(said("plow_hitch=-3 m").contains("-3 m from 4"));
    }
}
