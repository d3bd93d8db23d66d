//! The pages as a whole: one page each, the same bytes each time, hostile text shown and not obeyed.

use super::samples;
use super::{Format, PageError, Paper, Sheets, render_comparison, render_run, render_statics};
use crate::content::{Gauge, RunContent, WhatToDo};

const PAPERS: [Paper; 2] = [Paper::A4, Paper::Letter];

/// Number of page objects of a PDF that typst wrote: the count in its page tree.
fn page_count(pdf: &[u8]) -> usize {
    let text = String::from_utf8_lossy(pdf);
    let counts: Vec<&str> = text.split("/Count ").skip(1).collect();
    let digits: String = counts[0].chars().take_while(char::is_ascii_digit).collect();
    digits.parse().unwrap()
}

#[test]
fn every_kind_of_page_is_one_tagged_page_on_both_papers() {
    for paper in PAPERS {
        for pdf in [
            render_run(&samples::run(samples::TITLE), paper, Format::Pdf, Sheets::One).unwrap(),
            render_run(&samples::hardest(), paper, Format::Pdf, Sheets::One).unwrap(),
            render_comparison(&samples::comparison(), paper, Format::Pdf).unwrap(),
            render_statics(&samples::statics(), paper, Format::Pdf).unwrap(),
        ] {
            assert!(pdf.starts_with(b"%PDF-1.7"));
            assert_eq!(page_count(&pdf), 1);
            assert!(String::from_utf8_lossy(&pdf).contains("/StructTreeRoot"));
        }
    }
}

/// Letters with their size in points, of everything that typst set (charts are pictures, and are left out).
fn letters(frame: &typst::layout::Frame, all: &mut Vec<(String, f64)>) {
    for (_, item) in frame.items() {
        match item {
            typst::layout::FrameItem::Group(group) => letters(&group.frame, all),
            typst::layout::FrameItem::Text(text) => all.push((text.text.to_string(), text.size.to_pt())),
            _ => {}
        }
    }
}

/// Found on all pages: the cautions were set smaller than anything else.
#[test]
fn the_cautions_are_no_smaller_than_the_text() {
    let content = samples::run(samples::TITLE);
    let mut all = Vec::new();
    let layouts = super::Layout::all(Paper::A4);
    let draft = super::run_page::draft(&content, layouts[0], Sheets::One).unwrap();
    let page = super::lay_out(include_str!("templates/run.typ"), draft).unwrap();
    // The roomiest layout may run on to a second page.
    page.pages().iter().for_each(|page| letters(&page.frame, &mut all));
    let size_of = |words: &str| {
        let found = all.iter().find(|(text, _)| text.contains(words));
        found.unwrap_or_else(|| panic!("{words} is not in {all:?}")).1
    };
    // The first caution, against what is to be relied on and the table of figures.
    let caution = size_of("Nobody rides");
    let relied_on: Vec<&str> = content.cautions[0].split_whitespace().take(3).collect();
    assert!(caution >= size_of(&relied_on.join(" ")), "{caution} pt");
    assert!(caution >= size_of("interval"), "{caution} pt");
}

#[test]
fn the_same_content_gives_the_same_bytes() {
    for format in [Format::Pdf, Format::Png] {
        let make = || render_run(&samples::run(samples::TITLE), Paper::A4, format, Sheets::One).unwrap();
        assert!(make() == make());
    }
}

#[test]
fn another_day_gives_another_document() {
    let first = samples::run(samples::TITLE);
    let mut second = first.clone();
    second.head.date = Some(jiff::civil::date(2027, 4, 12));
    let make = |content: &RunContent| render_run(content, Paper::A4, Format::Pdf, Sheets::One).unwrap();
    assert!(make(&first) != make(&second));
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
    let all: Vec<String> = hostile.iter().map(|s| (*s).to_owned()).collect();
    // A page takes a while in a build that is not optimised: the strings share three pages, each the title of
    // one.
    for texts in hostile.chunks(3) {
        let mut content = samples::run(texts[0]);
        content.head.plow = texts[1].to_owned();
        for (fact, text) in content.head.facts.iter_mut().zip(hostile) {
            fact.value = text.to_owned();
        }
        content.verdict.reasons = all.clone();
        let to_do = |text: &String| WhatToDo { order: text.clone(), expectation: Some(text.clone()) };
        content.advice = all.iter().rev().map(to_do).collect();
        for (figure, text) in content.figures.iter_mut().zip(hostile) {
            figure.name = text.to_owned();
        }
        content.foot.provenance = all.clone();
        if let Some(diagram) = &mut content.forces {
            diagram.pull.label = texts[2].to_owned();
        }
        let pdf = render_run(&content, Paper::A4, Format::Pdf, Sheets::One).unwrap();
        assert_eq!(page_count(&pdf), 1, "{texts:?}");
    }
}

#[test]
fn nothing_to_show_is_still_a_page() {
    let mut content = samples::run("");
    content.head.facts.clear();
    content.verdict.reasons.clear();
    content.gauge = Some(Gauge {
        value: f64::NAN,
        low: f64::NAN,
        high: f64::NAN,
        balanced: 0.25,
        leaning: 0.6,
        front: "front wheels",
        tail: "tail wheel",
        set_aside: false,
    });
    (content.forces, content.depth, content.tail_load) = (None, None, None);
    (content.spectrum, content.pull_tail) = (None, None);
    content.figures.clear();
    content.advice.clear();
    for lines in [&mut content.quality, &mut content.cautions] {
        lines.clear();
    }
    content.foot.provenance.clear();
    assert_eq!(page_count(&render_run(&content, Paper::Letter, Format::Pdf, Sheets::One).unwrap()), 1);
}

#[test]
fn more_rows_than_a_page_holds_is_an_error_not_a_second_page() {
    let mut content = samples::run(samples::TITLE);
    content.figures = std::iter::repeat_n(samples::figures(), 20).flatten().collect();
    let refused = render_run(&content, Paper::A4, Format::Pdf, Sheets::One);
    assert!(
        matches!(refused, Err(PageError::PageCount { found, wanted: 1 }) if found > 1),
        "{:?}",
        refused.err()
    );
}

#[test]
fn a_png_has_the_shape_of_its_paper() {
    for paper in PAPERS {
        let png = render_comparison(&samples::comparison(), paper, Format::Png).unwrap();
        assert!(png.starts_with(b"\x89PNG"));
        let number = |at: usize| f64::from(u32::from_be_bytes(png[at..at + 4].try_into().unwrap()));
        let (width_mm, height_mm) = paper.size_mm();
        assert!((number(16) / number(20) - width_mm / height_mm).abs() < 1e-3);
    }
}
