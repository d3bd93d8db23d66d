use super::*;
use ingest::assemble::Row;
use ingest::plow::read_plow;
use std::path::Path;

const PULL: [ChannelRole; 1] = [ChannelRole::Pull];
/// A row each 10 ms.
const ROW_US: u64 = 10_000;
const SECOND_US: u64 = 1_000_000;

fn two_bottom() -> (Plow, Setting) {
    let plow =
        read_plow(&Path::new(env!("CARGO_MANIFEST_DIR")).join("../../sample-runs/plows/two-bottom.toml"))
            .unwrap();
    let setting = plow.settings.values().next().unwrap().clone();
    (plow, setting)
}

fn kept_for(keep_s: f64) -> Window {
    let (plow, setting) = two_bottom();
    Window::of(&plow, &setting, keep_s)
}

/// One row a call, as a slow line brings them.
fn take(window: &mut Window, (number, columns): (usize, &[ChannelRole]), t_us: u64, values: &[f64]) {
    let mut row = Row::at(t_us);
    values.iter().for_each(|value| row.push(*value));
    window.take(&LiveRows { number, columns, rows: &[row] });
}

fn seconds(from_s: u64, to_s: u64) -> impl Iterator<Item = u64> {
    (from_s * SECOND_US..to_s * SECOND_US).step_by(ROW_US as usize)
}

fn close(found: f64, expected: f64) -> bool {
    (found - expected).abs() < 1e-9 * (1.0 + expected.abs())
}

#[test]
fn a_gap_is_as_long_as_the_rows_that_did_not_come() {
    let mut window = kept_for(30.0);
    seconds(0, 4).chain(seconds(5, 10)).for_each(|t_us| take(&mut window, (0, &PULL), t_us, &[1.0]));
    assert!(close(window.between(0, 10 * SECOND_US).missing_share(), 0.1));
    // The rows after it are where it is counted.
    assert!(close(window.between(0, 4 * SECOND_US).missing_share(), 0.0));
    assert!(close(window.between(5 * SECOND_US, 10 * SECOND_US).missing_share(), 0.2));
}

/// Rows twice as far apart are gaps until they are what is usual of the last 31; from then on the box is a slower one.
#[test]
fn a_box_that_is_slower_from_now_on_is_without_rows_for_as_long_as_that_may_be_loss() {
    let (mut window, slow_us) = (kept_for(30.0), 2 * ROW_US);
    seconds(0, 10).for_each(|t_us| take(&mut window, (0, &PULL), t_us, &[1.0]));
    let slower = (10 * SECOND_US..20 * SECOND_US).step_by(slow_us as usize);
    slower.for_each(|t_us| take(&mut window, (0, &PULL), t_us + ROW_US, &[1.0]));
    let missing_s = 20.0 * window.between(0, 20 * SECOND_US).missing_share();
    assert!(close(missing_s, 16.0 * 0.01), "{missing_s}");
}

#[test]
fn a_box_that_came_late_or_fell_silent_is_without_rows_for_so_long() {
    let mut window = kept_for(30.0);
    assert!(close(window.between(0, SECOND_US).missing_share(), 1.0), "without a box there is nothing");
    seconds(2, 8).for_each(|t_us| take(&mut window, (0, &PULL), t_us, &[1.0]));
    // Two bins may be rounding.
    let late_s = 8.0 * window.between(0, 8 * SECOND_US).missing_share();
    assert!(close(late_s, 1.9), "{late_s}");
    // Half a second may still be on its way.
    assert!(close(window.between(2 * SECOND_US, 8 * SECOND_US + SECOND_US / 2).missing_share(), 0.0));
    let silent_s = 8.0 * window.between(2 * SECOND_US, 10 * SECOND_US).missing_share();
    assert!(close(silent_s, 2.01), "{silent_s}");
    // The box that lacks most is what counts.
    seconds(2, 10).for_each(|t_us| take(&mut window, (1, &[ChannelRole::Depth]), t_us, &[1.0]));
    assert!(close(8.0 * window.between(2 * SECOND_US, 10 * SECOND_US).missing_share(), silent_s));
}

#[test]
fn what_is_kept_is_whole_and_what_is_older_is_gone() {
    let mut window = kept_for(2.0);
    seconds(0, 4).chain([4 * SECOND_US]).for_each(|t_us| {
        take(&mut window, (0, &PULL), t_us, &[t_us as f64 / 1e6]);
    });
    let kept = window.between(2 * SECOND_US, 4 * SECOND_US).mean(ChannelRole::Pull).unwrap();
    assert!(close(kept.value, 2.995), "{kept:?}");
    let all = window.between(0, 4 * SECOND_US).mean(ChannelRole::Pull).unwrap();
    assert_eq!(all, kept, "nothing of before is left");
    assert_eq!(window.latest_us(), Some(4 * SECOND_US));
}

