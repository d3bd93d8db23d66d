//! How often b's 95 % interval holds for each kind of plow and each thing that it may measure: with `--nocapture` the
//! table is printed.

use crate::from_priors::{Plan, Sensed, example, runs};
use crate::identify::identify;
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;

const DRAWS: usize = 800;

/// Kinds of plow with what is measured of them besides pull and depth; all plows are invented.
const MEASURED: [(&str, &str, Sensed); 9] = [
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

#[derive(Debug, Default)]
struct Coverage {
    studies: usize,
    refused: usize,
    held: usize,
    half_widths: f64,
}

fn of_kind(file: &str, sensed: Sensed, studies: usize, seed: u64) -> Coverage {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let plan = Plan { sensed, passes: 1, varies: false, richly: false, slope_off: (0.0, 1.0) };
    let mut held = Coverage::default();
    while held.studies + held.refused < studies {
        let mut plow = example(file);
        let Some((truths, evidence)) = runs(&mut plow, plan, &mut rng) else { continue };
        let run = &evidence[0];
        match identify(&plow, &run.setting, &run.figures, DRAWS, held.studies as u64) {
            Ok(found) => {
                held.studies += 1;
                held.held += usize::from(found.balance_index.holds(truths[0].loads.balance_index));
                held.half_widths += (found.balance_index.high - found.balance_index.low) / 2.0;
            }
            Err(why) => {
                println!("{file}, {sensed:?}: {why}; {:?}", truths[0].loads);
                held.refused += 1;
            }
        }
    }
    held
}

fn table(studies: usize, seed: u64) -> Vec<(&'static str, Coverage)> {
    let rows = MEASURED.iter().zip(seed..).map(|((name, file, sensed), seed)| {
        let held = of_kind(file, *sensed, studies, seed);
        println!(
            "{name:<44} {:>4} studies, {:>2} refused: b {:.1} %, known to ±{:.2}",
            held.studies,
            held.refused,
            100.0 * held.held as f64 / held.studies as f64,
            held.half_widths / held.studies as f64
        );
        (*name, held)
    });
    rows.collect()
}

/// Of 60 runs that hold in 95 % of all cases, fewer than 52 hold once in a hundred times: this finds what is badly off.
#[test]
fn no_kind_is_badly_off() {
    for (name, held) in table(60, 0xA11) {
        assert!(held.held >= 52 && held.refused <= 3, "{name}: {held:?}");
    }
}

/// 93 % and more for each kind. A mounted plow whose heel hardly carries is refused most often, in 17 of 400 runs.
#[test]
#[ignore = "3,600 runs: half a minute and more"]
fn the_interval_of_b_holds_for_every_kind_as_often_as_it_says() {
    for (name, held) in table(400, 0xB17) {
        assert!(held.held * 100 >= held.studies * 93 && held.refused * 100 <= 5 * 400, "{name}: {held:?}");
    }
}
