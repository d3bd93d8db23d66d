//! Statics against the outside world: an independent solver, textbook problems, and the facts of the trade.

#![allow(clippy::unwrap_used, reason = "a helper of a test fails as the test does")]

use hitchwright_tests::random_plow::random_plow;
use nalgebra::{Matrix3, Vector3};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use statics::side::{Carrier, PointM, SideView, tractor_pin};

/// The three equations of equilibrium, put down term by term and solved by LU with an independent library.
/// Unknown: front load, tail load, draft part of the pull.
fn solved_by_lu(side: &SideView) -> Vector3<f64> {
    let t = side.drawbar_slope();
    let (front, tail) = (side.front, side.tail);
    let about_origin = |x_m: f64, z_m: f64, x_n: f64, z_n: f64| x_m * z_n - z_m * x_n;
    let (hitch, soil) = (side.plow_hitch, side.soil_at);
    let matrix = Matrix3::new(
        -front.resistance,
        -tail.resistance,
        1.0,
        1.0,
        1.0,
        t,
        about_origin(front.at.x_m, front.at.z_m, -front.resistance, 1.0),
        about_origin(tail.at.x_m, tail.at.z_m, -tail.resistance, 1.0),
        about_origin(hitch.x_m, hitch.z_m, 1.0, t),
    );
    let (s_n, up_n) = (side.soil_draft_n, side.soil_slope * side.soil_draft_n);
    let known = Vector3::new(
        s_n,
        side.weight_n - up_n,
        -about_origin(soil.x_m, soil.z_m, -s_n, up_n)
            - about_origin(side.weight_x_m, 0.0, 0.0, -side.weight_n),
    );
    matrix.lu().solve(&known).unwrap()
}

/// Source: nalgebra's LU over 10,000 random plows; 1e-9 of the largest force.
#[test]
fn closed_forms_agree_with_a_linear_solver() {
    let mut rng = ChaCha8Rng::seed_from_u64(20_270_411);
    let mut solved = 0;
    for _ in 0..12_000 {
        let side = random_plow(&mut rng);
        let by_lu = solved_by_lu(&side);
        let ground_n = by_lu[0] + by_lu[1];
        let Ok(loads) = side.loads() else {
            assert!(ground_n <= 1e-6, "refused a plow that stands on its wheels: {side:?}");
            continue;
        };
        solved += 1;
        let scale = side.weight_n.max(by_lu[2]);
        for (ours, theirs) in
            [(loads.front_load_n, by_lu[0]), (loads.tail_load_n, by_lu[1]), (loads.pull_x_n, by_lu[2])]
        {
            assert!((ours - theirs).abs() <= 1e-9 * scale, "{ours} {theirs} {side:?}");
        }
        let x_v = (by_lu[0] * side.front.at.x_m + by_lu[1] * side.tail.at.x_m) / ground_n;
        assert!((loads.wheel_load_at_m - x_v).abs() <= 1e-9 * scale / ground_n * 10.0, "{side:?}");
        if by_lu[2] > 1.0 {
            let e_m = ground_n * (x_v - side.weight_x_m) / by_lu[2];
            assert!((loads.pull_line_offset_m - e_m).abs() <= 1e-9 * (scale / by_lu[2]) * 10.0, "{side:?}");
        }
    }
    assert!(solved >= 10_000, "{solved} plows were compared");
}

/// A body on two supports: a plow that is not pulled. `loads` are (weight, x), front support at 0.
fn two_supports(loads: &[(f64, f64)], tail_x_m: f64) -> (f64, f64) {
    let weight_n: f64 = loads.iter().map(|load| load.0).sum();
    let moment: f64 = loads.iter().map(|load| load.0 * load.1).sum();
    let side = SideView {
        weight_n,
        weight_x_m: moment / weight_n,
        front: Carrier { at: PointM { x_m: 0.0, z_m: 0.0 }, resistance: 0.0 },
        tail: Carrier { at: PointM { x_m: tail_x_m, z_m: 0.0 }, resistance: 0.0 },
        plow_hitch: PointM { x_m: 1.0, z_m: 0.0 },
        tractor_hitch: PointM { x_m: 2.0, z_m: 0.0 },
        soil_at: PointM { x_m: -0.5, z_m: 0.0 },
        soil_slope: 0.0,
        soil_draft_n: 0.0,
    };
    let loads = side.loads().unwrap();
    (loads.front_load_n, loads.tail_load_n)
}

