use super::*;

const RATE_HZ: f64 = 100.0;

/// A run of one channel, and of a speed at 5 Hz that swings by `swing` about 1.5 m/s.
fn pass(seconds: f64, swing: f64, value: impl Fn(f64, f64) -> f64) -> (Signals, GnssTable) {
    let speed = |t: f64| 1.5 + swing * (0.3 * t).sin();
    let way = |t: f64| 1.5 * t + swing * (1.0 - (0.3 * t).cos()) / 0.3;
    let rows = (seconds * RATE_HZ) as u32;
    let times = || (0..rows).map(|row| f64::from(row) / RATE_HZ);
    let tail: Vec<f64> = times().map(|t| value(t, way(t))).collect();
    let signals = Signals {
        rate_hz: RATE_HZ,
        segments: vec![Segment { start_s: 0.0, rows: 0..tail.len() }],
        channels: [(ChannelRole::Tail, tail)].into(),
    };
    let mut gnss = GnssTable::default();
    for fix in 0..(seconds * 5.0) as u32 {
        let t = f64::from(fix) / 5.0;
        gnss.t_s.push(t);
        gnss.speed_mps.push(speed(t));
        // A minute of arc of latitude at 30 degrees north is 1847.5 m (see tests/published).
        gnss.lat_deg.push(30.0 + way(t) / 110_852.0);
        gnss.lon_deg.push(-40.0);
    }
    (signals, gnss)
}

fn travel(gnss: &GnssTable) -> Travel {
    Speed::of(std::iter::empty(), Some(gnss)).unwrap().travel()
}

#[test]
fn the_way_is_the_integral_of_the_speed_and_agrees_with_the_places() {
    let (_, gnss) = pass(60.0, 0.5, |_, _| 0.0);
    let travel = travel(&gnss);
    let (distance_m, known_s) = travel.between(10.0, 50.0);
    let truth_m = 1.5 * 40.0 + 0.5 * ((3.0f64).cos() - (15.0f64).cos()) / 0.3;
    assert!(
        (distance_m - truth_m).abs() < 0.01 && (known_s - 40.0).abs() < 1e-9,
        "{distance_m} not {truth_m}"
    );
    let (straight_m, by_speed_m) = travel.by_places(&gnss, 10.0, 50.0);
    assert!((straight_m / by_speed_m - 1.0).abs() < 1e-3, "{straight_m} and {by_speed_m}");
}

#[test]
fn nothing_is_known_over_a_hole_and_one_lost_fix_is_none() {
    let (_, mut gnss) = pass(60.0, 0.0, |_, _| 0.0);
    let kept = |t: f64| !(20.0..23.9).contains(&t) && (t - 40.0).abs() > 0.01;
    let keep: Vec<bool> = gnss.t_s.iter().map(|t| kept(*t)).collect();
    for values in [&mut gnss.t_s, &mut gnss.speed_mps, &mut gnss.lat_deg, &mut gnss.lon_deg] {
        let mut keep = keep.iter();
        values.retain(|_| *keep.next().unwrap());
    }
    let (distance_m, known_s) = travel(&gnss).between(10.0, 50.0);
    assert!(
        (known_s - 35.8).abs() < 0.21 && (distance_m - 1.5 * known_s).abs() < 1e-6,
        "{distance_m} {known_s}"
    );
}

#[test]
fn a_channel_of_a_box_goes_before_the_receiver() {
    let (mut signals, gnss) = pass(10.0, 0.0, |_, _| 0.0);
    signals.channels.insert(ChannelRole::Speed, vec![2.0; 1000]);
    let speed = Speed::of([&signals].into_iter(), Some(&gnss)).unwrap();
    assert_eq!(speed.from, SpeedFrom::Channel);
    assert!((speed.travel().between(1.0, 2.0).0 - 2.0).abs() < 1e-9);
    assert!(Speed::of(std::iter::empty(), None).is_none());
}

/// A wave of the ground is one wave at even speed, however the speed swings; a wave of time is not.
#[test]
fn a_wave_of_the_ground_is_even_by_distance() {
    let wave = |x: f64| (2.0 * std::f64::consts::PI * x).sin();
    let (signals, gnss) = pass(60.0, 0.5, |_, way| wave(way / 0.8));
    let tail = &signals.channels[&ChannelRole::Tail];
    let even = at_even_speed(&travel(&gnss), &signals, &signals.segments, &[tail]).unwrap();
    let [stretch] = &even.channels[0][..] else { panic!("{} stretches", even.channels[0].len()) };
    for (step, value) in stretch.iter().enumerate().skip(10).take(stretch.len() - 20) {
        let truth = wave(step as f64 * even.step_m / 0.8);
        assert!((value - truth).abs() < 0.05, "step {step}: {value} not {truth}");
    }
}

#[test]
fn where_the_plow_stands_there_is_no_distance() {
    let (signals, mut gnss) = pass(60.0, 0.0, |t, _| t);
    for (t, speed) in gnss.t_s.iter().zip(&mut gnss.speed_mps) {
        if (20.0..30.0).contains(t) {
            *speed = 0.0;
        }
    }
    let tail = &signals.channels[&ChannelRole::Tail];
    let even = at_even_speed(&travel(&gnss), &signals, &signals.segments, &[tail]).unwrap();
    assert_eq!(even.channels[0].len(), 2);
    assert!((even.speed_mps - 1.5).abs() < 0.02, "{}", even.speed_mps);
}
