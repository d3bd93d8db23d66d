use super::*;
use ingest::calibration::{Fit, Observation, report};
use rand::SeedableRng;
use rand_distr::{Distribution, StandardNormal};
use signals::Segment;

const RATE_HZ: f64 = 50.0;

fn reports() -> Vec<CalibrationReport> {
    let of = |role, unit: &str, top: f64| {
        let steps =
            [0.0, 0.5, 1.0].map(|part| Observation::pair(4e6 * part, format!("{} {unit}", top * part)));
        report(role, &steps, Fit::Line, None).unwrap()
    };
    vec![
        of(ChannelRole::Pull, "N", 10_000.0),
        of(ChannelRole::Tail, "mm", 100.0),
        of(ChannelRole::Depth, "mm", 200.0),
    ]
}

/// `still_s` of standing with a pull of `pull_n`, then 4 s of rolling and 10 s in the ground; noise as the
/// virtual sensors have it.
fn run(still_s: f64, pull_n: f64, depth_mm: f64, seed: u64) -> Signals {
    let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(seed);
    let mut noise = |sd: f64| -> f64 { sd * Distribution::<f64>::sample(&StandardNormal, &mut rng) };
    let (mut pull, mut tail, mut depth) = (Vec::new(), Vec::new(), Vec::new());
    for row in 0..((still_s + 14.0) * RATE_HZ) as usize {
        let t_s = row as f64 / RATE_HZ - still_s;
        let sway = (9.0 * t_s).sin();
        let (p, t, d) = match t_s {
            ..0.0 => (pull_n, 40.0, depth_mm),
            0.0..4.0 => (pull_n + 200.0, 41.0 + 3.0 * sway, depth_mm + 4.0 * sway),
            _ => (pull_n + 7000.0, 30.0 + 8.0 * sway, 180.0),
        };
        pull.push(p + noise(12.0));
        tail.push(t + noise(0.08));
        depth.push(d + noise(1.0));
    }
    let segments = vec![Segment { start_s: 0.1, rows: 0..pull.len() }];
    let channels = [(ChannelRole::Pull, pull), (ChannelRole::Tail, tail), (ChannelRole::Depth, depth)].into();
    Signals { rate_hz: RATE_HZ, segments, channels }
}

fn checked(signals: &Signals) -> ZeroCheck {
    zero_checks(signals, &reports(), &[])[0]
}

#[test]
fn a_zero_that_stayed_is_found_so_and_one_that_moved_is_found_with_its_size() {
    for seed in 0..40 {
        let stayed = checked(&run(5.0, 0.0, -60.0, seed));
        assert_eq!(stayed.verdict, ZeroVerdict::AsCalibrated, "{stayed:?}");
        assert!((stayed.still_s - 5.0).abs() < 0.6 && stayed.shift() == 0.0, "{stayed:?}");
        let moved = checked(&run(5.0, -60.0, -60.0, seed));
        assert_eq!(moved.verdict, ZeroVerdict::Moved, "{moved:?}");
        assert!((moved.shift() + 60.0).abs() < 5.0, "{moved:?}");
    }
}

/// The interval of a standing pull holds the true one.
#[test]
fn the_interval_holds_the_zero_as_often_as_it_says() {
    let held = (0..200).filter(|seed| {
        let check = checked(&run(5.0, 30.0, -60.0, *seed));
        check.reading.is_some_and(|found| found.holds(30.0))
    });
    let held = held.count();
    println!("{held} of 200");
    assert!((180..=199).contains(&held), "{held}");
}

#[test]
fn a_run_that_does_not_begin_standing_has_no_check_and_says_why() {
    let why = |signals: &Signals| {
        let check = checked(signals);
        assert_eq!((check.verdict, check.reading), (ZeroVerdict::NotChecked, None));
        check.why_not.unwrap()
    };
    assert_eq!(why(&run(0.0, 0.0, -60.0, 1)), NoZeroCheck::UnderWay);
    assert_eq!(why(&run(1.4, 0.0, -60.0, 1)), NoZeroCheck::TooShort);
    assert_eq!(why(&run(5.0, 0.0, 150.0, 1)), NoZeroCheck::InTheGround);
    let mut rolls = run(5.0, 0.0, -60.0, 1);
    let speed = vec![1.5; rolls.channels[&ChannelRole::Pull].len()];
    rolls.channels.insert(ChannelRole::Speed, speed);
    assert_eq!(why(&rolls), NoZeroCheck::UnderWay);
}

#[test]
fn without_a_calibration_there_is_nothing_to_check() {
    assert!(zero_checks(&run(5.0, 0.0, -60.0, 1), &[], &[]).is_empty());
    let mut torn = run(5.0, 0.0, -60.0, 1);
    torn.segments[0].rows = 0..3;
    assert_eq!(checked(&torn).verdict, ZeroVerdict::NotChecked);
}

/// A run that begins under way is checked by what was read before it; one that begins standing still by that.
#[test]
fn what_was_read_before_the_run_counts_where_it_does_not_begin_so() {
    let before = |mean: f64| ZeroBefore {
        column: "pull_n".to_owned(),
        mean,
        sd_of_half_seconds: 2.0,
        still_s: 8.0,
        before_s: 12.0,
    };
    let check =
        |still_s: f64, mean: f64| zero_checks(&run(still_s, 0.0, -60.0, 1), &reports(), &[before(mean)])[0];
    let (stayed, moved) = (check(0.0, 1.0), check(0.0, -60.0));
    assert_eq!((stayed.verdict, stayed.before_s), (ZeroVerdict::AsCalibrated, Some(12.0)), "{stayed:?}");
    assert_eq!((moved.verdict, moved.shift(), moved.still_s), (ZeroVerdict::Moved, -60.0, 8.0), "{moved:?}");
    let own = check(5.0, -60.0);
    assert_eq!((own.verdict, own.before_s), (ZeroVerdict::AsCalibrated, None), "{own:?}");
}
