//! Every chart on data that no chart likes: it must come back in time, with nothing that is not a number on
//! it.

use std::time::{Duration, Instant};

use super::boxes::{points, tags};
use super::stored_run;
use analysis::report::units::Units;
use page::PageError;
use page::chart_content::{Gauge, Mark, Scatter, Spectrum, Strip, Trace};
use page::charts::{Size, blank, dots, forces, gauge, scatter, spectrum, strip};
use page::content::RunContent;
use page::force_diagram::{ForceDiagram, PointM, SupportLook};

const SIZE: Size = Size { width_mm: 90.0, height_mm: 40.0 };
/// Far above what a chart takes (milliseconds), far below a hang.
const LIMIT: Duration = Duration::from_secs(5);

/// Series of the kinds that break charts.
fn nasty_series() -> Vec<(&'static str, Vec<f64>)> {
    vec![
        ("empty", vec![]),
        ("one point", vec![3.0]),
        ("constant", vec![3.0; 100]),
        ("zeros", vec![0.0; 100]),
        ("all NaN", vec![f64::NAN; 100]),
        ("some NaN", vec![1.0, f64::NAN, 2.0, f64::NAN, 3.0]),
        ("infinite", vec![1.0, f64::INFINITY, f64::NEG_INFINITY]),
        ("huge", vec![f64::MAX, f64::MIN, 0.0]),
        ("very large", vec![1e300, -1e300, 1e299]),
        ("tiny", vec![5e-324, 0.0, -5e-324]),
        ("large and nearly constant", vec![1e16, 1e16 + 2.0, 1e16 + 4.0]),
    ]
}

/// Draws, and demands time, well-formed ends and numbers only. Gives the picture back for closer looks.
fn check(name: &str, draw: impl FnOnce() -> Result<String, PageError>) -> String {
    let start = Instant::now();
    let svg = draw().unwrap();
    assert!(start.elapsed() < LIMIT, "{name} took {:?}", start.elapsed());
    assert!(svg.starts_with("<svg") && svg.trim_end().ends_with("</svg>"), "{name}");
    assert!(!svg.contains("NaN") && !svg.contains("inf"), "{name}: {svg}");
    svg
}

fn measured() -> RunContent {
    stored_run(Units::Si)
}

fn depth() -> Strip {
    measured().depth.unwrap()
}

fn strip_of(name: &str, strip: &Strip) -> String {
    check(name, || strip::draw(Some(strip), "missing", SIZE))
}

/// A quiet channel over 180 s, cut at the gaps given in s.
fn traces(gaps_s: &[(f64, f64)]) -> Vec<Trace> {
    let in_gap = |t_s: &f64| gaps_s.iter().any(|(from, to)| (*from..*to).contains(t_s));
    let all = times(18_000);
    let pieces = all.split(in_gap).filter(|piece| !piece.is_empty());
    let trace = |t_s: &[f64]| Trace { t_s: t_s.to_vec(), values: t_s.iter().map(|t_s| t_s.sin()).collect() };
    pieces.map(trace).collect()
}

fn times(n: usize) -> Vec<f64> {
    (0..n).map(|i| i as f64 * 0.01).collect()
}

#[test]
fn strips_survive_nasty_readings() {
    for (name, values) in nasty_series() {
        let drawable = !matches!(name, "empty" | "one point" | "all NaN" | "huge");
        let strip = Strip {
            traces: vec![Trace { t_s: times(values.len()), values }],
            mean: Some(f64::NAN),
            p5: Some(f64::INFINITY),
            hatched_s: vec![(f64::NAN, 1.0), (0.0, f64::INFINITY), (5.0, 1.0)],
            ..depth()
        };
        let svg = strip_of(name, &strip);
        if drawable && name != "infinite" {
            assert!(!svg.contains("can be drawn"), "{name} should have been drawn");
        }
    }
    assert!(check("none", || strip::draw(None, "depth: not shown", SIZE)).contains("depth: not shown"));
}

#[test]
fn a_strip_of_times_that_are_not_times_is_a_blank_panel() {
    let traces = vec![Trace { t_s: vec![f64::NAN; 3], values: vec![1.0, 2.0, 3.0] }];
    let svg = strip_of("NaN times", &Strip { traces, ..depth() });
    assert!(svg.contains("no readings that can be drawn"));
}

#[test]
fn a_gap_in_the_readings_is_a_gap_in_the_line() {
    let count = |gaps: &[(f64, f64)]| {
        let svg =
            strip_of("gaps", &Strip { traces: traces(gaps), mean: None, p5: None, p95: None, ..depth() });
        svg.lines().filter(|line| line.starts_with("<polyline") && line.contains("#00526E")).count()
    };
    assert_eq!(count(&[]), 1);
    assert_eq!(count(&[(20.0, 30.0), (100.0, 130.0)]), 3);
}

