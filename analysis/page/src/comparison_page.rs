//! The page for a comparison of two settings.

use serde_json::{Value, json};

use super::charts::{Size, dots};
use super::comparison_content::{ComparisonContent, ComparisonRow};
use super::data::{self, CELL, Collector, SENTENCE};
use super::plain_text::shortened;
use super::{Draft, Format, Layout, PageError, Paper, Sheets, fit};

/// Makes the page for a comparison.
///
/// # Errors
/// [`PageError`]: what could not be drawn or set, or that the content does not fit on one page.
pub fn render_comparison(
    content: &ComparisonContent,
    paper: Paper,
    format: Format,
) -> Result<Vec<u8>, PageError> {
    let ident = format!("comparison {} {:?}", content.head.title, content.foot.provenance);
    fit(include_str!("templates/comparison.typ"), &ident, (paper, format, Sheets::One), |layout| {
        draft(content, layout)
    })
}

fn draft(content: &ComparisonContent, layout: Layout) -> Result<Draft, PageError> {
    let mut page = Collector::new(layout, "comparison", &content.head, &content.foot);
    page.put("name_a", shortened(&content.name_a, 90).into());
    page.put("name_b", shortened(&content.name_b, 90).into());
    page.put("headline", shortened(&content.headline, 80).into());
    page.put("reasons", data::sentences(&content.reasons, 9, SENTENCE).into());
    page.put("method", data::sentences(&content.method, 5, SENTENCE).into());
    page.put("warnings", data::sentences(&content.warnings, 6, SENTENCE).into());
    let mut rows = Vec::new();
    for (place, row) in content.rows.iter().enumerate() {
        // Dots stay dots: only their height follows the layout.
        let size = Size { width_mm: 60.0, height_mm: page.size(0.0, 13.0).height_mm.clamp(8.0, 17.0) };
        let name = format!("dots{place}");
        let alt = format!("{}: {} runs of A and {} runs of B", row.name, row.runs_a.len(), row.runs_b.len());
        page.chart(&name, size, &alt, dots::draw(&row.runs_a, &row.runs_b, size)?);
        rows.push(row_data(row, &name));
    }
    page.put("rows", rows.into());
    Ok(page.finish())
}

fn row_data(row: &ComparisonRow, dots: &str) -> Value {
    json!({
        "name": shortened(&row.name, CELL),
        "unit": shortened(&row.unit, 12),
        "mean_a": data::figure(&row.mean_a, 16),
        "mean_b": data::figure(&row.mean_b, 16),
        "difference": data::figure(&row.difference, 16),
        "interval": data::figure(&row.interval, 32),
        "p_t": data::figure(&row.p_t, 12),
        "p_permutation": data::figure(&row.p_permutation, 12),
        "effect_size": data::figure(&row.effect_size, 12),
        "p_holm": data::figure(&row.p_holm, 12),
        "conclusion": shortened(&row.conclusion, 60),
        "shown": row.shown,
        "dots": dots,
    })
}
