//! The page for a calculation from the plow's description alone.

use serde_json::{Value, json};

use super::charts::{Size, forces};
use super::content::ForceDiagram;
use super::data::{self, CELL, Collector, SENTENCE};
use super::plain_text::shortened;
use super::statics_content::{HoleTable, StaticsContent};
use super::typeset::TYPEFACE;
use super::{Draft, Format, Layout, PageError, Paper, Sheets, fit};

/// Makes the page for a statics calculation.
///
/// # Errors
/// [`PageError`]: what could not be drawn or set, or that the content does not fit on one page.
pub fn render_statics(content: &StaticsContent, paper: Paper, format: Format) -> Result<Vec<u8>, PageError> {
    let ident = format!("statics {} {:?}", content.head.title, content.foot.provenance);
    fit(include_str!("templates/statics.typ"), &ident, (paper, format, Sheets::One), |layout| {
        draft(content, layout)
    })
}

/// The force diagram alone, as an SVG file of `width_mm` by `height_mm` (drawn in sixteenths of a
/// millimetre).
///
/// # Errors
/// [`PageError::Chart`] if it cannot be drawn.
pub fn force_diagram_svg(diagram: &ForceDiagram, width_mm: f64, height_mm: f64) -> Result<String, PageError> {
    Ok(standing_alone(&forces::draw(Some(diagram), Size { width_mm, height_mm })?))
}

/// A chart for a file of its own: outside the page the typeface may be missing, and any sans will do there.
pub(super) fn standing_alone(svg: &str) -> String {
    let named = format!("font-family=\"{TYPEFACE}\"");
    svg.replace(&named, &format!("font-family=\"'{TYPEFACE}', sans-serif\""))
}

/// The page of a statics calculation in one layout.
pub fn draft(content: &StaticsContent, layout: Layout) -> Result<Draft, PageError> {
    let mut page = Collector::new(layout, "statics", &content.head, &content.foot);
    page.put("verdict", content.verdict.as_ref().map_or(Value::Null, data::verdict));
    page.put("figures", data::figures(&content.figures).into());
    page.put("draft", data::figures(&content.draft).into());
    page.put("draft_notes", data::sentences(&content.draft_notes, 4, SENTENCE).into());
    page.put("advice", data::what_to_do(&content.advice));
    page.put("cautions", data::sentences(&content.cautions, 5, SENTENCE).into());
    page.put("holes", hole_data(&content.holes));
    page.gauge(content.gauge.as_ref(), "Expected balance index")?;
    page.forces(content.forces.as_ref(), "Side view of the plow with its forces to scale")?;
    Ok(page.finish())
}

fn hole_data(holes: &HoleTable) -> Value {
    let columns: Vec<String> = holes.columns.iter().map(|cell| shortened(cell, CELL)).collect();
    let rows: Vec<Value> = holes
        .rows
        .iter()
        .map(|row| {
            let cell =
                |place: usize| row.cells.get(place).map_or_else(String::new, |cell| data::figure(cell, CELL));
            json!({ "in_use": row.in_use, "cells": (0..columns.len()).map(cell).collect::<Vec<_>>() })
        })
        .collect();
    json!({ "columns": columns, "rows": rows })
}
