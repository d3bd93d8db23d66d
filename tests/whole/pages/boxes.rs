//! What is wrong with the boxes of everything that is written on a page or in a chart.

use page::boxes::{InkBox, RISE_EM, TAIL_EM};
use page::charts::canvas::{Lettering, SENTENCE};
use page::charts::labels::crosses;

/// Boxes that share less than this, in pt on a page and in tenths of a mm in a chart, do not touch.
const SLACK: f64 = 0.3;

fn touch(one: &InkBox, other: &InkBox) -> bool {
    let across = one.right.min(other.right) - one.left.max(other.left);
    let down = one.bottom.min(other.bottom) - one.top.max(other.top);
    across > SLACK && down > SLACK
}

/// True if a stroke from `a` to `b` runs through the text.
fn strikes((a, b): ((f64, f64), (f64, f64)), text: &InkBox) -> bool {
    let corner = (text.left + SLACK, text.top + SLACK);
    crosses((a, b), (corner, (text.right - SLACK, text.bottom - SLACK)))
}

/// What leaves a sheet of this size, and what touches what.
pub fn faults(all: &[InkBox], (width, height): (f64, f64)) -> Vec<String> {
    let mut faults = Vec::new();
    for (i, one) in all.iter().enumerate() {
        let outside =
            one.left < -SLACK || one.top < -SLACK || one.right > width + SLACK || one.bottom > height + SLACK;
        if outside {
            faults.push(format!("cut off: {}: {one:?} on {width} by {height}", one.what));
        }
        for other in &all[i + 1..] {
            if touch(one, other) {
                faults.push(format!("touching: {} and {}: {one:?} and {other:?}", one.what, other.what));
            }
        }
    }
    faults
}

/// An attribute of a tag.
pub fn attribute<'a>(tag: &'a str, name: &str) -> Option<&'a str> {
    tag.split(&format!(" {name}=\"")).nth(1)?.split('"').next()
}

/// An attribute that is a number.
pub fn number(tag: &str, name: &str) -> f64 {
    attribute(tag, name).and_then(|text| text.parse().ok()).unwrap_or(f64::NAN)
}

/// Faults of a chart as it was drawn: its texts against the edge, each other, the lines and the circles.
pub fn faults_of_svg(svg: &str) -> Vec<String> {
    // From pixels, of which there are sixteen in a millimeter, to tenths of a millimeter.
    const UNIT: f64 = 10.0 / 16.0;
    let head = svg.split('>').next().unwrap_or_default();
    let size = (number(head, "width") * UNIT, number(head, "height") * UNIT);
    let texts = texts(svg, UNIT);
    let mut faults = faults(&texts, size);
    for stroke in strokes(svg, UNIT) {
        for side in stroke.windows(2) {
            for text in texts.iter().filter(|text| strikes((side[0], side[1]), text)) {
                faults.push(format!("struck: {}: {text:?}, {side:?}", text.what));
            }
        }
    }
    for ring in rings(svg, UNIT) {
        for text in texts.iter().filter(|text| touch(text, &ring)) {
            faults.push(format!("on a circle: {}: {text:?}, {ring:?}", text.what));
        }
    }
    faults
}

fn texts(svg: &str, unit: f64) -> Vec<InkBox> {
    let mut texts = Vec::new();
    for part in svg.split("<text").skip(1) {
        let (tag, rest) = part.split_once('>').unwrap();
        let raw = rest.split("</text>").next().unwrap().trim();
        let what = [("&lt;", "<"), ("&gt;", ">"), ("&quot;", "\""), ("&apos;", "'"), ("&amp;", "&")]
            .into_iter()
            .fold(raw.to_owned(), |text, (from, to)| text.replace(from, to));
        if what.is_empty() {
            continue;
        }
        let em = number(tag, "font-size") * unit;
        let one_mm = Lettering { size_pt: 72.0 / 25.4, bold: tag.contains("bold"), ..SENTENCE };
        let width = one_mm.width_mm(&what) * em;
        let (x, y) = (number(tag, "x") * unit, number(tag, "y") * unit);
        let before = match attribute(tag, "text-anchor") {
            Some("middle") => width / 2.0,
            Some("end") => width,
            _ => 0.0,
        };
        // The baseline is set half an ex, a quarter of an em, below the point.
        let (rise, tail) = ((RISE_EM - 0.25) * em, (TAIL_EM + 0.25) * em);
        let (left, top, right, bottom) = match tag.contains("rotate(270") {
            true => (x - rise, y - width + before, x + tail, y + before),
            false => (x - before, y - rise, x - before + width, y + tail),
        };
        texts.push(InkBox { what, size: em, left, top, right, bottom });
    }
    texts
}

