//! Runs with one wrong entry in their description or one wrong sensor: whether the summary says that description
//! and readings contradict each other, names the entry, and states no class boldly that is not true; and that it
//! says none of it of sound runs.
//!
//! The plows are drawn at random and invented; this shows that the analysis finds what is there, not that a real
//! plow is so.

#![allow(clippy::unwrap_used)] // a run that cannot be analysed must stop the test

use analysis::causes::{CauseKind, Likelihood};
use analysis::summary::analyse;
use hitchwright_tests::drawn_run::{DrawnRun, OTHER_SETTING, drawn_plow};
use hitchwright_tests::virtual_run::{rewrite, virtual_run};
use ingest::plow::{ChannelRole, Hole, Limits, Setting};
use ingest::quantity::{Force, Length, Quantity};
use rand::{Rng, RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use sample_runs::plow::Case;
use signals::run::{Run, Table};
use statics::advice::Advice;
use statics::contradiction::Entry;
use statics::inputs::Input;
use statics::verdict::Class;

/// One thing made wrong.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum WrongEntry {
    Nothing,
    PlowHole,
    TractorHole,
    Spring,
    WeightPlace,
    PullZero,
    PullGain,
    TailReversed,
    TailSlipped,
    WrongSetting,
}

const WRONG_ENTRIES: [WrongEntry; 9] = [
    WrongEntry::PlowHole,
    WrongEntry::TractorHole,
    WrongEntry::Spring,
    WrongEntry::WeightPlace,
    WrongEntry::PullZero,
    WrongEntry::PullGain,
    WrongEntry::TailReversed,
    WrongEntry::TailSlipped,
    WrongEntry::WrongSetting,
];

fn channel(table: &mut Table, role: ChannelRole) -> &mut Vec<f64> {
    table.channels.get_mut(&role).unwrap()
}

impl WrongEntry {
    /// Makes it wrong by a size and with a sign that are drawn.
    fn put_into(self, run: &mut Run, rng: &mut impl Rng) {
        let sign = if rng.random::<bool>() { 1.0 } else { -1.0 };
        let mut between = |low: f64, high: f64| low + (high - low) * rng.random::<f64>();
        let description = &mut run.description;
        let (plow_hole, tractor_hole) =
            (description.setting.plow_hole.name.clone(), description.setting.tractor_hole.name.clone());
        let move_hole = |holes: &mut [Hole], name: &str, by_m: f64| {
            let hole = holes.iter_mut().find(|hole| hole.name == name).unwrap();
            hole.z.value = Length::from_m(hole.z.value.si() + by_m);
        };
        let table = run.tables.first_mut().unwrap();
        match self {
            Self::Nothing => {}
            Self::PlowHole => {
                let by_m = sign * between(0.05, 0.15);
                rewrite(description, |said| move_hole(&mut said.plow_hitch.holes, &plow_hole, by_m));
            }
            Self::TractorHole => {
                let by_m = sign * between(0.05, 0.15);
                rewrite(description, |said| move_hole(&mut said.tractor_hitch.holes, &tractor_hole, by_m));
            }
            Self::Spring => {
                rewrite(description, |said| {
                    for (_, load) in &mut said.tail_wheel.as_mut().unwrap().load_table {
                        *load = Force::from_n(load.si() * (1.0 + 0.2 * sign));
                    }
                });
            }
            Self::WeightPlace => {
                let x = &mut description.plow.weight.x;
                x.value = Length::from_m((x.value.si() + 0.15 * sign).min(-0.05));
            }
            Self::PullZero => {
                let pull = channel(table, ChannelRole::Pull);
                let mean = pull.iter().sum::<f64>() / pull.len() as f64;
                pull.iter_mut().for_each(|n| *n += 0.15 * sign * mean);
            }
            Self::PullGain => {
                channel(table, ChannelRole::Pull).iter_mut().for_each(|n| *n *= 1.0 + 0.4 * sign);
            }
            Self::TailReversed => channel(table, ChannelRole::Tail).iter_mut().for_each(|mm| *mm = -*mm),
            Self::TailSlipped => {
                let by_mm = sign * between(20.0, 60.0);
                channel(table, ChannelRole::Tail).iter_mut().for_each(|mm| *mm += by_mm);
            }
            Self::WrongSetting => {
                let Setting { plow_hole, tractor_hole, .. } =
                    description.plow.settings[OTHER_SETTING].clone();
                // The other setting's name was given to this run.
                let setting = &mut description.setting;
                (setting.plow_hole, setting.tractor_hole) = (plow_hole, tractor_hole);
            }
        }
    }

    fn is_named_by(self, entry: &Entry) -> bool {
        match self {
            Self::Nothing => false,
            Self::PlowHole => *entry == Entry::Input(Input::PlowHoleHeight),
            Self::TractorHole => *entry == Entry::Input(Input::TractorHoleHeight),
            Self::Spring => *entry == Entry::LoadTable,
            Self::WeightPlace => *entry == Entry::Input(Input::WeightPlace),
            Self::PullZero => *entry == Entry::PullZero,
            Self::PullGain => *entry == Entry::PullGain,
            Self::TailReversed => *entry == Entry::TailReversed,
            Self::TailSlipped => *entry == Entry::TailZero,
            Self::WrongSetting => matches!(entry, Entry::Setting(_)),
        }
    }
}

