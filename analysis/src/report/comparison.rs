//! A comparison as text for a terminal, and as the content of a page.

use super::columns::{indented, text};
use super::foot;
use super::words::comparison::{
    Headline, conclusion_words, effect, headline, kind_of, method, method_line, sides, warnings,
};
use super::words::counted;
use crate::compare::{Comparison, ConclusionClass, FigureComparison};
use crate::report::units::{Units, signed};
use jiff::civil::Date;
use page::content::{ComparisonContent, ComparisonRow, Fact, Head};
use page::text::Figure;

/// The text of a comparison, with its line ends.
pub fn comparison_text(comparison: &Comparison, units: Units) -> String {
    let Headline { headline, reasons } = headline(comparison, units);
    let mut lines = vec![headline];
    lines.extend(indented(reasons));
    lines.push(format!("\n{}", sides(comparison)));
    lines.push("difference A − B with its 95 % interval".to_owned());
    lines.extend(indented(comparison.figures.iter().map(|figure| figure_line(figure, units))));
    lines.push(format!("method: {}", method_line(comparison)));
    lines.extend(warnings(comparison).iter().map(|warning| format!("note: {warning}")));
    text(lines)
}

fn figure_line(figure: &FigureComparison, units: Units) -> String {
    let kind = kind_of(figure.figure);
    let unit = kind.unit(units);
    let p = match figure.p_holm {
        None => String::new(),
        Some(_) => format!(", p {}", p_value(figure.p_holm)),
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

fn p_value(p: Option<f64>) -> String {
    match p {
        Some(p) if p < 0.001 => "under 0.001".to_owned(),
        Some(p) => format!("{p:.3}"),
        None => "not shown".to_owned(),
    }
}

/// The content of the page; `date` is the day of the first run, if it is known, `plow` its name.
pub fn comparison_content(
    comparison: &Comparison,
    plow: &str,
    date: Option<Date>,
    units: Units,
) -> ComparisonContent {
    let Comparison { setting_a, setting_b, names_a, names_b, .. } = comparison;
    let Headline { headline, reasons } = headline(comparison, units);
    let passes = |names: &[String]| counted(names.len(), "pass", "passes");
    ComparisonContent {
        head: Head {
            title: format!("{setting_a} against {setting_b}").into(),
            plow: plow.into(),
            facts: vec![
                Fact::new("A", format!("{setting_a}, {}", passes(names_a))),
                Fact::new("B", format!("{setting_b}, {}", passes(names_b))),
            ],
            date,
        },
        name_a: setting_a.into(),
        name_b: setting_b.into(),
        headline: headline.into(),
        reasons: reasons.into(),
        effect_name: effect(comparison).map_or("effect", |effect| effect.name).into(),
        rows: comparison.figures.iter().map(|figure| row(figure, units)).collect(),
        method: method(comparison).into(),
        warnings: warnings(comparison).into(),
        foot: foot(vec![
            format!("A: {}", names_a.join(", ")),
            format!("B: {}", names_b.join(", ")),
            concat!("hitchwright ", env!("CARGO_PKG_VERSION")).to_owned(),
        ]),
    }
}

fn row(figure: &FigureComparison, units: Units) -> ComparisonRow {
    let kind = kind_of(figure.figure);
    let p = |p: Option<f64>| -> Figure<12> { p_value(p).into() };
    let in_units = |runs: &[f64]| runs.iter().map(|value| kind.value(*value, units)).collect();
    ComparisonRow {
        name: figure.figure.label().into(),
        unit: kind.unit(units).into(),
        mean_a: kind.number(figure.mean_a, units).into(),
        mean_b: kind.number(figure.mean_b, units).into(),
        difference: kind.number(figure.difference.value, units).into(),
        interval: kind.interval(&figure.difference, units).into(),
        p_t: p(figure.p_paired.or(figure.p_welch)),
        p_permutation: p(figure.p_permutation),
        effect_size: figure.effect_size.map_or("not shown".into(), |g| signed(g.value).into()),
        effect_interval: figure
            .effect_size
            .map_or("".into(), |g| format!("{} to {}", signed(g.low), signed(g.high)).into()),
        p_holm: p(figure.p_holm),
        conclusion: conclusion_words(figure, units).into(),
        shown: figure.conclusion.class == ConclusionClass::Shown,
        runs_a: in_units(&figure.runs_a),
        runs_b: in_units(&figure.runs_b),
    }
}
