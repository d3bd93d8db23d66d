//! From content to the JSON that the templates read: every text made plain and cut to its place.

use serde_json::{Value, json};

use super::charts::{Size, forces, gauge};
use super::content::{FigureRow, Foot, ForceDiagram, Gauge, Head, Verdict, VerdictLook, WhatToDo};
use super::plain_text::shortened;
use super::{Draft, Layout, PageError, SIDE_MM};

/// Characters of a title: two lines of the largest text.
const TITLE: usize = 90;
/// Characters of a sentence.
pub const SENTENCE: usize = 330;
/// Characters of an order: it is whole on every page, so this only bounds what a broken file could hold.
const ORDER: usize = 2000;
/// Characters of all reasons together.
const REASONS: usize = 1500;
/// Characters of a cell of a table.
pub const CELL: usize = 44;
/// Under the large word.
const NOTE: usize = 90;
/// How much larger charts of the plowman's half are set than they are drawn.
const ENLARGED: f64 = 1.35;
/// Most things to do on a page.
const MOST_TO_DO: usize = 2;
/// Most facts in the head.
const MOST_FACTS: usize = 8;

/// Collects what a template needs.
pub struct Collector {
    layout: Layout,
    data: serde_json::Map<String, Value>,
    charts: Vec<(String, String)>,
}

impl Collector {
    /// With paper, head and foot.
    pub fn new(layout: Layout, kind: &str, head: &Head, foot: &Foot) -> Self {
        let (width_mm, height_mm) = layout.paper.size_mm();
        let mut data = serde_json::Map::new();
        let page = json!({
            "width_mm": width_mm, "height_mm": height_mm, "side_mm": SIDE_MM, "text_scale": layout.text_scale,
        });
        data.insert("page".to_owned(), page);
        data.insert("head".to_owned(), head_data(kind, head));
        data.insert(
            "foot".to_owned(),
            json!({
                "provenance": sentences(&foot.provenance, 5, SENTENCE),
                "safety": foot.safety.iter().map(|s| shortened(s, 4000)).collect::<Vec<_>>(),
            }),
        );
        Self { layout, data, charts: Vec::new() }
    }

    /// Adds a value under a name.
    pub fn put(&mut self, name: &str, value: Value) {
        self.data.insert(name.to_owned(), value);
    }

    /// Adds a chart as `name.svg`, with its width and the text that stands for it.
    pub fn chart(&mut self, name: &str, size: Size, alt: &str, svg: String) {
        self.put(
            name,
            json!({ "file": format!("{name}.svg"), "width_mm": size.width_mm, "alt": shortened(alt, 420) }),
        );
        self.charts.push((format!("{name}.svg"), svg));
    }

    /// Adds a chart that is drawn small and set large, so that its letters can be read from two meters; `size` is
    /// the size it is set at.
    fn enlarged(
        &mut self,
        name: &str,
        size: Size,
        alt: &str,
        draw: impl FnOnce(Size) -> Result<String, PageError>,
    ) -> Result<(), PageError> {
        let drawn = Size { width_mm: size.width_mm / ENLARGED, height_mm: size.height_mm / ENLARGED };
        let svg = draw(drawn)?;
        self.chart(name, size, alt, svg);
        Ok(())
    }

    /// Adds the balance gauge. It keeps its height in every layout: it carries the verdict.
    pub fn gauge(&mut self, content: Option<&Gauge>, alt: &str) -> Result<(), PageError> {
        let size = Size { height_mm: 27.0, ..self.size(0.655, 0.0) };
        self.enlarged("gauge", size, alt, |size| gauge::draw(content, size))
    }

    /// Adds the picture of the forces.
    pub fn forces(&mut self, content: Option<&ForceDiagram>, alt: &str) -> Result<(), PageError> {
        let size = self.size(0.64, 62.0);
        self.enlarged("forces", size, alt, |size| forces::draw(content, size))
    }

    /// Size of a chart over a share of the page's width, with `height_mm` in the plain layout.
    pub fn size(&self, share: f64, height_mm: f64) -> Size {
        Size { width_mm: self.layout.width_mm() * share, height_mm: height_mm * self.layout.chart_scale }
    }

    /// What was collected.
    pub fn finish(self) -> Draft {
        Draft { data: Value::Object(self.data), charts: self.charts }
    }
}

