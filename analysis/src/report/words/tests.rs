//! What the sentences say, and that they say it in the reader's units.

use super::headline::Large;
use super::inputs::next_measurement;
use super::top_view::{VERTICAL_FIRST, the_move};
use super::{advice, verdict};
use crate::invented_plow::{
    lbf, narrow_on_wide, plow, seen_from_above as report_from_above, setting, wide_on_narrow,
};
use crate::report::units::Units;
use crate::report::{HolesShown, statics_text, top_text};
use ingest::plow::SoilClass;
use ingest::quantity::{Angle, Force, Length, Speed};
use statics::advice::{Advice, Measure, Reach, Remeasure, Stay, expect, more_traction};
use statics::contradiction::Entry;
use statics::contradiction::Unit;
use statics::inputs::Input;
use statics::predict::hole_table;
use statics::report::{StaticsReport, draft_check, statics_report};
use statics::value_of_information::{Accuracy, Measurement, NextMeasurement};
use statics::verdict::{Class, GainAgreement, Reason, RestsOn, Verdict};
use stats::Estimate;

/// A verdict with these reasons and nothing else to it.
pub(super) fn because(reasons: Vec<Reason>, rests_on: Vec<RestsOn>) -> Verdict {
    Verdict {
        class: Class::TooFlat,
        chances: None,
        gain: GainAgreement::NotCompared,
        reasons,
        contradicted: false,
        suspects: Vec::new(),
        firm: false,
        other_by_slip: None,
        rests_on,
    }
}

#[test]
fn reasons_say_what_they_are_of() {
    let around = |value: f64| Estimate { value, low: value - 0.02, high: value + 0.02 };
    let said =
        |reason: Reason| verdict::reasons(&because(vec![reason], Vec::new()), &plow(), Units::Si).remove(0);
    let gain = |agreement| said(Reason::Gain { measured: 0.2, expected: around(-0.1), agreement });
    assert!(gain(GainAgreement::MeasuredHigher).contains("draw in harder"));
    assert!(gain(GainAgreement::Agrees).contains("supports the verdict"));
    assert!(!gain(GainAgreement::TooWide).contains("supports the verdict"));
    let lifted = Reason::Lifted { front: false, share: 0.05, limit: 0.02 };
    assert!(said(lifted).starts_with("The tail wheel carried next to nothing for 5 % of the time"));
    let lifts = Reason::SoilLifts { soil_slope: around(0.1) };
    assert!(said(lifts).starts_with("The soil lifts the plow (soil slope +0.10 (+0.08 to +0.12))"));
    let open = Reason::Undecided { widest: vec![Input::SoilSlope, Input::PlowHoleHeight] };
    assert!(said(open).starts_with("The measurements do not decide. What leaves it open: how far"));
}

/// Entry, error and class stand in one sentence, in the reader's units.
#[test]
fn what_a_class_rests_on_is_named() {
    let entry = Entry::Input(Input::PlowHoleHeight);
    let on = RestsOn { entry, by: -0.0508, unit: Unit::Metre, class: Class::Balanced, other_share: 0.1 };
    let reasons = vec![Reason::Slips { other_share: 0.12, soil_lifts: false }];
    let said = verdict::reasons(&because(reasons.clone(), vec![on.clone()]), &plow(), Units::Us).remove(0);
    assert!(
        said.contains("the height of the hole at the plow (if really 2.0 in lower: balanced)."),
        "{said}"
    );
    assert!(said.ends_with("another verdict in 12 % of the cases."), "{said}");
    // Found by a plowman: "looks balanced ... balanced if the zero of the sensor is really 0.8 in less pressed in".
    let alike = RestsOn { class: Class::TooFlat, ..on };
    let said = verdict::reasons(&because(reasons, vec![alike; 5]), &plow(), Units::Us).remove(0);
    assert!(said.contains("2.0 in lower: no longer too flat)"), "{said}");
    assert!(said.chars().count() < 300, "whole on a page: {said}");
}

