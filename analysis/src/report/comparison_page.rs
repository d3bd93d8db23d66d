//! A comparison as the content of a page.

use super::words::comparison::{Headline, conclusion_words, headline, kind_of, warnings};
use crate::compare::{Comparison, ConclusionClass, FigureComparison, Layout};
use crate::report::units::Units;
use ingest::safety::CAUTIONS;
use jiff::civil::Date;
use page::comparison_content::{ComparisonContent, ComparisonRow};
use page::content::{Fact, Foot, Head};

/// The content of the page; `date` is the day of the first run, if it is known, `plow` its name.
#[must_use]
pub fn comparison_content(
    comparison: &Comparison,
    plow: &str,
    date: Option<Date>,
    units: Units,
) -> ComparisonContent {
    let Comparison { setting_a, setting_b, names_a, names_b, .. } = comparison;
    let fact = |name: &str, value: String| Fact { name: name.to_owned(), value };
    let Headline { headline, reasons } = headline(comparison, units);
    ComparisonContent {
        head: Head {
            title: format!("{setting_a} against {setting_b}"),
            plow: plow.to_owned(),
            facts: vec![
                fact("A", format!("{setting_a}, {}", passes(names_a.len()))),
                fact("B", format!("{setting_b}, {}", passes(names_b.len()))),
            ],
            date,
        },
        name_a: setting_a.clone(),
        name_b: setting_b.clone(),
        headline,
        reasons,
        rows: comparison.figures.iter().map(|figure| row(figure, units)).collect(),
        method: method(comparison),
        warnings: warnings(comparison),
        foot: Foot {
            provenance: vec![
                format!("A: {}", names_a.join(", ")),
                format!("B: {}", names_b.join(", ")),
                concat!("hitchwright ", env!("CARGO_PKG_VERSION")).to_owned(),
            ],
            safety: CAUTIONS.iter().map(|caution| (*caution).to_owned()).collect(),
        },
    }
}

fn passes(count: usize) -> String {
    if count == 1 { "1 pass".to_owned() } else { format!("{count} passes") }
}

fn row(figure: &FigureComparison, units: Units) -> ComparisonRow {
    let kind = kind_of(figure.figure);
    let p = |p: Option<f64>| match p {
        Some(p) if p < 0.001 => "under 0.001".to_owned(),
        Some(p) => format!("{p:.3}"),
        None => "not shown".to_owned(),
    };
    let effect_size = figure.effect_size.map_or("not shown".to_owned(), |g| format!("{:.1}", g.value));
    let in_units = |runs: &[f64]| runs.iter().map(|value| kind.value(*value, units)).collect();
    ComparisonRow {
        name: figure.figure.label().to_owned(),
        unit: kind.unit(units).to_owned(),
        mean_a: kind.number(figure.mean_a, units),
        mean_b: kind.number(figure.mean_b, units),
        difference: kind.number(figure.difference.value, units),
        interval: kind.interval(&figure.difference, units),
        p_t: p(figure.p_paired.or(figure.p_welch)),
        p_permutation: p(figure.p_permutation),
        effect_size,
        p_holm: p(figure.p_holm),
        conclusion: conclusion_words(figure, units),
        shown: figure.conclusion.class == ConclusionClass::Shown,
        runs_a: in_units(&figure.runs_a),
        runs_b: in_units(&figure.runs_b),
    }
}

fn method(comparison: &Comparison) -> Vec<String> {
    let tests = match comparison.layout {
        Layout::Blocks => {
            "Passes lie in blocks of two, one of each setting: paired t test, and all sign flips of the pairs."
        }
        Layout::Independent => "Welch's t test on per-run figures, and the permutation test over all splits.",
        Layout::TooFew => "Fewer than three passes of a setting: intervals come from within the runs only.",
    };
    vec![
        tests.to_owned(),
        "Holm: p adjusted for the number of figures. A difference is shown when that is under 0.05."
            .to_owned(),
        "Difference is A less B, with its 95 % interval.".to_owned(),
    ]
}
