//! The charts of the pages, each a pure function from plain data and a size in mm to an SVG picture.
//!
//! A chart whose data cannot be drawn (empty, not finite) is a framed panel that says so, never an error: the
//! page around it still holds. What draws fails only where the back end does, with
//! [`PageError::Chart`](super::PageError::Chart).

mod axes;
pub mod canvas;
pub mod dots;
pub mod forces;
pub mod gauge;
pub(crate) mod height_map;
pub mod labels;
pub(crate) mod measuring;
mod region;
pub mod scatter;
mod side_view;
pub mod spectrum;
pub mod strip;
mod supports;
pub(crate) mod wall;

use super::Result;
pub use canvas::Size;
use canvas::{Canvas, GREY, LABEL, PALE, Pen};

/// A framed panel with a sentence in place of a chart.
pub fn blank(size: Size, sentence: &str) -> Result<String> {
    canvas::picture(size, |canvas| blank_on(canvas, sentence))
}

fn blank_on(canvas: &Canvas, sentence: &str) -> Result {
    let inset = 0.3;
    canvas.frame_box((inset, inset), (canvas.width_mm - inset, canvas.height_mm - inset), Pen(PALE, 0.8))?;
    let lettering = canvas::Lettering { ink: GREY, ..LABEL.sized(8.5) };
    canvas.text(sentence, (canvas.width_mm / 2.0, canvas.height_mm / 2.0), lettering)
}
