//! Statics against the outside world: an independent solver, the principle of virtual work, textbook problems, and the
//! facts of the trade.

use hitchwright_tests::command::samples_in;
use hitchwright_tests::random_plow::random_plow;
use ingest::plow::read_plow;
use ingest::quantity::{Force, Length};
use nalgebra::{Matrix3, Vector3};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use statics::predict::nominal;
use statics::side::{Carrier, Loads, Point, SideView, tractor_pin};

/// A force of (`along_x`, `along_z`) through a point: its parts and its moment about the origin.
pub fn through(at: Point, along_x: f64, along_z: f64) -> Vector3<f64> {
    Vector3::new(along_x, along_z, at.x.m() * along_z - at.z.m() * along_x)
}

/// What a carrier gives while it carries 1 N.
pub fn carries(carrier: Carrier) -> Vector3<f64> {
    through(carrier.at, -carrier.resistance, 1.0)
}

/// Weight and soil force together.
fn weight_and_soil(side: &SideView) -> Vector3<f64> {
    let (s_n, up_n) = (side.soil_draft.n(), side.soil_slope * side.soil_draft.n());
    let weight = through(Point { x: side.weight_x, z: Length::from_m(0.0) }, 0.0, -side.weight.n());
    weight + through(side.soil_at, -s_n, up_n)
}

/// Sizes of three forces along known lines that hold weight and soil force, by LU with an independent library.
pub fn held_by(lines: [Vector3<f64>; 3], side: &SideView) -> [f64; 3] {
    Matrix3::from_columns(&lines).lu().solve(&-weight_and_soil(side)).unwrap().into()
}

/// Lines of front load, tail load and pull, the pull by its draft part.
fn lines_of(side: &SideView) -> [Vector3<f64>; 3] {
    let (hitch, tractor) = (side.plow_hitch, side.tractor_hitch);
    let rise = (tractor.z.m() - hitch.z.m()) / (tractor.x.m() - hitch.x.m());
    [carries(side.front), carries(side.tail), through(hitch, 1.0, rise)]
}

/// Source: nalgebra's LU over 10,000 random plows; 1e-9 of the largest force.
#[test]
fn closed_forms_agree_with_a_linear_solver() {
    let mut rng = ChaCha8Rng::seed_from_u64(20_270_411);
    let mut solved = 0;
    for _ in 0..12_000 {
        let side = random_plow(&mut rng);
        let [front_n, tail_n, pull_x_n] = held_by(lines_of(&side), &side);
        let ground_n = front_n + tail_n;
        let Ok(loads) = side.loads() else {
            assert!(ground_n <= 1e-6, "refused a plow that stands on its wheels: {side:?}");
            continue;
        };
        solved += 1;
        let scale = side.weight.n().max(pull_x_n);
        for (ours, theirs) in
            [(loads.front_load, front_n), (loads.tail_load, tail_n), (loads.pull_x, pull_x_n)]
        {
            assert!((ours.n() - theirs).abs() <= 1e-9 * scale, "{ours:?} {theirs} {side:?}");
        }
        let x_v = (front_n * side.front.at.x.m() + tail_n * side.tail.at.x.m()) / ground_n;
        assert!((loads.wheel_load_at.m() - x_v).abs() <= 1e-9 * scale / ground_n * 10.0, "{side:?}");
        if pull_x_n > 1.0 {
            let e_m = ground_n * (x_v - side.weight_x.m()) / pull_x_n;
            assert!((loads.pull_line_offset.m() - e_m).abs() <= 1e-9 * (scale / pull_x_n) * 10.0, "{side:?}");
        }
    }
    assert!(solved >= 10_000, "{solved} plows were compared");
}

/// Front load, tail load and draft part of the pull by the principle of virtual work (any textbook of statics; here
/// after Baker & Haynes, Engineering Statics, open edition, chapter 4 on moments and couples, for the work of a force
/// in a small turn). A rigid plow is moved a little so that two of its three unknown forces do no work: it turns about
/// the point where their lines meet, or is pushed at right angles to both if they are parallel. Then the third one's
/// work is what the known forces do, and it follows without a system of equations.
fn by_virtual_work(side: &SideView) -> [f64; 3] {
    let [front, tail, pull] = lines_of(side);
    [(front, tail, pull), (tail, pull, front), (pull, front, tail)].map(|(wanted, a, b)| {
        // The displacement of the origin and the turn, nose up: the work of a force in it is the product of the two.
        let moved = a.cross(&b);
        -weight_and_soil(side).dot(&moved) / wanted.dot(&moved)
    })
}

