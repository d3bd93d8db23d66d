//! Invented studies: plows whose truth is known, measured with the errors of tape and scale, judged blind.
//!
//! They show that intervals hold the truth as often as they say, that no verdict is bold and wrong, and that
//! decent measurements usually get one. The truth is drawn from other distributions than the analysis assumes.

use super::{Class, GainAgreement, RunSigns, Verdict, verdict};
use crate::advice::{Advice, Step, advise};
use crate::statics::draw::Impossible;
use crate::statics::identify::{Contradiction, Evidence, Identified, IdentifyError, identify};
use crate::statics::inputs::{Input, MeanForce, RunFigures};
use crate::statics::predict::{hole_table, nominal};
use crate::statics::side::{PointM, SideView, tractor_pin};
use crate::statics::spread::Spread;
use crate::stats::Estimate;
use crate::units_out::Units;
use ingest::plow::{Plow, Setting, ShareCondition, read_plow_text};
use ingest::quantity::{Force, Length, Measured, Quantity};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use std::path::Path;

const PLOW: &str = r#"
name = "invented two-bottom"
[weight]
total = "3400 N"
x = "-0.60 m"
[front_wheels]
diameter = "0.6 m"
[tail_wheel]
x = "-1.90 m"
diameter = "0.45 m"
load_table = [["0 mm", "0 N"], ["100 mm", "2500 N"]]
[bottoms]
count = 2
cut_width = "14 in"
depth = "180 mm"
share = "sharp"
x = "-0.72 m"
[plow_hitch]
x = "0.30 m"
holes = [
  { name = "1", z = "1 in" }, { name = "2", z = "2 in" }, { name = "3", z = "3 in" },
  { name = "4", z = "4 in" }, { name = "5", z = "5 in" }, { name = "6", z = "6 in" },
  { name = "7", z = "7 in" }, { name = "8", z = "8 in" }, { name = "9", z = "9 in" },
]
clearance_z = "2 in"
[tractor_hitch]
holes = [
  { name = "1", z = "10 in" }, { name = "2", z = "11 in" }, { name = "3", z = "12 in" },
  { name = "4", z = "13 in" }, { name = "5", z = "14 in" }, { name = "6", z = "15 in" },
  { name = "7", z = "16 in" },
]
[drawbar]
length = "1.12 m"
[settings.now]
plow_hole = "4"
tractor_hole = "4"
"#;

fn plow() -> Plow {
    read_plow_text(PLOW, Path::new("plow.toml")).unwrap()
}

fn setting(plow_hole: &str, tractor_hole: &str) -> Setting {
    Setting { plow_hole: plow_hole.into(), tractor_hole: tractor_hole.into(), lateral_offset: None }
}

/// The plow of the description, exactly as described, with a true soil force.
fn truth(plow: &Plow, holes: &Setting, soil_slope: f64, soil_z_m: f64, soil_draft_n: f64) -> SideView {
    let pins = plow.pins(holes).unwrap();
    let plow_hitch = PointM { x_m: plow.plow_hitch.x.si(), z_m: pins.plow_z.si() };
    SideView {
        weight_n: plow.weight.total.si(),
        weight_x_m: plow.weight.x.si(),
        front_x_m: 0.0,
        tail_x_m: plow.tail_wheel.x.si(),
        ground_z_m: 0.0,
        plow_hitch,
        tractor_hitch: tractor_pin(plow_hitch, pins.tractor_z.si(), plow.drawbar.length.si()).unwrap(),
        soil_at: PointM { x_m: plow.bottoms.x.si(), z_m: soil_z_m },
        soil_slope,
        soil_draft_n,
        rolling: 0.06,
    }
}

/// Mean forces as good sensors would read them.
fn figures(pull_n: f64, tail_n: f64, plow: &Plow) -> RunFigures {
    RunFigures {
        pull: MeanForce::pull(Estimate::around(pull_n, 0.01 * pull_n).unwrap()),
        tail_load: MeanForce::tail(Estimate::around(tail_n, 10.0 + 0.01 * tail_n).unwrap(), plow),
        front_load: None,
        depth_m: Some(plow.bottoms.depth.m()),
    }
}

const QUIET: RunSigns = RunSigns { lifted_share: 0.0, measured_gain: None };
const DRAWS: usize = 600;

