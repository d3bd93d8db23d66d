use super::*;
use ingest::assemble::Row;
use ingest::plow::{Plow, Setting, read_plow};
use ingest::quantity::Force;
use ingest::recorder::{LiveRows, View};
use sample_runs::plow::{Case, Pass};
use statics::plow_model::link_forces;
use statics::predict::nominal;
use statics::verdict::Class;
use std::path::Path;
use std::time::{Duration, Instant};

const BASIC: [ChannelRole; 3] = [ChannelRole::Pull, ChannelRole::Tail, ChannelRole::Depth];

fn example(file: &str) -> Plow {
    read_plow(&Path::new(env!("CARGO_MANIFEST_DIR")).join("../../sample-runs/plows").join(file)).unwrap()
}

/// Rows of the virtual plow as perfect sensors would read them, 100 a second, the way into the ground included.
fn rows(case: Case, working_s: f64) -> Vec<Row> {
    let mut pass = Pass::new(&case.pass(3, working_s));
    let mut rows = Vec::new();
    while !pass.is_over() {
        let state = pass.state();
        rows.push(row(state.t_s, &[state.pull_n, state.tail_mm, state.depth_mm]));
        pass.advance(0.01);
    }
    rows
}

fn row(t_s: f64, values: &[f64]) -> Row {
    let mut row = Row::at((t_s * 1e6).round() as u64);
    values.iter().for_each(|value| row.push(*value));
    row
}

fn take(window: &mut Window, columns: &[ChannelRole], rows: &[Row]) {
    rows.chunks(8).for_each(|rows| window.take(&LiveRows { number: 0, columns, rows }));
}

fn two_bottom(case: Case) -> (Plow, Setting) {
    let mut plow = example("two-bottom.toml");
    plow.bottoms.share = case.share().name().parse().unwrap();
    let setting = plow.settings[case.setting_name()].clone();
    (plow, setting)
}

fn judged((plow, setting): (&Plow, &Setting), window: &Window) -> Balance {
    let span_us = match last_stretch((plow, setting), window) {
        Ok(span_us) => span_us,
        Err(why) => return Balance::NotShown { why },
    };
    match balance_of((plow, setting), window, span_us, DRAWS) {
        Ok(found) => {
            let judged = found.judged.resting((plow, setting), &found.figures);
            Balance::of(&judged, found.front, OVER_S)
        }
        Err(why) => Balance::NotShown { why },
    }
}

/// What is told when the rows up to a time have come.
fn told_at(case: Case, rows: &[Row], t_s: f64) -> Balance {
    let (plow, setting) = two_bottom(case);
    let mut window = Window::of(&plow, &setting, KEPT_S);
    let until = rows.partition_point(|row| row.t_us as f64 <= t_s * 1e6);
    take(&mut window, &BASIC, &rows[..until]);
    judged((&plow, &setting), &window)
}

fn why(balance: Balance) -> NotShown {
    match balance {
        Balance::NotShown { why } => why,
        Balance::Shown(shown) => panic!("{shown:?}"),
    }
}

#[test]
fn each_case_is_told_by_its_last_seconds_and_twice_alike() {
    for (case, class, side) in [
        (Case::TooFlat, Class::TooFlat, 1.0),
        (Case::Balanced, Class::Balanced, 0.0),
        (Case::TooSteep, Class::TooSteep, -1.0),
    ] {
        let rows = rows(case, 40.0);
        let (from_s, _) = working_s(case, 40.0);
        let balance = told_at(case, &rows, from_s + 30.0);
        let Balance::Shown(shown) = &balance else { panic!("{case:?}: {balance:?}") };
        assert!(shown.class.apart(class).is_some_and(|apart| apart <= 1), "{case:?}: {shown:?}");
        assert!(side == 0.0 || side * shown.b > 0.25, "{case:?}: {shown:?}");
        let sum =
            shown.too_flat + shown.leaning_flat + shown.balanced + shown.leaning_steep + shown.too_steep;
        assert!((sum - 1.0).abs() < 1e-9 && shown.low <= shown.b && shown.b <= shown.high, "{shown:?}");
        assert_eq!(balance, told_at(case, &rows, from_s + 30.0));
    }
}

