//! What a summary, a comparison or a statics calculation says, as text for the terminal and as content of a
//! page. Nothing is worked out here; figures are put into the reader's units and words.

use ingest::safety::CAUTIONS;
use page::content::Foot;
use page::text::Lines;

mod brief;
mod columns;
mod comparison;
mod figure_rows;
mod force_diagram;
mod handbook;
mod joint_text;
mod run_charts;
mod run_page;
mod statics_page;
mod statics_text;
mod summary_text;
mod top;
pub mod units;
mod wall;
pub mod words;

pub use brief::{Brief, InBothUnits};
pub use comparison::{comparison_content, comparison_text};
pub use handbook::handbook_content;
pub use joint_text::joint_text;
pub use run_page::run_content;
pub use statics_page::{map_content, statics_content, statics_diagram};
pub use statics_text::{HolesShown, statics_text};
pub use summary_text::summary_text;
pub use top::{top_content, top_diagram, top_text};
pub use wall::wall_content;
pub use words::headline::verdict_line;

/// The bottom of a page: where its figures come from, and the safety sentences.
fn foot(provenance: impl Into<Lines<5>>) -> Foot {
    Foot { provenance: provenance.into(), safety: CAUTIONS.map(Into::into).to_vec() }
}
