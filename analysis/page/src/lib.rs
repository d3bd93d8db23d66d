//! One page: plain data in, the bytes of a PDF or PNG out.
//!
//! Charts are drawn with plotters as SVG at the size they are printed at, text and tables are set with typst,
//! both in memory. The template reads the content as it is; the page is made to fit: of a row of spacings from roomy
//! to tight, the roomiest that takes one page. The same content gives the same bytes.
//!
//! ```
//! use page::content::{Foot, Head, TopContent};
//! use page::text::Lines;
//! use page::{Format, Paper, Sheets, render};
//! # use page::force_diagram::ScaleBar;
//! # use page::wall_content::{PlanM, TopPanel};
//! # let bar = |size| ScaleBar { size, label: size.to_string() };
//! # let at = |x_m, y_m| PlanM { x_m, y_m };
//! # let panel = TopPanel {
//! #     outlines: Vec::new(), edges: Vec::new(), pull_line: (at(0.0, 0.0), at(1.0, 0.0)), points: Vec::new(),
//! #     arrows: Vec::new(), sentences: Vec::new(), length_scale: bar(1.0), force_scale: bar(1000.0),
//! # };
//! let content = TopContent {
//!     head: Head {
//!         title: "low hole 4".into(),
//!         plow: "an invented plow".into(),
//!         facts: Vec::new(),
//!         date: Some(jiff::civil::date(2027, 4, 11)),
//!     },
//!     panel,
//!     advice: vec!["Move nothing yet: record a test pass first."].into(),
//!     reasons: Lines::default(),
//!     sections: Vec::new(),
//!     foot: Foot { provenance: Lines::default(), safety: vec!["Engine off before hands go near.".into()] },
//! };
//! let pdf = render(&content, Paper::A4, Format::Pdf, Sheets::One)?;
//! assert!(pdf.starts_with(b"%PDF-1.7"));
//! # Ok::<(), page::PageError>(())
//! ```

pub mod boxes;
pub mod chart_content;
pub mod charts;
pub mod content;
mod drawings;
pub mod force_diagram;
pub mod handbook_content;
mod layout;
pub mod measuring;
mod pages;
pub mod reduce;
pub mod text;
mod typeset;
pub mod wall_content;

pub use drawings::{force_diagram_svg, height_map_svg, top_view_svg, wall_svg};
pub use layout::{Charts, Content, LaidOut, lay_out, render};

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

/// What drawing or setting gives: mostly nothing but that it went well.
pub type Result<T = (), E = PageError> = std::result::Result<T, E>;

/// How many sheets a run takes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sheets {
    /// One: the plowman's half above, the engineer's below.
    One = 1,
    /// Two: the second has the reasons, spectra and figures in full.
    Two = 2,
}
