//! Single runs with a known truth: verdict, reasons and advice.

use crate::advice::{Advice, Measure, Reach, Stay, advise, moved_to};
use crate::identify::{Contradiction, Identified, IdentifyError, SoilBasis, identify};
use crate::inputs::Input;
use crate::invented_plow::{QUIET, figures, plow, rewritten, setting, setting_of};
use crate::predict::{hole_table, nominal};
use crate::refusal::{Impossible, StaticsError};
use crate::verdict::studies::truths::{run_of, truth};
use crate::verdict::{Class, GainAgreement, Indicators, Reason, Verdict, verdict};
use ingest::plow::{Hole, Plow, Setting};
use ingest::quantity::{Force, Length, Measured};
use stats::Estimate;

type Found = Result<Identified, IdentifyError>;

/// A run of the described plow with no errors at all.
fn judged(holes: &Setting, soil_slope: f64, front_measured: bool) -> (Plow, Found) {
    let plow = plow();
    let found = identify(&plow, holes, &run_of(&plow, holes, soil_slope, front_measured), 2_000, 11);
    (plow, found)
}

fn advised(holes: &Setting, soil_slope: f64, front_measured: bool) -> (Verdict, Vec<Advice>) {
    let (plow, found) = judged(holes, soil_slope, front_measured);
    answered(&plow, holes, &found)
}

fn answered(plow: &Plow, holes: &Setting, found: &Found) -> (Verdict, Vec<Advice>) {
    let verdict = verdict(plow, found, &QUIET);
    let advice = advise(plow, holes, found, &verdict);
    (verdict, advice)
}

#[test]
fn too_flat_is_told_to_lower_the_plows_end() {
    let holes = setting("8", "3");
    let (verdict, advice) = advised(&holes, -0.10, false);
    assert_eq!(verdict.class, Class::TooFlat, "{verdict:?}");
    let first = &advice[0];
    let prediction = moved_to(&advice).unwrap();
    assert!(prediction.balance_index.value.abs() <= 0.25, "{first:?}");
    assert!(prediction.tractor_hole == "3" && prediction.plow_z.m() < 8.0 * 0.0254, "{first:?}");
    assert!(prediction.plow_z.m() >= 2.0 * 0.0254 - 1e-9, "below the clearance: {first:?}");
    assert!(matches!(first, Advice::MovePins { reach: Reach::IntoTheBand, .. }), "{first:?}");
    // What was predicted is what those holes do, with the true soil force.
    let new = setting(&prediction.plow_hole, &prediction.tractor_hole);
    let b = truth(&plow(), &new, -0.10, -0.10, 7_500.0).loads().unwrap().balance_index;
    assert!(prediction.balance_index.holds(b), "{b} {prediction:?}");
}

#[test]
fn too_steep_is_told_to_lower_the_tractors_end() {
    let (verdict, advice) = advised(&setting("2", "7"), -0.10, true);
    assert!(matches!(verdict.class, Class::TooSteep | Class::LeaningSteep), "{verdict:?}");
    let prediction = moved_to(&advice).unwrap();
    assert_eq!(prediction.plow_hole, "2", "the plow's end stays low: {advice:?}");
    assert!(prediction.tractor_z.m() < 16.0 * 0.0254 && prediction.better_probability > 0.8, "{advice:?}");
}

#[test]
fn holes_outside_the_usual_heights_are_said_to_be() {
    let mut plow = plow();
    plow.tractor_hitch.holes.retain(|hole| hole.name == "4");
    let high = Measured::exactly_as_read(Length::from_m(0.45));
    plow.tractor_hitch.holes.push(Hole { name: "high".into(), z: high });
    plow.plow_hitch.holes.retain(|hole| hole.name == "8");
    let holes = setting("8", "4");
    let found = identify(&plow, &holes, &run_of(&plow, &holes, -0.10, false), 2_000, 12);
    let (_, advice) = answered(&plow, &holes, &found);
    assert!(matches!(advice[0], Advice::MovePins { reach: Reach::OutsideUsualHeights, .. }), "{advice:?}");
}

#[test]
fn balanced_stays_and_a_plow_without_other_holes_is_told_so() {
    let (verdict, advice) = advised(&setting("4", "4"), -0.10, false);
    assert_eq!(verdict.class, Class::Balanced, "{verdict:?}");
    assert!(matches!(advice[0], Advice::Stay { why: Stay::Balanced, .. }), "{advice:?}");
    let mut plow = plow();
    plow.tractor_hitch.holes.retain(|hole| hole.name == "3");
    plow.plow_hitch.holes.retain(|hole| hole.name == "8");
    let (_, found) = judged(&setting("8", "3"), -0.10, false);
    let (_, advice) = answered(&plow, &setting("8", "3"), &found);
    assert_eq!(advice, [Advice::NoHoleHelps]);
}

