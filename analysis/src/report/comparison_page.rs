//! A comparison as the content of a page.

use super::words::comparison::method;
use super::words::comparison::{Headline, conclusion_words, headline, kind_of, warnings};
use crate::compare::{Comparison, ConclusionClass, FigureComparison};
use crate::report::units::Units;
use ingest::safety::CAUTIONS;
use jiff::civil::Date;
use page::comparison_content::{ComparisonContent, ComparisonRow};
use page::content::{Fact, Foot, Head};
use page::text::Figure;

/// The content of the page; `date` is the day of the first run, if it is known, `plow` its name.
pub fn comparison_content(
    comparison: &Comparison,
    plow: &str,
    date: Option<Date>,
    units: Units,
) -> ComparisonContent {
    let Comparison { setting_a, setting_b, names_a, names_b, .. } = comparison;
    let Headline { headline, reasons } = headline(comparison, units);
    ComparisonContent {
        head: Head {
            title: format!("{setting_a} against {setting_b}").into(),
            plow: plow.into(),
            facts: vec![
                Fact::new("A", format!("{setting_a}, {}", passes(names_a.len()))),
                Fact::new("B", format!("{setting_b}, {}", passes(names_b.len()))),
            ],
            date,
        },
        name_a: setting_a.into(),
        name_b: setting_b.into(),
        headline: headline.into(),
        reasons: reasons.into(),
        rows: comparison.figures.iter().map(|figure| row(figure, units)).collect(),
        method: method(comparison).into(),
        warnings: warnings(comparison).into(),
        foot: Foot {
            provenance: vec![
                format!("A: {}", names_a.join(", ")),
                format!("B: {}", names_b.join(", ")),
                concat!("hitchwright ", env!("CARGO_PKG_VERSION")).to_owned(),
            ]
            .into(),
            safety: CAUTIONS.map(Into::into).to_vec(),
        },
    }
}

fn passes(count: usize) -> String {
    if count == 1 { "1 pass".to_owned() } else { format!("{count} passes") }
}

fn row(figure: &FigureComparison, units: Units) -> ComparisonRow {
    let kind = kind_of(figure.figure);
    let p = |p: Option<f64>| -> Figure<12> {
        match p {
            Some(p) if p < 0.001 => "under 0.001".into(),
            Some(p) => format!("{p:.3}").into(),
            None => "not shown".into(),
        }
    };
    let effect_size = figure.effect_size.map_or("not shown".into(), |g| format!("{:.1}", g.value).into());
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
        effect_size,
        p_holm: p(figure.p_holm),
        conclusion: conclusion_words(figure, units).into(),
        shown: figure.conclusion.class == ConclusionClass::Shown,
        runs_a: in_units(&figure.runs_a),
        runs_b: in_units(&figure.runs_b),
    }
}
