//! A run with gaps says the same as the whole one: rows are cut out of virtual runs, nothing is filled in.

use crate::summary;
use analysis::summary::{BobbingNote, Summary};
use hitchwright_tests::virtual_run::{rewrite, virtual_run};
use ingest::quantity::{Force, Length};
use sample_runs::plow::Case;
use signals::run::{Notice, Run};
use stats::Estimate;

/// The run without the rows of which `gone` says so by their time in s.
fn without(run: &Run, gone: impl Fn(f64) -> bool) -> Run {
    let mut torn = run.clone();
    let stays: Vec<bool> = run.tables[0].t_s.iter().map(|t| !gone(*t)).collect();
    let filter = |values: &mut Vec<f64>| {
        let mut kept = stays.iter();
        values.retain(|_| *kept.next().unwrap());
    };
    filter(&mut torn.tables[0].t_s);
    torn.tables[0].channels.values_mut().for_each(filter);
    torn
}

/// A figure that has to stand whatever was done to the rows.
fn figure(of: &Summary, what: &str) -> Estimate {
    let load = of.tail_load.as_ref().unwrap();
    match what {
        "pull" => of.pull.mean_n,
        "pull sd" => of.pull.sd_n,
        "pull p95" => of.pull.p95_n,
        "depth" => of.depth.mean_mm,
        "depth sd" => of.depth.sd_mm,
        "depth p5" => of.depth.p5_mm,
        "depth drift" => of.depth.drift_mm_per_min,
        "tail load" => load.mean_n,
        "tail load sd" => load.sd_n,
        "lifted share" => load.lifted_share.unwrap(),
        "bobbing" => of.bobbing.as_ref().unwrap().frequency_hz,
        "b" => of.statics.as_ref().unwrap().balance_index,
        other => panic!("no figure {other}"),
    }
}

fn ends(of: &Summary) -> (f64, f64) {
    (of.working_part.from_s, of.working_part.to_s)
}

#[test]
fn twenty_gaps_of_a_second_leave_every_figure_standing() {
    for case in [Case::TooFlat, Case::Balanced] {
        let (run, truth) = virtual_run(case, 3, false);
        let whole = summary(run.clone());
        // One second of each 2.9 is gone, from 7 s on.
        let torn = summary(without(&run, |t| (7.0..65.0).contains(&t) && (t - 7.0) % 2.9 >= 1.9));
        let name = case.name();
        // The last gap ends with the working part.
        assert!((19..=20).contains(&torn.quality.gaps), "{name}: {:?}", torn.quality);
        assert!((torn.quality.missing_share - 1.0 / 2.9).abs() < 0.02, "{name}: {:?}", torn.quality);
        let (torn_ends, whole_ends) = (ends(&torn), ends(&whole));
        assert!((torn_ends.0 - whole_ends.0).abs() < 1.1, "{name}");
        assert!((torn_ends.1 - whole_ends.1).abs() < 1.1, "{name}");
        for what in ["pull", "depth", "depth sd", "tail load", "lifted share"] {
            let (torn, whole) = (figure(&torn, what), figure(&whole, what));
            assert!(torn.holds(whole.value), "{name}: {what} {torn:?}, whole {whole:?}");
            let (width, whole_width) = (torn.high - torn.low, whole.high - whole.low);
            assert!(width > 0.5 * whole_width, "{name}: {what} {torn:?} claims more than {whole:?}");
        }
        let b = figure(&torn, "b");
        assert!(b.holds(truth.balance_index), "{name}: {b:?}, true {}", truth.balance_index);
        assert_eq!(torn.verdict.class, whole.verdict.class, "{name}");
        // Stretches of two seconds cannot show bobbing at 3 Hz for certain: none, or that one, and it is said.
        if let Some(bobbing) = torn.bobbing {
            assert!(bobbing.frequency_hz.holds(truth.bobbing_hz.unwrap()), "{name}: {bobbing:?}");
        }
        let slow_not_seen = |note: &BobbingNote| matches!(note, BobbingNote::SlowNotSeen { .. });
        assert!(torn.bobbing_notes.iter().any(slow_not_seen), "{name}");
        if let Some(found) = torn.pull_to_tail {
            let near = whole.pull_to_tail.unwrap().gain_n_per_n;
            let apart = found.gain_n_per_n.minus(near);
            assert!(apart.holds(0.0), "{name}: gain {:?}, whole {near:?}", found.gain_n_per_n);
        }
    }
}

