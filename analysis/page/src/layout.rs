//! The content of a page as a template gets it, and the roomiest spacing in which it fits.

use std::collections::BTreeMap;

use serde::Serialize;
use typst_layout::PagedDocument;

use super::boxes::{InkBox, boxes_of};
use super::chart_content::Gauge;
use super::charts::{Size, forces, gauge};
use super::force_diagram::ForceDiagram;
use super::text::Text;
use super::{Format, PageError, Paper, Result, Sheets, typeset};

/// Blank edge of the page left and right, mm.
const SIDE_MM: f64 = 10.0;
/// How much larger charts of the plowman's half are set than they are drawn.
const ENLARGED: f64 = 1.35;
/// Pages after which typst forgets what it did not need again.
const REMEMBERED: usize = 30;
/// Height of charts against their plain height, and size of text against its plain size: from the roomiest to the
/// tightest that can still be read.
const SPACINGS: [(f64, f64); 16] = [
    (1.35, 1.0),
    (1.25, 1.0),
    (1.15, 1.0),
    (1.07, 1.0),
    (1.0, 1.0),
    (0.94, 1.0),
    (0.88, 1.0),
    (0.88, 0.95),
    (0.84, 0.91),
    (0.8, 0.87),
    (0.76, 0.83),
    (0.72, 0.79),
    (0.7, 0.75),
    (0.68, 0.7),
    (0.62, 0.64),
    (0.56, 0.58),
];

/// The spacing of a book.
const PLAIN: (f64, f64) = (1.0, 1.0);

/// What can be set as a page: its template reads it, serialized, as it is.
pub trait Content: Serialize {
    /// The template.
    const TEMPLATE: &'static str;
    /// Further sources that it imports by name, besides `parts.typ`.
    const CHAPTERS: &'static [(&'static str, &'static str)] = &[];

    /// What the document is known by: contents that differ in it are different documents.
    fn ident(&self) -> String;

    /// How many sheets it has to fit on where so many are asked for; `None` for a book, which takes as many as it takes
    /// in the plain spacing.
    fn sheets(&self, asked: Sheets) -> Option<usize> {
        Some(asked as usize)
    }

    /// Draws the charts that the template asks for by name.
    ///
    /// # Errors
    /// [`PageError::Chart`] if one cannot be drawn.
    fn draw(&self, charts: &mut Charts) -> Result;
}

/// What a template reads.
#[derive(Serialize)]
struct Data<'a, C> {
    page: Measures,
    charts: &'a BTreeMap<String, Chart>,
    #[serde(flatten)]
    content: &'a C,
}

#[derive(Serialize)]
struct Measures {
    width_mm: f64,
    height_mm: f64,
    side_mm: f64,
    text_scale: f64,
    sheets: usize,
}

/// A chart as a template finds it.
#[derive(Serialize)]
struct Chart {
    file: String,
    width_mm: f64,
    /// What stands for it where it cannot be seen.
    alt: Text<420>,
}

/// The charts of a page in one spacing.
pub struct Charts {
    pub(super) paper: Paper,
    pub(super) sheets: Sheets,
    chart_scale: f64,
    placed: BTreeMap<String, Chart>,
    files: Vec<(String, String)>,
}

impl Charts {
    /// Adds a chart, with the text that stands for it.
    pub(super) fn put(&mut self, name: &str, size: Size, alt: &str, svg: String) {
        let file = format!("{name}.svg");
        let chart = Chart { file: file.clone(), width_mm: size.width_mm, alt: alt.into() };
        self.placed.insert(name.to_owned(), chart);
        self.files.push((file, svg));
    }

    /// Adds the balance gauge. It keeps its height in every spacing: it carries the verdict.
    pub(super) fn gauge(&mut self, content: Option<&Gauge>, alt: &str) -> Result {
        let size = Size { height_mm: 27.0, ..self.size(0.655, 0.0) };
        self.put("gauge", size, alt, gauge::draw(content, small(size))?);
        Ok(())
    }

    /// Adds the picture of the forces.
    pub(super) fn forces(&mut self, content: Option<&ForceDiagram>, alt: &str) -> Result {
        let size = self.size(0.64, 62.0);
        self.put("forces", size, alt, forces::draw(content, small(size))?);
        Ok(())
    }

