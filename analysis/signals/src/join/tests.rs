use super::*;

fn wave(t: f64) -> f64 {
    1000.0 + 100.0 * (2.0 * std::f64::consts::PI * 0.7 * t).sin()
}

/// A table with these channels, all of them the same wave of run time, from `start_s` on.
fn table(roles: &[ChannelRole], rate_hz: f64, start_s: f64, seconds: f64) -> Table {
    let t_s: Vec<f64> = (0..(seconds * rate_hz) as usize).map(|i| start_s + i as f64 / rate_hz).collect();
    let values: Vec<f64> = t_s.iter().map(|t| wave(*t)).collect();
    Table { channels: roles.iter().map(|role| (*role, values.clone())).collect(), t_s, ..Table::default() }
}

fn without(mut table: Table, from_s: f64, to_s: f64) -> Table {
    let kept: Vec<bool> = table.t_s.iter().map(|t| *t < from_s || *t > to_s).collect();
    let keep = |values: &mut Vec<f64>| {
        let mut kept = kept.iter();
        values.retain(|_| kept.next().copied().unwrap_or(false));
    };
    keep(&mut table.t_s);
    table.channels.values_mut().for_each(keep);
    table
}

fn spans(signals: &Signals) -> Vec<(f64, f64)> {
    signals.segments.iter().map(|segment| (segment.start_s, segment.end_s(signals.rate_hz))).collect()
}

fn own(joined: &Joined, role: ChannelRole) -> &Signals {
    joined.apart.iter().find(|signals| signals.channels.contains_key(&role)).unwrap()
}

#[test]
fn channels_of_faster_and_slower_boxes_are_there_at_the_moments_of_the_tail() {
    use ChannelRole::{Depth, FrontLoad, Pull, Tail};
    for (pull_hz, depth_hz) in [(1000.0, 50.0), (100.0, 20.0), (37.0, 311.0)] {
        let joined = join(vec![
            table(&[Pull], pull_hz, 0.003, 30.0),
            table(&[Depth, FrontLoad], depth_hz, 0.011, 30.0),
            table(&[Tail], 100.0, 0.0, 30.0),
        ])
        .unwrap();
        assert!((joined.signals.rate_hz - 100.0).abs() < 1e-6);
        assert_eq!(joined.apart.len(), 2);
        // Only what is needed is carried; the rest is where it came from.
        assert!(!joined.signals.channels.contains_key(&FrontLoad));
        let own = own(&joined, Pull);
        assert!((own.rate_hz - pull_hz).abs() < 1e-6);
        assert_eq!(joined.signals.segments.len(), 1);
        let Segment { start_s, rows } = &joined.signals.segments[0];
        assert!(*start_s >= 0.011 && rows.len() > 2990, "{start_s} {rows:?}");
        for role in [Pull, Depth, Tail] {
            let values = &joined.signals.channels[&role];
            for row in rows.clone() {
                let t = start_s + (row - rows.start) as f64 / 100.0;
                assert!((values[row] - wave(t)).abs() < 0.7, "{role:?} {t}: {} not {}", values[row], wave(t));
            }
        }
    }
}

#[test]
fn a_gap_of_what_is_needed_is_one_of_the_whole_and_another_is_not() {
    use ChannelRole::{Depth, Pull, Speed, Tail};
    let tail = || table(&[Tail, Depth], 100.0, 0.0, 30.0);
    let pull = table(&[Pull], 200.0, 0.0, 30.0);
    let gone = join(vec![tail(), without(pull.clone(), 10.0, 14.0)]).unwrap();
    let found = spans(&gone.signals);
    assert_eq!(found.len(), 2, "{found:?}");
    assert!((found[0].1 - 10.0).abs() < 0.02 && (found[1].0 - 14.0).abs() < 0.02, "{found:?}");
    let both = join(vec![without(tail(), 20.0, 21.0), without(pull.clone(), 10.0, 14.0)]).unwrap();
    assert_eq!(spans(&both.signals).len(), 3);
    let speed = without(table(&[Speed], 10.0, 0.0, 30.0), 5.0, 25.0);
    let joined = join(vec![tail(), pull, speed]).unwrap();
    assert_eq!(spans(&joined.signals).len(), 1);
    let own = own(&joined, Speed);
    assert_eq!(own.segments.len(), 2);
    assert_eq!(within(own, &joined.signals, &joined.signals.segments).len(), 2);
}

/// A slower box's straight lines reach over its own usual step and never over a gap of its own.
#[test]
fn nothing_is_carried_over_a_gap() {
    use ChannelRole::{Depth, Pull, Tail};
    let slow = without(table(&[Depth], 5.0, 0.0, 30.0), 9.9, 10.1);
    let joined = join(vec![table(&[Tail, Pull], 100.0, 0.0, 30.0), slow]).unwrap();
    let found = spans(&joined.signals);
    assert_eq!(found.len(), 2, "{found:?}");
    assert!((found[0].1 - 9.8).abs() < 0.011 && (found[1].0 - 10.2).abs() < 0.011, "{found:?}");
}

#[test]
fn boxes_that_never_sent_together_are_refused_in_a_sentence() {
    use ChannelRole::{Depth, Pull, Tail};
    let parted =
        join(vec![table(&[Tail, Depth], 100.0, 0.0, 10.0), table(&[Pull], 100.0, 20.0, 10.0)]).unwrap_err();
    assert_eq!(parted, SignalError::NothingInCommon);
    let one_row = Table { t_s: vec![3.0], channels: [(Pull, vec![1.0])].into(), ..Table::default() };
    assert_eq!(
        join(vec![table(&[Tail], 100.0, 0.0, 10.0), one_row]).unwrap_err(),
        SignalError::NothingInCommon
    );
    assert_eq!(join(Vec::new()).unwrap_err(), SignalError::TooFewRows { rows: 0 });
}

/// The usual run: nothing is copied.
#[test]
fn one_box_stays_as_it_is() {
    let one = table(&[ChannelRole::Pull, ChannelRole::Tail, ChannelRole::Depth], 100.0, 0.0, 10.0);
    let before = one.channels[&ChannelRole::Pull].as_ptr();
    let joined = join(vec![one]).unwrap();
    assert_eq!(joined.signals.channels[&ChannelRole::Pull].as_ptr(), before);
    assert!(joined.apart.is_empty());
}
