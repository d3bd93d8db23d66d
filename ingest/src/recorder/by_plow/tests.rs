use super::*;
use crate::plow::read_plow_text;
use std::path::Path;

/// The host's clock is so far ahead of the box's, in s.
const AHEAD_S: f64 = 40.0;

/// Watches a plow of 180 mm that goes from one stretch to the next: how long, in s, and whether in the ground. Depth
/// and pull come from two boxes, five rows at once. Calls `look` each second with host time in s.
fn watch(stretches: &[(u32, bool)], mut look: impl FnMut(&mut ByPlow, f64)) {
    let text = include_str!("../../../../sample-runs/plows/two-bottom.toml");
    let mut by_plow = ByPlow::of_plow(&read_plow_text(text, Path::new("plow.toml")).unwrap());
    let mut tenth = 0u32;
    for (lasts_s, in_ground) in stretches {
        for _ in 0..10 * *lasts_s {
            let (depth_mm, pull_n) = if *in_ground { (180.0, 9000.0) } else { (-60.0, 200.0) };
            let row = |number: u64, value: f64| {
                let mut row = Row::at(u64::from(tenth) * 100_000 + number * 20_000);
                row.push(value);
                row
            };
            let rows = |value: f64| -> Vec<Row> { (0..5).map(|number| row(number, value)).collect() };
            let (depths, pulls) = (rows(depth_mm), rows(pull_n));
            tenth += 1;
            let host_s = f64::from(tenth) / 10.0 + AHEAD_S;
            let times = ((host_s * 1e6) as u64, u64::from(tenth) * 100_000);
            by_plow.take(&[ChannelRole::Depth], &depths, times);
            by_plow.take(&[ChannelRole::Pull], &pulls, times);
            if tenth.is_multiple_of(10) {
                look(&mut by_plow, host_s);
            }
        }
    }
}

#[test]
fn a_pass_is_asked_for_once_and_is_over_two_seconds_after_it() {
    for (in_s, too_short) in [(9u32, true), (20, false)] {
        let (mut asked, mut over, mut short) = (Vec::new(), Vec::new(), None);
        watch(&[(5, false), (in_s, true), (8, false), (20, true), (8, false)], |by_plow, host_s| {
            if let Some((at_us, pass)) = by_plow.take_went_in() {
                asked.push((at_us as f64 / 1e6 - AHEAD_S, pass));
                by_plow.run_begins(true);
            }
            let out_since = |s: f64| by_plow.is_out_since(((host_s + s) * 1e6) as u64);
            if out_since(0.0) && over.len() < asked.len() {
                over.push(host_s - AHEAD_S);
                if over.len() == 1 {
                    let out =
                        |s: f64| by_plow.is_out_since(((f64::from(in_s) + 5.0 + s + AHEAD_S) * 1e6) as u64);
                    assert_eq!([out(1.6), out(2.4)], [false, true]);
                }
                short.get_or_insert(by_plow.too_short_s());
                by_plow.run_ends();
            }
        });
        let [(first_s, 1), (second_s, 2)] = asked[..] else { panic!("{asked:?}") };
        let in_s = f64::from(in_s);
        assert!((first_s - 5.0).abs() < 0.6 && (second_s - 13.0 - in_s).abs() < 0.6, "{asked:?}");
        assert!((over[0] - in_s - 5.0 - 2.0 - 0.5).abs() <= 0.6 && over.len() == 2, "{over:?}");
        // Two seconds of each end are not counted.
        let worked_s = short.unwrap();
        assert_eq!(worked_s.is_some(), too_short, "{worked_s:?}");
        assert!(worked_s.is_none_or(|s| (s - in_s + 4.0).abs() < 0.6), "{worked_s:?}");
    }
}

#[test]
fn a_run_of_a_person_is_no_pass_and_what_was_before_a_run_begins_or_ends_counts_no_more() {
    let mut second = 0;
    watch(&[(5, false), (10, true), (5, false), (10, true), (5, false), (10, true)], |by_plow, host_s| {
        second += 1;
        let host_us = (host_s * 1e6) as u64;
        match second {
            // In the ground: a person has started a run meanwhile, and stops it.
            10 => {
                by_plow.run_ends();
                assert_eq!(by_plow.take_went_in(), None, "the plow is in the ground still");
            }
            // It has come out; a person starts a run.
            19 => {
                assert!(by_plow.is_out_since(host_us));
                by_plow.run_begins(false);
                assert!(!by_plow.is_out_since(host_us), "that was before the run");
            }
            28 => assert_eq!(by_plow.take_went_in().map(|(_, pass)| pass), Some(1)),
            44 => {
                by_plow.run_begins(false);
                assert_eq!(by_plow.take_went_in(), None, "somebody was faster");
            }
            _ => {}
        }
    });
    assert_eq!(second, 45);
}

/// Found: a run stopped by hand in the ground was followed by another one at once.
#[test]
fn after_a_stop_by_hand_the_plow_comes_out_before_it_begins_another_run() {
    // Begun by the plow or by a person, or stopped before it was sure that the plow is in.
    for (begun_by_plow, stopped_at) in [(true, 20), (false, 20), (false, 11)] {
        let (mut asked, mut running) = (Vec::new(), false);
        watch(&[(10, false), (40, true), (10, false), (6, true)], |by_plow, host_s| {
            let second = (host_s - AHEAD_S).round() as u32;
            if second == 9 && !begun_by_plow {
                by_plow.run_begins(false);
                running = true;
            }
            if !running && by_plow.take_went_in().is_some() {
                by_plow.run_begins(true);
                asked.push(second);
                running = true;
            }
            if second == stopped_at {
                by_plow.is_stopped((host_s * 1e6) as u64);
                running = false;
            }
            match second {
                9 | 59 => assert_eq!(by_plow.begins(), Begins::WhenIn),
                49 => assert_eq!(by_plow.begins(), Begins::OnceOut),
                _ => {}
            }
        });
        assert_eq!(asked.len(), 1 + usize::from(begun_by_plow), "stopped at {stopped_at} s: {asked:?}");
        assert!(asked.last().is_some_and(|last| *last > 60), "{asked:?}");
    }
}

/// A plow that goes in again while the run goes on is not out any more.
#[test]
fn a_plow_that_is_in_again_is_not_out_since_before() {
    let mut out_s = Vec::new();
    watch(&[(5, false), (12, true), (6, false), (20, true)], |by_plow, host_s| {
        if by_plow.is_out_since((host_s * 1e6) as u64) {
            out_s.push((host_s - AHEAD_S) as u32);
        }
    });
    let (Some(first), Some(last)) = (out_s.first(), out_s.last()) else { panic!("never out") };
    assert!((19..=20).contains(first) && (23..=27).contains(last), "{out_s:?}");
}
