//! The sheet: every force to one scale and with its name, with and without its second view.

use super::draw;
use crate::charts::Size;
use crate::charts::canvas::PX_PER_MM;
use crate::content::ScaleBar;
use crate::samples;
use crate::wall_content::{BeforeAfter, PlanArrow, PlanM, TopPanel, WallContent};
use crate::{Format, Paper, render_wall, wall_svg};
use ingest::safety::CAUTIONS;

const SIZE: Size = Size { width_mm: 297.0, height_mm: 210.0 };

fn sample(moved: bool, top: bool) -> WallContent {
    let now = samples::statics().forces.unwrap();
    let mut after = now.clone();
    after.tractor_hitch.z_m += 0.05;
    let row =
        |name: &str| BeforeAfter { name: name.into(), now: "12345 lbf".into(), after: "12345 lbf".into() };
    let long = "An invented plow with a name that goes on and on until nobody would paint it on a frame";
    WallContent {
        title: format!("Setting: {long}"),
        plow: long.into(),
        facts: format!("walking plow, sharp shares, {long}"),
        now,
        after: moved.then_some(after),
        bottoms: 7,
        what_moves: format!("Move: tractor end 3 holes up, {long}"),
        figures: ["rolling-landside load", "load on the point", "e", "b"].map(row).to_vec(),
        top: top.then(panel),
        safety: CAUTIONS.iter().map(|caution| (*caution).to_owned()).collect(),
        provenance: "sample".into(),
    }
}

fn panel() -> TopPanel {
    let at = |x_m, y_m| PlanM { x_m, y_m };
    let arrow = |at, x_n, y_n, label: &str| PlanArrow { at, x_n, y_n, label: label.into() };
    TopPanel {
        outlines: vec![vec![at(-1.5, 0.5), at(0.0, 0.5), at(0.0, -0.5)]],
        edges: vec![(0.5, "furrow wall".into())],
        pull_line: (at(-0.8, 0.1), at(2.5, -0.2)),
        points: vec![(at(1.2, 0.0), "pin".into())],
        arrows: vec![
            arrow(at(1.2, 0.0), 6000.0, -500.0, "pull from above"),
            arrow(at(-0.8, 0.1), -6000.0, 500.0, "soil from above"),
        ],
        sentences: vec![
            "Pin 10 mm to the left.".into(),
            "A long sentence that takes more than a line. ".repeat(3),
        ],
        length_scale: ScaleBar { size: 0.5, label: "0.5 m".into() },
        force_scale: ScaleBar { size: 2000.0, label: "2 kN".into() },
    }
}

fn numbers(text: &str) -> Vec<f64> {
    text.split([',', ' ']).filter(|t| !t.is_empty()).map(|t| t.parse().unwrap()).collect()
}

/// Lengths in pixels of all force arrows, in the order drawn: a shaft with the pen of forces, and the tip of the
/// head that follows it.
fn arrows_px(svg: &str) -> Vec<f64> {
    let width = (super::pieces::ARROW.1 * 25.4 / 72.0 * PX_PER_MM).round();
    let shaft = format!("stroke=\"#191919\" stroke-width=\"{width}\" points=\"");
    let mut found = Vec::new();
    for rest in svg.split(&shaft).skip(1) {
        let from = numbers(rest.split('"').next().unwrap());
        let Some(head) = rest.split("<polygon").nth(1) else { continue };
        let tip = numbers(head.split("points=\"").nth(1).unwrap().split('"').next().unwrap());
        found.push((tip[0] - from[0]).hypot(tip[1] - from[1]));
    }
    found
}

/// In the picture itself: every arrow as long as its force by the arrow of the scale, to 1 % or to a step of the
/// canvas (both ends are rounded to whole pixels).
#[test]
fn every_arrow_is_to_the_scale_that_is_drawn() {
    let content = sample(true, false);
    let found = arrows_px(&draw(&content, SIZE).unwrap());
    assert_eq!(found.len(), 6, "five forces and the scale: {found:?}");
    let now = &content.now;
    let forces = [&now.tail_load, &now.front_load, &now.weight, &now.soil, &now.pull];
    let per_n = found[5] / now.force_scale.size;
    for (length, arrow) in found.iter().zip(forces) {
        let wanted = arrow.force.x_n.hypot(arrow.force.z_n) * per_n;
        assert!((length - wanted).abs() < (0.01 * wanted).max(3.0), "{}: {length} {wanted}", arrow.label);
    }
    assert!(found.iter().any(|length| *length > 300.0), "arrows to be measured: {found:?}");
}

#[test]
fn the_svg_names_every_force_and_says_every_caution() {
    for (moved, top) in [(false, false), (true, false), (true, true)] {
        let content = sample(moved, top);
        let svg = wall_svg(&content, Paper::A4).unwrap();
        for arrow in content.forces() {
            assert!(svg.contains(&arrow.label), "{}", arrow.label);
        }
        assert_eq!(svg.contains("pull from above"), top);
        assert_eq!(svg.contains("line of pull after the move"), moved);
        let words: Vec<&str> = svg.split(['\n', '<', '>']).flat_map(str::split_whitespace).collect();
        for word in CAUTIONS.iter().flat_map(|caution| caution.split_whitespace()) {
            assert!(words.contains(&word) || word.contains('\''), "{word}");
        }
        assert!(!svg.contains("NaN") && !svg.contains("inf\""));
    }
}

/// The typesetter reads the SVG strictly: a page is proof that it is well formed.
#[test]
fn with_and_without_its_parts_it_is_one_page_on_both_papers() {
    let day = jiff::civil::date(2027, 4, 12);
    for paper in [Paper::A4, Paper::Letter] {
        for (moved, top) in [(false, false), (true, true)] {
            let pdf = render_wall(&sample(moved, top), day, paper, Format::Pdf).unwrap();
            assert!(String::from_utf8_lossy(&pdf).contains("/Count 1"));
        }
    }
}

#[test]
fn forces_that_are_no_numbers_are_not_shown_and_break_nothing() {
    let mut content = sample(true, true);
    content.now.pull.force.x_n = f64::NAN;
    content.top.as_mut().unwrap().arrows[0].x_n = f64::INFINITY;
    let svg = draw(&content, SIZE).unwrap();
    assert!(svg.contains("forces: not shown") && svg.contains("top view: not shown"));
    assert!(!svg.contains("NaN"));
}