/// OpenStax, University Physics 1, section 12.2, example "The torque balance": a 150 g stick with its middle
/// 20 cm from the support, 75 g at 40 cm and 50 g at 70 cm on one side, balanced by m3 = 316 2/3 g at 30 cm
/// on the other; the support carries 5.8 N (g = 9.8 m/s²). Here the support is the front wheels, and a wheel
/// under nothing stands 0.9 m back: it must carry nothing, and any smaller m3 must load it.
#[test]
fn balanced_stick_of_a_textbook_leaves_nothing_on_a_second_support() {
    let g = 9.8e-3;
    let stick = |m3_g: f64| {
        // The weight line must lie between the supports, so the beam is a hair heavy at the tail.
        two_supports(&[(150.0 * g, -0.2), (75.0 * g, -0.4), (50.0 * g, -0.7), (m3_g * g, 0.3)], -0.9)
    };
    let (support_n, tail_n) = stick(316.666_666_666 - 1e-6);
    assert!((support_n - 5.8).abs() < 0.05, "{support_n}");
    assert!((support_n - 5.798_333).abs() < 1e-5, "{support_n}");
    assert!(tail_n.abs() < 1e-6, "{tail_n}");
    assert!(stick(250.0).1 > 0.2);
}

/// OpenStax, University Physics 1, section 12.2, example "Forces in the forearm" (muscle pulls up 1.5 in from
/// the elbow, 50 lb in the hand at 13.0 in: muscle 433 1/3 lb, joint 383 1/3 lb the other way), upside down:
/// a plank of 383 1/3 + 50 lb on one support carries 433 1/3 lb there and nothing anywhere else.
#[test]
fn lever_of_a_textbook_stands_on_the_one_support() {
    let (support_lbf, other_lbf) = two_supports(&[(383.333_333, 1.5), (50.0 + 1e-6, -11.5)], -20.0);
    assert!((support_lbf - 433.333_333).abs() < 1e-3, "{support_lbf}");
    assert!(other_lbf.abs() < 1e-3, "{other_lbf}");
}

/// OpenStax, University Physics 1, section 12.2, example "A swinging door": 400 N, 1.00 m wide, hinges 2.00 m
/// apart, weight shared: each hinge carries 200 N up and 100 N across. The couple of the two 100 N forces
/// over 2 m balances 400 N · 0.5 m; here that couple is a level pull against a level soil force 2 m under it.
#[test]
fn door_of_a_textbook_needs_100_n_over_2_m() {
    let plow_hitch = PointM { x_m: 0.1, z_m: 1.0 };
    let door = SideView {
        weight_n: 400.0,
        weight_x_m: -0.5,
        front: Carrier { at: PointM { x_m: 0.0, z_m: 0.0 }, resistance: 0.0 },
        tail: Carrier { at: PointM { x_m: -1.0, z_m: 0.0 }, resistance: 0.0 },
        plow_hitch,
        tractor_hitch: PointM { x_m: 1.1, z_m: 1.0 },
        soil_at: PointM { x_m: -0.5, z_m: -1.0 },
        soil_slope: 0.0,
        soil_draft_n: 100.0,
    };
    let loads = door.loads().unwrap();
    // All the door's weight hangs on the hinge side, none on its free edge.
    assert!((loads.front_load_n - 400.0).abs() < 1e-9 && loads.tail_load_n.abs() < 1e-9, "{loads:?}");
    assert!((loads.balance_index - 1.0).abs() < 1e-12, "that is the end of the balance: {loads:?}");
    assert_eq!(loads.pull_x_n, 100.0);
}

/// OpenStax, University Physics 1, section 12.2, example "A ladder resting against a wall": 5.0 m, 400 N,
/// 53° to the floor, smooth wall: wall 150.7 N, floor 427.4 N at 69.3° (exact 150.711, 427.450, 69.355°).
/// Three forces on a body meet in one point. Here the level wall force is the pull, the weight the weight,
/// and the floor's force is split into the front load (up) and the soil force (back) at the ladder's foot:
/// with the pull at the height where the three meet, the tail wheel carries nothing.
#[test]
fn ladder_of_a_textbook_is_a_plow_on_its_front_wheels() {
    let angle = 53.0f64.to_radians();
    let (weight_x_m, wall_z_m) = (-2.5 * angle.cos(), 5.0 * angle.sin());
    let ladder = |pull_n: f64| {
        let plow_hitch = PointM { x_m: 0.1, z_m: wall_z_m };
        SideView {
            weight_n: 400.0,
            weight_x_m,
            front: Carrier { at: PointM { x_m: 0.0, z_m: 0.0 }, resistance: 0.0 },
            tail: Carrier { at: PointM { x_m: -5.0, z_m: 0.0 }, resistance: 0.0 },
            plow_hitch,
            tractor_hitch: PointM { x_m: 1.1, z_m: wall_z_m },
            soil_at: PointM { x_m: 0.0, z_m: 0.0 },
            soil_slope: 0.0,
            soil_draft_n: pull_n,
        }
        .loads()
        .unwrap()
    };
    let loads = ladder(150.711);
    assert!(loads.tail_load_n.abs() < 1e-3, "{loads:?}");
    let floor_n = loads.front_load_n.hypot(loads.pull_x_n);
    assert!((floor_n - 427.4).abs() < 0.1, "{floor_n}");
    let floor_degrees = loads.front_load_n.atan2(loads.pull_x_n).to_degrees();
    assert!((floor_degrees - 69.355).abs() < 1e-3, "{floor_degrees}");
    assert!(ladder(140.0).tail_load_n > 5.0, "a weaker wall would not do");
}