#[test]
fn a_soil_force_that_lifts_means_shares_first() {
    let (_, found) = judged(&setting("4", "4"), 0.10, true);
    assert!(found.unwrap().lifts_probability > 0.95);
    let (verdict, advice) = advised(&setting("4", "4"), 0.10, true);
    assert!(matches!(advice[..], [Advice::SharesFirst { .. }]), "{advice:?}");
    assert!(verdict.reasons.iter().any(|why| matches!(why, Reason::SoilLifts { .. })), "{verdict:?}");
}

#[test]
fn a_rough_description_is_not_shown_and_told_what_to_measure() {
    let plow = rewritten(&plow(), |said| {
        let holes = said.tractor_hitch.holes.iter_mut().chain(&mut said.plow_hitch.holes);
        holes.for_each(|hole| hole.z.half_width = Some(Length::from_m(0.20)));
        said.weight.total.half_width = Some(Force::from_n(1_000.0));
        said.bottoms.depth = Length::from_m(0.45);
    });
    let holes = setting_of(&plow, "4", "4");
    let found = identify(&plow, &holes, &run_of(&plow, &holes, -0.1, false), 2_000, 13);
    let (verdict, advice) = answered(&plow, &holes, &found);
    assert_eq!(verdict.class, Class::NotShown, "{:?}", found.map(|f| f.balance_index));
    assert!(matches!(&verdict.reasons[0], Reason::Undecided { widest } if widest.len() == 2), "{verdict:?}");
    let better = |advice: &Advice| matches!(advice, Advice::Measure { what: Measure::Better { .. } });
    // A depth of 0.45 m is unusual, which comes first.
    let [Advice::CheckFirst { .. }, rest @ ..] = &advice[..] else { panic!("{advice:?}") };
    assert!(rest.iter().all(better) && rest.len() == 2 && rest[0] != rest[1], "{rest:?}");
}

#[test]
fn measurements_that_contradict_each_other_give_no_figures() {
    let plow = plow();
    let cause = |pull_n: f64, tail_n: f64| {
        let holes = setting("4", "4");
        let found = identify(&plow, &holes, &figures(pull_n, tail_n, &plow), 500, 14);
        let (verdict, advice) = answered(&plow, &holes, &found);
        assert_eq!(verdict.class, Class::NotShown);
        let first =
            |advice: &Advice| matches!(advice, Advice::Measure { what: Measure::First { how: Some(_) } });
        assert!(first(&advice[0]), "{advice:?}");
        // Nothing was held against the readings yet, so no entry is suspected.
        assert!(!verdict.reasons.contains(&Reason::Suspects), "{verdict:?}");
        match found {
            Err(IdentifyError::Contradiction { cause, .. }) => cause,
            other => panic!("{other:?}"),
        }
    };
    assert_eq!(cause(8_000.0, 9_000.0), Contradiction::Impossible(Impossible::FrontLoadBelowZero));
    assert_eq!(cause(8_000.0, -400.0), Contradiction::Impossible(Impossible::TailLoadBelowZero));
    assert_eq!(cause(100.0, 1_000.0), Contradiction::Impossible(Impossible::PullTooSmall));
    let mut broken = figures(8_000.0, 900.0, &plow);
    broken.pull.mean.high = Force::from_n(f64::NAN);
    assert_eq!(identify(&plow, &setting("4", "4"), &broken, 100, 1).unwrap_err(), IdentifyError::NotFinite);
}

/// A run in one setting that is filed under another: no soil force within the furrow fits.
#[test]
fn a_run_filed_under_the_wrong_setting_is_found_out() {
    let plow = plow();
    let mistaken = |driven: &Setting, filed: &Setting| match identify(
        &plow,
        filed,
        &run_of(&plow, driven, -0.10, false),
        1_000,
        16,
    ) {
        Err(IdentifyError::Contradiction { cause, .. }) => cause.to_string().contains("right setting"),
        Err(other) => panic!("{other}"),
        Ok(_) => false,
    };
    assert!(mistaken(&setting("9", "1"), &setting("1", "7")));
    assert!(mistaken(&setting("1", "7"), &setting("9", "1")));
    assert!(!mistaken(&setting("4", "4"), &setting("4", "4")));
}

#[test]
fn a_tail_wheel_that_lifts_cannot_be_balanced() {
    let (plow, found) = judged(&setting("4", "4"), -0.10, true);
    let signs = Indicators { lifted_share: Some(0.05), ..QUIET };
    assert_eq!(verdict(&plow, &found, &QUIET).class, Class::Balanced);
    let lifting = verdict(&plow, &found, &signs);
    assert_ne!(lifting.class, Class::Balanced);
    let share = |why: &Reason| matches!(why, Reason::Lifted { front: false, share: 0.05, .. });
    assert!(lifting.reasons.iter().any(share), "{lifting:?}");
}