fn agrees_with_virtual_work(side: &SideView) -> Option<bool> {
    let loads = side.loads().ok()?;
    let [front_n, tail_n, pull_x_n] = by_virtual_work(side);
    let scale = side.weight.n().max(pull_x_n.abs());
    let mut pairs =
        [(loads.front_load, front_n), (loads.tail_load, tail_n), (loads.pull_x, pull_x_n)].into_iter();
    Some(pairs.all(|(ours, theirs)| (ours.n() - theirs).abs() <= 1e-9 * scale))
}

/// 1e-9 of the largest force, over plows of every kind.
#[test]
fn closed_forms_agree_with_virtual_work() {
    let mut rng = ChaCha8Rng::seed_from_u64(20_261_125);
    let mut compared = 0;
    for _ in 0..12_000 {
        let side = random_plow(&mut rng);
        if let Some(agrees) = agrees_with_virtual_work(&side) {
            compared += 1;
            assert!(agrees, "{side:?} {:?} {:?}", side.loads(), by_virtual_work(&side));
        }
    }
    assert!(compared >= 9_000, "{compared} plows were compared");
}

/// The example of each kind, in every setting that it has.
#[test]
fn the_examples_of_every_kind_agree_with_virtual_work() {
    let mut kinds = Vec::new();
    for file in samples_in("plows").unwrap() {
        let plow = read_plow(&file).unwrap();
        for setting in plow.settings.values() {
            let pull_n = 3.0 * plow.weight.total.si();
            let nominal = nominal(&plow, setting, Force::from_n(pull_n))
                .or_else(|_| nominal(&plow, setting, Force::from_n(pull_n / 2.0)));
            let side = nominal.unwrap().side;
            assert_eq!(agrees_with_virtual_work(&side), Some(true), "{}: {side:?}", plow.name);
        }
        kinds.push(plow.part_names().kind);
    }
    for kind in ["trailed", "semi-mounted", "mounted", "walking"] {
        assert!(kinds.contains(&kind), "no example of a {kind} plow in {kinds:?}");
    }
}

fn point(x_m: f64, z_m: f64) -> Point {
    Point { x: Length::from_m(x_m), z: Length::from_m(z_m) }
}

/// A body on two supports without resistance, the front one at the origin, that is not pulled.
fn standing(weight_n: f64, weight_x_m: f64, tail_x_m: f64) -> SideView {
    let support = |x_m| Carrier { at: point(x_m, 0.0), resistance: 0.0 };
    SideView {
        weight: Force::from_n(weight_n),
        weight_x: Length::from_m(weight_x_m),
        front: support(0.0),
        tail: support(tail_x_m),
        plow_hitch: point(1.0, 0.0),
        tractor_hitch: point(2.0, 0.0),
        soil_at: point(-0.5, 0.0),
        soil_slope: 0.0,
        soil_draft: Force::from_n(0.0),
    }
}

/// What front and tail support carry under loads of (weight, x).
fn two_supports(loads: &[(f64, f64)], tail_x_m: f64) -> (f64, f64) {
    let weight_n: f64 = loads.iter().map(|load| load.0).sum();
    let moment: f64 = loads.iter().map(|load| load.0 * load.1).sum();
    let loads = standing(weight_n, moment / weight_n, tail_x_m).loads().unwrap();
    (loads.front_load.n(), loads.tail_load.n())
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
    let door = SideView {
        plow_hitch: point(0.1, 1.0),
        tractor_hitch: point(1.1, 1.0),
        soil_at: point(-0.5, -1.0),
        soil_draft: Force::from_n(100.0),
        ..standing(400.0, -0.5, -1.0)
    };
    let loads = door.loads().unwrap();
    // All the door's weight hangs on the hinge side, none on its free edge.
    assert!((loads.front_load.n() - 400.0).abs() < 1e-9 && loads.tail_load.n().abs() < 1e-9, "{loads:?}");
    assert!((loads.balance_index - 1.0).abs() < 1e-12, "that is the end of the balance: {loads:?}");
    assert_eq!(loads.pull_x.n(), 100.0);
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
        let side = SideView {
            plow_hitch: point(0.1, wall_z_m),
            tractor_hitch: point(1.1, wall_z_m),
            soil_at: point(0.0, 0.0),
            soil_draft: Force::from_n(pull_n),
            ..standing(400.0, weight_x_m, -5.0)
        };
        side.loads().unwrap()
    };
    let loads = ladder(150.711);
    assert!(loads.tail_load.n().abs() < 1e-3, "{loads:?}");
    let floor_n = loads.front_load.n().hypot(loads.pull_x.n());
    assert!((floor_n - 427.4).abs() < 0.1, "{floor_n}");
    let floor_degrees = loads.front_load.n().atan2(loads.pull_x.n()).to_degrees();
    assert!((floor_degrees - 69.355).abs() < 1e-3, "{floor_degrees}");
    assert!(ladder(140.0).tail_load.n() > 5.0, "a weaker wall would not do");
}

