use super::*;
use proptest::prelude::*;

proptest! {
    #[test]
    fn the_nearest_value_is_found_across_any_number_of_wraps(
        expected in (1u64 << 33)..(1 << 45), off in -(1i64 << 31) + 1..(1 << 31) - 1,
    ) {
        let real = expected.saturating_add_signed(off);
        prop_assert_eq!(nearest(real as u32, expected), real);
    }

    /// Drift up to 400 ppm, jitter of the answers up to 6 ms, any phase of the 32-bit clock: run
    /// time rises strictly, keeps to real time within 4 ms after the first 30 s and within 2 ms after the first minute, and its rate is
    /// never off by more than the bend allows.
    #[test]
    fn run_time_follows_the_host_through_drift_and_jitter(
        boot_us in any::<u32>(), drift in -400e-6..400e-6f64, delays in proptest::collection::vec(0.0..3000f64, 480),
    ) {
        let mut clock = RunClock::default();
        let box_at = |host: f64| u64::from(boot_us) + (host * (1.0 + drift)) as u64;
        clock.start(2_000_000);
        let (mut last, mut last_host) = (None, 0.0);
        for second in 0..240u32 {
            let sent = f64::from(second) * 1e6 + 1.9e6;
            let (to, fro) = (delays[second as usize], delays[479 - second as usize]);
            let stamp = box_at(sent + to) as u32;
            let came = (sent + to + fro) as u64;
            let box_us = clock.unwrap_us(stamp, came);
            let apart = clock.round_trip(box_us, sent as u64, came);
            prop_assert_eq!(apart, None);
            for k in 0..10u32 {
                let host = sent + 1e5 + f64::from(k) * 1e5;
                let row_us = clock.unwrap_us(box_at(host) as u32, host as u64);
                if !clock.places() {
                    clock.begin(row_us, host - row_us as f64);
                }
                let run = clock.place_row(row_us).unwrap();
                if let Some(last) = last {
                    prop_assert!(run > last);
                    let step = (run - last) as f64 - (host - last_host);
                    prop_assert!(step.abs() < 1e-3 * 1e5 + 3.0, "step {} us", step);
                }
                (last, last_host) = (Some(run), host);
                if second >= 30 {
                    let error = run as f64 - (host - 2e6);
                    let most = if second < 60 { 4000.0 } else { 2000.0 };
                    prop_assert!(error.abs() < most, "off by {} us at {} s", error, second);
                }
            }
        }
    }
}

#[test]
fn a_box_that_runs_twenty_times_too_fast_is_followed_alone_from_the_second_ping() {
    let mut clock = RunClock::default();
    clock.start(1_000_000);
    let mut found = None;
    for k in 0..5u64 {
        let host = 1_000_000 + k * 30_000;
        let box_us = clock.unwrap_us((20 * host) as u32, host);
        found = found.or(clock.round_trip(box_us, host - 100, host + 100));
    }
    assert!((found.unwrap() - 20.0).abs() < 0.5);
    let first = clock.unwrap_us(20 * 1_200_000, 1_200_000);
    clock.begin(first, 1_200_000.0 - first as f64);
    assert_eq!(clock.place_row(first), Some(200_000));
    assert_eq!(clock.place_row(first + 1_000_000), Some(1_200_000));
}

#[test]
fn after_a_boot_run_time_goes_on_by_the_host_and_still_rises() {
    let mut clock = RunClock::default();
    clock.start(0);
    clock.begin(5_000_000_000, 1_000_000.0 - 5_000_000_000.0);
    assert_eq!(clock.place_row(5_000_000_000), Some(1_000_000));
    clock.forget_box();
    assert_eq!(clock.place_row(7), None);
    // Two seconds later by the host; the box is young again.
    clock.begin(4_294_967_300, 3_000_000.0 - 4_294_967_300.0);
    assert_eq!(clock.place_row(4_294_967_300), Some(3_000_000));
    clock.forget_box();
    clock.begin(4_294_967_300, 2_000_000.0 - 4_294_967_300.0);
    assert_eq!(clock.place_row(4_294_967_300), Some(3_000_001));
}

/// A cable that is out for ten minutes, with 3 ms of jitter before it: what was being worked off
/// must not go on through the gap.
#[test]
fn an_offset_before_a_long_gap_does_not_grow_in_it() {
    for late in [0u64, 3000] {
        let mut clock = RunClock::default();
        clock.start(0);
        clock.begin(5_001_000_000, 1_000_000.0 - 5_001_000_000.0 + late as f64);
        for k in 1..5u64 {
            let host = k * 1_000_000;
            clock.place_row(5_000_000_000 + host);
            clock.round_trip(5_000_000_000 + host, host - 100, host + 100);
        }
        let host = 659_000_000;
        let run = clock.place_row(5_000_000_000 + host).unwrap();
        assert!(run.abs_diff(host) < 500, "{run} us, not {host}");
    }
}

