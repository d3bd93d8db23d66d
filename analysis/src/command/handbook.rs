//! `handbook`: the book of the program, printed by it.

use super::args::HandbookArgs;
use super::output::{self, CommandError, Done};
use crate::report::handbook_content;
use ingest::plow::read_plow_text;
use ingest::quantity::Force;
use page::{Format, Sheets, render};

/// Pull that the example is drawn at, N: what the virtual plow pulls in the demo's field.
const EXAMPLE_PULL_N: f64 = 7_480.0;

pub(super) fn handbook(args: &HandbookArgs) -> Result<Done, CommandError> {
    output::file_for_option("-o", &args.output, "pdf")?;
    let plow = read_plow_text(sample_runs::plow::Plow::TWO_BOTTOM_TOML, "two-bottom.toml".as_ref())?;
    let (name, setting) = output::setting_of(&plow, "two-bottom.toml".as_ref(), "middle")?;
    let today = jiff::ZonedDateTime::now().date();
    let content = handbook_content(&plow, (name, setting), Force::from_n(EXAMPLE_PULL_N), today)?;
    output::write(&args.output, &render(&content, args.paper.into(), Format::Pdf, Sheets::One)?)?;
    Ok(Done::say(vec![format!("handbook: {}", args.output.display())]))
}