/// A plow, what its owner wrote down of it, and a run.
struct Study {
    described: Plow,
    side: SideView,
    run: RunFigures,
}

/// How the truth is drawn.
#[derive(Clone, Copy)]
struct Field {
    share: ShareCondition,
    soil_slope: Spread,
    /// Height of the soil force over the depth, below the land.
    soil_depth_share: Spread,
    front_measured: bool,
}

const SHARP: Field = Field {
    share: ShareCondition::Sharp,
    soil_slope: Spread::Uniform { low: -0.2, high: 0.0 },
    soil_depth_share: Spread::Uniform { low: 0.3, high: 0.75 },
    front_measured: false,
};

/// Draws a plow whose true balance index is `index`, by the height of its hole at the plow, and what was measured
/// of it; `None` if no height gives that index.
fn study(field: Field, index: f64, rng: &mut ChaCha8Rng) -> Option<Study> {
    let mut described = plow();
    described.bottoms.share = field.share;
    let soil_slope = field.soil_slope.draw(rng);
    let soil_z_m = -0.18 * field.soil_depth_share.draw(rng);
    let draft_n = Spread::Uniform { low: 6_000.0, high: 9_500.0 }.draw(rng);
    let at_height = |z_m: f64| {
        let mut side = truth(&plow(), &setting("1", "4"), soil_slope, soil_z_m, draft_n);
        side.plow_hitch.z_m = z_m;
        side.tractor_hitch = tractor_pin(side.plow_hitch, 0.3302, 1.12).ok()?;
        Some((side, side.loads().ok()?))
    };
    let (mut low_m, mut high_m) = (-0.3, 0.7);
    for _ in 0..60 {
        let middle_m = (low_m + high_m) / 2.0;
        if at_height(middle_m)?.1.balance_index < index { low_m = middle_m } else { high_m = middle_m }
    }
    let (side, loads) = at_height(low_m)?;
    if (loads.balance_index - index).abs() > 1e-6 {
        return None;
    }
    let mut off = |half_width: f64| Spread::Normal { mean: 0.0, sd: half_width / 1.96 }.draw(rng);
    described.weight.total = Measured::exactly_as_read(Force::from_si(3_400.0 * (1.0 + off(0.03))));
    for (length, half_width_m) in [
        (&mut described.weight.x, 0.01),
        (&mut described.tail_wheel.x, 0.01),
        (&mut described.plow_hitch.x, 0.01),
        (&mut described.bottoms.x, 0.01),
        (&mut described.drawbar.length, 0.01),
    ] {
        *length = Measured::exactly_as_read(Length::from_si(length.si() + off(half_width_m)));
    }
    let plow_z_m = side.plow_hitch.z_m + off(0.005);
    let tractor_off_m = off(0.005);
    for hole in &mut described.plow_hitch.holes {
        if hole.name == "4" {
            hole.z = Measured::exactly_as_read(Length::from_si(plow_z_m));
        }
    }
    for hole in &mut described.tractor_hitch.holes {
        hole.z = Measured::exactly_as_read(Length::from_si(hole.z.si() + tractor_off_m));
    }
    let pull_n = loads.pull_n * (1.0 + off(0.022));
    let tail_n = (loads.tail_load_n * (1.0 + off(0.05)) + off(35.0)).max(0.0);
    let mut run = figures(pull_n, tail_n, &described);
    if field.front_measured {
        let front_n = loads.front_load_n * (1.0 + off(0.032));
        run.front_load = Some(MeanForce::front(Estimate::around(front_n, 0.01 * front_n).unwrap()));
    }
    Some(Study { described, side, run })
}

#[derive(Default, Debug)]
struct Score {
    studies: usize,
    covered: usize,
    shown: usize,
    right: usize,
    bold_and_wrong: usize,
    mean_half_width: f64,
}

