//! The wall diagram: one landscape sheet in large letters, drawn as a single picture, so that the PDF and the SVG
//! are the same.

mod notes;
mod pieces;
mod side;
mod top;

use super::canvas::{self, Canvas, INK, Lettering, Pen, SENTENCE};
use super::region::Region;
use super::{Size, blank_on};
use crate::Result;
use crate::wall_content::{TopPanel, WallContent};

/// Blank edge of the sheet, mm.
const EDGE_MM: f64 = 9.0;
/// Height of legend, table and foot together, mm.
const NOTES_MM: f64 = 68.0;
/// Share of the width that the side view takes when the top view is there.
const SIDE_SHARE: f64 = 0.52;

pub fn draw(content: &WallContent, size: Size) -> Result<String> {
    canvas::picture(size, |canvas| {
        let (left, right) = (EDGE_MM, size.width_mm - EDGE_MM);
        let below_head = head(canvas, content, left, right)?;
        let notes_top = size.height_mm - EDGE_MM - NOTES_MM;
        let mut views = Region { corner: (left, below_head), far: (right, notes_top - 2.0) };
        if let Some(panel) = &content.top {
            let split = left + (right - left) * SIDE_SHARE;
            let region = Region { corner: (split + 3.0, below_head), ..views };
            views.far.0 = split;
            let between = [(split + 1.5, below_head), (split + 1.5, views.far.1)];
            canvas.line(&between, Pen(INK, 0.8))?;
            top::draw(canvas, panel, region)?;
        }
        let side = side::fitted(canvas, content, views);
        match &side {
            Some(side) => side::paint(side, content)?,
            None => blank_on(canvas, "forces: not shown")?,
        }
        let region = Region { corner: (left, notes_top), far: (right, size.height_mm - EDGE_MM) };
        notes::draw(canvas, content, side.as_ref(), region)
    })
}

/// The view from above alone.
pub fn from_above(panel: &TopPanel, size: Size) -> Result<String> {
    canvas::picture(size, |canvas| {
        let edge = 1.0;
        let far = (size.width_mm - edge, size.height_mm - edge);
        top::draw(canvas, panel, Region { corner: (edge, edge), far })
    })
}

/// Title, plow and the move; gives back where it ends.
fn head(canvas: &Canvas, content: &WallContent, left: f64, right: f64) -> Result<f64> {
    let width = right - left;
    let line = |text: &str, y: f64, lettering: Lettering| {
        canvas.text(text, (left, y), lettering.within(text, width))
    };
    line(&content.plow, EDGE_MM + 4.0, SENTENCE.sized(21.0).bold())?;
    line(&content.title, EDGE_MM + 12.5, SENTENCE.sized(15.0).bold())?;
    line(&content.facts, EDGE_MM + 18.5, SENTENCE.sized(11.0))?;
    let y = EDGE_MM + 26.0;
    line(&content.what_moves, y, SENTENCE.sized(17.0).bold())?;
    canvas.line(&[(left, y - 4.4), (right, y - 4.4)], Pen(INK, 1.2))?;
    canvas.line(&[(left, y + 4.4), (right, y + 4.4)], Pen(INK, 1.2))?;
    Ok(y + 7.0)
}