/// Points of a polyline, times a unit.
pub fn points(tag: &str, unit: f64) -> Vec<(f64, f64)> {
    let pairs = attribute(tag, "points").unwrap().split_whitespace().filter_map(|pair| pair.split_once(','));
    pairs.filter_map(|(x, y)| Some((x.parse::<f64>().ok()? * unit, y.parse::<f64>().ok()? * unit))).collect()
}

/// The tags of one kind of an SVG.
pub fn tags<'a>(svg: &'a str, kind: &str) -> impl Iterator<Item = &'a str> {
    svg.split(kind).skip(1).map(|part| part.split('>').next().unwrap())
}

/// Lines that are drawn, each dash apart. Grids are too pale to strike a word, and lines of paper lift what they go round.
fn strokes(svg: &str, unit: f64) -> Vec<Vec<(f64, f64)>> {
    let seen = |tag: &&str| !matches!(attribute(tag, "stroke"), Some("#DEDEDE" | "#FFFFFF"));
    tags(svg, "<polyline").filter(seen).map(|tag| points(tag, unit)).collect()
}

/// The circles, as squares.
fn rings(svg: &str, unit: f64) -> Vec<InkBox> {
    tags(svg, "<circle")
        .map(|tag| {
            let of = |name: &str| number(tag, name) * unit;
            // The square inside the circle: the corners of the one about it are bare.
            let (x, y, half) = (of("cx"), of("cy"), of("r") * std::f64::consts::FRAC_1_SQRT_2);
            let what = "[circle]".to_owned();
            InkBox { what, size: 0.0, left: x - half, right: x + half, top: y - half, bottom: y + half }
        })
        .collect()
}

/// The measure measures: boxes that touch, leave the sheet or are struck are found, others are not.
#[test]
fn what_is_wrong_is_found() {
    let of = |texts: &str| {
        faults_of_svg(&format!("<svg width=\"800\" height=\"320\" viewBox=\"0 0 800 320\">\n{texts}</svg>"))
    };
    let text = |x: i32, y: i32, anchor: &str, turn: &str| {
        let place = format!("x=\"{x}\" y=\"{y}\" dy=\"0.5ex\" text-anchor=\"{anchor}\"");
        format!("<text {place} font-size=\"40\"{turn}>\nwords\n</text>")
    };
    assert_eq!(of(&(text(100, 100, "start", "") + &text(100, 200, "start", ""))), Vec::<String>::new());
    assert!(of(&(text(100, 100, "start", "") + &text(150, 110, "start", "")))[0].starts_with("touching"));
    assert!(of(&text(20, 100, "end", ""))[0].starts_with("cut off"));
    let turned = " transform=\"rotate(270, 20, 20)\"";
    assert!(of(&text(20, 20, "middle", turned))[0].starts_with("cut off"));
    assert_eq!(of(&text(20, 160, "middle", " transform=\"rotate(270, 20, 160)\"")), Vec::<String>::new());
    let frame = "<polyline fill=\"none\" points=\"120,10 700,10 700,300 120,300 120,10 \"/>";
    assert!(of(&(text(100, 100, "start", "") + frame))[0].starts_with("struck"));
    assert_eq!(of(&(text(200, 100, "start", "") + frame)), Vec::<String>::new());
    let slanting = |stroke: &str| {
        format!("<polyline fill=\"none\" stroke=\"{stroke}\" points=\"90,60 260,140 \"/>")
            + &text(100, 100, "start", "")
    };
    assert!(of(&slanting("#7D7D7D"))[0].starts_with("struck"));
    assert_eq!(of(&slanting("#DEDEDE")), Vec::<String>::new(), "a grid is pale");
    let passing = "<polyline fill=\"none\" stroke=\"#7D7D7D\" points=\"20,60 95,180 \"/>";
    assert_eq!(of(&(text(100, 100, "start", "") + passing)), Vec::<String>::new());
    let ring = "<circle cx=\"110\" cy=\"100\" r=\"20\" fill=\"none\"/>";
    assert!(of(&(text(100, 100, "start", "") + ring))[0].starts_with("on a circle"));
}