fn score(field: Field, index: f64, studies: usize, seed: u64) -> Score {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let mut score = Score::default();
    while score.studies < studies {
        let Some(study) = study(field, index, &mut rng) else { continue };
        score.studies += 1;
        let found = identify(&study.described, &setting("4", "4"), &study.run, DRAWS, score.studies as u64);
        let verdict = verdict(&study.described, &found, &QUIET, Units::Si);
        let b_true = study.side.loads().unwrap().balance_index;
        let class_true = Class::of(b_true, &study.described.limits);
        if let Ok(found) = &found {
            score.covered += usize::from(found.balance_index.holds(b_true));
            score.mean_half_width +=
                (found.balance_index.high - found.balance_index.low) / 2.0 / studies as f64;
        }
        let (class, shown) = (verdict.class, verdict.class != Class::NotShown);
        score.shown += usize::from(shown);
        score.right += usize::from(class == class_true);
        let place = |class| Class::SHOWN.iter().position(|c| *c == class).unwrap() as i32;
        if shown && (place(class) - place(class_true)).abs() > 1 {
            score.bold_and_wrong += 1;
        }
    }
    score
}

fn add(scores: &[Score]) -> Score {
    let sum = |part: fn(&Score) -> usize| scores.iter().map(part).sum();
    Score {
        studies: sum(|s| s.studies),
        covered: sum(|s| s.covered),
        shown: sum(|s| s.shown),
        right: sum(|s| s.right),
        bold_and_wrong: sum(|s| s.bold_and_wrong),
        mean_half_width: scores.iter().map(|s| s.mean_half_width).sum::<f64>() / scores.len() as f64,
    }
}

/// Three sensors, tape and scale: 95 % intervals hold the truth, nearly every run gets a class, none a bold wrong one.
#[test]
fn decent_measurements_get_a_class_and_it_holds() {
    let far: Vec<Score> = [0.8, 0.42, 0.0, -0.42, -0.8].map(|b| score(SHARP, b, 30, 1)).into();
    let all = add(&far);
    assert!(all.covered * 100 >= all.studies * 93, "{far:?}");
    assert_eq!(all.bold_and_wrong, 0, "{far:?}");
    assert!(all.shown * 100 >= all.studies * 95, "{far:?}");
    assert!(all.right * 100 >= all.studies * 90, "in the middle of a class: {far:?}");
}

/// On the limits of the classes, where a statement off by one is fair and one off by two is not.
#[test]
fn runs_on_a_limit_are_never_called_off_by_two() {
    let near: Vec<Score> = [0.61, 0.24, -0.24, -0.61].map(|b| score(SHARP, b, 25, 2)).into();
    let all = add(&near);
    assert_eq!(all.bold_and_wrong, 0, "{near:?}");
    assert!(all.covered * 100 >= all.studies * 93, "{near:?}");
}

/// The owner says "worn" of shares that are sharp: the prior is wrong by 0.08 to 0.28 and must not win.
#[test]
fn a_wrong_share_condition_does_not_make_a_bold_verdict() {
    let field = Field { share: ShareCondition::Worn, ..SHARP };
    let scores: Vec<Score> = [0.8, 0.0, -0.8].map(|b| score(field, b, 30, 3)).into();
    let all = add(&scores);
    assert_eq!(all.bold_and_wrong, 0, "{scores:?}");
    assert!(all.covered * 100 >= all.studies * 88, "{scores:?}");
}

/// A front-load channel needs no assumption about the soil and at least halves the interval.
#[test]
fn a_front_load_channel_narrows_the_balance() {
    let without = score(SHARP, 0.0, 30, 4);
    let with = score(Field { front_measured: true, ..SHARP }, 0.0, 30, 4);
    assert!(with.mean_half_width < 0.5 * without.mean_half_width, "{with:?} {without:?}");
    assert_eq!(with.right, 30, "{with:?}");
    assert!(with.covered >= 27, "{with:?}");
}

/// A run of the described plow with no errors at all.
fn judged(
    holes: &Setting,
    soil_slope: f64,
    front_measured: bool,
) -> (Plow, Result<Identified, IdentifyError>) {
    let plow = plow();
    let loads = truth(&plow, holes, soil_slope, -0.10, 7_500.0).loads().unwrap();
    let mut run = figures(loads.pull_n, loads.tail_load_n.max(0.0), &plow);
    if front_measured {
        let front = Estimate::around(loads.front_load_n, 20.0).unwrap();
        run.front_load = Some(MeanForce::front(front));
    }
    let found = identify(&plow, holes, &run, 2_000, 11);
    (plow, found)
}

fn advised(holes: &Setting, soil_slope: f64, front_measured: bool) -> (Verdict, Vec<Advice>) {
    let (plow, found) = judged(holes, soil_slope, front_measured);
    let verdict = verdict(&plow, &found, &QUIET, Units::Si);
    let advice = advise(&plow, holes, &found, &verdict, Units::Us);
    (verdict, advice)
}