fn working_s(case: Case, working_s: f64) -> (f64, f64) {
    let times = case.pass(3, working_s).times;
    (times.working_from_s(), times.working_to_s())
}

#[test]
fn nothing_is_said_before_the_plow_was_in_the_ground_for_long_enough_nor_after() {
    let case = Case::Balanced;
    let rows = rows(case, 40.0);
    let (from_s, to_s) = working_s(case, 40.0);
    assert_eq!(why(told_at(case, &rows, from_s - 3.0)), NotShown::NotInGround);
    for after_s in [3.0, 12.0, 20.0] {
        let NotShown::InGroundTooShort { in_s } = why(told_at(case, &rows, from_s + after_s)) else {
            panic!("after {after_s} s")
        };
        // The way into the ground counts from half of the depth on.
        assert!((KEPT_S - after_s - in_s).abs() < 1.5, "after {after_s} s: in {in_s} s");
    }
    let last_s = rows.last().unwrap().t_us as f64 / 1e6;
    assert!(last_s > to_s + 2.5, "the pass goes on for long enough to see the plow in the air");
    assert!(matches!(
        why(told_at(case, &rows, last_s)),
        NotShown::NotInGround | NotShown::InGroundTooShort { .. }
    ));
}

#[test]
fn missing_rows_and_channels_and_a_sensor_that_stands_still_are_told() {
    let case = Case::Balanced;
    let (plow, setting) = two_bottom(case);
    let rows = rows(case, 40.0);
    let end_s = working_s(case, 40.0).0 + 30.0;
    let known: Vec<Row> = rows.into_iter().filter(|row| row.t_us as f64 <= end_s * 1e6).collect();
    let of = |columns: &[ChannelRole], rows: &[Row]| {
        let mut window = Window::of(&plow, &setting, KEPT_S);
        take(&mut window, columns, rows);
        judged((&plow, &setting), &window)
    };
    // A gap of half a second is no more than 5 % of the time; one of two seconds is.
    let without = |gap_s: f64| -> Vec<Row> {
        let gap = (end_s - 12.0)..(end_s - 12.0 + gap_s);
        known.iter().filter(|row| !gap.contains(&(row.t_us as f64 / 1e6))).copied().collect()
    };
    assert!(matches!(of(&BASIC, &without(0.5)), Balance::Shown(_)));
    assert_eq!(why(of(&BASIC, &without(2.0))), NotShown::RowsMissing);
    // Every third row is lost one by one.
    let thinned: Vec<Row> =
        known.iter().enumerate().filter(|(n, _)| n % 3 != 0).map(|(_, row)| *row).collect();
    assert_eq!(why(of(&BASIC, &thinned)), NotShown::RowsMissing);
    let cut: Vec<Row> =
        known.iter().map(|one| row(one.t_us as f64 / 1e6, &[one.values()[0], one.values()[2]])).collect();
    let NotShown::NotMeasured { clause } = why(of(&[ChannelRole::Pull, ChannelRole::Depth], &cut)) else {
        panic!("a load is needed")
    };
    assert!(clause.contains("tail_mm"), "{clause}");
    let stuck: Vec<Row> = known
        .iter()
        .map(|one| row(one.t_us as f64 / 1e6, &[one.values()[0], 31.3, one.values()[2]]))
        .collect();
    assert_eq!(why(of(&BASIC, &stuck)), NotShown::Constant { channel: ChannelRole::Tail });
    // A sensor wired the wrong way round.
    let turned: Vec<Row> = known
        .iter()
        .map(|one| row(one.t_us as f64 / 1e6, &[one.values()[0], -one.values()[1], one.values()[2]]))
        .collect();
    assert_eq!(why(of(&BASIC, &turned)), NotShown::Contradiction);
}

