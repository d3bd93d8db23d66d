//! The statics backwards, by another way forwards: a linear solver (nalgebra's LU) finds the forces in front, tail and
//! links that hold a plow against a drawn soil force; from what a sensor would read of them the soil force must come
//! back. Forces along the links of a mounted plow are unknowns of their own here, at their own pins: nothing knows of
//! the point where the links meet.

#![allow(clippy::unwrap_used, reason = "a helper of a test fails as the test does")]

use hitchwright_tests::command::samples_in;
use ingest::plow::{Kind, Plow, Setting, read_plow};
use nalgebra::{Matrix3, Vector3};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use statics::draw::solve_backwards;
use statics::inputs::Measured;
use statics::inputs::{FromLinks, Input, Inputs};
use statics::plow_model::PlowModel;
use statics::side::{Carrier, PointM, SideView};
use std::collections::BTreeMap;

/// A force of (along_x, along_z) through a point: its parts and its moment about the origin.
fn through(at: PointM, along_x: f64, along_z: f64) -> Vector3<f64> {
    Vector3::new(along_x, along_z, at.x_m * along_z - at.z_m * along_x)
}

fn carries(carrier: Carrier) -> Vector3<f64> {
    through(carrier.at, -carrier.resistance, 1.0)
}

fn along((from, to): (PointM, PointM)) -> Vector3<f64> {
    let (x, z) = (to.x_m - from.x_m, to.z_m - from.z_m);
    through(from, x / x.hypot(z), z / x.hypot(z))
}

/// Sizes of three forces along known lines that hold weight and soil force.
fn held_by(lines: [Vector3<f64>; 3], side: &SideView) -> [f64; 3] {
    let (s_n, up_n) = (side.soil_draft_n, side.soil_slope * side.soil_draft_n);
    let weight = through(PointM { x_m: side.weight_x_m, z_m: 0.0 }, 0.0, -side.weight_n);
    let loads = weight + through(side.soil_at, -s_n, up_n);
    let solved = Matrix3::from_columns(&lines).lu().solve(&-loads).unwrap();
    [solved[0], solved[1], solved[2]]
}

