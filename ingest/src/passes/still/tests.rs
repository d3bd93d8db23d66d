use super::*;
use crate::plow::read_plow_text;

const COLUMNS: [ChannelRole; 3] = [ChannelRole::Pull, ChannelRole::Tail, ChannelRole::Depth];

fn stood(stretches: &[(f64, [f64; 3], f64)]) -> Vec<ZeroBefore> {
    let text = include_str!("../../../../sample-runs/plows/two-bottom.toml");
    let mut plow = read_plow_text(text, std::path::Path::new("plow.toml")).unwrap();
    plow.sensors.retain(|sensor| COLUMNS.contains(&sensor.measures));
    let mut standing = Standing::of(&plow);
    let mut row = 0u32;
    for (lasts_s, values, sway) in stretches {
        for _ in 0..(lasts_s * 100.0) as u32 {
            let t_s = f64::from(row) / 100.0;
            let wave = (9.0 * t_s).sin();
            standing.take(
                t_s,
                &COLUMNS,
                &values.map(|value| value + sway * wave * (1.0 + 0.1 * value.abs())),
            );
            row += 1;
        }
    }
    standing.take_zero(f64::from(row) / 100.0)
}

#[test]
fn the_last_time_that_the_plow_hung_still_is_kept() {
    let (still, rolling, plowing) = ([12.0, 40.0, -60.0], [300.0, 41.0, -60.0], [7000.0, 30.0, 180.0]);
    let zero = stood(&[(20.0, plowing, 5.0), (6.0, still, 0.0), (10.0, rolling, 3.0)]);
    assert_eq!(zero.len(), 1, "{zero:?}");
    assert!((zero[0].mean - 12.0).abs() < 0.01 && (5.0..=6.0).contains(&zero[0].still_s), "{zero:?}");
    assert!((zero[0].before_s - 10.0).abs() < 1.1 && zero[0].half_width() < 0.1, "{zero:?}");
    // Rolling, standing in the ground, and too short.
    for (lasts_s, values, sway) in [(20.0, rolling, 3.0), (20.0, [0.0, 30.0, 180.0], 0.0), (1.5, still, 0.0)]
    {
        assert_eq!(stood(&[(20.0, plowing, 5.0), (lasts_s, values, sway), (5.0, rolling, 3.0)]), []);
    }
}

#[test]
fn two_seconds_in_one_stretch_are_enough_and_serve_one_run() {
    let (still, rolling, plowing) = ([12.0, 40.0, -60.0], [300.0, 41.0, -60.0], [7000.0, 30.0, 180.0]);
    let zero = stood(&[(20.0, plowing, 5.0), (2.0, still, 0.0), (5.0, rolling, 3.0)]);
    assert_eq!((zero[0].still_s, zero[0].before_s), (2.0, 5.0), "{zero:?}");
    let text = include_str!("../../../../sample-runs/plows/two-bottom.toml");
    let mut plow = read_plow_text(text, std::path::Path::new("plow.toml")).unwrap();
    plow.sensors.retain(|sensor| COLUMNS.contains(&sensor.measures));
    let columns = [&COLUMNS[..], &[ChannelRole::Speed]].concat();
    // Rows from one number to another, a hundred a second, at a speed.
    let stands = |stretches: &[[u32; 2]], mps: f64| {
        let mut standing = Standing::of(&plow);
        for row in stretches.iter().flat_map(|[from, to]| *from..*to) {
            standing.take(f64::from(row) / 100.0, &columns, &[12.0, 40.0, -60.0, mps]);
        }
        // Then it rolls.
        for row in 3000..3300 {
            standing.take(f64::from(row) / 100.0, &columns, &[900.0, 40.0, -60.0, 1.5]);
        }
        [standing.take_zero(33.0).len(), standing.take_zero(33.0).len()]
    };
    assert_eq!(stands(&[[2500, 2800]], 0.0), [1, 0], "another run needs another stretch");
    assert_eq!(stands(&[[2500, 2800]], 1.5), [0, 0], "it moves");
    assert_eq!(stands(&[[1000, 1150], [2500, 2650]], 0.0), [0, 0], "nobody saw it between");
}

/// Four half seconds: Student's t of three degrees of freedom, by its table, over the root of four.
#[test]
fn the_interval_of_a_zero_is_as_wide_as_so_few_pieces_make_it() {
    let zero = |still_s| ZeroBefore {
        column: "pull_n".to_owned(),
        mean: 12.0,
        sd_of_half_seconds: 10.0,
        still_s,
        before_s: 0.0,
    };
    assert!((zero(2.0).half_width() - 3.182 * 10.0 / 2.0).abs() < 0.01, "{}", zero(2.0).half_width());
    assert!((zero(12.5).half_width() - 2.064 * 10.0 / 5.0).abs() < 0.01, "{}", zero(12.5).half_width());
}

/// A sensor of the plow that brings nothing may be moving; backing up is moving; a piece that shakes is no rest.
#[test]
fn what_cannot_be_seen_or_moves_backward_does_not_stand_still() {
    let text = include_str!("../../../../sample-runs/plows/two-bottom.toml");
    let mut plow = read_plow_text(text, std::path::Path::new("plow.toml")).unwrap();
    plow.sensors.retain(|sensor| COLUMNS.contains(&sensor.measures));
    let zeros = |columns: &[ChannelRole], values: &[f64]| {
        let mut standing = Standing::of(&plow);
        (0..500u32).for_each(|row| standing.take(f64::from(row) / 100.0, columns, values));
        standing.take_zero(5.0).len()
    };
    let columns = [&COLUMNS[..], &[ChannelRole::Speed]].concat();
    assert_eq!(zeros(&columns, &[12.0, 40.0, -60.0, 0.1]), 1);
    assert_eq!(zeros(&columns, &[12.0, 40.0, -60.0, -0.5]), 0, "backward");
    assert_eq!(zeros(&COLUMNS, &[12.0, 40.0, 30.0]), 0, "as deep as plowing");
    assert_eq!(zeros(&COLUMNS[..2], &[12.0, 40.0]), 0, "nobody sees how deep");
    assert!(is_still((1.0, 10.0), 1.0, 1000.0) && is_still((-9.0, 0.0), 1.0, 1000.0));
    assert!(!is_still((1.0, 10.1), 1.0, 1000.0) && !is_still((-9.1, 0.0), 1.0, 1000.0));
}
