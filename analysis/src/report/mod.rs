//! What a summary, a comparison or a statics calculation says, as text for the terminal and as content of a
//! page. Nothing is worked out here; figures are put into the reader's units and words.

mod comparison_page;
mod comparison_text;
mod figure_rows;
mod force_diagram;
mod height_map;
mod joint_text;
mod moves_text;
mod run_charts;
mod run_page;
mod scale_bars;
mod sided;
mod statics_page;
mod statics_text;
mod summary_text;
mod top_figures;
mod top_page;
pub mod units;
mod wall;
mod wall_top;
pub mod words;

pub use comparison_page::comparison_content;
pub use comparison_text::comparison_text;
pub use height_map::map_content;
pub use joint_text::joint_text;
pub use run_page::run_content;
pub use statics_page::{statics_content, statics_diagram};
pub use statics_text::{HolesShown, statics_text};
pub use summary_text::summary_text;
pub use top_figures::top_text;
pub use top_page::{top_content, top_diagram};
pub use wall::wall_content;
pub use words::headline::verdict_line;
