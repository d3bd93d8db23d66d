//! Runs with one wrong entry in their description or one wrong sensor: whether the summary says that description
//! and readings contradict each other, names the entry, and states no class boldly that is not true; and that it
//! says none of it of sound runs.
//!
//! The plows are drawn at random and invented; this shows that the analysis finds what is there, not that a real
//! plow is so.

#![allow(clippy::unwrap_used)] // a run that cannot be analysed must stop the test

use analysis::run::{Run, Table};
use analysis::statics::contradiction::Entry;
use analysis::statics::identify::IdentifyError;
use analysis::statics::inputs::Input;
use analysis::summary::analyse;
use analysis::units_out::Units;
use analysis::verdict::Class;
use hitchwright_tests::drawn_run::{DrawnRun, OTHER_SETTING, drawn_plow};
use ingest::plow::{ChannelRole, Hole, Setting};
use ingest::quantity::{Force, Length, Quantity};
use rand::{Rng, RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

/// One thing made wrong.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Kind {
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

const KINDS: [Kind; 9] = [
    Kind::PlowHole,
    Kind::TractorHole,
    Kind::Spring,
    Kind::WeightPlace,
    Kind::PullZero,
    Kind::PullGain,
    Kind::TailReversed,
    Kind::TailSlipped,
    Kind::WrongSetting,
];

fn channel(table: &mut Table, role: ChannelRole) -> &mut Vec<f64> {
    table.channels.get_mut(&role).unwrap()
}

impl Kind {
    /// Makes it wrong by a size and with a sign that are drawn.
    fn put_into(self, run: &mut Run, rng: &mut impl Rng) {
        let sign = if rng.random::<bool>() { 1.0 } else { -1.0 };
        let mut between = |low: f64, high: f64| low + (high - low) * rng.random::<f64>();
        let (plow, setting) = (&mut run.description.plow, &mut run.description.setting);
        let move_hole = |holes: &mut [Hole], name: &str, by_m: f64| {
            let hole = holes.iter_mut().find(|hole| hole.name == name).unwrap();
            hole.z.value = Length::from_si(hole.z.value.si() + by_m);
        };
        let table = run.tables.first_mut().unwrap();
        match self {
            Self::Nothing => {}
            Self::PlowHole => move_hole(&mut plow.plow_hitch.holes, &setting.plow_hole, sign * between(0.05, 0.15)),
            Self::TractorHole => {
                move_hole(&mut plow.tractor_hitch.holes, &setting.tractor_hole, sign * between(0.05, 0.15));
            }
            Self::Spring => {
                let wheel = plow.tail_wheel.as_mut().unwrap();
                for (_, load) in &mut wheel.load_table {
                    *load = Force::from_si(load.si() * (1.0 + 0.2 * sign));
                }
            }
            Self::WeightPlace => {
                let x = &mut plow.weight.x;
                x.value = Length::from_si((x.value.si() + 0.15 * sign).min(-0.05));
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
                let Setting { plow_hole, tractor_hole, .. } = plow.settings[OTHER_SETTING].clone();
                // The other setting's name was given to this run.
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
    kind: Kind,
    seed: u64,
    true_b: f64,
    /// b with its interval; `None` where there is no statics.
    b: Option<analysis::stats::Estimate>,
    class: Class,
    contradicted: bool,
    /// Place of the wrong entry among those named, from 0.
    place: Option<usize>,
    distance: String,
}

fn told(kind: Kind, seed: u64, run: Run, true_b: f64) -> Option<Told> {
    let analysed = analyse(run, Units::Si).ok()?;
    let (contradicted, place, distance) = match &analysed.identified {
        Err(IdentifyError::Contradiction { suspects, cause, .. }) => (
            true,
            suspects.iter().position(|suspect| kind.is_named_by(&suspect.entry)),
            format!("{cause:?} {:?}", suspects.iter().take(4).map(|s| (&s.entry, s.moves_by, s.suspicion)).collect::<Vec<_>>()),
        ),
        _ => (false, None, String::new()),
    };
    let b = analysed.summary.statics.as_ref().map(|statics| statics.balance_index);
    Some(Told { kind, seed, true_b, b, class: analysed.summary.verdict.class, contradicted, place, distance })
}

/// The drawn run of a seed, 60 s of it.
fn drawn(seed: u64) -> DrawnRun {
    let mut plow = drawn_plow(seed);
    plow.pass.times.working_s = 60.0;
    plow.rate_hz = 50.0;
    DrawnRun::of(&plow, &[], seed)
}

fn study(seeds: std::ops::Range<u64>) -> Vec<Told> {
    let mut all = Vec::new();
    for seed in seeds {
        let of = drawn(seed);
        let true_b = of.truth.balance_index;
        for kind in KINDS.into_iter().chain([Kind::Nothing]) {
            let mut run = of.run.clone();
            kind.put_into(&mut run, &mut ChaCha8Rng::seed_from_u64(seed ^ 0x0FF5 ^ ((kind as u64) << 32)));
            all.extend(told(kind, seed, run, true_b));
        }
    }
    all
}

#[test]
#[ignore = "prints"]
fn print() {
    let from: u64 = std::env::var("FROM").ok().and_then(|v| v.parse().ok()).unwrap_or(1);
    let to: u64 = std::env::var("TO").ok().and_then(|v| v.parse().ok()).unwrap_or(3);
    for t in study(from..to) {
        println!("{:?}|{}|{:.3}|{}|{:?}|{}|{:?}|{}", t.kind, t.seed, t.true_b, t.b.map_or(String::new(), |b| format!("{:.3} {:.3} {:.3}", b.low, b.value, b.high)), t.class, t.contradicted, t.place, t.distance);
    }
}
