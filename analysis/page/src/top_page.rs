//! The page of the view from above.

use super::charts::{Size, wall};
use super::data::{self, Collector, SENTENCE};
use super::plain_text::shortened;
use super::statics_page::standing_alone;
use super::top_content::TopContent;
use super::wall_content::TopPanel;
use super::{Draft, Format, Layout, PageError, Paper, Sheets, fit};
use serde_json::{Value, json};

/// Longest name or figure of a row, in characters.
const ROW: usize = 80;

/// Makes the page of the view from above.
///
/// # Errors
/// [`PageError`]: what could not be drawn or set, or that the content does not fit on one page.
pub fn render_top(content: &TopContent, paper: Paper, format: Format) -> Result<Vec<u8>, PageError> {
    let ident = format!("top {} {:?}", content.head.title, content.foot.provenance);
    fit(include_str!("templates/top.typ"), &ident, (paper, format, Sheets::One), |layout| {
        draft(content, layout)
    })
}

/// The page of the view from above in one layout.
pub fn draft(content: &TopContent, layout: Layout) -> Result<Draft, PageError> {
    let mut page = Collector::new(layout, "statics, from above", &content.head, &content.foot);
    page.put("advice", data::sentences(&content.advice, 9, SENTENCE).into());
    page.put("reasons", data::sentences(&content.reasons, 6, SENTENCE).into());
    let rows = |rows: &[(String, String)]| -> Vec<Value> {
        rows.iter().map(|(name, figure)| json!([shortened(name, ROW), shortened(figure, ROW)])).collect()
    };
    let sections: Vec<Value> =
        content.sections.iter().map(|(title, of)| json!({"title": title, "rows": rows(of)})).collect();
    page.put("sections", sections.into());
    let size = page.size(1.0, 92.0);
    let alt = "Plow and tractor from above with their forces to scale";
    page.chart("top", size, alt, wall::from_above(&content.panel, size)?);
    Ok(page.finish())
}

/// The view from above alone, as an SVG file of `width_mm` by `height_mm` (drawn in sixteenths of a millimetre).
///
/// # Errors
/// [`PageError::Chart`] if it cannot be drawn.
pub fn top_view_svg(panel: &TopPanel, width_mm: f64, height_mm: f64) -> Result<String, PageError> {
    Ok(standing_alone(&wall::from_above(panel, Size { width_mm, height_mm })?))
}
