//! Laws that the closed forms must keep, whatever the plow: random plows, no numbers from outside.

use super::report::{AppliedForce, free_body};
use super::side::{Carrier, Point, SideView, StaticsError, tractor_pin};
use ingest::quantity::{Force, Length};
use proptest::prelude::*;

prop_compose! {
    /// Plows from garden size to five bottoms, carriers on the land or in the furrow, loaded or not.
    fn any_plow()(
        weight_n in 1_000.0..20_000.0f64,
        tail_x_m in -4.0..-1.0f64,
        weight_share in 0.1..0.9f64,
        hitch in (-0.2..0.8f64, 0.05..0.6f64),
        tractor_z_m in 0.1..0.8f64,
        length_m in 0.9..2.5f64,
        soil in (-2.0..-0.2f64, -0.3..0.0f64, -0.3..0.3f64),
        draft_share in 0.0..2.0f64,
        front in (-0.3..0.3f64, 0.0..0.5f64),
        tail_resists in (-0.3..0.3f64, 0.0..0.5f64),
    ) -> SideView {
        let plow_hitch = Point::from_m(hitch.0, hitch.1);
        SideView {
            weight: Force::from_n(weight_n),
            weight_x: Length::from_m(weight_share * tail_x_m),
            front: Carrier { at: Point::from_m(0.0, front.0), resistance: front.1 },
            tail: Carrier { at: Point::from_m(tail_x_m, tail_resists.0), resistance: tail_resists.1 },
            plow_hitch,
            tractor_hitch: tractor_pin(plow_hitch, Length::from_m(tractor_z_m), Length::from_m(length_m)).unwrap(),
            soil_at: Point::from_m(soil.0, soil.1),
            soil_slope: soil.2,
            soil_draft: Force::from_n(draft_share * weight_n),
        }
    }
}

/// The same forces with every length by a factor, then moved.
fn placed(side: &SideView, factor: f64, (x_m, z_m): (f64, f64)) -> SideView {
    let point = |p: Point| Point::from_m(p.x.m() * factor + x_m, p.z.m() * factor + z_m);
    SideView {
        weight_x: Length::from_m(side.weight_x.m() * factor + x_m),
        front: Carrier { at: point(side.front.at), ..side.front },
        tail: Carrier { at: point(side.tail.at), ..side.tail },
        plow_hitch: point(side.plow_hitch),
        tractor_hitch: point(side.tractor_hitch),
        soil_at: point(side.soil_at),
        ..*side
    }
}

/// The same plow with one resistance over load for both carriers.
fn sliding(side: &SideView, resistance: f64) -> SideView {
    let carrier = |carrier: Carrier| Carrier { resistance, ..carrier };
    SideView { front: carrier(side.front), tail: carrier(side.tail), ..*side }
}

fn near(a: f64, b: f64, scale: f64) -> bool {
    (a - b).abs() <= 1e-9 * scale.abs().max(1e-300)
}

