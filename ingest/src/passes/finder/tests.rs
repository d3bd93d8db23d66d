use super::*;
use crate::plow::Sensor;

/// Stretches of so many s, each with a depth in mm and a pull in N, at 50 rows a second.
fn found(stretches: &[(f64, f64, f64)]) -> Vec<PassEvent> {
    let mut finder = PassFinder::new(200.0, 20_000.0);
    let (mut all, mut t_s) = (Vec::new(), 0.0);
    for (lasts_s, depth_mm, pull_n) in stretches {
        let until_s = t_s + lasts_s;
        while t_s < until_s {
            let reading = Reading { t_s, depth_mm: Some(*depth_mm), pull_n: Some(*pull_n) };
            finder.take(&reading, |event| all.push(event));
            t_s += 0.02;
        }
    }
    all
}

const PASS: (f64, f64, f64) = (20.0, 200.0, 8000.0);
const OUT: (f64, f64, f64) = (5.0, -60.0, 300.0);

#[test]
fn passes_are_told_and_hops_and_what_comes_and_goes_are_not() {
    let passes = found(&[OUT, PASS, (1.0, -60.0, 300.0), PASS, OUT, PASS, OUT]);
    let [
        PassEvent::WentIn { at_s: first },
        PassEvent::CameOut { from_s, at_s },
        PassEvent::WentIn { at_s: second },
        PassEvent::CameOut { .. },
    ] = passes[..]
    else {
        panic!("{passes:?}")
    };
    assert!((first - 5.0).abs() < 0.3 && (from_s - first).abs() < 1e-9, "{passes:?}");
    assert!((at_s - 46.0).abs() < 0.3 && (second - 51.0).abs() < 0.3, "{passes:?}");
    // On the road, let down for a moment, standing in the ground, turning with the plow low, a wheel that slips.
    for idle in [
        (600.0, -60.0, 300.0),
        (1.0, 200.0, 8000.0),
        (60.0, 200.0, 0.0),
        (30.0, 60.0, 2500.0),
        (0.8, -60.0, 9000.0),
    ] {
        assert_eq!(found(&[OUT, idle, OUT, idle, OUT]), [], "{idle:?}");
        assert_eq!(found(&[OUT, PASS, OUT, idle, OUT, idle, OUT]).len(), 2, "{idle:?}");
    }
}

/// The zero of the gauge is off by 3 cm to either side, and the pass is shallower than stated.
#[test]
fn a_gauge_that_is_off_does_not_matter() {
    for (in_mm, out_mm) in [(170.0, -30.0), (230.0, 30.0), (130.0, 30.0), (100.0, -60.0)] {
        let passes = found(&[(5.0, out_mm, 300.0), (20.0, in_mm, 8000.0), (5.0, out_mm, 300.0)]);
        assert_eq!(passes.len(), 2, "{in_mm} {out_mm}: {passes:?}");
    }
}

/// A soft pass beside hard ones is one; a shallow and light one is none after them, for a while.
#[test]
fn what_is_usual_is_learned_and_forgotten() {
    let soft = (20.0, 200.0, 2000.0);
    assert_eq!(found(&[OUT, soft, OUT]).len(), 2);
    assert_eq!(found(&[OUT, PASS, OUT, soft, OUT, PASS, OUT]).len(), 6);
    let light = (20.0, 110.0, 1600.0);
    assert_eq!(found(&[OUT, light, OUT]).len(), 2);
    assert_eq!(found(&[OUT, PASS, OUT, light, OUT]).len(), 2);
    assert_eq!(found(&[OUT, PASS, (1300.0, -60.0, 300.0), light, OUT]).len(), 4);
}

