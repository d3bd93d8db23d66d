//! Padded columns of a text for a terminal.

use std::fmt::Display;

/// Cells a space apart in columns of these widths. A width below 0 sets its cells to the right; cells without a width
/// stand as they are.
pub(super) fn row(widths: &[isize], cells: &[&dyn Display]) -> String {
    let widths = widths.iter().chain(std::iter::repeat(&0));
    let padded = cells.iter().zip(widths).map(|(cell, width)| match (*width, width.unsigned_abs()) {
        (..0, wide) => format!("{cell:>wide$}"),
        (_, wide) => format!("{cell:<wide$}"),
    });
    padded.collect::<Vec<_>>().join(" ")
}

/// Lines with their line ends.
pub(super) fn text(lines: impl IntoIterator<Item = String>) -> String {
    lines.into_iter().map(|line| line + "\n").collect()
}

/// Lines that belong to the one before them.
pub(super) fn indented(lines: impl IntoIterator<Item = impl Display>) -> impl Iterator<Item = String> {
    lines.into_iter().map(|line| format!("  {line}"))
}