proptest! {
    #[test]
    fn forces_and_moments_add_up_to_nothing(side in any_plow()) {
        let Ok((_, forces)) = free_body(&side) else { return Ok(()) };
        let sum = |part: fn(&AppliedForce) -> f64| forces.iter().map(part).sum::<f64>();
        let turned_n_m = sum(|f| f.at.x.m() * f.z.n() - f.at.z.m() * f.x.n());
        prop_assert!(sum(|f| f.x.n()).abs() < 1e-9 * side.weight.n(), "{forces:?}");
        prop_assert!(sum(|f| f.z.n()).abs() < 1e-9 * side.weight.n(), "{forces:?}");
        prop_assert!(turned_n_m.abs() < 1e-9 * side.weight.n() * side.wheelbase().m(), "{forces:?}");
    }

    #[test]
    fn loads_do_not_depend_on_where_lengths_are_measured_from(
        side in any_plow(), x_m in -5.0..5.0f64, z_m in -2.0..2.0f64,
    ) {
        let (Ok(a), Ok(b)) = (side.loads(), placed(&side, 1.0, (x_m, z_m)).loads()) else { return Ok(()) };
        let scale = side.weight.n() + side.soil_draft.n();
        prop_assert!(near(a.tail_load.n(), b.tail_load.n(), scale));
        prop_assert!(near(a.front_load.n(), b.front_load.n(), scale));
        prop_assert!((a.pull_line_offset.m() - b.pull_line_offset.m()).abs() < 1e-9);
        let index_scale = scale / a.ground_load.n() * 10.0 / side.wheelbase().m();
        prop_assert!(near(a.balance_index, b.balance_index, a.balance_index.abs() + index_scale));
        prop_assert!(near(a.expected_gain_n_per_n, b.expected_gain_n_per_n, 10.0));
    }

    /// All forces by a factor (other units of force) leave every ratio and length as it was; all lengths by
    /// a factor (other units of length) leave every load as it was.
    #[test]
    fn units_do_not_matter(side in any_plow(), factor in 0.01..100.0f64) {
        let forces = SideView {
            weight: Force::from_n(side.weight.n() * factor), soil_draft: Force::from_n(side.soil_draft.n() * factor), ..side
        };
        let Ok(a) = side.loads() else { return Ok(()) };
        let (b, c) = (forces.loads().unwrap(), placed(&side, factor, (0.0, 0.0)).loads().unwrap());
        let scale = side.weight.n() + side.soil_draft.n();
        prop_assert!(near(a.tail_load.n() * factor, b.tail_load.n(), scale * factor));
        prop_assert!(near(a.tail_load.n(), c.tail_load.n(), scale));
        prop_assert!((a.pull_line_offset.m() - b.pull_line_offset.m()).abs() < 1e-9);
        prop_assert!((a.pull_line_offset.m() * factor - c.pull_line_offset.m()).abs() < 1e-9 * factor);
        let index_scale = a.balance_index.abs() + 100.0 * scale / a.ground_load.n();
        prop_assert!(near(a.balance_index, b.balance_index, index_scale));
        prop_assert!(near(a.balance_index, c.balance_index, index_scale));
    }

    /// A pull made from a soil draft leads back to that soil draft.
    #[test]
    fn pull_and_soil_draft_are_two_ways_to_say_the_same(side in any_plow()) {
        let Ok(loads) = side.loads() else { return Ok(()) };
        let back = side.with_pull(loads.pull).unwrap();
        prop_assert!(near(back.soil_draft.n(), side.soil_draft.n(), loads.pull.n() + side.weight.n()));
    }

    /// The ends of b are where a wheel load is 0, and b by the loads is b by the lines.
    #[test]
    fn the_ends_of_the_balance_are_where_a_wheel_leaves_the_ground(side in any_plow()) {
        let Ok(loads) = side.loads() else { return Ok(()) };
        prop_assert_eq!(loads.balance_index > 1.0, loads.tail_load.n() < 0.0);
        prop_assert_eq!(loads.balance_index < -1.0, loads.front_load.n() < 0.0);
        let x_v = loads.tail_load.n() * side.tail.at.x.m() / loads.ground_load.n();
        prop_assert!(near(x_v, loads.wheel_load_at.m(), 100.0 * side.weight.n() / loads.ground_load.n()));
        let (front, tail) = loads.carried_loads();
        prop_assert!(front.n() >= 0.0 && tail.n() >= 0.0);
        prop_assert!(near(front.n() + tail.n(), loads.ground_load.n(), side.weight.n()));
    }

    /// β against the difference of two solutions, the soil force a little larger.
    #[test]
    fn the_gain_is_the_slope_of_the_loads(side in any_plow()) {
        let more = SideView { soil_draft: Force::from_n(side.soil_draft.n() + 1.0), ..side };
        let (Ok(a), Ok(b)) = (side.loads(), more.loads()) else { return Ok(()) };
        // The loads are linear in the soil draft, so any step gives the slope.
        let slope = (b.tail_load.n() - a.tail_load.n()) / (b.pull.n() - a.pull.n());
        prop_assert!((slope - a.expected_gain_n_per_n).abs() < 1e-6, "{} {}", slope, a.expected_gain_n_per_n);
    }

    /// Without rolling resistance, the short closed forms: V, the moment equation, e, β.
    #[test]
    fn without_rolling_resistance_the_short_forms_hold(side in any_plow()) {
        let side = sliding(&side, 0.0);
        let Ok(loads) = side.loads() else { return Ok(()) };
        let (t, sigma, p_x) = (loads.drawbar_slope, side.soil_slope, loads.pull_x.n());
        prop_assert!(near(p_x, side.soil_draft.n(), side.weight.n()));
        prop_assert!(near(loads.ground_load.n(), side.weight.n() - t * p_x - sigma * p_x, side.weight.n()));
        let e = side.pull_line_z(side.weight_x).m() - side.soil_line_z(side.weight_x).m();
        prop_assert!((e - loads.pull_line_offset.m()).abs() < 1e-12 * (1.0 + e.abs()) * 10.0);
        let (lever_m, l_m) = (side.front.at.x.m() - side.weight_x.m(), side.wheelbase().m());
        let beta = -((t + sigma) * lever_m + e) / l_m;
        prop_assert!((beta / t.hypot(1.0) - loads.expected_gain_n_per_n).abs() < 1e-9);
        let tail_n = side.weight.n() * lever_m / l_m + beta * p_x;
        prop_assert!(near(tail_n, loads.tail_load.n(), side.weight.n() + p_x));
    }
}