/// The plow is let up a little at the end and dragged across the headland into the next pass.
#[test]
fn a_plow_that_is_dragged_over_the_headland_is_out() {
    for (depth_mm, pull_n) in [(60.0, 2000.0), (80.0, 2400.0), (90.0, 1600.0), (120.0, 1000.0)] {
        let passes = found(&[OUT, PASS, (9.0, depth_mm, pull_n), PASS, OUT]);
        assert_eq!(passes.len(), 4, "{depth_mm} {pull_n}: {passes:?}");
        let PassEvent::CameOut { at_s, .. } = passes[1] else { panic!("{passes:?}") };
        assert!((at_s - 25.0).abs() < 0.4, "{passes:?}");
    }
}

#[test]
fn a_gap_of_some_seconds_does_not_end_a_pass_and_a_long_one_does() {
    for (gap_s, events) in [(8.0, 2), (15.0, 4)] {
        let mut finder = PassFinder::new(200.0, 20_000.0);
        let mut all = Vec::new();
        for (from_s, to_s, depth_mm) in
            [(0.0, 5.0, 0.0), (5.0, 25.0, 200.0), (25.0 + gap_s, 50.0, 200.0), (50.0, 55.0, 0.0)]
        {
            let rows = ((to_s - from_s) * 50.0) as usize;
            for row in 0..rows {
                let t_s = from_s + row as f64 / 50.0;
                let reading = Reading { t_s, depth_mm: Some(depth_mm), pull_n: Some(40.0 * depth_mm) };
                finder.take(&reading, |event| all.push(event));
            }
        }
        assert_eq!(all.len(), events, "{gap_s}: {all:?}");
    }
}

/// Depth and pull come from boxes of a row a second, half a second apart.
#[test]
fn slow_boxes_are_seen() {
    let mut finder = PassFinder::new(200.0, 20_000.0);
    let mut all = Vec::new();
    for second in 0..60u32 {
        let t_s = f64::from(second);
        let depth_mm = if (10..40).contains(&second) { 200.0 } else { -50.0 };
        finder.take(&Reading { t_s, depth_mm: Some(depth_mm), pull_n: None }, |event| all.push(event));
        let pull_n = Some(if depth_mm > 0.0 { 7000.0 } else { 100.0 });
        finder.take(&Reading { t_s: t_s + 0.5, depth_mm: None, pull_n }, |event| all.push(event));
    }
    let [PassEvent::WentIn { at_s: from_s }, PassEvent::CameOut { at_s, .. }] = all[..] else {
        panic!("{all:?}")
    };
    assert!((from_s - 10.5).abs() < 1.0 && (at_s - 39.5).abs() < 1.5, "{all:?}");
}

/// A depth box that falls silent for longer than a turn takes, and one that gives no number now and then.
#[test]
fn a_box_that_is_silent_is_not_seen_and_what_is_no_number_is_left_out() {
    for (silent, events) in [(false, 2), (true, 4)] {
        let mut finder = PassFinder::new(200.0, 20_000.0);
        let mut all = Vec::new();
        for row in 0..3000u32 {
            let t_s = f64::from(row) / 50.0;
            let is_in = (5.0..50.0).contains(&t_s);
            let depth_mm = if is_in { 200.0 } else { -60.0 };
            let number = if row % 10 == 0 { f64::NAN } else { depth_mm };
            let heard = !(silent && (20.0..35.0).contains(&t_s));
            let pull_n = Some(if is_in { 8000.0 } else { 300.0 });
            finder.take(&Reading { t_s, depth_mm: heard.then_some(number), pull_n }, |event| all.push(event));
        }
        assert_eq!(all.len(), events, "{silent}: {all:?}");
    }
}

#[test]
fn the_pull_is_that_of_the_drawbar_or_of_all_links() {
    let (lower, top) = ([ChannelRole::LowerLinks], [ChannelRole::TopLink]);
    let mut links = Watched::default();
    assert_eq!(links.reading(1.0, &top, &[-200.0]).pull_n, None);
    assert_eq!(links.reading(1.1, &lower, &[5000.0]).pull_n, Some(4800.0));
    let mut drawbar = Watched::default();
    assert_eq!(drawbar.reading(1.0, &[ChannelRole::Pull], &[7000.0]).pull_n, Some(7000.0));
    assert_eq!(drawbar.reading(1.1, &lower, &[5000.0]).pull_n, None);
}

