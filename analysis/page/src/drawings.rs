//! Drawings for files of their own, as SVG (drawn in sixteenths of a millimetre). Each fails only with
//! [`PageError::Chart`](super::PageError::Chart), if it cannot be drawn.

use super::chart_content::MapContent;
use super::charts::{Size, forces, height_map, wall};
use super::force_diagram::ForceDiagram;
use super::typeset::TYPEFACE;
use super::wall_content::{TopPanel, WallContent};
use super::{Paper, Result};

/// Outside the page the typeface may be missing, and any sans will do there.
fn standing_alone(svg: &str) -> String {
    let named = format!("font-family=\"{TYPEFACE}\"");
    svg.replace(&named, &format!("font-family=\"'{TYPEFACE}', sans-serif\""))
}

/// The force diagram, `width_mm` by `height_mm`.
pub fn force_diagram_svg(diagram: &ForceDiagram, width_mm: f64, height_mm: f64) -> Result<String> {
    forces::draw(Some(diagram), Size { width_mm, height_mm }).map(|svg| standing_alone(&svg))
}

/// The map of both heights, `width_mm` by `height_mm`.
pub fn height_map_svg(map: &MapContent, width_mm: f64, height_mm: f64) -> Result<String> {
    height_map::draw(map, Size { width_mm, height_mm }).map(|svg| standing_alone(&svg))
}

/// The view from above, `width_mm` by `height_mm`.
pub fn top_view_svg(panel: &TopPanel, width_mm: f64, height_mm: f64) -> Result<String> {
    wall::from_above(panel, Size { width_mm, height_mm }).map(|svg| standing_alone(&svg))
}

/// The wall diagram, as large as the paper.
pub fn wall_svg(content: &WallContent, paper: Paper) -> Result<String> {
    wall::draw(content, Size::landscape(paper)).map(|svg| standing_alone(&svg))
}
