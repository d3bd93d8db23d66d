//! What the page of a statics calculation shows: no run, only the plow as described.

use super::chart_content::Gauge;
use super::content::{FigureRow, Foot, Head, Verdict, WhatToDo};
use super::force_diagram::ForceDiagram;
use super::text::{Cell, Figure, Lines};
use serde::Serialize;

/// The page for a calculation from the plow's description alone.
#[derive(Clone, Debug, Serialize)]
pub struct StaticsContent {
    /// What every page has.
    pub head: Head,
    /// What the setting is expected to do; `None` leaves the verdict band out.
    pub verdict: Option<Verdict>,
    /// Expected balance index.
    #[serde(skip)]
    pub gauge: Option<Gauge>,
    /// Side view with the forces at the pull asked for, to scale.
    #[serde(skip)]
    pub forces: Option<ForceDiagram>,
    /// Loads, offset, balance index, expected gain.
    pub figures: Vec<FigureRow>,
    /// What each hole would do.
    pub holes: HoleTable,
    /// Expected draft against the pull asked for or measured.
    pub draft: Vec<FigureRow>,
    /// Sentences on the draft check: source, range, soil class.
    pub draft_notes: Lines<4>,
    /// What to do next.
    pub advice: Vec<WhatToDo>,
    /// What the reader must not conclude, or must check first.
    pub cautions: Lines<5>,
    /// Where the figures come from, and the safety sentences.
    pub foot: Foot,
}

/// A table with one row a hole; strings are ready to print.
#[derive(Clone, Debug, Serialize)]
pub struct HoleTable {
    /// Heads of the columns, the first for the name of the hole.
    pub columns: Vec<Cell>,
    /// One row a hole, as many cells as columns (missing ones stay empty).
    pub rows: Vec<HoleRow>,
}

/// One hole.
#[derive(Clone, Debug, Serialize)]
pub struct HoleRow {
    /// Cells, in the order of the columns.
    pub cells: Vec<Figure<44>>,
    /// True for the hole in use: marked and set in bold.
    pub in_use: bool,
}