#[test]
fn two_million_readings_make_a_small_picture_in_time() {
    let n = 2_000_000;
    let values = (0..n).map(|i| f64::from(i % 977)).collect();
    let svg = strip_of("long", &Strip { traces: vec![Trace { t_s: times(n as usize), values }], ..depth() });
    assert!(svg.len() < 200_000, "{} bytes", svg.len());
}

#[test]
fn spectra_survive_nasty_densities() {
    for (name, density) in nasty_series() {
        let n = density.len();
        let spectrum = Spectrum {
            frequency_hz: times(n),
            background: vec![f64::NAN; n],
            low: density.clone(),
            high: vec![f64::INFINITY; n],
            density,
            bobbing: Some(Mark { frequency_hz: f64::NAN, label: "bobbing".to_owned() }),
            wheel_turns: vec![Mark { frequency_hz: 1e300, label: "wheel".to_owned() }],
            ..measured().spectrum.unwrap()
        };
        check(name, || spectrum::draw(Some(&spectrum), SIZE));
    }
    check("none", || spectrum::draw(None, SIZE));
}

#[test]
fn a_spectrum_says_when_there_is_no_bobbing() {
    let with = measured().spectrum.unwrap();
    let label = with.bobbing.clone().unwrap().label;
    let svg = check("bobbing", || spectrum::draw(Some(&with), SIZE));
    assert!(svg.contains(&label) && !svg.contains("no bobbing"));
    let svg = check("no bobbing", || spectrum::draw(Some(&Spectrum { bobbing: None, ..with }), SIZE));
    assert!(svg.contains("no bobbing shown"));
}

#[test]
fn scatters_survive_nasty_points_and_slopes() {
    for (name, values) in nasty_series() {
        for slope in [0.0, f64::NAN, f64::INFINITY, 1e300, -1e-300] {
            let mut scatter = Scatter {
                points: values.iter().map(|v| (*v, -*v)).collect(),
                ..measured().pull_tail.unwrap()
            };
            for line in &mut scatter.expected {
                line.slope = slope;
            }
            check(name, || scatter::draw(Some(&scatter), SIZE));
        }
    }
    check("none", || scatter::draw(None, SIZE));
}

#[test]
fn gauges_survive_nasty_numbers_and_show_what_is_off_the_scale() {
    let plain = Gauge { value: 0.1, low: -0.2, high: 0.4, ..measured().gauge.unwrap() };
    for value in [f64::NAN, f64::INFINITY, -1e300, 1e300] {
        for gauge in [
            Gauge { value, ..plain.clone() },
            Gauge { low: value, high: value, value, ..plain.clone() },
            Gauge { balanced: value, ..plain.clone() },
        ] {
            check("gauge", || gauge::draw(Some(&gauge), SIZE));
        }
    }
    assert!(check("none", || gauge::draw(None, SIZE)).contains("not shown"));
    let none = Gauge { value: f64::NAN, ..plain.clone() };
    assert!(check("NaN", || gauge::draw(Some(&none), SIZE)).contains("not shown"));
    let wide = Gauge { low: -7.0, high: 9.0, ..plain.clone() };
    let polygons =
        |gauge: &Gauge| check("wide", || gauge::draw(Some(gauge), SIZE)).matches("<polygon").count();
    assert_eq!(polygons(&wide), polygons(&plain) + 2, "an interval beyond the scale ends in points");
}

#[test]
fn force_diagrams_survive_nasty_geometry() {
    let plain = measured().forces.unwrap();
    for bad in [f64::NAN, f64::INFINITY, 1e300, -1e300, 0.0, 1e-300] {
        let nasty: [fn(&mut ForceDiagram, f64); 6] = [
            |diagram, bad| diagram.plow_hitch = PointM { x_m: bad, z_m: 0.3 },
            |diagram, bad| diagram.pull.force.x_n = bad,
            |diagram, bad| diagram.steady = Some(PointM { x_m: -0.75, z_m: bad }),
            |diagram, bad| diagram.front.look = SupportLook::Wheel { diameter_m: bad, sprung: true },
            |diagram, _| diagram.tractor_hitch = diagram.plow_hitch,
            |diagram, bad| diagram.depth_m = bad,
        ];
        for change in nasty {
            let mut diagram = plain.clone();
            change(&mut diagram, bad);
            check("forces", || forces::draw(Some(&diagram), SIZE));
        }
    }
    check("none", || forces::draw(None, SIZE));
}