#[test]
fn a_host_that_slept_does_not_bend_run_time() {
    let mut clock = RunClock::default();
    clock.start(0);
    for k in 0..10u64 {
        clock.round_trip(5_000_000_000 + k * 1_000_000, k * 1_000_000 - k.min(1) * 50, k * 1_000_000 + 50);
    }
    clock.begin(5_009_000_000, 0.0);
    let before = clock.place_row(5_009_000_000).unwrap();
    // 60 s of sleep: the box went on, the host's monotonic clock did not.
    clock.host_may_have_slept();
    for k in 70..90u64 {
        let host = (k - 60) * 1_000_000;
        assert_eq!(clock.round_trip(5_000_000_000 + k * 1_000_000, host - 50, host + 50), None);
        clock.place_row(5_000_000_000 + k * 1_000_000);
    }
    let after = clock.place_row(5_090_000_000).unwrap();
    let lasted = after - before;
    assert!((80_990_000..81_010_000).contains(&lasted), "{lasted}");
}

/// Found: where the first answer after a sleep came before the first row, the box's rate was forgotten over all of it.
#[test]
fn a_sleep_takes_as_long_as_the_box_says_at_the_rate_that_was_known() {
    let mut clock = RunClock::default();
    clock.start(0);
    // A box that is 80 ppm fast, seen for two minutes.
    let box_us = |true_us: u64| 5_000_000_000 + true_us + true_us * 80 / 1_000_000;
    let trip = |clock: &mut RunClock, true_us: u64, host_us: u64| {
        assert_eq!(clock.round_trip(box_us(true_us), host_us - 50, host_us + 50), None);
    };
    (1..=120).for_each(|k| {
        trip(&mut clock, k * 1_000_000, k * 1_000_000);
        if k == 5 {
            clock.begin(box_us(5_000_000), 0.0);
        }
        if k >= 5 {
            clock.place_row(box_us(k * 1_000_000));
        }
    });
    let before_us = clock.place_row(box_us(120_500_000)).unwrap();
    clock.host_may_have_slept();
    trip(&mut clock, 181_000_000, 121_000_000);
    let after_us = clock.place_row(box_us(181_200_000)).unwrap();
    let off_us = (after_us - before_us).abs_diff(60_700_000);
    assert!(off_us < 200, "{off_us} us");
}

/// Found: what was known of a box's clock was forgotten whenever the wall clock was set, so a sleep soon after it took as
/// long as a box said whose rate was not known.
#[test]
fn a_wall_clock_that_is_set_takes_nothing_from_what_is_known_of_the_box() {
    let mut clock = RunClock::default();
    clock.start(0);
    // A box that is 96 ppm slow.
    let box_us = |true_us: u64| 5_000_000_000 + true_us - true_us * 96 / 1_000_000;
    let trip = |clock: &mut RunClock, true_us: u64, host_us: u64| {
        assert_eq!(clock.round_trip(box_us(true_us), host_us - 50, host_us + 50), None);
    };
    (1..=120).for_each(|k| {
        trip(&mut clock, k * 1_000_000, k * 1_000_000);
        if k == 5 {
            clock.begin(box_us(5_000_000), 0.0);
        }
        if k >= 5 {
            clock.place_row(box_us(k * 1_000_000));
        }
    });
    clock.host_may_have_slept();
    trip(&mut clock, 121_000_000, 121_000_000);
    trip(&mut clock, 122_000_000, 122_000_000);
    let before_us = clock.place_row(box_us(122_500_000)).unwrap();
    clock.host_may_have_slept();
    trip(&mut clock, 183_000_000, 123_000_000);
    let after_us = clock.place_row(box_us(183_200_000)).unwrap();
    let off_us = (after_us - before_us).abs_diff(60_700_000);
    assert!(off_us < 200, "{off_us} us");
}

/// Found: the sleep of a host right after a boot was forgotten with the clock of before, and run time, which the box had
/// brought over it, was bent back towards the host's for hours.
#[test]
fn a_sleep_right_after_a_boot_does_not_bend_run_time() {
    for is_told_first in [true, false] {
        let mut clock = RunClock::default();
        clock.start(0);
        clock.begin(5_000_000_000, -5_000_000_000.0);
        (0..=100).for_each(|k| _ = clock.place_row(5_000_000_000 + k * 100_000));
        // It boots at 10.05 s, the host sleeps from 10.1 s on for a minute.
        let boots = |clock: &mut RunClock| clock.forget_box();
        if is_told_first {
            boots(&mut clock);
        }
        clock.host_may_have_slept();
        if !is_told_first {
            boots(&mut clock);
        }
        clock.begin(6_000_000_000, 10_100_000.0 - 6_060_050_000.0);
        let first_us = clock.place_row(6_000_000_000).unwrap();
        for k in 0..60u64 {
            let (box_us, host_us) = (6_061_000_000 + k * 1_000_000, 11_050_000 + k * 1_000_000);
            clock.arrival(box_us, host_us);
            let off_us = (clock.place_row(box_us).unwrap() - first_us).abs_diff(box_us - 6_000_000_000);
            assert!(off_us < 20_000, "{off_us} us after {k} s");
        }
        let behind_us = clock.run_at_host(70_050_000).abs_diff(first_us + 120_000_000);
        assert!(behind_us < 20_000, "{behind_us} us");
    }
}

