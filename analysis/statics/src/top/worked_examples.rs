//! The two worked examples of the top view, read from their files and held against a calculation by hand.
//! Both are invented; what is checked is sign and size.

use super::draws::TopInputs;
use super::report::{TopReport, Turn};
use super::resistance::{Condition, MOVERS, Side};
use super::tractor::TopView;
use crate::invented_plow::{lbf, narrow_on_wide, seen_from_above as report, wide_on_narrow};
use ingest::plow::Plow;
use ingest::quantity::Force;

const IN_M: f64 = 0.0254;

fn middle(plow: &Plow, pull_n: f64) -> TopView {
    TopInputs::of(plow, &plow.settings["middle"], Force::from_n(pull_n)).unwrap().middle().unwrap().view
}

fn near(ours: f64, by_hand: f64, within: f64) {
    assert!((ours - by_hand).abs() <= within, "{ours} against {by_hand} by hand");
}

/// By hand, in inches and pounds. Centre of resistance 16/4 = 4 left of the middle of the cut; tractor's middle
/// −24 − 6 + 25 = −5, and the pin there: the line leads right by (−5 − 4) over the distance to the pin, 40 + 10 +
/// √(44² − 5²) = 93.72, so tan ψ = −0.0960.
/// Axles at a draft of 2400 and a line rising 5/43.72: hitch height over the drive wheels 13 + 7/2 = 16.5; front
/// 1400 − (2400·16.5 + 2400·0.1144·20)/80 = 836.4; whole 4600 + 274.5; dynamic centre 80·836.4/4874.5 = 13.73
/// ahead of the rear axle, so the line passes −0.0960·(20 + 13.73) = −3.239 of the tractor's middle: right, and a
/// tractor pulled right of its middle turns right. The pin that takes it away: 4 − 9·93.72/(93.72 + 33.73) =
/// −2.618, so 2.38 to the left.
#[test]
fn a_wide_plow_turns_a_narrow_tractor_to_the_right() {
    let plow = wide_on_narrow();
    let draft_n = lbf(2400.0);
    let slope: f64 = 5.0 / 43.715;
    let view = middle(&plow, draft_n * slope.hypot(1.0));
    let forces = view.forces().unwrap();
    near(forces.plow.pull.x.n(), draft_n, 1e-3 * draft_n);
    near(view.plow.centre.y.m(), 4.0 * IN_M, 1e-12);
    near(view.tractor.middle_y.m(), -5.0 * IN_M, 1e-12);
    near(forces.plow.pull.y.n() / forces.plow.pull.x.n(), -0.0960, 1e-4);
    near(forces.tractor.front_axle.n(), lbf(836.4), lbf(0.5));
    near(forces.tractor.dynamic_centre.m(), 13.73 * IN_M, 0.01 * IN_M);
    near(forces.tractor.line_offset.m(), -3.239 * IN_M, 0.005 * IN_M);
    near(forces.tractor.turning.n_m(), -draft_n * 3.239 * IN_M, 0.01 * draft_n * IN_M);
    // Held over to the left, by moment over wheelbase.
    near(forces.tractor.held_over.n(), lbf(2400.0 * 3.239 / 80.0), lbf(0.5));
    let move_m = view.pin_y_for_target().unwrap().m() - view.plow.pin.y.m();
    near(move_m, 2.38 * IN_M, 0.01 * IN_M);

    let report = report(&plow, view.plow.forces().unwrap().pull.total().n());
    assert_eq!(report.turn, Turn::Right, "{:?}", report.now.off_target.si());
    near(report.advised_move.m(), 2.0 * IN_M, 1e-12);
    assert!(report.pin_move.si().holds(2.38 * IN_M), "{:?}", report.pin_move.si());
    // Toward a straighter pull: the plow leans on its wall more, not less.
    assert!(report.landside_change.unwrap().low.n() > 0.0 && report.draft_change.unwrap().low.n() > 0.0);
}

/// By hand: centre 12/4 = 3 left; tractor's middle −6 − 7 + 30 = 17, the pin there; distance to the pin 24 + 10 +
/// √(36² − 5²) = 69.65, tan ψ = 14/69.65 = 0.2010: left. With a draft of 700, line rising 5/35.65: front 2400 −
/// (700·16.5 + 700·0.1402·24)/95 = 2253.6; whole 7000 + 98.2; dynamic centre 95·2253.6/7098.2 = 30.16; the line
/// passes 0.2010·(24 + 30.16) = 10.89 left. The pin that takes it away: 3 + 14·69.65/(69.65 + 54.16) = 10.876, so
/// 6.12 to the right. There the draft falls to 674.1 by friction (below), the dynamic centre goes to 30.25 and the
/// pin to 3 + 14·69.65/(69.65 + 54.25) = 10.870: the side pull falls from 0.2010 of the draft to 7.870/69.65 =
/// 0.1130, and the press on the wall with it.
#[test]
fn a_narrow_plow_turns_a_wide_tractor_to_the_left() {
    let plow = narrow_on_wide();
    let draft_n = lbf(700.0);
    let slope: f64 = 5.0 / 35.651;
    let view = middle(&plow, draft_n * slope.hypot(1.0));
    let forces = view.forces().unwrap();
    near(view.tractor.middle_y.m(), 17.0 * IN_M, 1e-12);
    near(forces.plow.pull.y.n() / forces.plow.pull.x.n(), 0.2010, 1e-4);
    near(forces.tractor.dynamic_centre.m(), 30.16 * IN_M, 0.01 * IN_M);
    near(forces.tractor.line_offset.m(), 10.89 * IN_M, 0.01 * IN_M);
    assert!(forces.tractor.turning.n_m() > 0.0 && forces.tractor.held_over.n() < 0.0);
    // κ 0.30 and μ 0.4 in the middle: S = 700(1 − 0.4·0.2010)/(1 + 0.4·0.30) = 574.7, N = 0.30·574.7 + 140.7.
    near(forces.plow.landside.n(), lbf(313.1), lbf(0.3));
    let moved = view.with_pin_y(view.pin_y_for_target().unwrap());
    near(moved.plow.pin.y.m() - view.plow.pin.y.m(), -6.12 * IN_M, 0.01 * IN_M);
    let after = moved.forces().unwrap();
    near(after.plow.pull.y.n() / after.plow.pull.x.n(), 0.1130, 1e-4);
    // P_x = 574.7·1.12/(1 − 0.4·0.1130) = 674.1, N = 172.4 + 0.1130·674.1.
    near(after.plow.landside.n(), lbf(248.6), lbf(0.3));

    let report = report(&plow, draft_n);
    assert_eq!(report.turn, Turn::Left, "{:?}", report.now.off_target.si());
    near(report.advised_move.m(), -6.0 * IN_M, 1e-12);
    assert!(report.landside_change.unwrap().high.n() < 0.0 && report.draft_change.unwrap().high.n() < 0.0);
}

