//! The statics of the side view by another way: the principle of virtual work (any textbook of statics; here after
//! Baker & Haynes, Engineering Statics, open edition, chapter 4 on moments and couples, for the work of a force
//! in a small turn). A rigid plow is moved a little so that two of its three unknown forces do no work: it turns
//! about the point where their lines meet. Then the third one's work is what the known forces do, and it follows
//! without a system of equations.

use hitchwright_tests::command::samples_in;
use hitchwright_tests::random_plow::random_plow;
use ingest::plow::read_plow;
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use statics::predict::nominal;
use statics::side::SideView;

/// A force, or a unit of one: a point on its line, and its parts.
#[derive(Clone, Copy)]
struct LineOfForce {
    x: f64,
    z: f64,
    along_x: f64,
    along_z: f64,
}

/// A small displacement of the plow: its plane parts at the origin, and its turn.
struct Displacement {
    dx: f64,
    dz: f64,
    turn: f64,
}

impl LineOfForce {
    /// As a line in homogeneous coordinates: direction turned by a right angle, and moment.
    fn homogeneous(&self) -> [f64; 3] {
        [-self.along_z, self.along_x, self.x * self.along_z - self.z * self.along_x]
    }
}

/// The displacement in which forces along both lines do no work: the turn about the point where they meet (the
/// cross product of the lines), or a push at right angles to both if they are parallel.
fn that_spares(a: LineOfForce, b: LineOfForce) -> Displacement {
    let (p, q) = (a.homogeneous(), b.homogeneous());
    let meet = [p[1] * q[2] - p[2] * q[1], p[2] * q[0] - p[0] * q[2], p[0] * q[1] - p[1] * q[0]];
    // A turn by w about (X/w, Z/w) moves the origin by (−Z, X), nose up positive.
    Displacement { dx: meet[1], dz: -meet[0], turn: meet[2] }
}

fn work(force: LineOfForce, moved: &Displacement) -> f64 {
    // A point of a body that turns nose up moves up ahead of the centre and back above it.
    let (dx, dz) = (moved.dx - moved.turn * force.z, moved.dz + moved.turn * force.x);
    force.along_x * dx + force.along_z * dz
}

/// Front load, tail load and draft part of the pull.
fn by_virtual_work(side: &SideView) -> [f64; 3] {
    let carrier = |carrier: statics::side::Carrier| LineOfForce {
        x: carrier.at.x_m,
        z: carrier.at.z_m,
        along_x: -carrier.resistance,
        along_z: 1.0,
    };
    let (front, tail) = (carrier(side.front), carrier(side.tail));
    let hitch = side.plow_hitch;
    let rise = (side.tractor_hitch.z_m - hitch.z_m) / (side.tractor_hitch.x_m - hitch.x_m);
    let pull = LineOfForce { x: hitch.x_m, z: hitch.z_m, along_x: 1.0, along_z: rise };
    let weight = LineOfForce { x: side.weight_x_m, z: 0.0, along_x: 0.0, along_z: -side.weight_n };
    let soil = LineOfForce {
        x: side.soil_at.x_m,
        z: side.soil_at.z_m,
        along_x: -side.soil_draft_n,
        along_z: side.soil_slope * side.soil_draft_n,
    };
    [(front, tail, pull), (tail, pull, front), (pull, front, tail)].map(|(wanted, a, b)| {
        let moved = that_spares(a, b);
        -(work(weight, &moved) + work(soil, &moved)) / work(wanted, &moved)
    })
}

fn agree(side: &SideView) -> Option<bool> {
    let loads = side.loads().ok()?;
    let [front_n, tail_n, pull_x_n] = by_virtual_work(side);
    let scale = side.weight_n.max(pull_x_n.abs());
    let pairs = [(loads.front_load_n, front_n), (loads.tail_load_n, tail_n), (loads.pull_x_n, pull_x_n)];
    Some(pairs.into_iter().all(|(ours, theirs)| (ours - theirs).abs() <= 1e-9 * scale))
}

/// 1e-9 of the largest force, over plows of every kind.
#[test]
fn closed_forms_agree_with_virtual_work() {
    let mut rng = ChaCha8Rng::seed_from_u64(20_261_125);
    let mut compared = 0;
    for _ in 0..12_000 {
        let side = random_plow(&mut rng);
        if let Some(agrees) = agree(&side) {
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
            let nominal = nominal(&plow, setting, pull_n).or_else(|_| nominal(&plow, setting, pull_n / 2.0));
            let side = nominal.unwrap().state.side;
            assert_eq!(agree(&side), Some(true), "{}: {side:?}", plow.name);
        }
        kinds.push(plow.part_names().kind);
    }
    for kind in ["trailed", "semi-mounted", "mounted", "walking"] {
        assert!(kinds.contains(&kind), "no example of a {kind} plow in {kinds:?}");
    }
}
