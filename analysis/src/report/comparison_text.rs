//! A comparison for the terminal.

use super::words::comparison::{Headline, conclusion_words, headline, kind_of, method_in_short, warnings};
use crate::compare::{Comparison, FigureComparison};
use crate::report::units::Units;
use std::fmt::Write;

/// The text of a comparison, with its line ends.
pub fn comparison_text(comparison: &Comparison, units: Units) -> String {
    let mut text = String::new();
    let Headline { headline, reasons } = headline(comparison, units);
    let _ = writeln!(text, "{headline}");
    for reason in &reasons {
        let _ = writeln!(text, "  {reason}");
    }
    text.push('\n');
    let Comparison { setting_a, setting_b, names_a, names_b, .. } = comparison;
    let _ =
        writeln!(text, "A: {setting_a}, {}; B: {setting_b}, {}", runs(names_a.len()), runs(names_b.len()));
    let _ = writeln!(text, "difference A − B with its 95 % interval");
    for figure in &comparison.figures {
        let _ = writeln!(text, "  {}", figure_line(figure, units));
    }
    let _ = writeln!(text, "method: {}", method_in_short(&comparison.layout));
    for warning in warnings(comparison) {
        let _ = writeln!(text, "note: {warning}");
    }
    text
}

fn runs(count: usize) -> String {
    if count == 1 { "1 run".to_owned() } else { format!("{count} runs") }
}

fn figure_line(figure: &FigureComparison, units: Units) -> String {
    let kind = kind_of(figure.figure);
    let unit = kind.unit(units);
    let p = match figure.p_holm {
        None => String::new(),
        Some(p) if p < 0.001 => ", p under 0.001".to_owned(),
        Some(p) => format!(", p {p:.3}"),
    };
    format!(
        "{:<31}{:>8} vs {:>8} {unit:<4} difference {} ({}){p}: {}",
        figure.figure.label(),
        kind.number(figure.mean_a, units),
        kind.number(figure.mean_b, units),
        kind.number(figure.difference.value, units),
        kind.interval(&figure.difference, units),
        conclusion_words(figure, units)
    )
}
