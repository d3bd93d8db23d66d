//! The wall sheet: every force to one scale and with its name, with and without its second view.

use super::boxes::points;
use super::{PAPERS, SEED, example_plow, report};
use crate::DATE;
use analysis::report::units::Units;
use analysis::report::wall_content;
use ingest::quantity::Speed;
use ingest::safety::CAUTIONS;
use page::wall_content::WallContent;
use page::{Format, Paper, Sheets, render, wall_svg};
use statics::advice::expect;
use statics::top::report::top_report;

/// Pen of every force arrow: 3 pt, in sixteenths of a mm.
const FORCE_PEN_PX: u32 = 17;

/// Shortest arrow of a force, 8 mm, in sixteenths of a mm.
const SHORTEST_PX: f64 = 128.0;

/// What the legend says of an arrow that is not to scale.
const DRAWN_LONGER: &str = "drawn longer";

/// An example plow with a name that goes on and on; without a move and a view from above if so asked.
fn sample(moved: bool, top: bool) -> WallContent {
    let (plow, setting) = example_plow("narrow-on-wide.toml");
    let report = report(&plow, &setting);
    let (expected, speed) = (expect(&plow, &report.holes), Speed::from_mps(1.6));
    let view = top_report(&plow, &plow.settings[&setting], report.loads.pull, speed, SEED).unwrap();
    let mut content = wall_content(&plow, &report, &expected, Some(&view), DATE, Units::Us).unwrap();
    let long = "An invented plow with a name that goes on and on until nobody would paint it on a frame";
    content.title = format!("Setting: {long}").into();
    (content.plow, content.now.bottoms) = (long.into(), 7);
    let mut after = content.now.clone();
    after.tractor_hitch.z_m += 0.05;
    content.after = moved.then_some(after);
    content.top = content.top.filter(|_| top);
    content
}

/// Lengths in pixels of all force arrows, in the order drawn: a shaft with the pen of forces, and the tip of the
/// head that follows it.
fn arrows_px(svg: &str) -> Vec<f64> {
    let pen = format!("stroke=\"#191919\" stroke-width=\"{FORCE_PEN_PX}\"");
    let shafts = svg.split("<polyline").skip(1).filter(|rest| rest.split('>').next().unwrap().contains(&pen));
    let length = |shaft: &str| {
        let (from, tip) = (points(shaft, 1.0)[0], points(shaft.split("<polygon").nth(1)?, 1.0)[0]);
        Some((tip.0 - from.0).hypot(tip.1 - from.1))
    };
    shafts.filter_map(length).collect()
}

/// In the picture itself: every arrow as long as its force by the arrow of the scale, to 1 % or to a step of the
/// canvas (both ends are rounded to whole pixels).
#[test]
fn every_arrow_is_to_the_scale_that_is_drawn() {
    let content = sample(true, false);
    let svg = wall_svg(&content, Paper::A4).unwrap();
    let found = arrows_px(&svg);
    // The tail load of this plow is too short to be seen: the legend has a sign for that before the scale.
    assert!(svg.contains(DRAWN_LONGER));
    assert_eq!(found.len(), 7, "five forces, the sign of the legend and the scale: {found:?}");
    let now = &content.now;
    let forces = [&now.tail_load, &now.front_load, &now.weight, &now.soil, &now.pull];
    let per_n = found[6] / now.force_scale.size;
    for (length, arrow) in found.iter().zip(forces) {
        let wanted = (arrow.force.x_n.hypot(arrow.force.z_n) * per_n).max(SHORTEST_PX);
        assert!((length - wanted).abs() < (0.01 * wanted).max(3.0), "{}: {length} {wanted}", arrow.label);
    }
    assert!(found.iter().any(|length| *length > 300.0), "arrows to be measured: {found:?}");
}

/// Found by a plowman: the tail load of 63 lbf had a name and no arrow that could be seen.
#[test]
fn a_force_too_short_to_be_seen_is_drawn_longer_and_the_legend_says_so() {
    let mut content = sample(false, false);
    content.now.tail_load.force.z_n = 40.0;
    let svg = wall_svg(&content, Paper::A4).unwrap();
    let found = arrows_px(&svg);
    assert_eq!(found.len(), 7, "five forces, the sign of the legend and the scale: {found:?}");
    assert!((found[0] - SHORTEST_PX).abs() < 3.0 && svg.contains(DRAWN_LONGER), "{found:?}");
    content.now.tail_load.force.z_n = 0.0;
    let svg = wall_svg(&content, Paper::A4).unwrap();
    assert!(arrows_px(&svg).len() < 6 && !svg.contains(DRAWN_LONGER), "no force has no arrow");
}

#[test]
fn the_svg_names_every_force_and_says_every_caution() {
    for (moved, top) in [(false, false), (true, false), (true, true)] {
        let content = sample(moved, top);
        let svg = wall_svg(&content, Paper::A4).unwrap();
        for arrow in content.now.forces() {
            assert!(svg.contains(&arrow.label), "{}", arrow.label);
        }
        assert_eq!(svg.contains("level pull"), top);
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
    for paper in PAPERS {
        for (moved, top) in [(false, false), (true, true)] {
            let pdf = render(&sample(moved, top), paper, Format::Pdf, Sheets::One).unwrap();
            assert!(String::from_utf8_lossy(&pdf).contains("/Count 1"));
        }
    }
}

#[test]
fn forces_that_are_no_numbers_are_not_shown_and_break_nothing() {
    let mut content = sample(true, true);
    content.now.pull.force.x_n = f64::NAN;
    content.top.as_mut().unwrap().arrows[0].x_n = f64::INFINITY;
    let svg = wall_svg(&content, Paper::A4).unwrap();
    assert!(svg.contains("forces: not shown") && svg.contains("top view: not shown"));
    assert!(!svg.contains("NaN"));
}
