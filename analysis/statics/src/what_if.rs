//! What if a pin were elsewhere: `tractor_hitch=+2 holes` and the like.

use super::identify::IdentifyError;
use super::predict::{PinPlace, Prediction, Predictor, State};
use ingest::plow::{Hole, Plow, Setting};
use ingest::quantity::{Length, Quantity, in_si, parse_quantity};
use schemars::JsonSchema;
use serde::Serialize;
use std::str::FromStr;

/// What can be written, told with every error.
const EXAMPLES: &str = "write tractor_hitch=+2 holes, plow_hitch=-1 hole, tractor_hitch=hole 5, \
    plow_hitch=+1 in, or tractor_hitch=-3 washers";

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
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum MoveError {
    /// It cannot be read.
    #[error("'{text}' is no move of a pin: {EXAMPLES}")]
    Unreadable {
        /// As it was typed.
        text: String,
    },
    /// It ends where there is no hole, or beyond the holes.
    #[error("{asked} at the {end} is not there: it has the holes {holes}")]
    NoSuchPlace {
        /// What was asked for.
        asked: String,
        /// Which end.
        end: &'static str,
        /// The holes, from the lowest.
        holes: String,
    },
    /// Washers of unknown thickness.
    #[error("{table} has no washer in the description: add washer = \"5 mm\" to it, as thick as one is")]
    NoWasher {
        /// Table of the description.
        table: &'static str,
    },
    /// The plow cannot stand there.
    #[error("in these holes the plow would be lifted, or its drawbar stand on end, in most cases")]
    CannotBe,
    /// The statics refuses.
    #[error(transparent)]
    Statics(#[from] IdentifyError),
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
pub fn what_if(
    plow: &Plow,
    setting: &Setting,
    states: &[State],
    moves: &[Move],
) -> Result<WhatIf, MoveError> {
    let rows = (Row::of(plow, End::PlowHitch), Row::of(plow, End::TractorHitch));
    let mut places = (PinPlace::of(&setting.plow_hole), PinPlace::of(&setting.tractor_hole));
    let predictor = Predictor::of(plow, setting, states);
    let predict =
        |places: &(PinPlace, PinPlace)| predictor.at(&places.0, &places.1).ok_or(MoveError::CannotBe);
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
    use crate::predict::plow_states;
    use ingest::quantity::Force;

    fn tried(moves: &[&str]) -> Result<WhatIf, MoveError> {
        let mut plow = plow();
        plow.tractor_hitch.washer = Some(Length::from_m(0.005));
        let holes = setting("4", "4");
        let states = plow_states(&plow, &holes, Force::from_n(8_000.0), 1).unwrap();
        let moves: Result<Vec<Move>, MoveError> = moves.iter().map(|text| text.parse()).collect();
        what_if(&plow, &holes, &states, &moves?)
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
    /// (x_w − x_h)/(x_T − x_h) of it, downwards.
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
        let said = |text: &str| tried(&[text]).unwrap_err().to_string();
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