fn head_data(kind: &str, head: &Head) -> Value {
    let title = shortened(&head.title, TITLE);
    let facts: Vec<Value> = head
        .facts
        .iter()
        .filter(|fact| !fact.value.trim().is_empty())
        .take(MOST_FACTS)
        .map(|fact| json!({ "name": shortened(&fact.name, 24), "value": shortened(&fact.value, 120) }))
        .collect();
    json!({
        "kind": kind,
        "title": if title.is_empty() { "unnamed setting".to_owned() } else { title },
        "plow": shortened(&head.plow, 60),
        "facts": facts,
        "day": head.date.map(|day| json!({ "year": day.year(), "month": day.month(), "day": day.day() })),
        "date": head.date.map_or_else(|| "date not known".to_owned(), |day| day.to_string()),
    })
}

/// At most `most` sentences; what is left out is said.
pub fn sentences(all: &[String], most: usize, characters: usize) -> Vec<String> {
    let mut shown: Vec<String> =
        all.iter().filter(|line| !line.trim().is_empty()).map(|line| shortened(line, characters)).collect();
    if shown.len() > most {
        let left_out = shown.len() - most;
        shown.truncate(most);
        shown.push(format!("… and {left_out} more: see the JSON output."));
    }
    shown
}

/// The sentences as far as `most` characters go; what is left out is said. A number of sentences would cut the
/// reservations, which stand last, from a page that had room for them.
pub fn within(all: &[String], most: usize) -> Vec<String> {
    let mut characters = 0;
    let fits = |sentence: &&String| {
        characters += sentence.chars().count().min(SENTENCE);
        characters <= most
    };
    sentences(all, all.iter().take_while(fits).count(), SENTENCE)
}

/// What to do as the template reads it.
pub fn what_to_do(all: &[WhatToDo]) -> Value {
    let one = |what: &WhatToDo| {
        json!({
            "order": shortened(&what.order, ORDER),
            "expectation": what.expectation.as_ref().map(|said| shortened(said, SENTENCE)),
        })
    };
    all.iter().filter(|what| !what.order.trim().is_empty()).take(MOST_TO_DO).map(one).collect()
}

/// The verdict as the template reads it.
pub fn verdict(verdict: &Verdict) -> Value {
    let look = match verdict.look {
        VerdictLook::Far => "far",
        VerdictLook::Leaning => "leaning",
        VerdictLook::Good => "good",
        VerdictLook::Looks => "looks",
        VerdictLook::Open => "open",
    };
    json!({
        "subject": shortened(&verdict.subject, 20),
        "word": shortened(&verdict.word, 20),
        "neighbor": verdict.neighbor.as_ref().map(|said| shortened(said, SENTENCE)),
        "look": look,
        "note": verdict.note.as_ref().map(|note| shortened(note, NOTE)),
        "reasons": within(&verdict.reasons, REASONS),
    })
}

/// A figure as it may be shown: a number that is none becomes "not shown", whoever let it through.
pub fn figure(text: &str, most: usize) -> String {
    let no_number = |word: &str| {
        let bare = word.trim_matches(|c: char| !c.is_alphanumeric());
        ["nan", "inf", "infinity"].iter().any(|bad| bare.eq_ignore_ascii_case(bad))
    };
    if text.split_whitespace().any(no_number) { "not shown".to_owned() } else { shortened(text, most) }
}

/// Rows of figures, each a list of name, value, interval, unit.
pub fn figures(rows: &[FigureRow]) -> Vec<Value> {
    rows.iter()
        .map(|row| {
            json!([
                shortened(&row.name, CELL),
                figure(&row.value, 20),
                figure(&row.interval, 32),
                shortened(&row.unit, 12)
            ])
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_no_number_is_not_shown() {
        for text in ["NaN", "-inf", "inf", "1.2 to NaN", "(−inf) to 3", "Infinity"] {
            assert_eq!(figure(text, 40), "not shown", "{text}");
        }
        for text in ["6.10", "−0.15 to −0.09", "shown to be under 20 N", "nanometre"] {
            assert_eq!(figure(text, 40), text);
        }
    }

    /// Found on a page: "… and 3 more" stood in place of what the reader had to check first.
    #[test]
    fn reasons_are_shown_as_far_as_their_place_goes() {
        let usual: Vec<String> = (0..9).map(|i| format!("{i}{}", "x".repeat(150))).collect();
        assert_eq!(within(&usual, REASONS).len(), 9);
        let long = vec!["x".repeat(400); 6];
        let shown = within(&long, REASONS);
        assert_eq!(
            (shown.len(), shown.last().map(String::as_str)),
            (5, Some("… and 2 more: see the JSON output."))
        );
    }

    #[test]
    fn lines_left_out_are_counted() {
        let all = vec!["a".to_owned(), " ".to_owned(), "b".to_owned(), "c".to_owned()];
        assert_eq!(sentences(&all, 3, 10), ["a", "b", "c"]);
        assert_eq!(sentences(&all, 1, 10), ["a", "… and 2 more: see the JSON output."]);
    }
}