#[test]
fn a_box_with_other_columns_begins_anew_and_a_column_of_ones_own_is_let_by() {
    let mut window = kept_for(30.0);
    seconds(0, 5).for_each(|t_us| take(&mut window, (0, &PULL), t_us, &[7.0]));
    // What the user has named comes behind what is known.
    let columns = [ChannelRole::Depth, ChannelRole::Pull];
    seconds(5, 10).for_each(|t_us| take(&mut window, (0, &columns), t_us, &[180.0, 9.0, 1_850.0]));
    let readings = window.between(0, 10 * SECOND_US);
    let mean = |role| readings.mean(role).map(|mean| mean.value);
    assert_eq!((mean(ChannelRole::Pull), mean(ChannelRole::Depth)), (Some(9.0), Some(180.0)));
    assert!(ChannelRole::ALL.iter().all(|role| readings.has(*role) == columns.contains(role)));
    assert_eq!(mean(ChannelRole::Pitch), None);
}

#[test]
fn a_load_under_a_twentieth_of_the_standing_one_counts_as_lifted() {
    let (plow, setting) = two_bottom();
    for (role, per_n) in [(ChannelRole::TailLoad, 1.0), (ChannelRole::Tail, 1.0 / 25.0)] {
        let judged = JudgedLoad::of(&plow, &setting, |other| other == role).unwrap();
        let under_n = judged.lifted_under_n().unwrap();
        assert!(under_n > 1.0, "{under_n}");
        let mut window = kept_for(30.0);
        for (t_us, share) in seconds(0, 1).zip([0.9, 1.1, 0.0, 20.0].into_iter().cycle()) {
            take(&mut window, (0, &[role]), t_us, &[share * under_n * per_n]);
        }
        let readings = window.between(0, SECOND_US);
        assert_eq!(readings.lifted_share(&judged), Some(0.5), "{role:?}");
        // By its table, which has 25 N a mm, the spring's load is the one that it was made from.
        let by_table = readings.tail_by_table().map(|load| load.value / under_n);
        assert!(by_table.is_none_or(|share| close(share, 22.0 / 4.0)), "{by_table:?}");
        assert_eq!(by_table.is_some(), role == ChannelRole::Tail);
    }
}

#[test]
fn a_sensor_stands_still_only_if_every_bin_is_the_same() {
    let mut window = kept_for(30.0);
    let other = |t_us| if t_us == 7 * SECOND_US { 0.1 + 1e-6 } else { 0.1 };
    for t_us in seconds(0, 10) {
        take(&mut window, (0, &[ChannelRole::Pull, ChannelRole::Depth]), t_us, &[0.1, other(t_us)]);
    }
    let readings = window.between(0, 10 * SECOND_US);
    assert!(readings.never_moves(ChannelRole::Pull) && !readings.never_moves(ChannelRole::Depth));
    assert!(!readings.never_moves(ChannelRole::Tail), "what is not measured does not stand still");
}

/// The second box comes a second later and has a gap; what is the same on both differs by nothing at any moment.
#[test]
fn two_boxes_are_put_together_moment_by_moment() {
    let mut window = kept_for(30.0);
    let wave = |t_us: u64| 100.0 * (t_us as f64 / 3e5).sin();
    for t_us in seconds(0, 10) {
        take(&mut window, (0, &PULL), t_us, &[wave(t_us)]);
        if t_us >= SECOND_US && !(4 * SECOND_US..5 * SECOND_US).contains(&t_us) {
            take(&mut window, (1, &[ChannelRole::LowerLinks]), t_us, &[wave(t_us)]);
        }
    }
    let readings = window.between(0, 10 * SECOND_US);
    let both = (ChannelRole::Pull, ChannelRole::LowerLinks);
    let apart = readings.mean_of_both(both, |one, other| one - other).unwrap();
    assert!(apart.half_width() < 1e-9, "{apart:?}");
    let mean = |role| readings.mean(role).unwrap().value;
    assert!(close(apart.value, mean(both.0) - mean(both.1)));
    assert_eq!(readings.mean_of_both((ChannelRole::Pull, ChannelRole::TopLink), |one, _| one), None);
}

#[test]
fn where_no_row_came_nothing_is_said_of_depth_and_pull() {
    let mut window = kept_for(30.0);
    let columns = [ChannelRole::Pull, ChannelRole::Depth];
    for t_us in seconds(0, 1).chain(seconds(2, 3)) {
        take(&mut window, (0, &columns), t_us, &[4_000.0, t_us as f64 / 1e4]);
    }
    let pull = |at: &dyn Fn(ChannelRole) -> Option<f64>| at(ChannelRole::Pull);
    let bins = window.depth_and_pull((0, 3 * SECOND_US), pull);
    assert_eq!(bins.len(), 60);
    assert_eq!(bins.iter().filter(|bin| bin.is_none()).count(), 20);
    assert!(bins[20..40].iter().all(Option::is_none));
    let (depth_mm, pull_n) = bins[1].unwrap();
    assert!(close(depth_mm, 7.0) && close(pull_n, 4_000.0), "{depth_mm} {pull_n}");
    assert!(window.depth_and_pull((0, SECOND_US), |_| None).iter().all(Option::is_none));
}
