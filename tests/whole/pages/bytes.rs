//! The pages as a whole: one page each, the same bytes each time, hostile text shown and not obeyed.

use super::{PAPERS, example_plow, report, stored_run};
use crate::DATE;
use analysis::report::statics_content;
use analysis::report::units::Units;
use page::chart_content::{Gauge, Trace};

use page::content::{ComparisonContent, ComparisonRow, Fact, RunContent, Verdict, VerdictLook, WhatToDo};
use page::{Content, Format, PageError, Paper, Sheets, lay_out, render};
use statics::advice::expect;
use std::sync::LazyLock;

/// Number of page objects of a PDF that typst wrote: the count in its page tree.
fn page_count(pdf: &[u8]) -> usize {
    let text = String::from_utf8_lossy(pdf);
    let counts: Vec<&str> = text.split("/Count ").skip(1).collect();
    let digits: String = counts[0].chars().take_while(char::is_ascii_digit).collect();
    digits.parse().unwrap()
}

fn made(content: &impl Content, paper: Paper, format: Format) -> Vec<u8> {
    render(content, paper, format, Sheets::One).unwrap()
}

fn run() -> RunContent {
    stored_run(Units::Si)
}

/// Its page on A4, set once for all tests that look at it.
static RUN_PDF: LazyLock<Vec<u8>> = LazyLock::new(|| made(&run(), Paper::A4, Format::Pdf));
static RUN_PNG: LazyLock<Vec<u8>> = LazyLock::new(|| made(&run(), Paper::A4, Format::Png));

/// Names and notes as long as anyone may write them, everything that can be missing missing.
fn hardest() -> RunContent {
    let long = "the setting with the long name that somebody typed without thinking of the page ".repeat(4);
    let unbroken = "Donaudampfschiff".repeat(20);
    let mut content = run();
    content.head.title = (&long).into();
    content.head.plow = (&unbroken).into();
    content.head.facts.extend([Fact::new("note", &long), Fact::new("weather", &unbroken)]);
    content.verdict = Verdict {
        subject: "line of pull".into(),
        word: "leaning steep".into(),
        look: VerdictLook::Open,
        neighbor: Some((&long).into()),
        note: Some((&long).into()),
        reasons: vec![&long; 9].into(),
    };
    (content.gauge, content.forces, content.pull_tail) = (None, None, None);
    content.spectrum.as_mut().unwrap().bobbing = None;
    let depth = content.depth.as_mut().unwrap();
    let gaps = depth.traces.iter().flat_map(|trace| {
        // A gap after every 70 readings.
        let pieces = trace.t_s.chunks(100).zip(trace.values.chunks(100));
        pieces
            .map(|(t_s, values)| (t_s[..t_s.len().min(70)].to_vec(), values[..values.len().min(70)].to_vec()))
    });
    depth.traces = gaps.map(|(t_s, values)| Trace { t_s, values }).collect();
    // As many rows as a run has that is without speed, distance and further modes.
    content.figures.truncate(25);
    for row in content.figures.iter_mut().take(6) {
        row.name = (&unbroken).into();
        (row.value, row.interval) = ("not shown".into(), "not shown".into());
    }
    let to_do = |order: &String| WhatToDo { order: order.into(), expectation: Some((&long).into()) };
    content.advice = [&long, &unbroken, &long, &long, &long].map(to_do).to_vec();
    content.causes = vec![&long, &unbroken, &long].into();
    content.quality = vec![&long; 7].into();
    content.cautions = vec![&unbroken, &long, &long].into();
    content.foot.provenance = vec![&long, &unbroken].into();
    content
}

/// Invented: five runs of each setting.
fn comparison() -> ComparisonContent {
    let row = |name: &str, a: f64, b: f64, shown: bool| ComparisonRow {
        name: name.into(),
        unit: "N".into(),
        mean_a: a.to_string().into(),
        mean_b: b.to_string().into(),
        difference: (a - b).to_string().into(),
        interval: "57 to 111".into(),
        p_t: "0.003".into(),
        p_permutation: "0.008".into(),
        effect_size: "+1.92".into(),
        effect_interval: "+0.14 to +3.61".into(),
        p_holm: "0.024".into(),
        conclusion: if shown { "shown" } else { "not shown" }.into(),
        shown,
        runs_a: (0..5).map(|i| a + 9.0 * f64::from(i)).collect(),
        runs_b: (0..5).map(|i| b - 4.0 * f64::from(i)).collect(),
    };
    let RunContent { head, foot, cautions, .. } = run();
    let said: Vec<&str> = cautions.iter().map(|line| &**line).collect();
    ComparisonContent {
        head,
        name_a: "low hole 4".into(),
        name_b: "low hole 2".into(),
        headline: "low hole 2 bobs less".into(),
        effect_name: "Hedges g_z".into(),
        reasons: said.clone().into(),
        rows: [640.0, 198.0, 180.0, 6100.0].map(|a| row("tail load, mean", a, 0.8 * a, a < 200.0)).to_vec(),
        method: said.clone().into(),
        warnings: said.into(),
        foot,
    }
}