/// What was said of one run.
#[derive(Clone, Debug)]
struct Told {
    kind: WrongEntry,
    true_b: f64,
    /// b with its interval; `None` where there is no statics.
    b: Option<stats::Estimate>,
    class: Class,
    contradicted: bool,
    /// Whether the class would stand though an entry were off by a usual slip.
    firm: bool,
    /// Whether the wrong entry is among those that the class is said to rest on.
    rests_on_it: bool,
    /// Place of the wrong entry among those named, from 0.
    place: Option<usize>,
}

fn told(kind: WrongEntry, run: Run, true_b: f64) -> Option<Told> {
    let analysed = analyse(run).ok()?;
    let verdict = &analysed.summary.verdict;
    let place = verdict.suspects.iter().position(|suspect| kind.is_named_by(&suspect.entry));
    let (class, contradicted) = (verdict.class, verdict.contradicted);
    let b = analysed.summary.statics.as_ref().map(|statics| statics.balance_index);
    let firm = verdict.firm;
    let rests_on_it = verdict.rests_on.iter().any(|on| kind.is_named_by(&on.entry));
    Some(Told { kind, true_b, b, class, contradicted, firm, rests_on_it, place })
}

/// The drawn run of a seed, 60 s of it.
fn drawn(seed: u64) -> DrawnRun {
    let mut plow = drawn_plow(seed);
    plow.pass.times.working_s = 60.0;
    plow.rate_hz = 50.0;
    DrawnRun::of(&plow, &[], seed)
}

fn study(seeds: std::ops::Range<u64>, kinds: &[WrongEntry]) -> Vec<Told> {
    let mut all = Vec::new();
    for seed in seeds {
        let of = drawn(seed);
        let true_b = of.truth.balance_index;
        for kind in kinds.iter().copied() {
            let mut run = of.run.clone();
            kind.put_into(&mut run, &mut ChaCha8Rng::seed_from_u64(seed ^ 0x0FF5 ^ ((kind as u64) << 32)));
            all.extend(told(kind, run, true_b));
        }
    }
    all
}

/// Called too flat, balanced or too steep where that is not so, or leaning where it is off by more than that.
fn is_wrong(told: &Told) -> bool {
    let true_class = Class::of(told.true_b, &Limits::default());
    let bold = matches!(told.class, Class::TooFlat | Class::Balanced | Class::TooSteep);
    bold && told.class != true_class || off_by(told) > 1
}

/// By how many classes what was called is off; 0 where none was called.
fn off_by(told: &Told) -> usize {
    let place = |class| Class::SHOWN.iter().position(|one| *one == class);
    let true_class = Class::of(told.true_b, &Limits::default());
    place(told.class).zip(place(true_class)).map_or(0, |(one, other)| one.abs_diff(other))
}

#[derive(Clone, Copy, Debug, Default)]
struct Counts {
    n: usize,
    contradicted: usize,
    boldly_wrong: usize,
    looks_wrong: usize,
    looks_wrong_told: usize,
    firm: usize,
    off_by_two: usize,
    first: usize,
    among_three: usize,
    shown: usize,
    reported_b: usize,
    held: usize,
}

impl Counts {
    fn of<'a>(all: impl Iterator<Item = &'a Told>) -> Self {
        let mut counts = Self::default();
        for told in all {
            counts.n += 1;
            counts.contradicted += usize::from(told.contradicted);
            counts.boldly_wrong += usize::from(told.firm && is_wrong(told));
            let looks_wrong = !told.firm && is_wrong(told);
            counts.looks_wrong += usize::from(looks_wrong);
            counts.looks_wrong_told += usize::from(looks_wrong && told.rests_on_it);
            counts.firm += usize::from(told.firm);
            counts.off_by_two += usize::from(off_by(told) > 1);
            counts.first += usize::from(told.place == Some(0));
            counts.among_three += usize::from(told.place.is_some_and(|place| place < 3));
            counts.shown += usize::from(told.class != Class::NotShown);
            counts.reported_b += usize::from(told.b.is_some());
            counts.held += usize::from(told.b.is_some_and(|b| b.holds(told.true_b.clamp(-1.0, 1.0))));
        }
        counts
    }
}

/// Prints the table and gives what was counted of all wrong entries together, and of sound runs.
fn tables(all: &[Told]) -> (Counts, Counts) {
    println!(
        "wrong entry     n  contradicted  named first  among 3  class  bold  boldly wrong  looks wrong (entry told)  off by 2+  b told/held"
    );
    let row = |name: &str, c: Counts| {
        println!(
            "{name:<13} {:>3} {:>13} {:>12} {:>8} {:>6} {:>5} {:>13} {:>11} ({:>3}) {:>20} {:>7}/{}",
            c.n,
            c.contradicted,
            c.first,
            c.among_three,
            c.shown,
            c.firm,
            c.boldly_wrong,
            c.looks_wrong,
            c.looks_wrong_told,
            c.off_by_two,
            c.reported_b,
            c.held
        );
    };
    for kind in WRONG_ENTRIES {
        row(&format!("{kind:?}"), Counts::of(all.iter().filter(|told| told.kind == kind)));
    }
    let wrong = Counts::of(all.iter().filter(|told| told.kind != WrongEntry::Nothing));
    let sound = Counts::of(all.iter().filter(|told| told.kind == WrongEntry::Nothing));
    row("all of these", wrong);
    row("sound", sound);
    (wrong, sound)
}

