//! The top view against the outside world: the handbook's rule, exam and textbook problems, and an independent
//! solver that has plow and tractor as rigid bodies in space.

use ingest::plow::read_plow_text;
use ingest::quantity::{Force, Length};
use nalgebra::{DMatrix, DVector, Vector3, Vector6};
use rand::{Rng, RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use statics::top::plow::{PullParts, PulledPlow};
use statics::top::resistance::{from_furrow_wall, place};
use statics::top::tractor::{Pin, TopView, Tractor, TractorForces};
use statics::top::{TopError, TopPoint};
use std::path::Path;

const IN_M: f64 = 0.0254;

fn m(length: f64) -> Length {
    Length::from_m(length)
}

fn point(x_m: f64, y_m: f64) -> TopPoint {
    TopPoint { x: m(x_m), y: m(y_m) }
}

/// The Operation, Care and Repair of Farm Machinery (Deere & Co., 1932 printing), riding-plow line of draft, as
/// reprinted in Rural Heritage 1998: one 12 in bottom 9 in from the furrow wall, two 15 in.
#[test]
fn the_handbooks_places_of_the_centre_of_resistance() {
    assert!((from_furrow_wall(1, m(12.0)).m() - 9.0).abs() < 1e-12);
    assert!((from_furrow_wall(2, m(12.0)).m() - 15.0).abs() < 1e-12);
}

/// The rule of the same book, worked out for other plows: 1×14, 2×14, 3×14, 1×16 ... 4×16 in.
#[test]
fn the_rule_for_other_plows() {
    let counts = [1, 2, 3, 1, 2, 3, 4];
    let widths = [14.0, 14.0, 14.0, 16.0, 16.0, 16.0, 16.0];
    let places = [10.5, 17.5, 24.5, 12.0, 20.0, 28.0, 36.0];
    for ((count, width), expected) in counts.into_iter().zip(widths).zip(places) {
        let found = from_furrow_wall(count, m(width)).m();
        assert!((found - expected).abs() < 1e-12, "{count}x{width}");
        // What the top view draws from has its middle there, counted from the middle of the cut.
        let from_middle = found - f64::from(count) * width / 2.0;
        assert!((place(m(width)).centre() - from_middle).abs() < 1e-12);
    }
}

/// Rural Heritage, hitching a sulky plow (verbal): on a single bottom the load centre is where share meets
/// moldboard, about 2 in from the landside. The range holds that place and lies on the landside's half of the cut.
#[test]
fn the_range_holds_the_other_published_place() {
    for width_in in [10.0, 12.0, 14.0, 16.0] {
        let place = place(m(width_in * IN_M));
        let half_m = 1.96 * place.standard_uncertainty();
        let (centre_m, width_m) = (place.centre(), width_in * IN_M);
        let beside_landside_m = width_m / 2.0 - 2.0 * IN_M;
        assert!((beside_landside_m - centre_m).abs() < half_m, "{width_in}");
        assert!(centre_m - half_m > 0.0 && centre_m + half_m < width_m / 2.0, "{width_in}");
    }
}

fn straight(soil_draft_n: f64, side_share: f64, landside_friction: f64) -> PulledPlow {
    PulledPlow {
        centre: point(-1.0, 0.0),
        pin: point(1.0, 0.0),
        pull_slope: 0.0,
        soil_draft: Force::from_n(soil_draft_n),
        side_share,
        landside_friction,
        wall_y: m(0.3),
    }
}

/// GATE agricultural engineering exam item: useful soil force 2.0 kN along, 0.9 kN across, soil on metal at 25
/// degrees: draft 2.4 kN (L + T·tan φ = 2.419 68).
#[test]
fn draft_of_an_exam_problem_with_friction_at_the_landside() {
    let plow = straight(2_000.0, 0.45, 25.0f64.to_radians().tan());
    let forces = plow.forces().unwrap();
    assert!((forces.landside.n() - 900.0).abs() < 1e-9, "{forces:?}");
    assert!((forces.pull.x.n() - 2_419.68).abs() < 0.01, "{forces:?}");
    // And the other way: that draft is of that soil.
    let back = plow.with_draft(forces.pull.x).unwrap();
    assert!((back.soil_draft.n() - 2_000.0).abs() < 1e-9);
}

/// Plowing exam item: draft 1000 kgf, line of pull 15 degrees to the horizontal, its vertical plane 12 degrees off
/// the travel: pull 1058.40, side draft 212.56, vertical part 273.94 kgf (printed 1058 and, rounded on the way,
/// 212.45).
#[test]
fn parts_of_a_pull_of_an_exam_problem() {
    let (elevation, off) = (15.0f64.to_radians(), 12.0f64.to_radians());
    let pull = PullParts::of_draft(Force::from_n(1_000.0), elevation.tan() / off.cos(), off.tan());
    assert!((pull.total().n() - 1_058.40).abs() < 0.01, "{pull:?}");
    assert!((pull.y.n() - 212.56).abs() < 0.01, "{pull:?}");
    assert!((pull.z.n() - 273.94).abs() < 0.01, "{pull:?}");
    assert!((pull.total().n() - 1_058.0).abs() < 0.5 && (pull.y.n() - 212.45).abs() < 0.2);
}

/// The tractor of a GATE exam item: 18 kN, wheelbase 1.8 m, centre of gravity 0.6 m ahead of the rear axle.
fn exam_tractor() -> Tractor {
    Tractor {
        front_axle: Force::from_n(6_000.0),
        rear_axle: Force::from_n(12_000.0),
        wheelbase: m(1.8),
        track: m(1.3),
        hitch_behind: m(0.3),
        middle_y: m(0.0),
        left_ground_z: m(0.0),
        right_ground_z: m(0.0),
        right_share: 0.5,
        gravity_z: None,
    }
}

/// The same tractor with another share of its weight on the front axle.
fn split(front_share: f64) -> Tractor {
    let (front_axle, rear_axle) =
        (Force::from_n(18_000.0 * front_share), Force::from_n(18_000.0 * (1.0 - front_share)));
    Tractor { front_axle, rear_axle, ..exam_tractor() }
}

fn pulled(tractor: &Tractor, draft_n: f64, slope: f64) -> Result<TractorForces, TopError> {
    let pin = Pin { at: point(0.0, 0.0), z: m(0.39) };
    tractor.forces(pin, PullParts::of_draft(Force::from_n(draft_n), slope, 0.0))
}

/// The same exam item: a pull of 6 kN, level, at 0.39 m moves 1.30 kN from front to rear (choices 1.30, 1.95, 3.90,
/// 5.85); worked out from it: standing 12.0 and 6.0 kN, under pull 13.3 and 4.7 kN, and the front lifts at 27.6923 kN.
#[test]
fn weight_transfer_of_an_exam_problem() {
    let forces = pulled(&exam_tractor(), 6_000.0, 0.0).unwrap();
    assert!((forces.standing_centre.m() - 0.6).abs() < 1e-12);
    assert!((forces.rear_axle.n() - 12_000.0 - 1_300.0).abs() < 1e-9, "{forces:?}");
    assert!((forces.rear_axle.n() - 13_300.0).abs() < 1e-9 && (forces.front_axle.n() - 4_700.0).abs() < 1e-9);
    let (least, most) = (pulled(&exam_tractor(), 27_692.2, 0.0), pulled(&exam_tractor(), 27_692.4, 0.0));
    assert!(least.unwrap().front_axle.n() < 0.1);
    assert!(matches!(most, Err(TopError::FrontLifts { front }) if front.n() > -0.1));
}

/// Constructed on that item: line of pull 15 degrees down to the plow, pin 0.30 m behind the rear axle: vertical part
/// 1.607 70 kN, rear +3.175 64, front −1.567 95 kN.
#[test]
fn weight_transfer_with_a_sloping_line() {
    let forces = pulled(&exam_tractor(), 6_000.0, 15.0f64.to_radians().tan()).unwrap();
    let (rear_n, front_n) = (forces.rear_axle.n() - 12_000.0, forces.front_axle.n() - 6_000.0);
    assert!((rear_n - 3_175.64).abs() < 0.01, "{rear_n}");
    assert!((front_n + 1_567.95).abs() < 0.01, "{front_n}");
    assert!((rear_n + front_n - 1_607.70).abs() < 0.01);
}

/// OpenStax, University Physics 1, section 12.1: a car of 2.5 m wheelbase with 52 % of its weight on the front axle
/// has its centre of gravity 1.3 m ahead of the rear axle.
#[test]
fn centre_of_gravity_of_a_textbook_car() {
    let car = Tractor { wheelbase: m(2.5), ..split(0.52) };
    let forces = pulled(&car, 0.0, 0.0).unwrap();
    for centre in [forces.standing_centre, forces.dynamic_centre] {
        assert!((centre.m() - 1.3).abs() < 1e-12);
    }
}

/// University ballasting lab sheet (AGEN 105), after extension bulletins: static split front/rear of a two-wheel-drive
/// tractor 25/75 for a trailed implement to 35/65 for a mounted one. The tractors of the worked examples are of
/// that sort, and the standing centre of such a split is that share of the wheelbase ahead of the rear axle.
#[test]
fn the_tractors_of_the_examples_are_ballasted_as_is_recommended() {
    for text in [
        include_str!("../../sample-runs/plows/wide-on-narrow.toml"),
        include_str!("../../sample-runs/plows/narrow-on-wide.toml"),
    ] {
        let plow = read_plow_text(text, Path::new("example.toml")).unwrap();
        let tractor = plow.tractor.unwrap();
        let (front_n, rear_n) = (tractor.front_axle_load.si(), tractor.rear_axle_load.si());
        let share = front_n / (front_n + rear_n);
        assert!((0.25..=0.35).contains(&share), "{share}");
    }
    for share in [0.25, 0.30, 0.35, 0.40, 0.60] {
        let forces = pulled(&split(share), 0.0, 0.0).unwrap();
        assert!((forces.standing_centre.m() - share * 1.8).abs() < 1e-12);
    }
}

fn random_view(rng: &mut impl Rng) -> TopView {
    let soil_draft_n = rng.random_range(500.0..30_000.0);
    let centre = point(rng.random_range(-3.0..-0.3), rng.random_range(-0.3..0.5));
    TopView {
        plow: PulledPlow {
            centre,
            pin: point(rng.random_range(0.5..2.5), rng.random_range(-0.6..0.6)),
            pull_slope: rng.random_range(-0.2..0.4),
            soil_draft: Force::from_n(soil_draft_n),
            side_share: rng.random_range(0.0..0.6),
            landside_friction: rng.random_range(0.0..0.6),
            wall_y: m(centre.y.m() + rng.random_range(0.1..1.5)),
        },
        pin_z: m(rng.random_range(0.2..0.6)),
        tractor: Tractor {
            front_axle: Force::from_n(soil_draft_n * rng.random_range(0.5..1.5)),
            rear_axle: Force::from_n(soil_draft_n * rng.random_range(1.0..3.0)),
            wheelbase: m(rng.random_range(1.5..3.5)),
            track: m(rng.random_range(0.9..2.2)),
            hitch_behind: m(rng.random_range(0.2..1.2)),
            middle_y: m(rng.random_range(-0.8..0.8)),
            left_ground_z: m(rng.random_range(-0.1..0.1)),
            right_ground_z: m(rng.random_range(-0.35..0.1)),
            right_share: rng.random_range(0.2..0.8),
            gravity_z: Some(m(rng.random_range(0.5..1.2))),
        },
    }
}

/// A force with its place as the six numbers that count for a body in space: force, and moment about the origin.
fn wrench(at: Vector3<f64>, force: Vector3<f64>) -> Vector6<f64> {
    let moment = at.cross(&force);
    Vector6::new(force.x, force.y, force.z, moment.x, moment.y, moment.z)
}

/// Plow and tractor as rigid bodies in space, put down force by force and solved by LU with an independent library.
/// Unknown: pull (3), press on the wall, front axle's load, left and right rear wheels' load, side force on front
/// and rear axle, and the forward push of both drive wheels together.
fn solved_in_space(view: &TopView) -> DVector<f64> {
    let (plow, tractor) = (&view.plow, &view.tractor);
    let mut matrix = DMatrix::zeros(10, 10);
    let mut known = DVector::zeros(10);
    // Plow: forward, left, and about the vertical through the centre of resistance, where all soil forces pass; its
    // vertical forces are the side view's, which says how steep the pull is.
    matrix[(0, 0)] = 1.0;
    matrix[(0, 3)] = -plow.landside_friction;
    known[0] = plow.soil_draft.n();
    matrix[(1, 1)] = 1.0;
    matrix[(1, 3)] = -1.0;
    known[1] = -plow.side_share * plow.soil_draft.n();
    matrix[(2, 0)] = -(plow.pin.y.m() - plow.centre.y.m());
    matrix[(2, 1)] = plow.pin.x.m() - plow.centre.x.m();
    matrix[(3, 0)] = -plow.pull_slope;
    matrix[(3, 2)] = 1.0;
    // Tractor: all six equations.
    let rear_x_m = plow.pin.x.m() + tractor.hitch_behind.m();
    let (left_z, right_z) = (tractor.left_ground_z.m(), tractor.right_ground_z.m());
    let (mid_y, half_m, mid_z) = (tractor.middle_y.m(), tractor.track.m() / 2.0, (left_z + right_z) / 2.0);
    let pin = Vector3::new(plow.pin.x.m(), plow.pin.y.m(), view.pin_z.m());
    let front = Vector3::new(rear_x_m + tractor.wheelbase.m(), mid_y, mid_z);
    let rear = Vector3::new(rear_x_m, mid_y, mid_z);
    let left = Vector3::new(rear_x_m, mid_y + half_m, left_z);
    let right = Vector3::new(rear_x_m, mid_y - half_m, right_z);
    let (forward, leftward, up) = (Vector3::x(), Vector3::y(), Vector3::z());
    let pushed =
        wrench(left, forward * (1.0 - tractor.right_share)) + wrench(right, forward * tractor.right_share);
    let columns = [
        (0, wrench(pin, -forward)),
        (1, wrench(pin, -leftward)),
        (2, wrench(pin, -up)),
        (4, wrench(front, up)),
        (5, wrench(left, up)),
        (6, wrench(right, up)),
        (7, wrench(front, leftward)),
        (8, wrench(rear, leftward)),
        (9, pushed),
    ];
    for (column, six) in columns {
        matrix.view_mut((4, column), (6, 1)).copy_from(&six);
    }
    let weight_n = tractor.front_axle.n() + tractor.rear_axle.n();
    // Leaning to the lower wheel by the rise over the track times the height.
    let gravity_z_m = tractor.gravity_z.unwrap().m();
    let lean_m = gravity_z_m * (left_z - right_z) / tractor.track.m();
    let gravity = Vector3::new(
        rear_x_m + tractor.wheelbase.m() * tractor.front_axle.n() / weight_n,
        mid_y - lean_m,
        mid_z + gravity_z_m,
    );
    known.rows_mut(4, 6).copy_from(&wrench(gravity, up * weight_n));
    matrix.lu().solve(&known).unwrap()
}

/// Source: nalgebra's LU over more than 5,000 random plows with tractors; 1e-9 of the largest force.
#[test]
fn closed_forms_agree_with_rigid_bodies_in_space() {
    let mut rng = ChaCha8Rng::seed_from_u64(20_270_412);
    let (mut compared, mut off_the_wall, mut lifted) = (0, 0, 0);
    for _ in 0..12_000 {
        let view = random_view(&mut rng);
        let solved = solved_in_space(&view);
        let scale = view.tractor.front_axle.n() + view.tractor.rear_axle.n() + view.plow.soil_draft.n();
        let near = |ours: f64, theirs: f64| (ours - theirs).abs() <= 1e-9 * scale;
        if solved[3] < 0.0 {
            off_the_wall += 1;
            assert!(view.plow.forces().map_or(true, |plow| !plow.landside_holds), "{view:?}");
            continue;
        }
        let forces = match view.forces() {
            Ok(forces) => forces,
            Err(TopError::FrontLifts { front }) => {
                lifted += 1;
                assert!(near(front.n(), solved[4]) && solved[4] <= 1e-6, "{view:?}");
                continue;
            }
            Err(TopError::SidewaysPull { .. }) => continue,
            Err(other) => panic!("{other} {view:?}"),
        };
        compared += 1;
        let (plow, tractor, across) = (forces.plow, forces.tractor, forces.tractor.across.unwrap());
        let pairs = [
            (plow.pull.x.n(), solved[0]),
            (plow.pull.y.n(), solved[1]),
            (plow.pull.z.n(), solved[2]),
            (plow.landside.n(), solved[3]),
            (tractor.front_axle.n(), solved[4]),
            (tractor.rear_axle.n(), solved[5] + solved[6]),
            (across.left_rear.n(), solved[5]),
            (across.right_rear.n(), solved[6]),
            (tractor.front_side.n(), solved[7]),
            (tractor.rear_side.n(), solved[8]),
            (tractor.left_drive.n() + tractor.right_drive.n(), solved[9]),
        ];
        for (ours, theirs) in pairs {
            assert!(near(ours, theirs), "{ours} {theirs} {view:?}");
        }
        // What is left at the front beyond its share by load is what it is held over for.
        let whole_n = solved[4] + solved[5] + solved[6];
        assert!(near(tractor.held_over.n(), solved[7] - solved[1] * solved[4] / whole_n), "{view:?}");
        let centre_m = view.tractor.wheelbase.m() * solved[4] / whole_n;
        assert!((tractor.dynamic_centre.m() - centre_m).abs() < 1e-9 * 10.0, "{view:?}");
        let shift_m = (solved[5] - solved[6]) * view.tractor.track.m() / 2.0 / whole_n;
        assert!((across.shift_y.m() - shift_m).abs() < 1e-9 * 10.0, "{view:?}");
    }
    assert!(compared >= 5_000 && off_the_wall > 100 && lifted > 10, "{compared} {off_the_wall} {lifted}");
}