/// Found on a run recorded under the name of another setting: SHARES FIRST, and an order to work under the raised plow,
/// where half of the cases spoke against it.
#[test]
fn shares_that_rest_on_an_entry_are_seen_to_only_after_it() {
    let on = RestsOn {
        entry: Entry::Setting("flat".to_owned()),
        by: 0.0,
        unit: Unit::None,
        class: Class::TooFlat,
        other_share: 0.5,
    };
    let shares = [Advice::SharesFirst { rests_on: Some(on.clone()) }];
    let verdict = because(Vec::new(), vec![on]);
    let large = Large::of_run(&plow(), &verdict, &shares);
    assert_eq!(large.line(), "SHARES LOOK WORN");
    assert!(large.is_shares_first());
    assert_eq!(large.beside(&verdict, &plow()).as_deref(), Some("if the name of the setting is right"));
    let said = advice::order(&shares[0], &plow().part_names(), Units::Si);
    assert!(said.starts_with("First check the name of the setting."), "{said}");
    let at = |words: &str| said.find(words).unwrap();
    assert!(at("Only if it is right") < at("raised and on stands"), "{said}");
    let sure = advice::order(&Advice::SharesFirst { rests_on: None }, &plow().part_names(), Units::Si);
    assert!(sure.starts_with("Shares first"), "{sure}");
}

#[test]
fn orders_are_in_the_readers_units() {
    let plow = plow();
    let table = hole_table(&plow, &setting("8", "3"), Force::from_n(8_000.0), 1).unwrap().predictions;
    let expected = expect(&plow, &table);
    let Advice::MovePins { now, prediction, .. } = expected.advice[0].clone() else {
        panic!("{expected:?}");
    };
    let moved =
        |reach| Advice::MovePins { now: now.clone(), prediction: prediction.clone(), reach, rests_on: None };
    let order = |advice: &Advice, units| advice::order(advice, &plow.part_names(), units);
    let outside = order(&moved(Reach::OutsideUsualHeights), Units::Us);
    assert!(outside.contains("outside the usual 10.0 in to 15.0 in"), "{outside}");
    let shown = advice::expectation(&moved(Reach::IntoTheBand), &plow.part_names(), Units::Us).unwrap();
    assert!(shown.contains("lbf") && !shown.contains(" N"), "{shown}");
    let first = Advice::Measure { what: Measure::First { how: Some(Remeasure::Pull) } };
    assert!(
        order(&first, Units::Si).starts_with("Change nothing on the hitch yet. Calibrate the pull sensor")
    );
    for why in [Stay::Balanced, Stay::LeansAsMeant, Stay::Bobs] {
        assert!(
            order(&Advice::Stay { why, prediction: None }, Units::Si)
                .starts_with("Leave the hitch in these holes")
        );
    }
    let table = hole_table(&plow, &setting("4", "4"), Force::from_n(8_000.0), 1).unwrap().predictions;
    let pair = more_traction(&plow, Class::Balanced, &table).unwrap();
    let said = advice::traction(pair, &plow, Units::Si);
    assert!(said.contains("more on the tractor") && said.contains("tail wheel"), "{said}");
}

#[test]
fn the_next_measurement_says_how_well() {
    let next = |what, to| NextMeasurement { what, to, half_width_now: 0.2, half_width_then: 0.1 };
    let said = |of: &NextMeasurement| next_measurement(of, &plow().part_names(), Units::Us);
    let hole =
        said(&next(Measurement::Again(Input::PlowHoleHeight), Accuracy::Length(Length::from_m(0.00254))));
    assert_eq!(
        hole,
        "Measure the height of the hole at the plow again, to 0.1 in: the index would be known to about ±0.10 instead \
         of ±0.20."
    );
    let pitch = said(&next(Measurement::AddPitch, Accuracy::Angle(Angle::from_deg(0.3))));
    assert!(pitch.starts_with("Add a sensor for the pitch of the frame, good to 0.3 degrees"), "{pitch}");
}

#[test]
fn the_text_names_every_force_and_the_check_of_the_draft() {
    let plow = plow();
    let holes = setting("8", "3");
    let report = |soil, pull_n| {
        let check = draft_check(&plow, soil, Speed::from_mps(1.6), None);
        statics_report(&plow, ("now", &holes), Force::from_n(pull_n), Some(check), 1).unwrap()
    };
    let usual = report(SoilClass::Medium, 8_000.0);
    let text = |report: &StaticsReport, units: Units| {
        let expected = expect(&plow, &report.holes);
        statics_text(&plow, report, &expected, HolesShown::All, units)
    };
    let si = text(&usual, Units::Si);
    for part in
        ["weight", "pull", "soil force", "front wheels", "tail wheel", "below the land", "is within it"]
    {
        assert!(si.contains(part), "{part}: {si}");
    }
    assert!(si.contains("8000 N") && !si.contains("lbf"), "{si}");
    assert!(si.lines().any(|line| line.starts_with("* 3 (305 mm)") && line.contains("8 (203 mm)")), "{si}");
    let us = text(&usual, Units::Us);
    assert!(us.contains("1800 lbf") && us.contains("* 3 (12 in)") && !us.contains(" mm"), "{us}");
    assert!(text(&report(SoilClass::Coarse, 12_000.0), Units::Si).contains("above that range"));
    assert!(text(&report(SoilClass::Fine, 4_000.0), Units::Si).contains("below that range"));
    let json = serde_json::to_value(&usual).unwrap();
    assert_eq!(json["holes"].as_array().unwrap().len(), usual.holes.len());
    assert!((json["draft"]["expected"]["draft_n"].as_f64().unwrap() - 7_364.0).abs() < 50.0, "{json}");
}

