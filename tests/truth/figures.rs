//! How often the intervals of a run's figures hold what the virtual plow knows, with and without a front-load
//! channel.
//!
//! Two truths. The *pass*: means over the very seconds that were analysed. The *field*: means over many strips
//! of the same field, which a single pass of a minute can only guess at.

use crate::drawn_plows::take_statics;
use crate::summary;
use analysis::summary::{BobbingNote, Summary};
use hitchwright_tests::coverage::Coverage;
use hitchwright_tests::virtual_run::virtual_run_with;
use ingest::plow::ChannelRole;
use sample_runs::plow::{Case, Truth};
use sample_runs::sensors::Sensor;
use statics::verdict::Class;
use std::sync::LazyLock;

/// Off the ground for less of the time than this, a wheel stays down.
const STAYS_DOWN: f64 = 0.01;

/// One pass, analysed with three channels and with four.
struct Told {
    case: Case,
    truth: Truth,
    /// Share of the time with less than a twentieth of the mean on the front wheels.
    front_off_share: f64,
    three: Summary,
    four: Summary,
}

fn told(seeds: std::ops::RangeInclusive<u64>) -> Vec<Told> {
    let sensors = [Sensor::PULL, Sensor::TAIL, Sensor::DEPTH, Sensor::FRONT_LOAD];
    let passes = Case::ALL.into_iter().flat_map(|case| seeds.clone().map(move |seed| (case, seed)));
    passes
        .map(|(case, seed)| {
            let (run, truth) = virtual_run_with(&sensors, case, seed, false);
            let is_front = |role: &ChannelRole| role.column() == Sensor::FRONT_LOAD.column;
            let mut channels = run.tables[0].channels.iter();
            let (_, front_n) = channels.find(|(role, _)| is_front(role)).unwrap();
            let rows = run.tables[0].t_s.iter().zip(front_n);
            let at_work: Vec<f64> =
                rows.filter(|(t_s, _)| (truth.from_s..truth.to_s).contains(*t_s)).map(|(_, n)| *n).collect();
            let off = at_work.iter().filter(|n| **n < 0.05 * truth.front_load_n).count();
            let front_off_share = off as f64 / at_work.len() as f64;
            let mut few = run.clone();
            few.tables[0].channels.retain(|role, _| !is_front(role));
            Told { case, truth, front_off_share, three: summary(few), four: summary(run) }
        })
        .collect()
}

static TOLD: LazyLock<Vec<Told>> = LazyLock::new(|| told(21..=25));

/// Against the truth of each pass, and the same of the statics with a front load.
fn of_passes(all: &[Told]) -> [Coverage; 2] {
    let (mut held, mut with_front) = (Coverage::default(), Coverage::default());
    for told in all {
        let (truth, said) = (&told.truth, &told.three);
        let load = said.tail_load.as_ref().unwrap();
        for (what, told, truth) in [
            ("pull", &said.pull.mean_n, truth.pull_n),
            ("depth", &said.depth.mean_mm, truth.depth_mm),
            ("depth sd", &said.depth.sd_mm, truth.depth_sd_mm),
            ("tail load", &load.mean_n, truth.tail_load_n),
            ("tail load sd", &load.sd_n, truth.tail_load_sd_n),
            ("lifted share", &load.lifted_share.unwrap(), truth.lifted_share),
        ] {
            held.take(what, Some(told), Some(truth));
        }
        let bobbing = said.bobbing.as_ref();
        held.take("bobbing", bobbing.map(|b| &b.frequency_hz), truth.bobbing_hz);
        let damping = bobbing.and_then(|b| b.damping_ratio.as_ref());
        // The modes are those of a plow whose wheels stay down; the front of one too steep leaves the ground.
        if told.front_off_share < STAYS_DOWN {
            held.take("damping", damping, truth.bobbing_damping_ratio);
        }
        take_statics(&mut held, said, truth);
        take_statics(&mut with_front, &told.four, truth);
    }
    [held, with_front]
}

/// Against means over all strips of the case instead of over the pass.
fn of_fields(all: &[Told]) -> Coverage {
    let mut held = Coverage::default();
    for told in all {
        let same: Vec<&Truth> = all.iter().filter(|t| t.case == told.case).map(|t| &t.truth).collect();
        let mean = |of: fn(&Truth) -> f64| same.iter().map(|t| of(t)).sum::<f64>() / same.len() as f64;
        let said = &told.three;
        let load = said.tail_load.as_ref().unwrap();
        for (what, told, truth) in [
            ("pull, field", &said.pull.mean_n, mean(|t| t.pull_n)),
            ("depth, field", &said.depth.mean_mm, mean(|t| t.depth_mm)),
            ("tail load, field", &load.mean_n, mean(|t| t.tail_load_n)),
            ("lifted share, field", &load.lifted_share.unwrap(), mean(|t| t.lifted_share)),
        ] {
            held.take(what, Some(told), Some(truth));
        }
    }
    held
}

#[test]
fn every_interval_of_a_pass_holds_what_is_true_of_the_pass() {
    for held in of_passes(&TOLD) {
        held.print();
        for what in held.figures() {
            let (held, all) = held.of(what);
            assert!(all >= 10, "{what} was told only {all} times");
            // 95 % of 20 is 19; a sound interval has 16 or fewer in 1.6 % of studies.
            assert!(held * 20 >= all * 17, "{what}: {held} of {all}");
        }
    }
}

#[test]
fn the_damping_of_a_plow_too_steep_is_told_with_a_caution() {
    let mut cautions = 0;
    for told in TOLD.iter() {
        let said = &told.three;
        let damped = said.bobbing.as_ref().is_some_and(|bobbing| bobbing.damping_ratio.is_some());
        let steep = said.verdict.class == Class::TooSteep;
        let notes = &said.bobbing_notes;
        assert_eq!(notes.contains(&BobbingNote::DampingTooHigh), damped && steep, "{notes:?}");
        cautions += usize::from(damped && steep);
    }
    assert!(cautions >= 3, "{cautions} of five passes too steep");
}

#[test]
fn a_front_load_narrows_what_is_said_of_the_soil() {
    let width = |of: fn(&Told) -> &Summary| {
        let slopes = TOLD.iter().filter_map(|told| of(told).statics.as_ref()).map(|s| s.soil_slope);
        let widths: Vec<f64> = slopes.map(|slope| slope.high - slope.low).collect();
        assert!(widths.len() >= 18, "{} of {} runs have statics", widths.len(), TOLD.len());
        widths.iter().sum::<f64>() / widths.len() as f64
    };
    let (three, four) = (width(|told| &told.three), width(|told| &told.four));
    assert!(four < 0.7 * three, "soil slope known to {four} with a front load and to {three} without");
}

#[test]
#[ignore = "240 runs take over a minute; prints the coverages that the documentation names"]
fn full_study() {
    let all = told(1..=60);
    of_passes(&all).iter().for_each(Coverage::print);
    of_fields(&all).print();
}
