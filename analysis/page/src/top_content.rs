//! What the page of the top view shows: plow and tractor from above, which way the pull turns the tractor, and what
//! to do about it.

use super::content::{Foot, Head};
use super::text::{Lines, RowCell};
use super::wall_content::TopPanel;
use serde::Serialize;

/// The page of the view from above.
#[derive(Clone, Debug, Serialize)]
pub struct TopContent {
    /// What every page has.
    pub head: Head,
    /// The drawing.
    #[serde(skip)]
    pub panel: TopPanel,
    /// Which way, and what to do, with the caution that goes with it.
    pub advice: Lines<9>,
    /// What the trade knows, and what the figures rest on.
    pub reasons: Lines<6>,
    /// Figures in sections.
    pub sections: Vec<Section>,
    /// Where the figures come from, and the safety sentences.
    pub foot: Foot,
}

/// Some figures under a title.
#[derive(Clone, Debug, Serialize)]
pub struct Section {
    /// May be empty.
    pub title: RowCell,
    /// Name and figure.
    pub rows: Vec<(RowCell, RowCell)>,
}