/// A plow whose centre of resistance is straight behind the tractor's middle, the pin between them.
#[test]
fn a_plow_in_line_is_advised_no_sideways_move() {
    let mut plow = narrow_on_wide();
    let tractor = plow.tractor.as_mut().unwrap();
    tractor.track = "32 in".parse().unwrap();
    plow.settings.get_mut("middle").unwrap().lateral_offset = Some("3 in".parse().unwrap());
    assert!(
        top_text(&report_from_above(&plow, lbf(700.0)), Units::Us).contains("No sideways move is advised")
    );
}

/// Found: the program said the opposite of soil.
#[test]
fn what_moves_the_center_of_resistance_stands_on_its_side() {
    let said = top_text(&report_from_above(&narrow_on_wide(), lbf(700.0)), Units::Us);
    let line = said.lines().find(|line| line.contains("center of resistance moves")).unwrap();
    let (left, right) = line.split_once("; right, toward the plowed ground,").unwrap();
    assert!(left.contains("moves left, toward the unplowed land,"), "{line}");
    for (here, words) in
        [(left, ["mellow or coarse", "low speed", "short"]), (right, ["heavy or hard", "high speed", "long"])]
    {
        assert!(words.iter().all(|word| here.contains(word)), "{line}");
    }
}

#[test]
fn a_lead_to_the_left_adds_at_the_landside_and_one_to_the_right_takes() {
    for (plow, pull_n, adds) in [(narrow_on_wide(), lbf(700.0), true), (wide_on_narrow(), lbf(2400.0), false)]
    {
        let said = top_text(&report_from_above(&plow, pull_n), Units::Si);
        let line = said.lines().find(|line| line.contains("Pulled straight ahead")).unwrap();
        assert_eq!(line.contains(" adds "), adds, "{line}");
        assert_eq!(line.contains(" takes "), !adds, "{line}");
    }
}

/// Sides are words; the source that is none is named once; a sideways move never comes without what goes first.
#[test]
fn what_is_said_has_sides_and_no_signs() {
    for (plow, pull_n) in [(narrow_on_wide(), 700.0), (wide_on_narrow(), 2400.0)] {
        let report = report_from_above(&plow, lbf(pull_n));
        for units in [Units::Si, Units::Us] {
            let said = top_text(&report, units);
            assert!(!said.contains(" -") && !said.contains('−'), "{said}");
            assert_eq!(said.matches("common practice, no source").count(), 1, "{said}");
            assert!(said.contains(VERTICAL_FIRST) && said.contains("° to the "), "{said}");
            let advised = the_move(&report, units);
            assert!(advised.contains("the clevis at the plow goes with it"), "{advised}");
            assert!(said.contains(&format!("{advised} {}", ingest::safety::BEFORE_HANDS)), "{said}");
        }
    }
}

#[test]
fn the_text_speaks_to_the_plowman_in_both_units() {
    for (plow, way, move_way) in
        [(wide_on_narrow(), "to the right", "to the left"), (narrow_on_wide(), "to the left", "to the right")]
    {
        let report = report_from_above(&plow, lbf(if way == "to the right" { 2400.0 } else { 700.0 }));
        for (units, unit) in [(Units::Si, " mm"), (Units::Us, " in")] {
            let text = top_text(&report, units);
            let sentences = text.split("Figures of the top view").next().unwrap();
            assert!(sentences.contains(&format!("it turns the tractor {way}")), "{text}");
            let the_move = sentences.lines().find(|line| line.contains("Moving the pin")).unwrap();
            assert!(the_move.contains(move_way) && the_move.contains(unit), "{text}");
            assert!(sentences.contains(VERTICAL_FIRST), "{text}");
            assert!(!text.contains("NaN") && !text.contains("inf"), "{text}");
        }
    }
}