/// Lengths in px of the upright shafts of force arrows, in the order drawn.
fn upright_shafts_px(svg: &str) -> Vec<f64> {
    let arrows = tags(svg, "<polyline").filter(|tag| tag.contains("#00526E"));
    arrows
        .map(|tag| points(tag, 1.0))
        .filter_map(|places| match places[..] {
            [from, to] if from.0 == to.0 => Some((from.1 - to.1).abs()),
            _ => None,
        })
        .collect()
}

#[test]
fn forces_are_drawn_to_one_scale() {
    let mut diagram = measured().forces.unwrap();
    diagram.steady = None;
    diagram.tail_load.force.z_n = diagram.front_load.force.z_n;
    let wanted = -diagram.weight.force.z_n / diagram.front_load.force.z_n;
    let size = Size { width_mm: 180.0, height_mm: 80.0 };
    let shafts = upright_shafts_px(&check("scale", || forces::draw(Some(&diagram), size)));
    // Tail load, front load, weight, then the ends of the scale bar; the heads, 3.1 mm each
    // at 16 px a mm, are not part of the shafts.
    let [tail, front, weight, ..] = shafts.as_slice() else { panic!("three upright arrows, not {shafts:?}") };
    let head = 3.1 * 16.0;
    assert!((tail - front).abs() <= 1.0, "equal loads, {tail} and {front} px");
    assert!(((weight + head) / (front + head) - wanted).abs() < 0.01, "{weight} and {front} px");
}

#[test]
fn dots_survive_nasty_runs() {
    for (name, values) in nasty_series() {
        check(name, || dots::draw(&values, &[], SIZE));
        check(name, || dots::draw(&[1.0, 2.0], &values, SIZE));
    }
}

/// Found by a plowman on the pages of a plow of two bottoms, which had one; and a tail load without an arrow.
#[test]
fn every_bottom_is_drawn_and_every_force_has_its_arrow() {
    let forces = measured().forces.unwrap();
    let shapes = |bottoms: usize, tail_n: f64| {
        let mut drawn = ForceDiagram { bottoms, ..forces.clone() };
        drawn.tail_load.force.z_n = tail_n;
        let svg = check("forces", || forces::draw(Some(&drawn), SIZE));
        (svg.matches("<polygon").count(), svg.contains("not to scale"))
    };
    let (one, lengthened) = shapes(1, 40.0);
    assert!(lengthened);
    assert_eq!(shapes(3, 40.0), (one + 2, true));
    assert_eq!(shapes(1, 0.0).0, one - 1, "no force has no arrow");
    assert!(!shapes(1, 0.0).1 || forces.front_load.force.z_n < 1_000.0);
}

/// Found by a plowman: the depth could not be read for the lines over it, each on a white edge.
#[test]
fn nothing_lies_over_the_readings() {
    let svg = strip_of("depth", &depth());
    assert!(svg.contains("stroke=\"#191919\"") && !svg.contains("stroke=\"#FFFFFF\""), "{svg}");
}

#[test]
fn text_in_charts_is_escaped() {
    let svg = check("label", || blank(SIZE, "<script>alert('x')</script> & \u{1b}[31m"));
    assert!(!svg.contains("<script>") && svg.contains("&lt;script&gt;") && svg.contains("[U+001B]"));
}

/// Found on the page of worn shares: the word was SHARES FIRST, and the gauge said "balanced".
#[test]
fn where_the_shares_come_first_the_gauge_does_not_say_otherwise_and_the_picture_shows_them() {
    let said = |svg: &str, words: &str| svg.lines().any(|line| line.trim() == words);
    let gauge = measured().gauge.unwrap();
    let plain = check("gauge", || gauge::draw(Some(&gauge), SIZE));
    assert!(said(&plain, "balanced") && !plain.contains("shares"));
    let aside = Gauge { set_aside: true, ..gauge };
    let svg = check("set aside", || gauge::draw(Some(&aside), SIZE));
    for word in ["balanced", "leaning", "too flat", "too steep"] {
        assert!(!said(&svg, word), "{word}");
    }
    assert!(svg.contains("no guide to the hitch until the shares draw in again"), "{svg}");
    let forces = measured().forces.unwrap();
    let plain = check("forces", || forces::draw(Some(&forces), SIZE));
    assert!(!plain.contains("shares"));
    let first = ForceDiagram { shares_first: true, ..forces };
    assert!(check("shares first", || forces::draw(Some(&first), SIZE)).contains("shares: see to these"));
}