/// A plow whose centre of resistance is straight behind the tractor's middle, the pin between them: no advice.
#[test]
fn a_plow_in_line_is_advised_nothing() {
    let mut plow = narrow_on_wide();
    // Inside of the tyre at −6 in from the middle of the cut: middle −6 − 7 + 16 = 3 in, the centre of resistance.
    let tractor = plow.tractor.as_mut().unwrap();
    tractor.track = "32 in".parse().unwrap();
    plow.settings.get_mut("middle").unwrap().lateral_offset = Some("3 in".parse().unwrap());
    let report = report(&plow, lbf(700.0));
    assert_eq!(report.turn, Turn::NotShown, "{:?}", report.now.off_target.si());
}

/// Common practice, no source: left, toward the unplowed land, in mellow or coarse soil, at low speed, with a short
/// moldboard; right, toward the plowed ground, in heavy or hard soil, at high speed, with a long one. Found: the
/// program said the opposite of soil.
#[test]
fn the_center_of_resistance_moves_as_the_trade_has_it() {
    for (condition, side) in [
        (Condition::MellowSoil, Side::Left),
        (Condition::HeavySoil, Side::Right),
        (Condition::LowSpeed, Side::Left),
        (Condition::HighSpeed, Side::Right),
        (Condition::ShortMoldboard, Side::Left),
        (Condition::LongMoldboard, Side::Right),
    ] {
        let moves: Vec<Side> =
            MOVERS.iter().filter(|mover| mover.condition == condition).map(|mover| mover.moves).collect();
        assert_eq!(moves, [side], "{condition:?}");
    }
}

/// Common practice, no source: pulled straight ahead there is still a force at the landside; a pull leading left adds
/// a little to it and to its friction, one leading right takes a little away.
#[test]
fn the_landside_is_pressed_by_a_pull_straight_ahead_and_more_by_one_to_the_left() {
    for (plow, pull_n, adds) in [(narrow_on_wide(), lbf(700.0), true), (wide_on_narrow(), lbf(2400.0), false)]
    {
        let report = report(&plow, pull_n);
        let now = &report.now;
        assert!(now.straight_landside.low.n() > 0.0, "{:?}", now.straight_landside.si());
        assert_eq!(now.lead.value.deg() > 0.0, adds);
        for change in [&now.lead_landside.si(), &now.lead_draft.si()] {
            assert!(if adds { change.low > 0.0 } else { change.high < 0.0 }, "{change:?}");
        }
    }
}

/// Common practice, no source: the land wheel usually has less grip, so the pull passes a little to the right of the
/// dynamic center of gravity; and pulling down at the hitch moves that center back.
#[test]
fn where_the_pull_is_to_pass_the_center_of_gravity() {
    let mut plow = narrow_on_wide();
    plow.tractor.as_mut().unwrap().right_pull_share = None;
    let view = middle(&plow, lbf(700.0));
    let forces = view.forces().unwrap().tractor;
    let track_m = view.tractor.track.m();
    assert!(forces.target_offset.m() < 0.0 && forces.target_offset.m() > -0.1 * track_m, "{forces:?}");
    assert!(forces.dynamic_centre.m() < forces.standing_centre.m());
    let mut down = view;
    down.plow.pull_slope += 0.1;
    assert!(down.forces().unwrap().tractor.dynamic_centre.m() < forces.dynamic_centre.m());
}

/// A right wheel that pulls more wants the line right of the middle.
#[test]
fn unequal_drive_wheels_move_the_target() {
    let mut plow = narrow_on_wide();
    plow.tractor.as_mut().unwrap().right_pull_share = Some(0.6);
    // d* = −(60/2)·(0.6 − 0.4) = −6 in.
    let forces = middle(&plow, lbf(700.0)).forces().unwrap();
    near(forces.tractor.target_offset.m(), -6.0 * IN_M, 1e-12);
}

/// Seeded: the same figures again; and the lists of the diagram are those of the middle view.
#[test]
fn the_same_seed_gives_the_same_report() {
    let plow = wide_on_narrow();
    let json = |report: &TopReport| serde_json::to_string(report).unwrap();
    let (one, other) = (report(&plow, 9_000.0), report(&plow, 9_000.0));
    assert_eq!(json(&one), json(&other));
    assert_eq!((one.plow_forces.len(), one.tractor_forces.len()), (4, 5));
    assert!(json(&one).contains("\"kind\":\"landside_friction\""));
}