#[test]
fn what_comes_and_goes_is_no_pass_and_what_is_light_or_shallow_after_it_goes_by_what_is_usual() {
    let (dip, between) = ((1.0, 200.0, 8000.0), (1.2, -60.0, 300.0));
    assert_eq!(found(&[OUT, dip, between, dip, between, dip, between, dip, OUT]), []);
    // After a pass so long that the pull would be forgotten out of the ground: light is work still, shallow is not.
    let long = (1250.0, 200.0, 8000.0);
    for (last, in_s) in [((5.0, 200.0, 1200.0), 1260.0), ((5.0, 70.0, 8000.0), 1255.0)] {
        let events = found(&[OUT, long, last, OUT]);
        let [_, PassEvent::CameOut { at_s, .. }] = events[..] else { panic!("{events:?}") };
        assert!((at_s - in_s).abs() < 0.4, "{last:?}: {events:?}");
    }
}

/// The box of the depth is ahead of the other's; then it is silent while the pull falls, which alone says nothing.
#[test]
fn steps_are_looked_at_once_and_only_where_both_channels_are_seen() {
    for (silent_s, slack_s) in [(0.0, 1.0), (5.0, 3.0)] {
        let mut finder = PassFinder::new(200.0, 20_000.0);
        let mut all = Vec::new();
        for row in 0..3000u32 {
            let t_s = f64::from(row) / 50.0;
            let is_in = (5.0..50.0).contains(&t_s);
            let depth_mm = if is_in { 200.0 } else { -60.0 };
            if !(20.0..20.0 + silent_s).contains(&t_s) {
                let reading = Reading { t_s: t_s + 0.3, depth_mm: Some(depth_mm), pull_n: None };
                finder.take(&reading, |event| all.push(event));
            }
            let is_slack = !is_in || (21.9..21.9 + slack_s).contains(&t_s);
            let pull_n = Some(if is_slack { 300.0 } else { 8000.0 });
            finder.take(&Reading { t_s, depth_mm: None, pull_n }, |event| all.push(event));
        }
        assert_eq!(all.len(), 2, "{silent_s} {slack_s}: {all:?}");
    }
}

/// An example plow whose sensors are these.
fn plow_with(sensors: &str) -> Plow {
    let text = include_str!("../../../../sample-runs/plows/three-bottom-mounted.toml");
    crate::plow::read_plow_text(&format!("{text}{sensors}"), std::path::Path::new("plow.toml")).unwrap()
}

fn sensor(measures: &str, points: &str) -> String {
    format!(
        "\n[[sensors]]\nchannel = \"{measures}\"\nmeasures = \"{measures}\"\n\
         calibration = {{ date = \"2027-03-01\", points = {points} }}\n"
    )
}

/// Where no sensor measures the whole pull it is that along the lower links, of which the scale counts then.
#[test]
fn what_is_expected_goes_by_the_plow_and_by_the_sensor_of_its_pull() {
    let mut plow = plow_with("");
    let depth_mm = OF_STATED_DEPTH * (plow.bottoms.depth.m() * 1e3);
    let expected = |plow: &Plow, pull_n: f64| {
        assert_eq!(PassFinder::of(plow).expected, Usual { depth_mm, pull_n });
    };
    plow.sensors.clear();
    expected(&plow, 0.0);
    let mut plow = plow_with(&sensor("lower-links", "[[0, \"0 N\"], [1000, \"30 kN\"]]"));
    let of_links = plow.sensors.pop().unwrap();
    plow.sensors = vec![of_links.clone()];
    expected(&plow, 10_000.0);
    let mut pull = of_links;
    pull.measures = ChannelRole::Pull;
    pull.calibration.points[1].1 = "60 kN".to_owned();
    plow.sensors.push(pull);
    expected(&plow, 20_000.0);
}