#[test]
fn every_kind_of_page_is_one_tagged_page_on_both_papers() {
    let (plow, setting) = example_plow("two-bottom.toml");
    let report = report(&plow, &setting);
    let statics = statics_content(&plow, &report, &expect(&plow, &report.holes), DATE, Units::Si);
    for paper in PAPERS {
        let of_run = if paper == Paper::A4 { RUN_PDF.clone() } else { made(&run(), paper, Format::Pdf) };
        for pdf in [
            of_run,
            made(&hardest(), paper, Format::Pdf),
            made(&comparison(), paper, Format::Pdf),
            made(&statics, paper, Format::Pdf),
        ] {
            assert!(pdf.starts_with(b"%PDF-1.7"));
            assert_eq!(page_count(&pdf), 1);
            assert!(String::from_utf8_lossy(&pdf).contains("/StructTreeRoot"));
        }
    }
}

/// Found on all pages: the cautions were set smaller than anything else.
#[test]
fn the_cautions_are_no_smaller_than_the_text() {
    let content = run();
    let page = lay_out(&content, Paper::A4, Sheets::One).unwrap();
    let size_of = |words: &str| {
        let found = page.sheets[0].iter().find(|text| text.what.contains(words));
        found.unwrap_or_else(|| panic!("{words} is not in {page:?}")).size
    };
    // The first caution, against what is to be relied on and the table of figures.
    let caution = size_of("Nobody rides");
    let relied_on: Vec<&str> = content.cautions[0].split_whitespace().take(3).collect();
    assert!(caution >= size_of(&relied_on.join(" ")), "{caution} pt");
    assert!(caution >= size_of("interval"), "{caution} pt");
}

#[test]
fn the_same_content_gives_the_same_bytes() {
    assert!(*RUN_PDF == made(&run(), Paper::A4, Format::Pdf));
    assert!(*RUN_PNG == made(&run(), Paper::A4, Format::Png));
}

#[test]
fn another_day_gives_another_document() {
    let mut content = run();
    content.head.date = Some(jiff::civil::date(2027, 4, 12));
    assert!(*RUN_PDF != made(&content, Paper::A4, Format::Pdf));
}

#[test]
fn hostile_text_makes_a_page_all_the_same() {
    let hostile = [
        "#read(\"/etc/passwd\")",
        "#import \"@preview/x:1.0.0\": *",
        "<script>alert(1)</script>",
        "$ \\ * _ ` ~ @ # [ ] { } // /* */ \u{1F69C}\u{1F33E}",
        "\u{1b}[2J\u{7}\u{0}\u{202e}drawkcab",
        "",
        "../../x",
        "=1+1",
        "\u{4e2d}\u{6587}\u{5b57}",
    ];
    // A page takes a while in a build that is not optimised: the strings share three pages, each the title of
    // one.
    for texts in hostile.chunks(3) {
        let mut content = run();
        content.head.title = texts[0].into();
        content.head.plow = texts[1].into();
        for (fact, text) in content.head.facts.iter_mut().zip(hostile) {
            fact.value = text.into();
        }
        content.verdict.reasons = hostile.to_vec().into();
        let to_do = |text: &str| WhatToDo { order: text.into(), expectation: Some(text.into()) };
        content.advice = hostile.into_iter().rev().map(to_do).collect();
        for (figure, text) in content.figures.iter_mut().zip(hostile) {
            figure.name = text.into();
        }
        content.foot.provenance = hostile.to_vec().into();
        if let Some(diagram) = &mut content.forces {
            diagram.pull.label = texts[2].to_owned();
        }
        let pdf = made(&content, Paper::A4, Format::Pdf);
        assert_eq!(page_count(&pdf), 1, "{texts:?}");
    }
}

#[test]
fn nothing_to_show_is_still_a_page() {
    let mut content = run();
    content.head.title = "".into();
    content.head.facts.clear();
    content.verdict.reasons = Default::default();
    let none = f64::NAN;
    content.gauge = content.gauge.map(|gauge| Gauge { value: none, low: none, high: none, ..gauge });
    (content.forces, content.depth, content.tail_load) = (None, None, None);
    (content.spectrum, content.pull_tail) = (None, None);
    content.figures.clear();
    content.advice.clear();
    (content.quality, content.cautions) = Default::default();
    content.foot.provenance = Default::default();
    assert_eq!(page_count(&made(&content, Paper::Letter, Format::Pdf)), 1);
}

#[test]
fn more_rows_than_a_page_holds_is_an_error_not_a_second_page() {
    let mut content = run();
    content.figures = std::iter::repeat_n(content.figures, 10).flatten().collect();
    let refused = render(&content, Paper::A4, Format::Pdf, Sheets::One);
    let is_page_count = matches!(refused, Err(PageError::PageCount { found, wanted: 1 }) if found > 1);
    assert!(is_page_count, "{:?}", refused.err());
}

#[test]
fn a_png_has_the_shape_of_its_paper() {
    let letter = made(&comparison(), Paper::Letter, Format::Png);
    for (paper, png) in [(Paper::A4, &*RUN_PNG), (Paper::Letter, &letter)] {
        assert!(png.starts_with(b"\x89PNG"));
        let number = |at: usize| f64::from(u32::from_be_bytes(png[at..at + 4].try_into().unwrap()));
        let (width_mm, height_mm) = paper.size_mm();
        assert!((number(16) / number(20) - width_mm / height_mm).abs() < 1e-3);
    }
}