/// What is read in one way of measuring.
type Way = (&'static str, Measured, Option<FromLinks>, Inputs<f64>);

/// What sensors would read of a plow with this soil force, for each way of measuring that it has; none if one of its
/// loads would pull.
fn readings(plow: &Plow, plow_model: &PlowModel, inputs: &Inputs<f64>, side: &SideView) -> Vec<Way> {
    let with = |pairs: &[(Input, f64)]| {
        // Soil slope and height are what is asked for; where a way takes one for granted it is put in again.
        let mut read = *inputs;
        pairs.iter().for_each(|(input, value)| read[*input] = *value);
        read
    };
    let no_slope = (Input::SoilSlope, 9.0);
    let no_height = (Input::SoilHeight, 9.0);
    if plow.kind() == Kind::Mounted {
        let links = plow_model.links(inputs).unwrap();
        let lines = [along(links.lower), along(links.top), carries(side.tail)];
        let [lower_n, top_n, tail_n] = held_by(lines, side);
        let (pull_x_n, lift_n) =
            (lower_n * lines[0][0] + top_n * lines[1][0], lower_n * lines[0][1] + top_n * lines[1][1]);
        if tail_n < 0.0 || lift_n < 0.0 {
            return Vec::new();
        }
        let (pull, tail) = ((Input::Pull, pull_x_n), (Input::TailLoad, tail_n));
        let (lower, top) = ((Input::LowerLinksForce, lower_n), (Input::TopLinkForce, top_n));
        return vec![
            (
                "mounted: pull and top link",
                Measured::Front,
                Some(FromLinks::TopLink),
                with(&[pull, top, no_height]),
            ),
            (
                "mounted: lower links and top link",
                Measured::Front,
                Some(FromLinks::Both),
                with(&[lower, top, no_height]),
            ),
            ("mounted: pull and tail", Measured::Tail, None, with(&[pull, tail, no_height])),
            (
                "mounted: pull, top link and tail",
                Measured::Both,
                Some(FromLinks::TopLink),
                with(&[pull, top, tail, no_slope, no_height]),
            ),
        ];
    }
    let pull = along((side.plow_hitch, side.tractor_hitch));
    let [front_n, tail_n, pull_n] = held_by([carries(side.front), carries(side.tail), pull], side);
    if tail_n < 0.0 || front_n < 0.0 {
        return Vec::new();
    }
    let (pull, tail, front) = ((Input::Pull, pull_n), (Input::TailLoad, tail_n), (Input::FrontLoad, front_n));
    vec![
        ("pull and tail", Measured::Tail, None, with(&[pull, tail, no_height])),
        ("pull and front", Measured::Front, None, with(&[pull, front, no_height])),
        ("pull, front and tail", Measured::Both, None, with(&[pull, front, tail, no_slope, no_height])),
        ("line of pull", Measured::LineOfPull, None, with(&[pull])),
    ]
}

fn any_setting(plow: &Plow, rng: &mut ChaCha8Rng) -> Setting {
    let (at_plow, at_tractor) = (&plow.plow_hitch.holes, &plow.tractor_hitch.holes);
    Setting {
        plow_hole: at_plow[rng.random_range(0..at_plow.len())].clone(),
        tractor_hole: at_tractor[rng.random_range(0..at_tractor.len())].clone(),
        lateral_offset: None,
    }
}

/// 1e-9 of the weight, or of the lengths that go with it; for each example, each kind among them.
#[test]
fn the_soil_force_comes_back_from_whatever_was_measured() {
    let mut rng = ChaCha8Rng::seed_from_u64(20_261_126);
    let mut compared: BTreeMap<(&str, &str), usize> = BTreeMap::new();
    for file in samples_in("plows").unwrap() {
        let plow = read_plow(&file).unwrap();
        let plow_model = PlowModel::of(&plow);
        let depth_m = plow.bottoms.depth.m();
        for _ in 0..400 {
            let setting = any_setting(&plow, &mut rng);
            let mut inputs = Inputs::of_plow(&plow, &setting).draw(&mut rng);
            inputs.soil_slope = rng.random_range(-0.25..0.25);
            inputs.soil_height = -depth_m * rng.random_range(0.1..0.9);
            let Ok(mut side) = plow_model.side_view(&inputs) else { continue };
            side.soil_draft_n = rng.random_range(3.0..7.0) * plow.total_cut_m() * depth_m * 1e4;
            for (way, measured, from_links, mut read) in readings(&plow, &plow_model, &inputs, &side) {
                if let Some(from) = from_links {
                    plow_model.load_from_links(&mut read, from).unwrap();
                }
                let Ok(draw) = solve_backwards(&plow_model, &read, measured) else {
                    panic!("{}: {way}: {side:?}", plow.name)
                };
                let found = draw.side;
                let scale = side.weight_n / side.soil_draft_n * side.wheelbase_m().max(1.0) * 10.0;
                assert!(
                    (found.soil_draft_n - side.soil_draft_n).abs()
                        < 1e-9 * side.soil_draft_n.max(side.weight_n),
                    "{way}: {found:?}"
                );
                assert!(
                    (found.soil_slope - side.soil_slope).abs() < 1e-9 * scale.max(1.0),
                    "{way}: {found:?} {side:?}"
                );
                assert!(
                    (found.soil_at.z_m - side.soil_at.z_m).abs() < 1e-9 * scale.max(1.0),
                    "{way}: {found:?} {side:?}"
                );
                *compared.entry((plow.part_names().kind, way)).or_default() += 1;
            }
        }
    }
    println!("{compared:#?}");
    // Four ways for each of four kinds.
    assert_eq!(compared.len(), 16, "{compared:?}");
    assert!(compared.values().all(|count| *count >= 50), "{compared:?}");
}