#[test]
fn too_flat_is_told_to_raise_the_tractors_end_or_lower_the_plows() {
    let holes = setting("8", "3");
    let (verdict, advice) = advised(&holes, -0.10, false);
    assert_eq!(verdict.class, Class::TooFlat, "{verdict:?}");
    let first = &advice[0];
    let prediction = first.prediction.as_ref().unwrap();
    assert_eq!(first.step, Step::MovePins);
    assert!(prediction.balance_index.value.abs() <= 0.25, "{first:?}");
    assert!(prediction.tractor_z_m > 12.0 * 0.0254 || prediction.plow_z_m < 8.0 * 0.0254, "{first:?}");
    assert!(prediction.plow_z_m >= 2.0 * 0.0254 - 1e-9, "below the clearance: {first:?}");
    assert!(!first.outside_usual_height && first.sentence.contains("lbf"), "{first:?}");
    // What was predicted is what those holes do, with the true soil force.
    let new = setting(&prediction.plow_hole, &prediction.tractor_hole);
    let b = truth(&plow(), &new, -0.10, -0.10, 7_500.0).loads().unwrap().balance_index;
    assert!(prediction.balance_index.holds(b), "{b} {prediction:?}");
}

#[test]
fn too_steep_is_told_to_lower_the_tractors_end() {
    let (verdict, advice) = advised(&setting("2", "7"), -0.10, true);
    assert!(matches!(verdict.class, Class::TooSteep | Class::LeaningSteep), "{verdict:?}");
    let prediction = advice[0].prediction.as_ref().unwrap();
    assert_eq!(prediction.plow_hole, "2", "the tractor's end first: {advice:?}");
    assert!(prediction.tractor_z_m < 16.0 * 0.0254 && prediction.better_chance > 0.8, "{advice:?}");
}

#[test]
fn holes_outside_the_usual_heights_are_said_to_be() {
    let mut plow = plow();
    plow.tractor_hitch.holes.retain(|hole| hole.name == "4");
    let mut high = plow.tractor_hitch.holes[0].clone();
    high.name = "high".into();
    high.z = Measured::exactly_as_read(Length::from_si(0.45));
    plow.tractor_hitch.holes.push(high);
    plow.plow_hitch.holes.retain(|hole| hole.name == "8");
    let holes = setting("8", "4");
    let loads = truth(&plow, &holes, -0.10, -0.10, 7_500.0).loads().unwrap();
    let found = identify(&plow, &holes, &figures(loads.pull_n, loads.tail_load_n, &plow), 2_000, 12);
    let verdict = verdict(&plow, &found, &QUIET, Units::Si);
    let advice = advise(&plow, &holes, &found, &verdict, Units::Us);
    assert!(advice[0].outside_usual_height, "{advice:?}");
    assert!(advice[0].sentence.contains("outside the usual 10.0 in to 15.0 in"), "{advice:?}");
}

#[test]
fn balanced_stays_and_a_plow_without_other_holes_is_told_so() {
    let (verdict, advice) = advised(&setting("4", "4"), -0.10, false);
    assert_eq!(verdict.class, Class::Balanced, "{verdict:?}");
    assert_eq!(advice[0].step, Step::Stay);
    let mut plow = plow();
    plow.tractor_hitch.holes.retain(|hole| hole.name == "3");
    plow.plow_hitch.holes.retain(|hole| hole.name == "8");
    let (_, found) = judged(&setting("8", "3"), -0.10, false);
    let verdict = super::verdict(&plow, &found, &QUIET, Units::Si);
    let advice = advise(&plow, &setting("8", "3"), &found, &verdict, Units::Si);
    assert_eq!(advice[0].step, Step::NoHoleHelps);
}

#[test]
fn a_soil_force_that_lifts_means_shares_first() {
    let (_, found) = judged(&setting("4", "4"), 0.10, true);
    assert!(found.unwrap().lifts_chance > 0.95);
    let (verdict, advice) = advised(&setting("4", "4"), 0.10, true);
    assert_eq!(advice[0].step, Step::SharesFirst);
    assert!(verdict.because.iter().any(|why| why.contains("The soil lifts the plow")), "{verdict:?}");
}