/// The tail's sensor on a box of its own, at another rate and a little late.
#[test]
fn two_boxes_are_judged_as_one() {
    let case = Case::Balanced;
    let (plow, setting) = two_bottom(case);
    let rows = rows(case, 40.0);
    let end_s = working_s(case, 40.0).0 + 30.0;
    let mut window = Window::of(&plow, &setting, KEPT_S);
    for (n, one) in rows.iter().enumerate().filter(|(_, row)| row.t_us as f64 <= end_s * 1e6) {
        let t_s = one.t_us as f64 / 1e6;
        let pull_depth = [row(t_s, &[one.values()[0], one.values()[2]])];
        window.take(&LiveRows {
            number: 0,
            columns: &[ChannelRole::Pull, ChannelRole::Depth],
            rows: &pull_depth,
        });
        if n % 2 == 0 {
            let tail = [row(t_s + 0.003, &[one.values()[1]])];
            window.take(&LiveRows { number: 1, columns: &[ChannelRole::Tail], rows: &tail });
        }
    }
    let (Balance::Shown(both), Balance::Shown(one)) =
        (judged((&plow, &setting), &window), told_at(case, &rows, end_s))
    else {
        panic!("not shown")
    };
    assert!((both.b - one.b).abs() < 0.03 && (both.low - one.low).abs() < 0.05, "{both:?} {one:?}");
}

/// Whatever carries a plow and whatever measures it: about its statics as described, the interval holds the index that
/// it was made from.
#[test]
fn any_kind_of_plow_is_judged_by_what_it_measures() {
    use ChannelRole::{DrawbarAngle, FrontLoad, LowerLinks, Pitch, Pull, TailLoad, TopLink};
    for (file, setting_place, channels) in [
        ("two-bottom.toml", 0, &[Pull, ChannelRole::Tail][..]),
        ("two-bottom.toml", 1, &[Pull, FrontLoad]),
        ("two-bottom.toml", 1, &[Pull, TailLoad, FrontLoad]),
        ("two-bottom.toml", 1, &[Pull, DrawbarAngle, Pitch]),
        ("three-bottom-rolling-landside.toml", 0, &[Pull, TailLoad]),
        ("one-bottom-walking.toml", 0, &[Pull, TailLoad]),
        ("four-bottom-semi-mounted.toml", 0, &[Pull, FrontLoad]),
        ("three-bottom-mounted.toml", 0, &[Pull, TopLink]),
        ("three-bottom-mounted.toml", 0, &[LowerLinks, TopLink]),
    ] {
        let plow = example(file);
        let setting = plow.settings.values().nth(setting_place % plow.settings.len()).unwrap().clone();
        let pull_n = 35_000.0
            * plow.bottoms.cut_width.m()
            * f64::from(plow.bottoms.count)
            * plow.bottoms.depth.m()
            * 1.6;
        let at = nominal(&plow, &setting, Force::from_n(pull_n)).unwrap();
        let loads = at.side.loads().unwrap();
        let links = at.links.as_ref().map(|links| link_forces(links, loads.pull_x, loads.front_load));
        let mean = |role: ChannelRole| match role {
            Pull => loads.pull.n(),
            ChannelRole::Tail => {
                1000.0 * plow.tail.wheel().unwrap().load_table.deflection_m(loads.tail_load.n())
            }
            TailLoad => loads.tail_load.n(),
            FrontLoad => loads.front_load.n(),
            LowerLinks => links.unwrap().0.n(),
            TopLink => links.unwrap().1.n(),
            DrawbarAngle => loads.drawbar_slope.atan().to_degrees(),
            _ => 0.0,
        };
        let mut columns = channels.to_vec();
        columns.push(ChannelRole::Depth);
        let wave = |t_s: f64, n: usize| 1.0 + 0.03 * (t_s * (3.0 + n as f64)).sin();
        let rows: Vec<Row> = (0..2600)
            .map(|n| {
                let t_s = f64::from(n) * 0.01;
                let mut values: Vec<f64> =
                    channels.iter().enumerate().map(|(n, role)| mean(*role) * wave(t_s, n)).collect();
                if let Some(place) = channels.iter().position(|role| *role == Pitch) {
                    values[place] = 0.05 * (t_s * 5.0).sin();
                }
                values.push(plow.bottoms.depth.m() * 1000.0 * wave(t_s, 7));
                row(t_s, &values)
            })
            .collect();
        let mut window = Window::of(&plow, &setting, KEPT_S);
        take(&mut window, &columns, &rows);
        let span_us = last_stretch((&plow, &setting), &window).unwrap();
        let found = balance_of((&plow, &setting), &window, span_us, DRAWS).unwrap();
        let b = found.judged.identified.as_ref().unwrap_or_else(|why| panic!("{file} {channels:?}: {why}"));
        assert!(
            b.balance_index.holds(loads.balance_index),
            "{file} {channels:?}: {:?} {}",
            b.balance_index,
            loads.balance_index
        );
    }
}

