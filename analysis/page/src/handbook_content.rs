//! What the handbook takes from the program. Its words stand in `templates/handbook/`; numbers, tables and the picture are put in
//! by name when it is printed.

use super::charts::{Size, forces};
use super::force_diagram::ForceDiagram;
use super::text::{Cell, Lines, Text, Title};
use super::{Charts, Content, Result, Sheets};
use jiff::civil::Date;
use serde::Serialize;
use std::collections::BTreeMap;

/// A cell of a table of the handbook: a sentence or two.
pub type BookCell = Text<400>;

/// The handbook.
#[derive(Clone, Debug, Serialize)]
pub struct HandbookContent {
    /// Title of the document.
    pub title: Title,
    /// Day it was printed.
    #[serde(serialize_with = "super::content::day")]
    pub date: Option<Date>,
    /// Version of the program.
    pub version: Cell,
    /// Each number with its unit, by the name that the chapters call it by.
    pub numbers: BTreeMap<&'static str, Cell>,
    /// Rows of tables, by name.
    pub tables: BTreeMap<&'static str, Vec<Vec<BookCell>>>,
    /// The cautions.
    pub safety: Lines<8>,
    /// Side view of the example plow.
    #[serde(skip)]
    pub forces: ForceDiagram,
}

impl Content for HandbookContent {
    const TEMPLATE: &'static str = include_str!("templates/handbook.typ");
    const CHAPTERS: &'static [(&'static str, &'static str)] = &[
        ("book.typ", include_str!("templates/handbook/book.typ")),
        ("field.typ", include_str!("templates/handbook/field.typ")),
        ("sensors.typ", include_str!("templates/handbook/sensors.typ")),
        ("describing.typ", include_str!("templates/handbook/describing.typ")),
        ("recording.typ", include_str!("templates/handbook/recording.typ")),
        ("words.typ", include_str!("templates/handbook/words.typ")),
        ("signals.typ", include_str!("templates/handbook/signals.typ")),
        ("statics.typ", include_str!("templates/handbook/statics.typ")),
        ("verdict.typ", include_str!("templates/handbook/verdict.typ")),
        ("checked.typ", include_str!("templates/handbook/checked.typ")),
    ];

    fn ident(&self) -> String {
        format!("handbook {}", &*self.version)
    }

    /// A book.
    fn sheets(&self, _: Sheets) -> Option<usize> {
        None
    }

    fn draw(&self, charts: &mut Charts) -> Result {
        let size = Size { width_mm: 150.0, height_mm: 85.0 };
        let alt = "Side view of the example plow with its forces to scale, the line of pull, the line of the soil force and the \
                   steady point";
        charts.put("forces", size, alt, forces::draw(Some(&self.forces), size)?);
        Ok(())
    }
}

/// Every name that a chapter asks for behind `of`, as `#n.` for numbers: for a check that there is what is asked for.
pub fn asked(of: &str) -> Vec<String> {
    let chapters = HandbookContent::CHAPTERS.iter().map(|(_, text)| *text);
    let places = chapters.flat_map(|text| text.split(of).skip(1));
    let name = |rest: &str| rest.chars().take_while(|c| c.is_ascii_lowercase() || *c == '_').collect();
    places.map(name).collect()
}

/// What stands in quotes right behind `of`, as `#key(` for keys of the JSON.
pub fn quoted(of: &str) -> Vec<&'static str> {
    let chapters = HandbookContent::CHAPTERS.iter().map(|(_, text)| *text);
    chapters.flat_map(|text| quoted_in(text, of)).collect()
}

fn quoted_in(text: &'static str, of: &str) -> Vec<&'static str> {
    let places =
        text.match_indices(of).filter_map(|(at, found)| text.get(at + found.len()..)?.strip_prefix('"'));
    places.filter_map(|rest| Some(rest.split_once('"')?.0)).collect()
}

#[cfg(test)]
mod tests;
