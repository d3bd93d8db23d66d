//! One page: plain data in, the bytes of a PDF or PNG out.
//!
//! Charts are drawn with plotters as SVG at the size they are printed at, text and tables are set with typst,
//! both in memory. The page is made to fit: of a row of layouts from roomy to tight, the roomiest that takes
//! one page. The same content gives the same bytes.

pub mod charts;
pub mod comparison_content;
mod comparison_page;
pub mod content;
mod data;
pub mod map_content;
pub mod plain_text;
pub mod reduce;
mod run_page;
pub mod statics_content;
mod statics_page;
mod support;
pub mod top_content;
mod top_page;
mod typeset;
pub mod wall_content;
mod wall_page;

// Under this name the tests of `analysis` read the same cases.
#[cfg(test)]
extern crate self as page;

#[cfg(test)]
mod samples;
#[cfg(test)]
mod tests;

use serde_json::Value;
use typst_layout::PagedDocument;

pub use comparison_page::render_comparison;
pub use run_page::{draft as run_draft, render_run};
pub use statics_page::{draft as statics_draft, force_diagram_svg, render_statics};
pub use top_page::{draft as top_draft, render_top, top_view_svg};
pub use typeset::width_em;
pub use wall_page::{render_wall, wall_svg};

/// Sizes of paper.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Paper {
    /// 210 mm × 297 mm (ISO 216).
    A4,
    /// 8.5 in × 11 in (ANSI/ASME Y14.1, size A).
    Letter,
}

impl Paper {
    /// Width and height, mm.
    #[must_use]
    pub fn size_mm(self) -> (f64, f64) {
        match self {
            Self::A4 => (210.0, 297.0),
            Self::Letter => (215.9, 279.4),
        }
    }
}

/// Kinds of file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Format {
    /// PDF 1.7, tagged (PDF/UA-1), typeface embedded.
    Pdf,
    /// PNG at 200 dots per inch.
    Png,
}

/// Why there is no page.
#[derive(Debug, thiserror::Error)]
pub enum PageError {
    /// The typesetter refused its input: a mistake in this program, not in the run.
    #[error("the page could not be set: {0}; please report this with the run's name")]
    Typeset(String),
    /// A chart could not be drawn.
    #[error("a chart could not be drawn: {0}; please report this with the run's name")]
    Chart(String),
    /// The content does not fit on its page even in the tightest layout.
    #[error("the content takes {found} pages where {wanted} was wanted: give it fewer rows or fewer lines")]
    PageCount {
        /// Pages it takes in the tightest layout.
        found: usize,
        /// Pages wanted.
        wanted: usize,
    },
    /// The picture could not be encoded.
    #[error("the picture could not be written: {0}")]
    Encode(String),
}

/// How many sheets a run takes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sheets {
    /// One: the plowman's half above, the engineer's below.
    One,
    /// Two: the second has the reasons, spectra and figures in full.
    Two,
}

impl Sheets {
    fn pages(self) -> usize {
        match self {
            Self::One => 1,
            Self::Two => 2,
        }
    }
}

/// Blank edge of the page left and right, mm.
const SIDE_MM: f64 = 10.0;

/// How roomy a page is laid out.
#[derive(Clone, Copy)]
pub struct Layout {
    paper: Paper,
    /// Height of charts against their plain height.
    chart_scale: f64,
    /// Size of text against its plain size.
    text_scale: f64,
}

impl Layout {
    /// From the roomiest to the tightest that can still be read.
    fn all(paper: Paper) -> Vec<Self> {
        let scales = [
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
        scales.into_iter().map(|(chart_scale, text_scale)| Self { paper, chart_scale, text_scale }).collect()
    }

    /// Width between the edges, mm.
    fn width_mm(self) -> f64 {
        self.paper.size_mm().0 - 2.0 * SIDE_MM
    }
}

/// A page laid out in one way: what the template reads, and its charts.
pub struct Draft {
    data: Value,
    /// Name and SVG of each.
    pub charts: Vec<(String, String)>,
}

/// Finds the roomiest layout that takes no more sheets than wanted, then exports it.
fn fit(
    template: &str,
    ident: &str,
    (paper, format, sheets): (Paper, Format, Sheets),
    draft: impl Fn(Layout) -> Result<Draft, PageError>,
) -> Result<Vec<u8>, PageError> {
    let made =
        roomiest_page(template, paper, sheets, draft).and_then(|page| typeset::export(&page, format, ident));
    // Typst's memory of earlier results never shrinks by itself, on the error path neither.
    typst::comemo::evict(0);
    made
}

/// Halves the list of layouts: a tighter one never takes more room, and a layout in full costs far more than
/// a guess.
pub fn roomiest_page(
    template: &str,
    paper: Paper,
    sheets: Sheets,
    draft: impl Fn(Layout) -> Result<Draft, PageError>,
) -> Result<PagedDocument, PageError> {
    let layouts = Layout::all(paper);
    let (mut too_roomy, mut fits) = (0, layouts.len());
    let (mut best, mut pages) = (None, 0);
    while let Some(&layout) = layouts.get(too_roomy..fits).and_then(|left| left.get(left.len() / 2)) {
        let tried = (too_roomy + fits) / 2;
        let document = lay_out(template, draft(layout)?)?;
        if document.pages().len() <= sheets.pages() {
            best = Some(document);
            fits = tried;
        } else {
            pages = document.pages().len();
            too_roomy = tried + 1;
        }
    }
    best.ok_or(PageError::PageCount { found: pages, wanted: sheets.pages() })
}

fn lay_out(template: &str, Draft { data, charts }: Draft) -> Result<PagedDocument, PageError> {
    let mut sheet = typeset::Sheet::new(template, include_str!("templates/parts.typ"))?;
    sheet.put("data.json", data.to_string().into_bytes())?;
    for (name, svg) in charts {
        sheet.put(&name, svg.into_bytes())?;
    }
    sheet.lay_out()
}
