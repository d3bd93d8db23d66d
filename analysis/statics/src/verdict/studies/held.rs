//! How often the 95 % intervals hold, kind by kind: with `--nocapture` the table is printed.

use crate::from_priors::{KINDS, Plan, Sensed, Truth, example, runs};
use crate::identify::identify;
use crate::joint::{JointError, RunAnswer, estimate_jointly};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use stats::Estimate;

const DRAWS: usize = 800;

/// How often b, σ and e were held, of how many, and how wide b's intervals were.
#[derive(Clone, Copy, Debug, Default)]
struct Held {
    studies: usize,
    refused: usize,
    held: [usize; 3],
    half_widths: f64,
}

impl Held {
    fn count(&mut self, truth: &Truth, [b, slope, offset]: [Estimate; 3]) {
        let loads = &truth.loads;
        self.studies += 1;
        self.half_widths += (b.high - b.low) / 2.0;
        let truths =
            [(b, loads.balance_index), (slope, truth.soil_slope), (offset, loads.pull_line_offset_m)];
        for (count, (told, truth)) in self.held.iter_mut().zip(truths) {
            *count += usize::from(told.holds(truth));
        }
    }

    fn plus(self, other: Self) -> Self {
        let mut sum = self;
        sum.studies += other.studies;
        sum.refused += other.refused;
        sum.half_widths += other.half_widths;
        sum.held.iter_mut().zip(other.held).for_each(|(a, b)| *a += b);
        sum
    }

    fn print(&self, name: &str) {
        let share = |count: usize| 100.0 * count as f64 / self.studies as f64;
        println!(
            "{name:<46} {:>4} studies, {} refused: b {:.1} %, sigma {:.1} %, e {:.1} %; b known to ±{:.2}",
            self.studies,
            self.refused,
            share(self.held[0]),
            share(self.held[1]),
            share(self.held[2]),
            self.half_widths / self.studies as f64
        );
    }

    fn within(&self, low_percent: usize, high_percent: usize) -> bool {
        let bound = |percent: usize| percent * self.studies;
        self.held.iter().all(|held| held * 100 >= bound(low_percent) && held * 100 <= bound(high_percent))
    }
}

fn one_run(kind: usize, studies: usize, slope_off: (f64, f64), seed: u64) -> Held {
    let (_, file, sensed) = KINDS[kind];
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let mut held = Held::default();
    let plan = Plan { sensed, passes: 1, varies: false, richly: false, slope_off };
    while held.studies + held.refused < studies {
        let mut plow = example(file);
        let Some((truths, evidence)) = runs(&mut plow, plan, &mut rng) else { continue };
        let run = &evidence[0];
        match identify(&plow, &run.setting, &run.figures, DRAWS, held.studies as u64) {
            Ok(found) => {
                held.count(&truths[0], [found.balance_index, found.soil_slope, found.pull_line_offset_m])
            }
            Err(_) => held.refused += 1,
        }
    }
    held
}

/// Several runs, the first of them looked at: together and alone.
fn several_runs(kind: usize, studies: usize, passes: usize, richly: bool, seed: u64) -> (Held, Held) {
    let (_, file, sensed) = KINDS[kind];
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let (mut together, mut alone) = (Held::default(), Held::default());
    let plan = Plan { sensed, passes, varies: true, richly, slope_off: (0.0, 1.0) };
    while together.studies + together.refused < studies {
        let mut plow = example(file);
        let Some((truths, evidence)) = runs(&mut plow, plan, &mut rng) else { continue };
        match estimate_jointly(&plow, &evidence, DRAWS, together.studies as u64) {
            Ok(joint) => {
                let figures = |of: &RunAnswer| [of.balance_index, of.soil_slope, of.pull_line_offset_m];
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

fn of_all(name: &str, of_kind: impl Fn(usize) -> Held) -> Held {
    (0..KINDS.len()).fold(Held::default(), |sum, kind| {
        let held = of_kind(kind);
        held.print(&format!("{name}: {}", KINDS[kind].0));
        sum.plus(held)
    })
}

/// Seeds that nothing was tuned on.
#[test]
fn one_run_is_held_as_often_as_it_says_when_the_truth_is_as_assumed() {
    let all = of_all("one run", |kind| one_run(kind, 120, (0.0, 1.0), 0xF5EED + kind as u64));
    assert!(all.within(90, 99), "{all:?}");
    assert!(all.refused * 50 <= all.studies, "{all:?}");
}

/// Together b is known more closely, but not by much where passes vary as is assumed: 4 % in the mean of these
/// studies (the table has it).
#[test]
fn runs_together_are_held_as_often_as_they_say_and_known_more_closely() {
    let mut apart = Held::default();
    let mut all = Held::default();
    for (kind, (name, _, _)) in KINDS.iter().enumerate() {
        let (together, alone) = several_runs(kind, 80, 3, false, 0x2F5EED + kind as u64);
        together.print(&format!("three runs: {name}"));
        alone.print(&format!("  the first alone: {name}"));
        (all, apart) = (all.plus(together), apart.plus(alone));
    }
    assert!(all.within(90, 99), "{all:?}");
    assert!(all.refused * 20 <= all.studies, "{all:?}");
    let mean = |held: &Held| held.half_widths / held.studies as f64;
    assert!(mean(&all) < mean(&apart), "{all:?} {apart:?}");
}

#[test]
fn pitch_and_gain_are_used_honestly() {
    let all = of_all("two runs with pitch and gain", |kind| {
        several_runs(kind, 80, 2, true, 0x3F5EED + kind as u64).0
    });
    assert!(all.within(90, 99), "{all:?}");
}

/// What happens with truths off the assumption: with no spread of the slopes at all b is held at least as often as
/// it says; with slopes off to one side by 0.08, as far as blunt shares are from sharp ones, hardly less often in
/// these studies, of which no more than 80 % is claimed.
#[test]
fn truths_off_the_assumption_are_not_lost() {
    let narrow =
        of_all("slopes all at the centre", |kind| one_run(kind, 80, (0.0, 0.0), 0x64F5EED + kind as u64));
    assert!(narrow.held[0] * 100 >= 94 * narrow.studies, "{narrow:?}");
    let off = of_all("slopes off by 0.08", |kind| one_run(kind, 80, (0.08, 1.0), 0x65F5EED + kind as u64));
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
