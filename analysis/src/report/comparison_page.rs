//! A comparison as the content of a page.

use super::figure_rows::Kind;
use crate::compare::{Better, ComparedFigure, Comparison, ConclusionClass, FigureComparison, Layout};
use crate::page::comparison_content::{ComparisonContent, ComparisonRow};
use crate::page::content::{Fact, Foot, Head};
use crate::units_out::Units;
use ingest::safety::CAUTIONS;
use jiff::civil::Date;

/// How a figure is shown.
pub(super) fn kind_of(figure: ComparedFigure) -> Kind {
    match figure {
        ComparedFigure::DepthSdMm | ComparedFigure::DepthMeanMm => Kind::SmallLength,
        ComparedFigure::TailCv => Kind::Number,
        ComparedFigure::LiftedShare => Kind::Share,
        ComparedFigure::BobbingRmsN | ComparedFigure::TailMeanN | ComparedFigure::PullMeanN => Kind::Force,
    }
}

/// The conclusion in words; a bound carries its unit.
pub(super) fn conclusion_words(figure: &FigureComparison, units: Units) -> String {
    match (figure.conclusion.class, figure.conclusion.under) {
        (ConclusionClass::Shown, _) => "shown".to_owned(),
        (ConclusionClass::ShownToBeUnder, Some(bound)) => {
            let kind = kind_of(figure.figure);
            format!("shown to be under {} {}", kind.number(bound, units), kind.unit(units)).trim().to_owned()
        }
        _ => "not shown".to_owned(),
    }
}

/// The content of the page; `date` is the day of the first run, `plow` its name.
#[must_use]
pub fn comparison_content(
    comparison: &Comparison,
    plow: &str,
    date: Date,
    units: Units,
) -> ComparisonContent {
    let Comparison { setting_a, setting_b, names_a, names_b, .. } = comparison;
    let fact = |name: &str, value: String| Fact { name: name.to_owned(), value };
    let (headline, reasons) = headline(comparison, units);
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
        warnings: comparison.warnings.clone(),
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

fn headline(comparison: &Comparison, units: Units) -> (String, Vec<String>) {
    let shown: Vec<&FigureComparison> = comparison
        .figures
        .iter()
        .filter(|figure| figure.conclusion.class == ConclusionClass::Shown)
        .filter(|figure| figure.figure.better() == Better::Lower)
        .collect();
    let lower_in_a = shown.iter().filter(|figure| figure.difference.value < 0.0).count();
    let headline = match (lower_in_a, shown.len()) {
        (_, 0) => "no difference shown",
        (a, all) if a == all => "A runs steadier",
        (0, _) => "B runs steadier",
        _ => "each is better at something",
    };
    let reason = |figure: &&FigureComparison| {
        let kind = kind_of(figure.figure);
        let (less, more) = if figure.difference.value < 0.0 { ("A", "B") } else { ("B", "A") };
        let size = figure.difference.map(f64::abs).unwrap_or(figure.difference);
        format!(
            "{}: {less} has {} {} less than {more} ({})",
            figure.figure.name(),
            kind.number(size.value, units),
            kind.unit(units),
            kind.interval(&size, units)
        )
    };
    let mut reasons: Vec<String> = shown.iter().map(reason).collect();
    if reasons.is_empty() {
        reasons.push(
            match comparison.layout {
                Layout::TooFew => {
                    "With fewer than three passes of a setting no difference can be shown: the field's own \
                     variation from pass to pass is not known."
                }
                _ => "No figure is shown to differ by more than the field's own variation from pass to pass.",
            }
            .to_owned(),
        );
    }
    (headline.to_owned(), reasons)
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
        name: figure.figure.name().to_owned(),
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
