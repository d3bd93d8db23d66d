//! The kinds of plow: what each is, how it stands while it is measured, and where its points are in the drawings.

use super::questions::{QUESTIONS, Question};
use ingest::plow::Kind;
use page::measuring::Place;
use toml_edit::{DocumentMut, Value};

/// A kind of plow.
pub(super) struct Shape {
    pub name: &'static str,
    pub kind: Kind,
    pub what: &'static str,
    pub example: &'static str,
    /// How it stands while it is measured.
    pub stands: &'static str,
    /// The letters of the drawings.
    pub letters: &'static [(&'static str, &'static str)],
    pub side: Side,
}

/// What carries a tail, as it is drawn.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Carrier {
    Wheel,
    InclinedWheel,
    Heel,
}

/// A plow from the right, on the grid of the drawings: columns, and rows from the top.
pub(super) struct Side {
    pub tail: (Carrier, i16),
    /// Points of the shares.
    pub points: &'static [i16],
    /// Column of the middle of the bottoms.
    pub middle: i16,
    /// Column of 0.
    pub origin: i16,
    pub front_wheel: bool,
    /// Pins of lower links that have holes of their own elsewhere, at plow and tractor.
    pub pins: Option<[Place; 2]>,
    /// Column and rows of the holes at the plow, from the lowest.
    pub plow: (i16, [i16; 3]),
    /// The same at the tractor or team.
    pub tractor: (i16, [i16; 3]),
    /// Handles, and who pulls.
    pub handles: bool,
    pub puller: &'static str,
}

impl Shape {
    /// What this kind is asked, in order.
    pub(super) fn asked(&self) -> impl Iterator<Item = &'static Question> {
        QUESTIONS.iter().filter(|question| self.has_table(question.beside))
    }

    /// The value that the example of a kind has at a key, as an example of an answer.
    pub(super) fn example_of(&self, key: &str) -> Option<String> {
        let document: DocumentMut = self.example.parse().ok()?;
        let mut item = document.as_item();
        for part in key.split('.') {
            item = item.get(part)?;
        }
        let value = item.as_value()?;
        let pair = |value: &Value, key: &str| Some(value.as_inline_table()?.get(key)?.as_str()?.to_owned());
        Some(match value {
            Value::String(text) => text.value().clone(),
            Value::Array(all) if key.ends_with("holes") => {
                all.iter().filter_map(|hole| pair(hole, "z")).collect::<Vec<_>>().join(", ")
            }
            Value::Array(all) => {
                let line = |line: &Value| {
                    let both = line.as_array()?;
                    Some(both.iter().filter_map(Value::as_str).collect::<Vec<_>>().join(", "))
                };
                all.iter().filter_map(line).collect::<Vec<_>>().join("; ")
            }
            other => other.to_string().trim().to_owned(),
        })
    }

    /// Whether the example of a kind has this table.
    pub(super) fn has_table(&self, table: &str) -> bool {
        let Ok(document) = self.example.parse::<DocumentMut>() else { return false };
        let mut item = document.as_item();
        for part in table.split('.').filter(|part| !part.is_empty()) {
            match item.get(part) {
                Some(inner) => item = inner,
                None => return false,
            }
        }
        true
    }
}

macro_rules! example {
    ($file:literal) => {
        include_str!(concat!(env!("CARGO_MANIFEST_DIR"), "/../sample-runs/plows/", $file, ".toml"))
    };
}

const ON_BLOCKS: &str = "On a level floor that stands for the furrow bottom: shares, and wheels that run in a furrow, stand \
    on it; a wheel that runs on the land stands on blocks as thick as the working depth. The top of the blocks is the land. \
    Where one front wheel is ahead of the other, 0 is halfway between their axles, or nearer the one that carries more.";
const ON_LINKS: &str = "On a level floor that stands for the furrow bottom, shares and tail on it, the links holding the \
    front as at work. The land is as far above the floor as the working depth: the dotted line.";
const ON_SOLE: &str = "On a level floor that stands for the furrow bottom, point and heel on it. The land is as far above the \
    floor as the working depth: the dotted line.";