/// A sensor with its sign turned reads where no spring is pressed: that is said, the sensor is named first, the
/// causes show the sensors and not the shares, and no hole is advised.
#[test]
fn a_reversed_tail_sensor_is_no_verdict() {
    for seed in 1..=2 {
        let (mut run, _) = virtual_run(Case::Balanced, seed, true);
        WrongEntry::TailReversed.put_into(&mut run, &mut ChaCha8Rng::seed_from_u64(seed));
        let summary = analyse(run).unwrap().summary;
        let verdict = &summary.verdict;
        assert_eq!(verdict.class, Class::NotShown, "{verdict:?}");
        assert!(verdict.contradicted && summary.statics.is_none(), "{verdict:?}");
        assert_eq!(verdict.suspects[0].entry, Entry::TailReversed, "{verdict:?}");
        let likelihood =
            |kind| summary.causes.ranked.iter().find(|cause| cause.kind == kind).unwrap().likelihood;
        assert_eq!(likelihood(CauseKind::Sensors), Likelihood::Shown);
        assert!(likelihood(CauseKind::Shares) > Likelihood::Likely, "{:?}", summary.causes);
        assert!(
            summary.advice.iter().all(|advice| matches!(advice, Advice::Measure { .. })),
            "{:?}",
            summary.advice
        );
    }
}

/// Found with a hole written 110 mm too high in a balanced run: "leaning flat, +0.39 (+0.33 to +0.45)", from the few
/// draws in which the soil acts where it was said to.
#[test]
fn a_hole_110_mm_too_high_is_no_verdict() {
    let mut named = 0;
    for seed in 1..=2 {
        let (mut run, _) = virtual_run(Case::Balanced, seed, true);
        let hole_name = run.description.setting.plow_hole.name.clone();
        rewrite(&mut run.description, |said| {
            let hole = said.plow_hitch.holes.iter_mut().find(|hole| hole.name == hole_name).unwrap();
            hole.z.value = Length::from_m(hole.z.value.si() + 0.11);
        });
        let summary = analyse(run).unwrap().summary;
        let verdict = &summary.verdict;
        assert!(verdict.contradicted && verdict.class == Class::NotShown, "{verdict:?}");
        assert!(
            summary.advice.iter().all(|advice| matches!(advice, Advice::Measure { .. })),
            "{:?}",
            summary.advice
        );
        let hole = Entry::Input(Input::PlowHoleHeight);
        let at = verdict.suspects.iter().position(|suspect| suspect.entry == hole);
        named += usize::from(at.is_some_and(|at| at < 3));
    }
    assert_eq!(named, 2);
}

/// Sound runs of the virtual plow are not refused.
#[test]
fn sound_runs_are_no_contradiction() {
    for (case, seed) in [(Case::Balanced, 1), (Case::TooFlat, 2), (Case::TooSteep, 3)] {
        let (run, _) = virtual_run(case, seed, true);
        let verdict = analyse(run).unwrap().summary.verdict;
        assert!(!verdict.contradicted, "{}: {verdict:?}", case.name());
    }
}

/// The limit of the distance was chosen on seeds 3 to 22, the share of slips up to which a class is firm on 300 to 349;
/// these are others.
#[test]
#[ignore = "forty drawn plows with ten descriptions each: several minutes"]
fn wrong_entries_of_drawn_plows() {
    let kinds: Vec<WrongEntry> = WRONG_ENTRIES.into_iter().chain([WrongEntry::Nothing]).collect();
    let all = study(100..140, &kinds);
    let (wrong, sound) = tables(&all);
    assert!(wrong.n >= 300, "{wrong:?}");
    assert!(wrong.boldly_wrong * 50 <= wrong.n, "bold and wrong: {wrong:?}");
    assert!(sound.contradicted * 50 <= sound.n, "sound runs refused: {sound:?}");
    assert!(wrong.among_three * 10 >= wrong.contradicted * 6, "named: {wrong:?}");
    assert!(wrong.looks_wrong_told * 10 >= wrong.looks_wrong * 6, "what it rests on: {wrong:?}");
}

/// Not one in fifty is refused, or bold and wrong.
#[test]
#[ignore = "three hundred drawn plows: some minutes"]
fn sound_runs_of_drawn_plows() {
    let (_, sound) = tables(&study(1_200..1_500, &[WrongEntry::Nothing]));
    assert!(sound.n >= 290, "{sound:?}");
    assert!(sound.contradicted * 50 <= sound.n, "refused: {sound:?}");
    assert!(sound.boldly_wrong * 50 <= sound.n, "bold and wrong: {sound:?}");
}
