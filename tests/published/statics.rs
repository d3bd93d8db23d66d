//! Statics against the outside world: an independent solver, textbook problems, the draft equation of the
//! standard, the Monte Carlo examples of JCGM 101, and the facts of the trade.

#![allow(clippy::unwrap_used, reason = "a helper of a test fails as the test does")]

use hitchwright_tests::random_plow::random_plow;
use ingest::plow::SoilClass;
use ingest::quantity::{Length, Quantity, Speed};
use nalgebra::{Matrix3, Vector3};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use statics::distribution::Distribution;
use statics::draft::{DraftRow, MOLDBOARD, moldboard_draft, soil_factor, specific_draft_n_per_cm2};
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

fn m(length: f64) -> Length {
    Length::from_si(length)
}

fn kmh(speed: f64) -> Speed {
    Speed::from_si(speed / 3.6)
}

/// ASABE D497.7 (R2020), Table 1, moldboard row (re-typed in three independent open parameter files), and the
/// values of its equation; the 15 405.6 N also stands in an open test file.
#[test]
fn moldboard_draft_of_the_standard() {
    assert_eq!((MOLDBOARD.a, MOLDBOARD.b, MOLDBOARD.c), (652.0, 0.0, 5.1));
    let factors = [SoilClass::Fine, SoilClass::Medium, SoilClass::Coarse].map(soil_factor);
    assert_eq!(factors, [1.0, 0.70, 0.45]);
    let draft =
        |soil, v_kmh, w_m, t_cm: f64| moldboard_draft(soil, kmh(v_kmh), m(w_m), m(t_cm / 100.0)).draft_n;
    for (got, want) in [
        (draft(SoilClass::Medium, 4.0, 2.0, 15.0), 15_405.6),
        (draft(SoilClass::Fine, 7.0, 1.2, 20.0), 21_645.6),
        (draft(SoilClass::Medium, 7.0, 1.2, 20.0), 15_151.92),
        (draft(SoilClass::Coarse, 7.0, 1.2, 20.0), 9_740.52),
        (draft(SoilClass::Fine, 5.0, 1.2, 20.0), 18_708.0),
        (draft(SoilClass::Fine, 8.0, 1.2, 20.0), 23_481.6),
    ] {
        assert!((got / want - 1.0).abs() < 1e-12, "{got} {want}");
    }
    let ratio = draft(SoilClass::Coarse, 8.0, 0.7, 18.0) / draft(SoilClass::Coarse, 5.0, 0.7, 18.0);
    assert!((ratio - 1.255_163_6).abs() < 1e-7, "{ratio}");
    let range = moldboard_draft(SoilClass::Medium, kmh(4.0), m(2.0), m(0.15));
    assert!((range.low_n / range.draft_n - 0.6).abs() < 1e-12);
    assert!((range.high_n / range.draft_n - 1.4).abs() < 1e-12);
}

/// The same equation on the chisel-plow problem of Field & Solie, Introduction to Agricultural Engineering
/// Technology (2007): F = 0.7, A = 91, B = 5.4, C = 0, 10 km/h, 45 tools, 15 cm: 68 512.5 N.
#[test]
fn chisel_plow_problem_of_a_textbook() {
    let chisel = DraftRow { a: 91.0, b: 5.4, c: 0.0 };
    let draft_n = chisel.draft_n(0.7, kmh(10.0), 45.0, m(0.15));
    assert!((draft_n / 68_512.5 - 1.0).abs() < 1e-12, "{draft_n}");
}

/// D/(W·T) of the standard at 5, 7 and 8 km/h; 15 kN over 4 × 41 cm × 18 cm is 5.08 N/cm² (agricultural
/// engineering exam problem); 1 411.2 kgf over 4 × 36 cm × 20 cm is 0.49 kgf/cm² (lecture notes "Draft of
/// plows").
#[test]
fn specific_draft_of_exam_problems() {
    for (v_kmh, want) in [(5.0, 7.795), (7.0, 9.019), (8.0, 9.784)] {
        let draft_n = moldboard_draft(SoilClass::Fine, kmh(v_kmh), m(1.4), m(0.2)).draft_n;
        let specific = specific_draft_n_per_cm2(draft_n, m(1.4), m(0.2)).unwrap();
        assert!((specific / want - 1.0).abs() < 1e-12, "{specific}");
    }
    let exam = specific_draft_n_per_cm2(15_000.0, m(4.0 * 0.41), m(0.18)).unwrap();
    assert!((exam - 5.08).abs() < 0.005, "{exam}");
    let notes = specific_draft_n_per_cm2(1_411.2 * 9.806_65, m(4.0 * 0.36), m(0.20)).unwrap();
    assert!((notes / 9.806_65 - 0.49).abs() < 1e-9, "{notes}");
    assert_eq!(specific_draft_n_per_cm2(1.0, m(0.0), m(0.2)), None);
}

fn quantile_half_width(draws: &mut [f64]) -> f64 {
    draws.sort_by(f64::total_cmp);
    let at = |share: f64| draws[(share * draws.len() as f64) as usize];
    (at(0.975) - at(0.025)) / 2.0
}