/// Published check of the pull line: load centre (0, 0.10) m, tractor hitch (3.00, 0.43) m, clevis at x =
/// 1.20: clevis height on the line 0.232 m; at a draft of 8 000 N vertical 880 N, pull 8 048.25 N
/// (constructed).
#[test]
fn pull_along_a_sloping_line_has_the_parts_of_the_triangle() {
    let side = SideView {
        plow_hitch: point(1.2, 0.232),
        tractor_hitch: point(3.0, 0.43),
        soil_at: point(0.0, 0.1),
        soil_slope: -0.11,
        soil_draft: Force::from_n(8_000.0),
        ..standing(20_000.0, -1.0, -2.0)
    };
    assert!((side.pull_line_z(Length::from_m(0.0)).m() - 0.10).abs() < 1e-12);
    let loads = side.loads().unwrap();
    assert!((loads.pull.n() - 8_048.25).abs() < 0.01, "{loads:?}");
    assert!((loads.drawbar_slope * loads.pull_x.n() - 880.0).abs() < 1e-9);
    // A soil force along the line of pull adds nothing and turns nothing.
    assert!((loads.ground_load.n() - 20_000.0).abs() < 1e-9 && loads.balance_index.abs() < 1e-12);
}

/// Loads of a two-bottom plow, invented, with its pins at these heights.
fn hitched(plow_z_m: f64, tractor_z_m: f64) -> Loads {
    let mut side = SideView {
        plow_hitch: point(0.3, plow_z_m),
        soil_at: point(-0.72, -0.1),
        soil_slope: -0.1,
        soil_draft: Force::from_n(7_500.0),
        ..standing(3_400.0, -0.6, -1.9)
    };
    (side.front.resistance, side.tail.resistance) = (0.08, 0.08);
    side.tractor_hitch =
        tractor_pin(side.plow_hitch, Length::from_m(tractor_z_m), Length::from_m(1.12)).unwrap();
    side.loads().unwrap()
}

/// Common practice, no source; the first also by Rural Heritage, hitching a sulky plow (verbal: a hitch above
/// the straight line pulls the front down and lifts the rear wheel, one below it does the reverse).
#[test]
fn raising_the_hitch_at_the_plow_moves_the_wheel_load_forward_and_raising_it_at_the_tractor_moves_it_back() {
    let now = hitched(0.10, 0.33);
    let ahead = |one: &Loads, other: &Loads| {
        one.wheel_load_at.m() > other.wheel_load_at.m() && one.tail_load.n() < other.tail_load.n()
    };
    let (plow_up, plow_down, tractor_up) = (hitched(0.125, 0.33), hitched(0.075, 0.33), hitched(0.10, 0.355));
    assert!(ahead(&plow_up, &now), "{plow_up:?} {now:?}");
    assert!(ahead(&now, &plow_down), "{plow_down:?} {now:?}");
    assert!(ahead(&now, &tractor_up), "{tractor_up:?} {now:?}");
}

/// Common practice, no source: with the wheel load at the front wheels the tail wheel carries nothing.
#[test]
fn with_the_wheel_load_at_the_front_wheels_the_tail_wheel_carries_nothing() {
    let (mut low_m, mut high_m) = (0.1, 0.4);
    for _ in 0..100 {
        let middle_m = (low_m + high_m) / 2.0;
        if hitched(middle_m, 0.33).wheel_load_at.m() < 0.0 {
            low_m = middle_m;
        } else {
            high_m = middle_m;
        }
    }
    let at_the_front = hitched(low_m, 0.33);
    assert!(at_the_front.wheel_load_at.m().abs() < 1e-9);
    assert!(at_the_front.tail_load.n().abs() < 1e-6, "{at_the_front:?}");
    assert!((at_the_front.balance_index - 1.0).abs() < 1e-9);
}