#[test]
fn the_measured_gain_is_set_against_the_statics() {
    let (plow, found) = judged(&setting("6", "4"), -0.10, true);
    let expected = found.as_ref().unwrap().expected_gain_n_per_n;
    let measured = |gain: f64, half_width: f64, lifted_share: f64| {
        let measured_gain = Estimate::around(expected.value + gain, half_width);
        verdict(&plow, &found, &Indicators { lifted_share: Some(lifted_share), measured_gain, ..QUIET })
    };
    let with = |gain: f64, lifted_share: f64| measured(gain, 0.01, lifted_share);
    assert_eq!(with(0.0, 0.0).gain, GainAgreement::Agrees);
    assert_eq!(with(-0.3, 0.0).gain, GainAgreement::MeasuredLower);
    assert_eq!(with(0.3, 0.0).gain, GainAgreement::MeasuredHigher);
    assert_eq!(with(0.3, 0.2).gain, GainAgreement::NotCompared);
    let reason = |verdict: &Verdict| {
        verdict.reasons.iter().find_map(|why| match why {
            Reason::Gain { agreement, .. } => Some(*agreement),
            _ => None,
        })
    };
    assert_eq!(reason(&with(0.3, 0.0)), Some(GainAgreement::MeasuredHigher));
    assert_eq!(reason(&with(0.3, 0.2)), None);
    // A gain that would agree with any plow supports nothing.
    let wide = measured(0.0, 0.3, 0.0);
    assert_eq!(wide.gain, GainAgreement::TooWide);
    assert_eq!(reason(&wide), Some(GainAgreement::TooWide));
}

/// b at the ends: a tail wheel that reads nothing gives an index near +1 that is finite and within ±1, and
/// half of the draws, those below zero, are counted as rejected.
#[test]
fn a_tail_wheel_in_the_air_gives_a_finite_index() {
    let plow = plow();
    let found = identify(&plow, &setting("8", "3"), &figures(8_000.0, 0.0, &plow), 2_000, 15).unwrap();
    let b = found.balance_index;
    assert!(b.low > 0.9 && b.high <= 1.0, "{b:?}");
    assert!((found.rejected_share - 0.5).abs() < 0.06, "{}", found.rejected_share);
    assert!(found.pull_line_offset.high.m().is_finite());
}

#[test]
fn the_same_seed_gives_the_same_figures_and_another_nearly_so() {
    let run = figures(8_000.0, 900.0, &plow());
    let with = |seed| identify(&plow(), &setting("4", "4"), &run, 2_000, seed).unwrap();
    assert_eq!(with(1).balance_index, with(1).balance_index);
    assert_ne!(with(1).balance_index, with(2).balance_index);
    assert!((with(1).balance_index.value - with(2).balance_index.value).abs() < 0.02);
    assert_eq!(with(1).soil_basis, SoilBasis::SharesAndDepth);
    assert!(matches!(with(1).ranking[0].input, Input::SoilSlope | Input::SoilHeight));
}

/// Giving the height of the soil force narrows the soil slope.
#[test]
fn a_given_soil_height_narrows_the_soil_slope() {
    let mut given = plow();
    let z = Length::from_m(-0.10);
    given.bottoms.soil_force_z = Some(Measured { value: z, half_width: Some(Length::from_m(0.01)) });
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
    let table = hole_table(&plow, &holes, Force::from_n(8_000.0), 1).unwrap().predictions;
    assert_eq!(table.len(), 63);
    let now = table.iter().find(|row| row.is_now).unwrap();
    let middle = nominal(&plow, &holes, Force::from_n(8_000.0)).unwrap().side.loads().unwrap();
    // Found on a sheet that said b +0.64 beside +0.62, and 63 lbf beside 68: what a plow does now is one figure.
    assert_eq!(now.balance_index.value, middle.balance_index);
    assert_eq!((now.front_load.value, now.tail_load.value), middle.carried_loads());
    assert!(now.balance_index.holds(middle.balance_index));
    let index = |plow_hole: &str, tractor_hole: &str| {
        let row = table.iter().find(|row| row.plow_hole == plow_hole && row.tractor_hole == tractor_hole);
        row.unwrap().balance_index.value
    };
    assert!(index("5", "4") > index("4", "4") && index("4", "5") < index("4", "4"));
    assert!(matches!(hole_table(&plow, &holes, Force::from_n(10.0), 1), Err(IdentifyError::Statics(_))));
    assert_eq!(
        hole_table(&plow, &holes, Force::from_n(f64::NAN), 1),
        Err(IdentifyError::Statics(StaticsError::NotFinite))
    );
}