/// A clock that was set ahead by a thousand years is no work for anybody.
#[test]
fn of_a_long_gap_only_its_end_is_looked_at() {
    let mut finder = PassFinder::new(200.0, 20_000.0);
    let mut all = Vec::new();
    for from_s in [0.0, 3e10] {
        for row in 0..500u32 {
            let t_s = from_s + f64::from(row) / 50.0;
            let reading = Reading { t_s, depth_mm: Some(200.0), pull_n: Some(8000.0) };
            finder.take(&reading, |event| all.push(event));
        }
    }
    let [PassEvent::WentIn { .. }, PassEvent::CameOut { at_s, .. }, PassEvent::WentIn { at_s: again }] =
        all[..]
    else {
        panic!("{all:?}")
    };
    assert_eq!((at_s.round(), again.round()), (10.0, 3e10));
}

/// The pull is seen at once and the depth once a second: when both were so is when the later one of the two was.
#[test]
fn a_moment_is_as_old_as_the_older_of_depth_and_pull() {
    let mut finder = PassFinder::new(200.0, 20_000.0);
    let mut all = Vec::new();
    for row in 0..2000u32 {
        let t_s = f64::from(row) / 50.0;
        let is_in = (10.0..30.0).contains(&t_s);
        let depth_mm = row.is_multiple_of(50).then_some(if is_in { 200.0 } else { -60.0 });
        finder.take(&Reading { t_s, depth_mm, pull_n: Some(8000.0) }, |event| all.push(event));
    }
    let [PassEvent::WentIn { at_s: in_s }, PassEvent::CameOut { at_s: out_s, .. }] = all[..] else {
        panic!("{all:?}")
    };
    // The pull is smoothed, and so a quarter of a second old; the depth of 29 s is the last one in the ground, and stands
    // until that of 30 s comes.
    assert_eq!(((in_s * 10.0).round() / 10.0, (out_s * 10.0).round() / 10.0), (9.8, 29.0));
}

/// What is no hop is a pass, and is told as soon as that is known.
#[test]
fn a_pass_is_told_once_it_is_longer_than_a_hop() {
    let [PassEvent::WentIn { .. }, PassEvent::CameOut { from_s, at_s }] =
        found(&[OUT, (2.0, 200.0, 8000.0), OUT])[..]
    else {
        panic!("a pass of two seconds is one")
    };
    assert!((at_s - from_s - 2.0).abs() < 0.5, "{from_s} {at_s}");
}

/// Half a minute is what the usual takes to follow: some seconds of light soil do not make it the rule.
#[test]
fn what_is_usual_is_learned_slowly() {
    let light = (8.0, 200.0, 2000.0);
    let lighter = (4.0, 200.0, 650.0);
    assert_eq!(found(&[OUT, PASS, light, OUT, lighter, OUT]).len(), 2, "no pass beside those of before");
    assert_eq!(found(&[OUT, (120.0, 200.0, 2000.0), OUT, lighter, OUT]).len(), 4);
}

/// Depth, and a pull that may as well come from the links.
#[test]
fn what_a_plow_lacks_to_find_its_passes_is_named() {
    let plows = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../sample-runs/plows");
    let said = |roles: &[ChannelRole]| {
        let mut plow = crate::plow::read_plow(&plows.join("two-bottom.toml")).unwrap();
        let any = plow.sensors[0].clone();
        plow.sensors = roles.iter().map(|role| Sensor { measures: *role, ..any.clone() }).collect();
        cannot_find(&plow)
    };
    assert_eq!(said(&[ChannelRole::Depth, ChannelRole::Pull]), None);
    assert_eq!(said(&[ChannelRole::LowerLinks, ChannelRole::Depth]), None);
    assert_eq!(said(&[ChannelRole::LowerLinks]), Some("no sensor measures the depth"));
    let no_pull = said(&[ChannelRole::Depth, ChannelRole::TopLink]).unwrap();
    assert_eq!(no_pull, "no sensor measures the pull, nor the force along the lower links");
    assert_eq!(said(&[ChannelRole::Tail]), Some("no sensor measures the depth, nor the pull"));
}