#[test]
fn three_seconds_without_a_cable_do_not_halve_the_run() {
    let (run, _) = virtual_run(Case::Balanced, 4, false);
    let whole = summary(run.clone());
    let torn = summary(without(&run, |t| (30.0..33.0).contains(&t)));
    let (torn_ends, whole_ends) = (ends(&torn), ends(&whole));
    assert!((torn_ends.0 - whole_ends.0).abs() < 1e-6);
    assert!((torn_ends.1 - whole_ends.1).abs() < 1e-6);
    assert_eq!(torn.quality.gaps, 1);
    assert!((torn.pull.mean_n.value / whole.pull.mean_n.value - 1.0).abs() < 0.03);
}

#[test]
fn the_start_of_the_clock_is_of_no_account() {
    let (run, _) = virtual_run(Case::TooSteep, 5, false);
    let mut later = run.clone();
    later.tables[0].t_s.iter_mut().for_each(|t| *t += 4096.0);
    let (now, later) = (summary(run), summary(later));
    let near = |a: f64, b: f64| (a - b).abs() <= 1e-6 * b.abs().max(1.0);
    assert!(near(ends(&later).0 - 4096.0, ends(&now).0), "{:?}", later.working_part);
    for what in ["pull", "depth drift", "lifted share", "b", "bobbing"] {
        let (later, now) = (figure(&later, what), figure(&now, what));
        assert!(near(later.value, now.value) && near(later.low, now.low) && near(later.high, now.high));
    }
}

#[test]
fn a_second_pass_in_the_file_and_a_short_load_table_are_told() {
    let (mut run, _) = virtual_run(Case::TooSteep, 6, false);
    let (other, _) = virtual_run(Case::TooSteep, 7, false);
    // The second pass of the file ends after half a minute.
    let end_s = run.tables[0].t_s.last().unwrap() + 0.01;
    let rows = 4000;
    run.tables[0].t_s.extend(other.tables[0].t_s.iter().take(rows).map(|t| t + end_s));
    for (role, values) in &mut run.tables[0].channels {
        values.extend(other.tables[0].channels[role].iter().take(rows));
    }
    // Under a steep drawbar the tail wheel's spring gives more than 30 mm.
    rewrite(&mut run.description, |said| {
        said.tail_wheel.as_mut().unwrap().load_table =
            [(0.0, 0.0), (0.030, 750.0)].map(|(m, n)| (Length::from_m(m), Force::from_n(n))).to_vec();
    });
    let notices = summary(run).quality.notices;
    let one_more =
        |notice: &Notice| matches!(notice, Notice::PassesLeftOut { passes_s } if passes_s.len() == 1);
    assert!(notices.iter().any(one_more), "{notices:?}");
    let table_ends = notices.iter().any(|notice| matches!(notice, Notice::BeyondLoadTable { .. }));
    assert!(table_ends, "{notices:?}");
}

/// Found on 40 single readings that jumped: the pass was read as three.
#[test]
fn forty_spikes_are_taken_out_and_told_and_leave_every_figure_standing() {
    use ingest::plow::ChannelRole::{Depth, Pull, Tail};
    let (run, _) = virtual_run(Case::Balanced, 5, false);
    let whole = summary(run.clone());
    assert!(whole.quality.channels.values().map(|q| q.spikes).sum::<usize>() <= 3, "{:?}", whole.quality);
    let mut spiked = run.clone();
    let rows: Vec<usize> = (0..40).map(|k| 1000 + 131 * k).collect();
    for (role, jump) in [(Depth, -400.0), (Pull, -20_000.0), (Tail, 300.0)] {
        let values = spiked.tables[0].channels.get_mut(&role).unwrap();
        rows.iter().for_each(|row| values[*row] += jump);
    }
    let told = summary(spiked);
    for role in [Depth, Pull, Tail] {
        let spikes = told.quality.channels[role.column()].spikes;
        assert!((38..=42).contains(&spikes), "{spikes} of 40 in {}", role.column());
    }
    let notices = &told.quality.notices;
    assert!(notices.iter().any(|one| matches!(one, Notice::Spikes { spikes: 2.., .. })), "{notices:?}");
    assert!(!notices.iter().any(|one| matches!(one, Notice::PassesLeftOut { .. })), "{notices:?}");
    assert_eq!(ends(&told), ends(&whole));
    let moments = ["pull", "pull sd", "depth", "depth sd", "tail load", "tail load sd"];
    for what in moments.into_iter().chain(["pull p95", "depth p5", "bobbing"]) {
        let (told, whole) = (figure(&told, what), figure(&whole, what));
        assert!((told.value / whole.value - 1.0).abs() < 0.01, "{what}: {told:?}, without spikes {whole:?}");
    }
    assert_eq!(told.verdict.class, whole.verdict.class);
}
