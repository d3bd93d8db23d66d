//! `describe`: a plow described by answering, one measurement at a time; and the sheet to measure it by.

mod answer;
mod dialogue;
mod drawings;
mod file;
mod kept;
mod lines;
mod more;
mod questions;
mod said;
mod shapes;
mod sheet;
mod terminal;
mod usual;

use super::args::DescribeArgs;
use super::output::{self, CommandError, Done};
use page::measuring::MeasuringContent;
use page::{Format, Paper, Sheets, render};
use shapes::{SHAPES, Shape};
use std::path::Path;

/// The measuring sheet of every kind of plow.
#[must_use]
pub fn measuring_sheet() -> MeasuringContent {
    sheet::content(&SHAPES.iter().collect::<Vec<_>>())
}

pub(super) fn describe(args: &DescribeArgs) -> Result<Done, CommandError> {
    match &args.sheet {
        Some(path) => write_sheet(path, args),
        None => dialogue::describe(args),
    }
}

/// The measuring sheet of one kind, or of each.
fn write_sheet(path: &Path, args: &DescribeArgs) -> Result<Done, CommandError> {
    output::file_for_option("--sheet", path, "pdf")?;
    let wanted = |shape: &&Shape| args.kind.as_ref().is_none_or(|name| name == shape.name);
    let shapes: Vec<&Shape> = SHAPES.iter().filter(wanted).collect();
    if shapes.is_empty() {
        let known: Vec<_> = SHAPES.iter().map(|shape| shape.name).collect();
        let kind = args.kind.as_deref().unwrap_or_default();
        return Err(CommandError::Usage(format!("--kind {kind}: one of {}", known.join(", "))));
    }
    let paper = Paper::from(args.paper);
    output::write(path, &render(&sheet::content(&shapes), paper, Format::Pdf, Sheets::One)?)?;
    Ok(Done::say(vec![format!("measuring sheet: {}", path.display())]))
}