/// Published check of the pull line: load centre (0, 0.10) m, tractor hitch (3.00, 0.43) m, clevis at x =
/// 1.20: clevis height on the line 0.232 m; at a draft of 8 000 N vertical 880 N, pull 8 048.25 N
/// (constructed).
#[test]
fn pull_along_a_sloping_line_has_the_parts_of_the_triangle() {
    let plow_hitch = PointM { x_m: 1.2, z_m: 0.232 };
    let side = SideView {
        weight_n: 20_000.0,
        weight_x_m: -1.0,
        front: Carrier { at: PointM { x_m: 0.0, z_m: 0.0 }, resistance: 0.0 },
        tail: Carrier { at: PointM { x_m: -2.0, z_m: 0.0 }, resistance: 0.0 },
        plow_hitch,
        tractor_hitch: PointM { x_m: 3.0, z_m: 0.43 },
        soil_at: PointM { x_m: 0.0, z_m: 0.1 },
        soil_slope: -0.11,
        soil_draft_n: 8_000.0,
    };
    assert!((side.pull_line_z_m(0.0) - 0.10).abs() < 1e-12);
    let loads = side.loads().unwrap();
    assert!((loads.pull_n - 8_048.25).abs() < 0.01, "{loads:?}");
    assert!((loads.drawbar_slope * loads.pull_x_n - 880.0).abs() < 1e-9);
    // A soil force along the line of pull adds nothing and turns nothing.
    assert!((loads.ground_load_n - 20_000.0).abs() < 1e-9 && loads.balance_index.abs() < 1e-12);
}

/// A two-bottom plow, invented, with its pins at these heights.
fn hitched(plow_z_m: f64, tractor_z_m: f64, draft_n: f64) -> SideView {
    let plow_hitch = PointM { x_m: 0.3, z_m: plow_z_m };
    SideView {
        weight_n: 3_400.0,
        weight_x_m: -0.6,
        front: Carrier { at: PointM { x_m: 0.0, z_m: 0.0 }, resistance: 0.08 },
        tail: Carrier { at: PointM { x_m: -1.9, z_m: 0.0 }, resistance: 0.08 },
        plow_hitch,
        tractor_hitch: tractor_pin(plow_hitch, tractor_z_m, 1.12).unwrap(),
        soil_at: PointM { x_m: -0.72, z_m: -0.1 },
        soil_slope: -0.1,
        soil_draft_n: draft_n,
    }
}

/// Common practice, no source; the first also by Rural Heritage, hitching a sulky plow (verbal: a hitch above
/// the straight line pulls the front down and lifts the rear wheel, one below it does the reverse).
#[test]
fn raising_the_hitch_at_the_plow_moves_the_wheel_load_forward_and_raising_it_at_the_tractor_moves_it_back() {
    let now = hitched(0.10, 0.33, 7_500.0).loads().unwrap();
    let plow_up = hitched(0.125, 0.33, 7_500.0).loads().unwrap();
    assert!(plow_up.wheel_load_at_m > now.wheel_load_at_m && plow_up.tail_load_n < now.tail_load_n);
    let plow_down = hitched(0.075, 0.33, 7_500.0).loads().unwrap();
    assert!(plow_down.wheel_load_at_m < now.wheel_load_at_m && plow_down.tail_load_n > now.tail_load_n);
    let tractor_up = hitched(0.10, 0.355, 7_500.0).loads().unwrap();
    assert!(tractor_up.wheel_load_at_m < now.wheel_load_at_m && tractor_up.tail_load_n > now.tail_load_n);
}

/// Common practice, no source: with the wheel load at the front wheels the tail wheel carries nothing.
#[test]
fn with_the_wheel_load_at_the_front_wheels_the_tail_wheel_carries_nothing() {
    let (mut low_m, mut high_m) = (0.1, 0.4);
    for _ in 0..100 {
        let middle_m = (low_m + high_m) / 2.0;
        if hitched(middle_m, 0.33, 7_500.0).loads().unwrap().wheel_load_at_m < 0.0 {
            low_m = middle_m;
        } else {
            high_m = middle_m;
        }
    }
    let at_the_front = hitched(low_m, 0.33, 7_500.0).loads().unwrap();
    assert!(at_the_front.wheel_load_at_m.abs() < 1e-9);
    assert!(at_the_front.tail_load_n.abs() < 1e-6, "{at_the_front:?}");
    assert!((at_the_front.balance_index - 1.0).abs() < 1e-9);
}
