//! The wall diagram as PDF, PNG or SVG, landscape.

use super::charts::{Size, wall};
use super::content::{Foot, Head};
use super::data::Collector;
use super::statics_page::standing_alone;
use super::wall_content::WallContent;
use super::{Format, Layout, PageError, Paper, Sheets, fit};
use jiff::civil::Date;

/// Makes the wall diagram as a page; `date` is the day it was made for.
///
/// # Errors
/// [`PageError`]: what could not be drawn or set.
pub fn render_wall(
    content: &WallContent,
    date: Date,
    paper: Paper,
    format: Format,
) -> Result<Vec<u8>, PageError> {
    let ident = format!("wall {} {}", content.title, content.provenance);
    let svg = wall::draw(content, size(paper))?;
    let forces = content.forces().map(|arrow| arrow.label.as_str()).join(", ");
    let alt = format!("Side view of {} with its forces to scale: {forces}.", content.plow);
    let head = Head {
        title: content.title.clone(),
        plow: content.plow.clone(),
        facts: Vec::new(),
        date: Some(date),
    };
    fit(include_str!("templates/wall.typ"), &ident, (paper, format, Sheets::One), |layout: Layout| {
        let mut page = Collector::new(layout, "wall", &head, &Foot { provenance: vec![], safety: vec![] });
        page.chart("wall", size(paper), &alt, svg.clone());
        Ok(page.finish())
    })
}

/// The wall diagram as an SVG file of the paper's size (drawn in sixteenths of a millimetre).
///
/// # Errors
/// [`PageError::Chart`] if it cannot be drawn.
pub fn wall_svg(content: &WallContent, paper: Paper) -> Result<String, PageError> {
    wall::draw(content, size(paper)).map(|svg| standing_alone(&svg))
}

fn size(paper: Paper) -> Size {
    let (short_mm, long_mm) = paper.size_mm();
    Size { width_mm: long_mm, height_mm: short_mm }
}