fn sum_of_four(distributions: [Distribution; 4], seed: u64) -> Vec<f64> {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    (0..400_000).map(|_| distributions.iter().map(|spread| spread.draw(&mut rng)).sum()).collect()
}

fn rectangular(u: f64) -> Distribution {
    Distribution::Uniform { low: -u * 3.0f64.sqrt(), high: u * 3.0f64.sqrt() }
}

fn sd(draws: &[f64]) -> f64 {
    let n = draws.len() as f64;
    let mean = draws.iter().sum::<f64>() / n;
    (draws.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / (n - 1.0)).sqrt()
}

/// JCGM 101:2008, 9.2.2 and 9.2.3: four inputs with u = 1. Normal: ±3.92; rectangular: ±3.88 (exact 3.879 41,
/// Irwin-Hall).
#[test]
fn sums_of_four_equal_inputs_of_jcgm_101() {
    let mut normal = sum_of_four([Distribution::Normal { mean: 0.0, sd: 1.0 }; 4], 1);
    assert!((sd(&normal) - 2.0).abs() < 0.01);
    assert!((quantile_half_width(&mut normal) - 3.919_93).abs() < 0.02);
    let mut flat = sum_of_four([rectangular(1.0); 4], 2);
    assert!((sd(&flat) - 2.0).abs() < 0.01);
    assert!((quantile_half_width(&mut flat) - 3.879_41).abs() < 0.02);
}

/// JCGM 101:2008, 9.2.4: three rectangular inputs with u = 1 and one with u = 10: u = 10.149, ±17.01, where
/// the normal approximation has ±19.9.
#[test]
fn one_dominating_rectangular_input_of_jcgm_101() {
    let mut draws = sum_of_four([rectangular(1.0), rectangular(1.0), rectangular(1.0), rectangular(10.0)], 3);
    let u = sd(&draws);
    assert!((u - 10.149).abs() < 0.03, "{u}");
    let half_width = quantile_half_width(&mut draws);
    assert!((half_width - 17.01).abs() < 0.04, "{half_width}");
    assert!(half_width < 1.96 * u - 2.5);
}

/// JCGM 101:2008, 9.3, calibration of a mass standard in air, where the first derivatives by the densities
/// vanish and a linear propagation has u = 0.0539 mg: 1.234 mg, u = 0.0754 mg, 1.0834 to 1.3825 mg. The numbers
/// are from memory, so they are bounds of what is plausible; that the linear figure is missed by far is what
/// this holds.
#[test]
fn mass_in_air_of_jcgm_101() {
    let inputs = [
        Distribution::Normal { mean: 100_000.0, sd: 0.050 },
        Distribution::Normal { mean: 1.234, sd: 0.020 },
        Distribution::Uniform { low: 1.10, high: 1.30 },
        Distribution::Uniform { low: 7_000.0, high: 9_000.0 },
        Distribution::Uniform { low: 7_950.0, high: 8_050.0 },
    ];
    let mass_mg = |[reference, added, air, weight, standard]: [f64; 5]| {
        (reference + added) * (1.0 + (air - 1.2) * (1.0 / weight - 1.0 / standard)) - 100_000.0
    };
    let mut rng = ChaCha8Rng::seed_from_u64(93);
    let mut draws: Vec<f64> =
        (0..400_000).map(|_| mass_mg(inputs.map(|input| input.draw(&mut rng)))).collect();
    let mean = draws.iter().sum::<f64>() / draws.len() as f64;
    assert!((mean - 1.234).abs() < 0.002, "{mean}");
    let u = sd(&draws);
    assert!((u - 0.0754).abs() < 0.002 && u > 1.3 * 0.0539, "{u}");
    let half_width = quantile_half_width(&mut draws);
    assert!((half_width - (1.3825 - 1.0834) / 2.0).abs() < 0.01, "{half_width}");
    // The same inputs as functions of standard normals, the way that several runs are taken together.
    let normal = Distribution::Normal { mean: 0.0, sd: 1.0 };
    let by_deviates: Vec<f64> =
        (0..400_000).map(|_| mass_mg(inputs.map(|input| input.at(normal.draw(&mut rng))))).collect();
    assert!((sd(&by_deviates) / u - 1.0).abs() < 0.01, "{}", sd(&by_deviates));
}

/// GUM 4.3.7: a rectangular half-width of 1 has the standard uncertainty 0.577 350 3; the draws must have it.
#[test]
fn rectangular_divisor_of_the_gum() {
    let flat = Distribution::Uniform { low: -1.0, high: 1.0 };
    assert!((flat.standard_uncertainty() - 0.577_350_3).abs() < 1e-7);
    let wide = Distribution::Wide { centre: 2.0, scale: 0.5 };
    let mut rng = ChaCha8Rng::seed_from_u64(4);
    for spread in [flat, wide, Distribution::Normal { mean: -1.0, sd: 0.3 }] {
        let draws: Vec<f64> = (0..400_000).map(|_| spread.draw(&mut rng)).collect();
        let mean = draws.iter().sum::<f64>() / draws.len() as f64;
        assert!((mean - spread.centre()).abs() < 0.01, "{spread:?}");
        assert!((sd(&draws) / spread.standard_uncertainty() - 1.0).abs() < 0.05, "{spread:?}");
    }
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
