//! Where a tape is held: drawings on a grid that a terminal has too, and the sheet to write on that is made of them.

use super::text::{Lines, RowCell, Sentence, Title};
use serde::Serialize;

/// Columns of the grid.
pub const COLUMNS: i16 = 76;
/// Its rows. One is as high as two columns are wide.
pub const ROWS: i16 = 12;

/// A place on the grid: columns from the left, rows from the top.
pub type Place = (i16, i16);

/// What is drawn; travel is to the right.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Part {
    /// A level surface: its row, from one column to another.
    Ground(i16, (i16, i16)),
    /// A height carried on, as [`Part::Ground`].
    Dotted(i16, (i16, i16)),
    /// Soil that was turned, as [`Part::Ground`].
    Turned(i16, (i16, i16)),
    /// A solid from one corner to the opposite one.
    Block(Place, Place),
    /// A wheel about its hub, two rows in radius.
    Wheel(Place),
    /// A wheel inclined away from the eye, about where it touches.
    InclinedWheel(Place),
    /// What slides, about where it touches.
    Heel(Place),
    /// A wheel seen from behind, about where it touches.
    Tread(Place),
    /// A bottom seen from the right, about the point of its share.
    Bottom(Place),
    /// A bottom seen from above, about the point of its share.
    Share(Place),
    /// A heavy bar.
    Beam(Place, Place),
    /// A thin one.
    Rod(Place, Place),
    /// A spring, upright.
    Spring(Place, Place),
    /// A hole or pin.
    Hole(Place),
    /// A word about its middle.
    Name(Place, &'static str),
    /// The name of a point.
    Letter(Place, &'static str),
}

/// What is measured.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Mark {
    /// Along a row, from one column to another.
    Along(i16, (i16, i16)),
    /// From pin to pin.
    Pins(Place, Place),
    /// In a column, from a row to one below it.
    Upright(i16, (i16, i16)),
    /// A wheel from top to foot: its hub, and the column beside it.
    Diameter(Place, i16),
    /// A load from above on a place.
    Press(Place, &'static str),
    /// A scale under a place.
    Scale(Place, &'static str),
    /// A number or word beside what it counts.
    Number(Place, &'static str),
}

/// A drawing.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Drawing {
    /// What is there, from back to front.
    pub parts: Vec<Part>,
    /// What is measured.
    pub marks: Vec<Mark>,
}

impl Drawing {
    /// Whether points in it are named by letters.
    #[must_use]
    pub fn has_letters(&self) -> bool {
        self.parts.iter().any(|part| matches!(part, Part::Letter(..)))
    }
}

/// The sheet to take to the plow.
#[derive(Clone, Debug, Serialize)]
pub struct MeasuringContent {
    /// Name of the document.
    pub title: Title,
    /// Each on pages of its own.
    pub kinds: Vec<KindToMeasure>,
    /// The cautions.
    pub safety: Lines<6>,
    /// What made it.
    pub provenance: Sentence,
}

/// What is measured of a kind of plow.
#[derive(Clone, Debug, Serialize)]
pub struct KindToMeasure {
    /// The kind, and what it is.
    pub name: RowCell,
    /// How it stands while it is measured.
    pub stands: Sentence,
    /// The letters of the drawings.
    pub letters: Vec<RowCell>,
    /// What has a drawing, page by page.
    pub pages: Vec<Vec<ToMeasure>>,
    /// What needs none, at the end.
    pub blanks: Vec<ToMeasure>,
}

/// One measurement.
#[derive(Clone, Debug, Serialize)]
pub struct ToMeasure {
    /// Its number in the dialogue.
    pub number: usize,
    /// What.
    pub what: Sentence,
    /// Where the tape is held.
    pub how: Sentence,
    /// Boxes for a pencil, line by line.
    pub boxes: Vec<Vec<PencilBox>>,
    /// Name of the drawing on the page.
    pub chart: String,
    /// The drawing.
    #[serde(skip)]
    pub drawing: Drawing,
}

/// A box for a pencil.
#[derive(Clone, Debug, Serialize)]
pub struct PencilBox {
    /// What stands before it.
    pub before: RowCell,
    /// How wide it is, mm.
    pub width_mm: f64,
    /// The unit behind it.
    pub after: RowCell,
}
