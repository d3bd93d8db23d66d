//! The draft of a run against hand-worked figures, and how often an effect of speed is claimed where there is none.

use super::*;
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

/// A pass at 5 km/h, 200 mm deep, a meter wide.
pub(crate) fn inputs(pull_n: f64) -> DraftInputs<'static> {
    DraftInputs {
        pull_n: Estimate::around(pull_n, 0.02 * pull_n).unwrap(),
        drawbar_slope: 0.75,
        depth_mm: Estimate::around(200.0, 10.0).unwrap(),
        total_cut_m: 1.0,
        speed_mps: Estimate::exact(5.0 / 3.6),
        soil_class: None,
        windows: &[],
    }
}

/// A 3-4-5 drawbar: 10 kN along it are 8 kN of draft, over 100 cm × 20 cm 4 N/cm². Relative half-widths of 2, 5 and
/// 5 % make 7.35 %.
#[test]
fn specific_draft_is_the_forward_part_over_the_slices() {
    let found = run_draft(&inputs(10_000.0)).unwrap();
    assert!((found.draft_n.value - 8_000.0).abs() < 1e-9, "{found:?}");
    let specific = found.specific_draft_n_per_cm2;
    assert!((specific.value - 4.0).abs() < 1e-12, "{specific:?}");
    let share = (specific.high - specific.low) / 2.0 / specific.value;
    assert!((share - 0.02_f64.hypot(0.05).hypot(0.05)).abs() < 1e-12, "{share}");
    let power_w = found.drawbar_power_w.unwrap().value;
    assert!((power_w - 8_000.0 * 5.0 / 3.6).abs() < 1e-9, "{power_w}");
    assert_eq!(found.outcome, Outcome::NoClass);
}

#[test]
fn no_cross_section_or_no_pull_has_no_specific_draft() {
    let flat = DraftInputs { depth_mm: Estimate::exact(0.0).unwrap(), ..inputs(10_000.0) };
    assert_eq!(run_draft(&flat), None);
    assert_eq!(run_draft(&inputs(0.0)), None);
    let wild = DraftInputs { total_cut_m: f64::NAN, ..inputs(10_000.0) };
    assert_eq!(run_draft(&wild), None);
}

/// At 5 km/h the standard has 3.51 N/cm² for coarse soil, 2.10 to 4.91.
#[test]
fn a_draft_outside_the_range_of_the_stated_soil_is_found() {
    let with = |pull_n: f64, soil_class| {
        run_draft(&DraftInputs { soil_class: Some(soil_class), ..inputs(pull_n) }).unwrap()
    };
    let usual = with(10_000.0, SoilClass::Coarse);
    assert_eq!(usual.outcome, Outcome::Within);
    let reaches = |found: &RunDraft| {
        let mut ranges = found.standard.iter();
        ranges.find(|range| Some(range.soil) == found.soil_class).unwrap().plausible
    };
    let much = with(15_000.0, SoilClass::Coarse);
    assert_eq!((much.outcome, reaches(&much)), (Outcome::Above, false));
    let little = with(9_000.0, SoilClass::Fine);
    // 4.68 N/cm² is its lower end; 3.6 is under it, and so is all of its interval.
    assert_eq!((little.outcome, reaches(&little)), (Outcome::Below, false));
    let near = with(12_600.0, SoilClass::Coarse);
    assert_eq!((near.outcome, reaches(&near)), (Outcome::Above, true));
}

#[test]
fn without_a_class_the_classes_it_would_be_usual_for_are_found() {
    let usual = |pull_n: f64| {
        let ranges = run_draft(&inputs(pull_n)).unwrap().standard;
        ranges.into_iter().filter(|range| range.plausible).map(|range| range.soil).collect::<Vec<_>>()
    };
    assert_eq!(usual(10_000.0), [SoilClass::Medium, SoilClass::Coarse]);
    assert_eq!(usual(100_000.0), []);
}

/// No speed: 3 to 10 km/h are allowed for, and the range is wider.
#[test]
fn without_a_speed_the_range_is_wider() {
    let known = run_draft(&inputs(10_000.0)).unwrap();
    let unknown = run_draft(&DraftInputs { speed_mps: None, ..inputs(10_000.0) }).unwrap();
    for (known, unknown) in known.standard.iter().zip(&unknown.standard) {
        assert!(unknown.low_n_per_cm2 < known.low_n_per_cm2 && unknown.high_n_per_cm2 > known.high_n_per_cm2);
    }
    assert_eq!(unknown.standard_speeds_mps, (3.0 / 3.6, 10.0 / 3.6));
    assert_eq!(unknown.speed_effect.state, SpeedEffectState::NoSpeed);
}

/// Twelve pieces (a minute) of soil that remembers, `speed_kmh` by piece, the effect `slope`.
fn windows(seed: u64, speed_kmh: impl Fn(usize) -> f64, slope: f64) -> Vec<Window> {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let mut soil = 0.0;
    (0..24)
        .map(|piece| {
            let news: f64 = StandardNormal.sample(&mut rng);
            // Half of a deviation is left a piece (5 s, 8 m) later.
            soil = 0.5 * soil + 0.35 * news;
            let kmh = speed_kmh(piece);
            Window { speed_mps: kmh / 3.6, specific_draft_n_per_cm2: 5.0 + slope * kmh * kmh + soil }
        })
        .collect()
}

/// Speeds as they are driven: slower step by step, two gears in turn, one change of gear in the middle.
const PATTERNS: [fn(usize) -> f64; 3] =
    [|i| 5.0 + i as f64 / 8.0, |i| if i % 8 < 4 { 4.5 } else { 7.5 }, |i| if i < 12 { 4.5 } else { 7.5 }];

/// 5 % by its own word; 600 series whose soil remembers, and no effect. The worst of the patterns counts.
#[test]
fn no_effect_is_claimed_where_there_is_none() {
    for (name, pattern) in ["ramp", "gears in turn", "one change"].into_iter().zip(PATTERNS) {
        let claimed = (0..200)
            .filter(|seed| speed_effect(&windows(*seed, pattern, 0.0)).state == SpeedEffectState::Shown)
            .count();
        println!("{name}: an effect claimed in {claimed} of 200 series without one");
        assert!(claimed <= 16, "{name}: {claimed} of 200");
    }
}

/// Twice the standard's effect for fine soil, gears in turn: seen in four of five, and its size held.
#[test]
fn an_effect_is_found_and_its_size_is_held() {
    let truth = 0.1;
    let found: Vec<SpeedEffect> =
        (0..100).map(|seed| speed_effect(&windows(seed, PATTERNS[1], truth))).collect();
    let shown = found.iter().filter(|found| found.state == SpeedEffectState::Shown).count();
    let held = found.iter().filter(|found| found.slope_n_per_cm2_per_kmh2.unwrap().holds(truth)).count();
    println!("effect shown in {shown}, its size held in {held} of 100");
    assert!(shown >= 80 && held >= 90, "{shown} {held}");
}

#[test]
fn a_speed_that_hardly_varied_says_nothing() {
    let even = speed_effect(&windows(1, |i| 6.0 + 0.02 * i as f64, 0.1));
    assert_eq!((even.state, even.slope_n_per_cm2_per_kmh2), (SpeedEffectState::SpeedTooEven, None));
    let short = speed_effect(&windows(1, PATTERNS[1], 0.1)[..7]);
    assert_eq!(short.state, SpeedEffectState::TooFewWindows);
    assert_eq!(speed_effect(&[]).state, SpeedEffectState::NoSpeed);
}