#[test]
fn a_rough_description_is_not_shown_and_told_what_to_measure() {
    let mut plow = plow();
    let rough = |length: &mut Measured<Length>| length.half_width = Some(Length::from_si(0.15));
    plow.tractor_hitch.holes.iter_mut().chain(&mut plow.plow_hitch.holes).for_each(|hole| rough(&mut hole.z));
    plow.weight.total.half_width = Some(Force::from_si(1_000.0));
    plow.bottoms.depth = Length::from_si(0.45);
    let holes = setting("4", "4");
    let loads = truth(&plow, &holes, -0.1, -0.1, 7_500.0).loads().unwrap();
    let found = identify(&plow, &holes, &figures(loads.pull_n, loads.tail_load_n, &plow), 2_000, 13);
    let verdict = verdict(&plow, &found, &QUIET, Units::Si);
    assert_eq!(verdict.class, Class::NotShown, "{:?}", found.map(|f| f.balance_index));
    assert!(verdict.because[0].starts_with("The measurements do not decide"), "{verdict:?}");
    let advice = advise(&plow, &holes, &found, &verdict, Units::Si);
    assert!(advice.iter().all(|advice| advice.step == Step::Measure) && advice.len() == 2, "{advice:?}");
}

#[test]
fn measurements_that_contradict_each_other_give_no_figures() {
    let plow = plow();
    let cause = |pull_n: f64, tail_n: f64| {
        let holes = setting("4", "4");
        let found = identify(&plow, &holes, &figures(pull_n, tail_n, &plow), 500, 14);
        let verdict = verdict(&plow, &found, &QUIET, Units::Si);
        assert_eq!(verdict.class, Class::NotShown);
        let advice = advise(&plow, &holes, &found, &verdict, Units::Si);
        assert!(advice[0].sentence.starts_with("Change nothing on the hitch yet."), "{advice:?}");
        match found {
            Err(IdentifyError::Contradiction { cause, .. }) => cause,
            other => panic!("{other:?}"),
        }
    };
    assert_eq!(cause(8_000.0, 9_000.0), Contradiction::Impossible(Impossible::FrontLoadBelowZero));
    assert_eq!(cause(8_000.0, -400.0), Contradiction::Impossible(Impossible::TailLoadBelowZero));
    assert_eq!(cause(100.0, 1_000.0), Contradiction::Impossible(Impossible::PullTooSmall));
    let mut broken = figures(8_000.0, 900.0, &plow);
    broken.pull.mean_n.high = f64::NAN;
    assert_eq!(identify(&plow, &setting("4", "4"), &broken, 100, 1).unwrap_err(), IdentifyError::NotFinite);
    let unknown = identify(&plow, &setting("4", "99"), &figures(8_000.0, 900.0, &plow), 100, 1);
    assert!(unknown.unwrap_err().to_string().contains("\"99\""));
}

/// A run in one setting that is filed under another: no soil force within the furrow fits.
#[test]
fn a_run_filed_under_the_wrong_setting_is_found_out() {
    let plow = plow();
    let mistaken = |driven: &Setting, filed: &Setting| {
        let loads = truth(&plow, driven, -0.10, -0.10, 7_500.0).loads().unwrap();
        let found =
            identify(&plow, filed, &figures(loads.pull_n, loads.tail_load_n.max(0.0), &plow), 1_000, 16);
        match found {
            Err(IdentifyError::Contradiction { cause, .. }) => cause.words().contains("right setting"),
            Err(other) => panic!("{other}"),
            Ok(found) => verdict(&plow, &Ok(found), &QUIET, Units::Si)
                .because
                .iter()
                .any(|why| why.contains("right setting")),
        }
    };
    assert!(mistaken(&setting("9", "1"), &setting("1", "7")));
    assert!(mistaken(&setting("1", "7"), &setting("9", "1")));
    assert!(!mistaken(&setting("4", "4"), &setting("4", "4")));
}

#[test]
fn a_tail_wheel_that_lifts_cannot_be_balanced() {
    let (plow, found) = judged(&setting("4", "4"), -0.10, true);
    let signs = RunSigns { lifted_share: 0.05, measured_gain: None };
    assert_eq!(verdict(&plow, &found, &QUIET, Units::Si).class, Class::Balanced);
    let lifting = verdict(&plow, &found, &signs, Units::Si);
    assert_ne!(lifting.class, Class::Balanced);
    assert!(lifting.because.iter().any(|why| why.contains("5 % of the time")), "{lifting:?}");
}

