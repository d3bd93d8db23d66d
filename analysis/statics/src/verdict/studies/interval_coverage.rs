//! How often the 95 % intervals hold, for each kind of plow and each thing that it may measure: with `--nocapture` the
//! tables are printed.

use crate::from_priors::{KINDS, Kind, Plan, Sensed, Truth, example, runs};
use crate::identify::identify;
use crate::joint::{JointError, RunAnswer, estimate_jointly};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use stats::Estimate;

const DRAWS: usize = 800;

/// Kinds of plow with what is measured of them besides pull and depth; all plows are invented.
const MEASURED: [Kind; 9] = [
    ("mounted, top link", "three-bottom-mounted.toml", Sensed::TopLink),
    ("mounted, lower links and top link, no pull", "three-bottom-mounted.toml", Sensed::AllLinks),
    ("mounted, heel load", "three-bottom-mounted.toml", Sensed::TailCell),
    ("semi-mounted, tail-wheel spring", "four-bottom-semi-mounted.toml", Sensed::Tail),
    ("semi-mounted, what the lower links hold up", "four-bottom-semi-mounted.toml", Sensed::Front),
    ("walking, heel load", "one-bottom-walking.toml", Sensed::TailCell),
    ("trailed, rolling-landside load", "three-bottom-rolling-landside.toml", Sensed::TailCell),
    ("trailed, front load", "two-bottom.toml", Sensed::Front),
    ("trailed, inclinometer and pitch", "two-bottom.toml", Sensed::Inclination),
];

/// How often b, σ and e were held, of how many, and how wide b's intervals were.
#[derive(Clone, Copy, Debug, Default)]
struct Coverage {
    studies: usize,
    refused: usize,
    held: [usize; 3],
    half_widths: f64,
}

impl Coverage {
    fn count(&mut self, truth: &Truth, [b, slope, offset]: [Estimate; 3]) {
        let loads = &truth.loads;
        self.studies += 1;
        self.half_widths += b.half_width();
        let truths =
            [(b, loads.balance_index), (slope, truth.soil_slope), (offset, loads.pull_line_offset.m())];
        for (count, (told, truth)) in self.held.iter_mut().zip(truths) {
            *count += usize::from(told.holds(truth));
        }
    }

    fn plus(self, other: Self) -> Self {
        Self {
            studies: self.studies + other.studies,
            refused: self.refused + other.refused,
            held: std::array::from_fn(|i| self.held[i] + other.held[i]),
            half_widths: self.half_widths + other.half_widths,
        }
    }

    fn print(&self, name: &str) {
        let Self { studies, refused, .. } = self;
        let [b, sigma, e] = self.held.map(|count| 100.0 * count as f64 / *studies as f64);
        let known_to = self.half_widths / *studies as f64;
        println!(
            "{name:<46} {studies:>4} studies, {refused} refused: b {b:.1} %, sigma {sigma:.1} %, e {e:.1} %; \
             b known to ±{known_to:.2}"
        );
    }

    fn within(&self, low_percent: usize, high_percent: usize) -> bool {
        let bound = |percent: usize| percent * self.studies;
        self.held.iter().all(|held| held * 100 >= bound(low_percent) && held * 100 <= bound(high_percent))
    }
}

fn one_run((_, file, sensed): Kind, studies: usize, slope_off: (f64, f64), seed: u64) -> Coverage {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let mut held = Coverage::default();
    let plan = Plan { sensed, passes: 1, varies: false, richly: false, slope_off };
    while held.studies + held.refused < studies {
        let mut plow = example(file);
        let Some((truths, evidence)) = runs(&mut plow, plan, &mut rng) else { continue };
        let run = &evidence[0];
        match identify(&plow, &run.setting, &run.figures, DRAWS, held.studies as u64) {
            Ok(found) => {
                held.count(&truths[0], [found.balance_index, found.soil_slope, found.pull_line_offset.si()])
            }
            Err(why) => {
                println!("{file}, {sensed:?}: {why}; {:?}", truths[0].loads);
                held.refused += 1;
            }
        }
    }
    held
}

/// Several runs, the first of them looked at: together and alone.
fn several_runs(
    (_, file, sensed): Kind,
    studies: usize,
    passes: usize,
    richly: bool,
    seed: u64,
) -> (Coverage, Coverage) {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let (mut together, mut alone) = (Coverage::default(), Coverage::default());
    let plan = Plan { sensed, passes, varies: true, richly, slope_off: (0.0, 1.0) };
    while together.studies + together.refused < studies {
        let mut plow = example(file);
        let Some((truths, evidence)) = runs(&mut plow, plan, &mut rng) else { continue };
        match estimate_jointly(&plow, &evidence, DRAWS, together.studies as u64) {
            Ok(joint) => {
                let figures = |of: &RunAnswer| [of.balance_index, of.soil_slope, of.pull_line_offset.si()];
                together.count(&truths[0], figures(&joint.runs[0].together));
                if let Some(found) = &joint.runs[0].alone {
                    alone.count(&truths[0], figures(found));
                }
            }
            Err(JointError::Contradiction { .. } | JointError::TooFewDraws { .. }) => together.refused += 1,
            Err(other) => panic!("{other}"),
        }
    }
    (together, alone)
}