#[test]
fn the_thread_tells_it_within_two_seconds_and_falls_silent_with_the_rows() {
    let case = Case::Balanced;
    let (plow, _) = two_bottom(case);
    let share = plow.bottoms.share;
    let rows = rows(case, 40.0);
    let end_s = working_s(case, 40.0).0 + 30.0;
    let hitched = move || Some((case.setting_name().to_owned(), Some(share)));
    let mut live = crate::live_balance::LiveBalance::start(plow, hitched, |_| {}).unwrap();
    // Rows are taken from when the setting is known on.
    while live.latest() == (Balance::NotShown { why: NotShown::NoSetting }) {
        std::thread::sleep(Duration::from_millis(20));
    }
    let known = rows.partition_point(|row| row.t_us as f64 <= end_s * 1e6);
    rows[..known].chunks(8).for_each(|rows| live.readings(&LiveRows { number: 0, columns: &BASIC, rows }));
    // The rest as fast as a box sends them.
    let mut more = rows[known..].chunks(8);
    let begun = Instant::now();
    while !matches!(live.latest(), Balance::Shown(_)) {
        assert!(begun.elapsed() < Duration::from_secs(8), "{:?}", live.latest());
        more.next()
            .into_iter()
            .for_each(|rows| live.readings(&LiveRows { number: 0, columns: &BASIC, rows }));
        std::thread::sleep(Duration::from_millis(80));
    }
    let silent = Balance::NotShown { why: NotShown::RowsMissing };
    let begun = Instant::now();
    while live.latest() != silent {
        assert!(begun.elapsed() < Duration::from_secs(10), "{:?}", live.latest());
        std::thread::sleep(Duration::from_millis(20));
    }
}

#[test]
#[ignore = "prints what one second's work costs; for release"]
fn cost() {
    let case = Case::Balanced;
    let (plow, setting) = two_bottom(case);
    let rows = rows(case, 40.0);
    let mut window = Window::of(&plow, &setting, KEPT_S);
    let fed = Instant::now();
    take(&mut window, &BASIC, &rows);
    let a_row_us = fed.elapsed().as_secs_f64() / rows.len() as f64 * 1e6;
    let end_s = working_s(case, 40.0).0 + 30.0;
    let mut window = Window::of(&plow, &setting, KEPT_S);
    let known: Vec<Row> = rows.into_iter().filter(|row| row.t_us as f64 <= end_s * 1e6).collect();
    take(&mut window, &BASIC, &known);
    let span_us = last_stretch((&plow, &setting), &window).unwrap();
    let ms = |of: &dyn Fn()| {
        let begun = Instant::now();
        (0..20).for_each(|_| of());
        begun.elapsed().as_secs_f64() * 1e3 / 20.0
    };
    let judging = ms(&|| {
        let copied = window.clone();
        let _ = last_stretch((&plow, &setting), &copied);
        let _ = balance_of((&plow, &setting), &copied, span_us, DRAWS);
    });
    let found = balance_of((&plow, &setting), &window, span_us, DRAWS).unwrap();
    let resting = ms(&|| {
        let _ = found.judged.clone().resting((&plow, &setting), &found.figures);
    });
    println!(
        "a row {a_row_us:.2} us; judging {judging:.1} ms a second; what it rests on {resting:.1} ms every 10 s"
    );
}