const B: (&str, &str) = ("B", "bottoms");
const AXLE: (&str, &str) = ("0", "front axle");
const LINK_PINS: (&str, &str) = ("0", "lower links' pins");
const PLOW_HOLES: (&str, &str) = ("H", "holes at plow");
const TRACTOR_HOLES: (&str, &str) = ("T", "holes at tractor");

/// Front wheels and a bar, its tail on something without a spring.
const fn trailed(carrier: Carrier) -> Side {
    Side {
        tail: (carrier, 9),
        points: &[22, 31, 40],
        middle: 27,
        origin: 46,
        front_wheel: true,
        pins: None,
        plow: (54, [6, 5, 4]),
        tractor: (69, [5, 4, 3]),
        handles: false,
        puller: "tractor",
    }
}

/// The kinds.
pub(super) const SHAPES: &[Shape] = &[
    Shape {
        name: "trailed",
        kind: Kind::Trailed,
        what: "front wheels and a tail wheel",
        example: example!("two-bottom"),
        stands: ON_BLOCKS,
        letters: &[("C", "tail wheel"), B, AXLE, PLOW_HOLES, TRACTOR_HOLES],
        side: Side { tail: (Carrier::Wheel, 7), points: &[27, 38], ..trailed(Carrier::Wheel) },
    },
    Shape {
        name: "landside",
        kind: Kind::Trailed,
        what: "trailed, its tail on a rolling landside",
        example: example!("three-bottom-rolling-landside"),
        stands: ON_BLOCKS,
        letters: &[("C", "landside"), B, AXLE, PLOW_HOLES, TRACTOR_HOLES],
        side: trailed(Carrier::InclinedWheel),
    },
    Shape {
        name: "heel",
        kind: Kind::Trailed,
        what: "trailed, its tail on a fixed heel",
        example: example!("three-bottom-fixed-heel"),
        stands: ON_BLOCKS,
        letters: &[("C", "heel"), B, AXLE, PLOW_HOLES, TRACTOR_HOLES],
        side: trailed(Carrier::Heel),
    },
    Shape {
        name: "semi-mounted",
        kind: Kind::SemiMounted,
        what: "front on the lower links, a tail wheel behind",
        example: example!("four-bottom-semi-mounted"),
        stands: ON_LINKS,
        letters: &[("C", "tail wheel"), B, LINK_PINS, ("H", "cross shaft"), ("T", "links' pivots")],
        side: Side {
            tail: (Carrier::Wheel, 5),
            points: &[19, 28, 37, 46],
            middle: 28,
            origin: 54,
            front_wheel: false,
            pins: None,
            plow: (54, [6, 5, 4]),
            tractor: (70, [5, 4, 3]),
            handles: false,
            puller: "tractor",
        },
    },
    Shape {
        name: "mounted",
        kind: Kind::Mounted,
        what: "lower links free to rise and fall, and a top link",
        example: example!("three-bottom-mounted"),
        stands: ON_LINKS,
        letters: &[("C", "heel"), B, LINK_PINS, ("H", "top link, plow"), ("T", "top link, tractor")],
        side: Side {
            tail: (Carrier::Heel, 8),
            points: &[22, 31, 40],
            middle: 27,
            origin: 50,
            front_wheel: false,
            pins: Some([(50, 6), (69, 6)]),
            plow: (54, [2, 1, 0]),
            tractor: (69, [4, 3, 2]),
            handles: false,
            puller: "tractor",
        },
    },
    Shape {
        name: "walking",
        kind: Kind::Walking,
        what: "no wheels, behind a team",
        example: example!("one-bottom-walking"),
        stands: ON_SOLE,
        letters: &[
            ("C", "heel"),
            ("B", "bottom"),
            ("0", "share's point"),
            PLOW_HOLES,
            ("T", "hitch at the team"),
        ],
        side: Side {
            tail: (Carrier::Heel, 12),
            points: &[30],
            middle: 25,
            origin: 30,
            front_wheel: false,
            pins: None,
            plow: (48, [5, 4, 3]),
            tractor: (69, [4, 3, 2]),
            handles: true,
            puller: "team",
        },
    },
];