#[test]
fn the_measured_gain_is_set_against_the_statics() {
    let (plow, found) = judged(&setting("6", "4"), -0.10, true);
    let expected = found.as_ref().unwrap().expected_gain_n_per_n;
    let with = |gain: f64, lifted_share: f64| {
        let measured_gain = Estimate::around(expected.value + gain, 0.01);
        verdict(&plow, &found, &RunSigns { lifted_share, measured_gain }, Units::Si)
    };
    assert_eq!(with(0.0, 0.0).gain, GainAgreement::Agrees);
    assert_eq!(with(-0.3, 0.0).gain, GainAgreement::MeasuredLower);
    assert_eq!(with(0.3, 0.0).gain, GainAgreement::MeasuredHigher);
    assert_eq!(with(0.3, 0.2).gain, GainAgreement::NotCompared);
    assert!(with(0.3, 0.0).because.iter().any(|why| why.contains("draw in harder")));
}

/// b at the ends: a tail wheel that reads nothing gives an index near +1 that is finite and within ±1, and half of
/// the draws, those below zero, are counted as rejected.
#[test]
fn a_tail_wheel_in_the_air_gives_a_finite_index() {
    let plow = plow();
    let found = identify(&plow, &setting("8", "3"), &figures(8_000.0, 0.0, &plow), 2_000, 15).unwrap();
    let b = found.balance_index;
    assert!(b.low > 0.9 && b.high <= 1.0, "{b:?}");
    assert!((found.rejected_share - 0.5).abs() < 0.06, "{}", found.rejected_share);
    assert!(found.pull_line_offset_m.high.is_finite());
}

#[test]
fn the_same_seed_gives_the_same_figures_and_another_nearly_so() {
    let run = figures(8_000.0, 900.0, &plow());
    let with = |seed| identify(&plow(), &setting("4", "4"), &run, 2_000, seed).unwrap();
    assert_eq!(with(1).balance_index, with(1).balance_index);
    assert_ne!(with(1).balance_index, with(2).balance_index);
    assert!((with(1).balance_index.value - with(2).balance_index.value).abs() < 0.02);
    assert_eq!(with(1).evidence, Evidence::SharesAndDepth);
    assert!(matches!(with(1).dominant_input(), Some(Input::SoilSlope | Input::SoilHeight)));
}

/// Giving the height of the soil force narrows the soil slope.
#[test]
fn a_given_soil_height_narrows_the_soil_slope() {
    let mut given = plow();
    let z = Length::from_si(-0.10);
    given.bottoms.soil_force_z = Some(Measured { value: z, half_width: Some(Length::from_si(0.01)) });
    let run = figures(8_000.0, 900.0, &given);
    let width = |plow: &Plow| {
        let slope = identify(plow, &setting("4", "4"), &run, 2_000, 1).unwrap().soil_slope;
        slope.high - slope.low
    };
    assert!(width(&given) < 0.7 * width(&plow()), "{} {}", width(&given), width(&plow()));
}

#[test]
fn a_table_of_holes_needs_no_run() {
    let plow = plow();
    let holes = setting("4", "4");
    let table = hole_table(&plow, &holes, 8_000.0, 1).unwrap();
    assert_eq!(table.len(), 63);
    let now = table.iter().find(|row| row.is_now).unwrap();
    let middle = nominal(&plow, &holes, 8_000.0).unwrap().loads().unwrap();
    assert!((now.balance_index.value - middle.balance_index).abs() < 0.1, "{now:?} {middle:?}");
    assert!(now.balance_index.holds(middle.balance_index));
    let index = |plow_hole: &str, tractor_hole: &str| {
        let row = table.iter().find(|row| row.plow_hole == plow_hole && row.tractor_hole == tractor_hole);
        row.unwrap().balance_index.value
    };
    assert!(index("5", "4") > index("4", "4") && index("4", "5") < index("4", "4"));
    assert!(matches!(hole_table(&plow, &holes, 10.0, 1), Err(IdentifyError::Statics(_))));
    assert_eq!(hole_table(&plow, &holes, f64::NAN, 1), Err(IdentifyError::NotFinite));
}