fn a_plow() -> SideView {
    let plow_hitch = Point::from_m(0.3, 0.12);
    let wheel = |x_m| Carrier { at: Point::from_m(x_m, 0.0), resistance: 0.08 };
    SideView {
        weight: Force::from_n(3_400.0),
        weight_x: Length::from_m(-0.6),
        front: wheel(0.0),
        tail: wheel(-1.9),
        plow_hitch,
        tractor_hitch: tractor_pin(plow_hitch, Length::from_m(0.33), Length::from_m(1.12)).unwrap(),
        soil_at: Point::from_m(-0.72, -0.1),
        soil_slope: -0.1,
        soil_draft: Force::from_n(7_500.0),
    }
}

#[test]
fn without_draft_the_loads_are_those_of_the_lever() {
    let standing = SideView { soil_draft: Force::from_n(0.0), ..sliding(&a_plow(), 0.0) };
    let loads = standing.loads().unwrap();
    assert!((loads.tail_load.n() - 3_400.0 * 0.6 / 1.9).abs() < 1e-9);
    assert!((loads.front_load.n() - 3_400.0 * 1.3 / 1.9).abs() < 1e-9);
    assert_eq!(loads.balance_index, 0.0);
    assert_eq!(loads.pull.n(), 0.0);
}

#[test]
fn with_a_level_drawbar_and_a_level_soil_force_the_pull_only_tips_the_plow() {
    let plow_hitch = Point::from_m(0.3, 0.2);
    let level = SideView {
        plow_hitch,
        tractor_hitch: tractor_pin(plow_hitch, Length::from_m(0.2), Length::from_m(1.12)).unwrap(),
        soil_slope: 0.0,
        ..sliding(&a_plow(), 0.0)
    };
    let loads = level.loads().unwrap();
    assert!((loads.ground_load.n() - 3_400.0).abs() < 1e-9, "nothing but the weight is on the wheels");
    assert!((loads.pull_line_offset.m() - 0.3).abs() < 1e-12, "from 0.1 m below the land to 0.2 m above it");
    let couple_n_m = 7_500.0 * 0.3;
    assert!((loads.tail_load.n() - (3_400.0 * 0.6 - couple_n_m) / 1.9).abs() < 1e-9);
}

#[test]
fn nonsense_is_refused_by_name() {
    let pin =
        |z_m, length_m| tractor_pin(Point::from_m(0.3, 0.1), Length::from_m(z_m), Length::from_m(length_m));
    assert!(matches!(pin(1.3, 1.0), Err(StaticsError::VerticalDrawbar { .. })));
    assert!(matches!(pin(1.0999, 1.0), Err(StaticsError::VerticalDrawbar { .. })));
    assert!(matches!(pin(0.1, 0.0), Err(StaticsError::VerticalDrawbar { .. })));
    assert_eq!(pin(f64::NAN, 1.0), Err(StaticsError::NotFinite));
    let on_end = SideView { tractor_hitch: Point::from_m(0.3, 1.0), ..a_plow() };
    assert!(matches!(on_end.loads(), Err(StaticsError::VerticalDrawbar { .. })));
    let nose = SideView { weight_x: Length::from_m(0.1), ..a_plow() };
    assert!(matches!(nose.loads(), Err(StaticsError::WeightOutsideWheels { .. })));
    let lifted = SideView { soil_draft: Force::from_n(90_000.0), ..a_plow() };
    assert!(matches!(lifted.loads(), Err(StaticsError::NoGroundLoad { .. })));
    assert!(matches!(a_plow().with_pull(Force::from_n(100.0)), Err(StaticsError::PullTooSmall { .. })));
    assert_eq!(a_plow().with_pull(Force::from_n(f64::NAN)), Err(StaticsError::NotFinite));
    assert_eq!(sliding(&a_plow(), f64::INFINITY).loads(), Err(StaticsError::NotFinite));
}

/// On the steady point the loads keep their split when the draft changes (common practice, no source).
#[test]
fn on_the_steady_point_the_split_stays_with_any_draft() {
    let mut side = sliding(&a_plow(), 0.0);
    let offset_m = side.loads().unwrap().pull_line_offset.m();
    side.soil_at.z = Length::from_m(side.soil_at.z.m() + offset_m);
    let share = |draft_n: f64| {
        let loads = SideView { soil_draft: Force::from_n(draft_n), ..side }.loads().unwrap();
        assert!(loads.pull_line_offset.m().abs() < 1e-12);
        loads.tail_load.n() / loads.ground_load.n()
    };
    let standing = 0.6 / 1.9;
    for draft_n in [0.0, 2_000.0, 7_500.0, 15_000.0] {
        assert!((share(draft_n) - standing).abs() < 1e-12);
    }
}