/// A box whose answers come each second, 10 ppm fast, from its 5th second on at box time 5,000 s, in run time.
fn followed(until_s: u64) -> RunClock {
    let mut clock = RunClock::default();
    clock.start(0);
    for k in 1..=until_s {
        trip(&mut clock, k, k * 1_000_000);
        if k == 5 {
            clock.begin(box_us(5), 0.0);
        }
        if k >= 5 {
            clock.place_row(box_us(k));
        }
    }
    clock
}

fn box_us(true_s: u64) -> u64 {
    5_000_000_000 + true_s * 1_000_000 + true_s * 10
}

fn trip(clock: &mut RunClock, true_s: u64, host_us: u64) {
    assert_eq!(clock.round_trip(box_us(true_s), host_us - 50, host_us + 50), None);
}

/// The wall clock stepped twice before anything was heard again: the fit of before the first step is what is known.
#[test]
fn steps_of_the_wall_clock_one_after_the_other_forget_nothing() {
    let mut clock = followed(120);
    let before_us = clock.place_row(box_us(121)).unwrap();
    clock.host_may_have_slept();
    clock.host_may_have_slept();
    // Nobody slept.
    trip(&mut clock, 122, 122_000_000);
    let line = clock.line().unwrap();
    assert!((line.rate + 10e-6).abs() < 2e-6, "{line:?}");
    let after_us = clock.place_row(box_us(123)).unwrap();
    assert!((after_us - before_us).abs_diff(2_000_000) < 100, "{before_us} {after_us}");
}

/// A tenth of a second is neither a sleep nor what clocks drift apart by: the host's time is followed anew.
#[test]
fn a_step_between_sleep_and_drift_is_worked_off() {
    let mut clock = followed(60);
    clock.host_may_have_slept();
    (61..=600).for_each(|k| {
        trip(&mut clock, k, k * 1_000_000 - 100_000);
        clock.place_row(box_us(k));
    });
    let run_us = clock.place_row(box_us(601)).unwrap();
    assert!(run_us.abs_diff(600_900_000) < 5_000, "{run_us}");
}

/// Before the run begins nothing is placed, and of a clock that runs apart nobody knows by how much it is off.
#[test]
fn nothing_is_placed_before_the_run_nor_held_against_a_clock_that_runs_apart() {
    let mut early = RunClock::default();
    early.begin(5_000_000_000, 0.0);
    assert_eq!((early.places(), early.place_row(5_000_000_000), early.run_at_host(7)), (false, None, 0));
    let off_us = |times: u64| {
        let mut clock = RunClock::default();
        clock.start(0);
        for k in 1..=20u64 {
            clock.round_trip(5_000_000_000 + times * k * 1_000_000, k * 1_000_000 - 50, k * 1_000_000 + 50);
        }
        assert!(clock.line().is_some());
        // What it showed half a second late.
        clock.off_us(5_000_000_000 + times * 20_000_000, 20_500_000).map(|off_us| (off_us / 1e3).round())
    };
    assert_eq!((off_us(1), off_us(2)), (Some(-500.0), None));
}

/// The host slept before the first row of a run: the run begins where its first row is, and nothing was slept in it.
#[test]
fn a_sleep_before_the_first_row_is_none_of_the_run() {
    let mut clock = RunClock::default();
    clock.start(0);
    clock.host_may_have_slept();
    clock.begin(5_000_000_000, -5_000_400_000.0);
    assert_eq!(clock.place_row(5_000_000_000), Some(0), "not before the run");
    assert_eq!(clock.run_at_host(3_000_000), 3_000_000);
}

/// Round trips and arrivals are kept apart: what was known by the one says nothing to the other.
#[test]
fn a_fit_goes_on_from_one_of_its_own_kind_only() {
    let by_pings = || {
        let mut fit = ClockFit::default();
        (0..5u64).for_each(|k| {
            fit.add(RoundTrip { box_us: k * 1_000_000, host_us: 7e6 + k as f64 * 1e6, took_us: 900.0 })
        });
        fit
    };
    let by_arrivals = || {
        let mut fit = ClockFit::default();
        (0..5u64).for_each(|k| fit.add_arrival(k * 1_000_000, 9_000_000 + k * 1_000_000));
        fit
    };
    let host_at_0 = |fit: &ClockFit| fit.line.unwrap().host_at(0.0).round();
    let (mut pings, mut arrivals) = (by_pings(), by_arrivals());
    pings.go_on(by_arrivals());
    arrivals.go_on(by_pings());
    assert_eq!((host_at_0(&pings), pings.is_known()), (7e6, true));
    assert_eq!((host_at_0(&arrivals), arrivals.is_known()), (9e6, false));
    let mut none = ClockFit::default();
    none.go_on(by_pings());
    assert!(none.is_known(), "what is empty takes what is known");
}