    /// Size of a chart over a share of the width between the edges, with `height_mm` in the plain spacing.
    pub(super) fn size(&self, share: f64, height_mm: f64) -> Size {
        let width_mm = self.paper.size_mm().0 - 2.0 * SIDE_MM;
        Size { width_mm: width_mm * share, height_mm: height_mm * self.chart_scale }
    }
}

/// The size that a chart is drawn at which is set large, so that its letters can be read from two meters.
fn small(size: Size) -> Size {
    Size { width_mm: size.width_mm / ENLARGED, height_mm: size.height_mm / ENLARGED }
}

/// A page laid out: what is on it, without the bytes of a file.
#[derive(Clone, Debug)]
pub struct LaidOut {
    /// Of each sheet, everything that typst set.
    pub sheets: Vec<Vec<InkBox>>,
    /// Name and SVG of every chart, in every spacing that was tried.
    pub charts: Vec<(String, String)>,
}

/// Makes the page of a content, or its book.
///
/// # Errors
/// [`PageError`]: what could not be drawn or set, or that the content does not fit on its sheets.
pub fn render<C: Content>(content: &C, paper: Paper, format: Format, sheets: Sheets) -> Result<Vec<u8>> {
    let made = roomiest_page(content, paper, sheets, |_| ())
        .and_then(|page| typeset::export(&page, format, &content.ident()));
    // Typst's memory of earlier results never shrinks by itself, on the error path neither.
    typst::comemo::evict(0);
    made
}

/// Lays the page of a content out as [`render`] does, and says where everything is, for checks.
///
/// # Errors
/// As [`render`].
pub fn lay_out<C: Content>(content: &C, paper: Paper, sheets: Sheets) -> Result<LaidOut> {
    let mut charts = Vec::new();
    let document = roomiest_page(content, paper, sheets, |tried| charts.extend_from_slice(tried));
    typst::comemo::evict(REMEMBERED);
    let sheets = document?.pages().iter().map(|page| boxes_of(&page.frame)).collect();
    Ok(LaidOut { sheets, charts })
}

/// Halves the list of spacings: a tighter one never takes more room, and setting a page costs far more than a guess.
fn roomiest_page<C: Content>(
    content: &C,
    paper: Paper,
    sheets: Sheets,
    mut drawn: impl FnMut(&[(String, String)]),
) -> Result<PagedDocument> {
    let Some(wanted) = content.sheets(sheets) else {
        return set(content, paper, sheets, PLAIN, &mut drawn);
    };
    let (mut too_roomy, mut fits) = (0, SPACINGS.len());
    let (mut best, mut pages) = (None, 0);
    while let Some(&spacing) = SPACINGS.get(too_roomy..fits).and_then(|left| left.get(left.len() / 2)) {
        let tried = (too_roomy + fits) / 2;
        let document = set(content, paper, sheets, spacing, &mut drawn)?;
        if document.pages().len() <= wanted {
            best = Some(document);
            fits = tried;
        } else {
            pages = document.pages().len();
            too_roomy = tried + 1;
        }
    }
    best.ok_or(PageError::PageCount { found: pages, wanted })
}

/// Sets the content in one spacing, on as many sheets as it takes.
fn set<C: Content>(
    content: &C,
    paper: Paper,
    sheets: Sheets,
    (chart_scale, text_scale): (f64, f64),
    drawn: &mut impl FnMut(&[(String, String)]),
) -> Result<PagedDocument> {
    let mut charts = Charts { paper, sheets, chart_scale, placed: BTreeMap::new(), files: Vec::new() };
    content.draw(&mut charts)?;
    drawn(&charts.files);
    let (width_mm, height_mm) = paper.size_mm();
    let page = Measures { width_mm, height_mm, side_mm: SIDE_MM, text_scale, sheets: sheets as usize };
    let data = serde_json::to_vec(&Data { page, charts: &charts.placed, content })
        .map_err(|error| PageError::Typeset(error.to_string()))?;
    let parts = ("parts.typ", include_str!("templates/parts.typ"));
    let mut sheet = typeset::Sheet::new(C::TEMPLATE, &[&[parts], C::CHAPTERS].concat())?;
    sheet.put("data.json", data)?;
    for (name, svg) in charts.files {
        sheet.put(&name, svg.into_bytes())?;
    }
    sheet.lay_out()
}