/// All kinds together, the first of them from `seed`.
fn of_all(name: &str, seed: u64, of_kind: impl Fn(Kind, u64) -> Coverage) -> Coverage {
    KINDS.into_iter().zip(seed..).fold(Coverage::default(), |sum, (kind, seed)| {
        let held = of_kind(kind, seed);
        held.print(&format!("{name}: {}", kind.0));
        sum.plus(held)
    })
}

/// Seeds that nothing was tuned on.
#[test]
fn one_run_is_held_as_often_as_it_says_when_the_truth_is_as_assumed() {
    let all = of_all("one run", 0xF5EED, |kind, seed| one_run(kind, 120, (0.0, 1.0), seed));
    assert!(all.within(90, 99), "{all:?}");
    assert!(all.refused * 50 <= all.studies, "{all:?}");
}

/// Together b is known more closely, but not by much where passes vary as is assumed: 4 % in the mean of these
/// studies (the table has it).
#[test]
fn runs_together_are_held_as_often_as_they_say_and_known_more_closely() {
    let mut apart = Coverage::default();
    let mut all = Coverage::default();
    for (kind, seed) in KINDS.into_iter().zip(0x2F5EED..) {
        let (together, alone) = several_runs(kind, 80, 3, false, seed);
        together.print(&format!("three runs: {}", kind.0));
        alone.print(&format!("  the first alone: {}", kind.0));
        (all, apart) = (all.plus(together), apart.plus(alone));
    }
    assert!(all.within(90, 99), "{all:?}");
    assert!(all.refused * 20 <= all.studies, "{all:?}");
    let mean = |held: &Coverage| held.half_widths / held.studies as f64;
    assert!(mean(&all) < mean(&apart), "{all:?} {apart:?}");
}

#[test]
fn pitch_and_gain_are_used_honestly() {
    let all = of_all("two runs with pitch and gain", 0x3F5EED, |kind, seed| {
        several_runs(kind, 80, 2, true, seed).0
    });
    assert!(all.within(90, 99), "{all:?}");
}

/// What happens with truths off the assumption: with no spread of the slopes at all b is held at least as often as
/// it says; with slopes off to one side by 0.08, as far as blunt shares are from sharp ones, hardly less often in
/// these studies, of which no more than 80 % is claimed.
#[test]
fn truths_off_the_assumption_are_not_lost() {
    let narrow =
        of_all("slopes all at the centre", 0x64F5EED, |kind, seed| one_run(kind, 80, (0.0, 0.0), seed));
    assert!(narrow.held[0] * 100 >= 94 * narrow.studies, "{narrow:?}");
    let off = of_all("slopes off by 0.08", 0x65F5EED, |kind, seed| one_run(kind, 80, (0.08, 1.0), seed));
    assert!(off.held[0] * 100 >= 80 * off.studies, "{off:?}");
}

/// The kinds measure what their examples can.
#[test]
fn every_kind_of_the_studies_has_its_own_parts() {
    for (name, file, sensed) in KINDS {
        let plow = example(file);
        assert_eq!(plow.tail.wheel().is_some(), sensed == Sensed::Tail, "{name}");
    }
}

fn of_every_kind(studies: usize, seed: u64) -> Vec<(&'static str, Coverage)> {
    let held = MEASURED.into_iter().zip(seed..).map(|(kind, seed)| {
        let held = one_run(kind, studies, (0.0, 1.0), seed);
        held.print(kind.0);
        (kind.0, held)
    });
    held.collect()
}

/// Of 60 runs that hold in 95 % of all cases, fewer than 52 hold once in a hundred times: this finds what is badly off.
#[test]
fn no_kind_is_badly_off() {
    for (name, held) in of_every_kind(60, 0xA11) {
        assert!(held.held[0] >= 52 && held.refused <= 3, "{name}: {held:?}");
    }
}

/// 93 % and more for each kind. A mounted plow whose heel hardly carries is refused most often, in 17 of 400 runs.
#[test]
#[ignore = "3,600 runs: half a minute and more"]
fn the_interval_of_b_holds_for_every_kind_as_often_as_it_says() {
    for (name, held) in of_every_kind(400, 0xB17) {
        assert!(held.held[0] * 100 >= held.studies * 93 && held.refused * 100 <= 5 * 400, "{name}: {held:?}");
    }
}
