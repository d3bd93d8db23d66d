//! The statics backwards, by another way forwards: a linear solver (nalgebra's LU) finds the forces in front, tail and
//! links that hold a plow against a drawn soil force; from what a sensor would read of them the soil force must come
//! back. Forces along the links of a mounted plow are unknowns of their own here, at their own pins: nothing knows of
//! the point where the links meet.

use super::statics::{carries, held_by, through};
use hitchwright_tests::command::samples_in;
use ingest::plow::{Hole, Kind, Plow, Setting, read_plow};
use ingest::quantity::Force;
use nalgebra::Vector3;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use statics::draw::solve_backwards;
use statics::inputs::MeasuredLoads::{self, Both, Front, LineOfPull, Tail};
use statics::inputs::{FromLinks, Input, Inputs};
use statics::plow_model::PlowModel;
use statics::side::{Point, SideView};
use std::collections::BTreeMap;

fn along((from, to): (Point, Point)) -> Vector3<f64> {
    let (x, z) = (to.x.m() - from.x.m(), to.z.m() - from.z.m());
    through(from, x / x.hypot(z), z / x.hypot(z))
}

/// What is read in one way of measuring.
type Way = (&'static str, MeasuredLoads, Option<FromLinks>, Inputs<f64>);

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
        let [pull_x_n, lift_n] = [0, 1].map(|part| lower_n * lines[0][part] + top_n * lines[1][part]);
        if tail_n < 0.0 || lift_n < 0.0 {
            return Vec::new();
        }
        let (pull, tail) = ((Input::Pull, pull_x_n), (Input::TailLoad, tail_n));
        let (lower, top) = ((Input::LowerLinksForce, lower_n), (Input::TopLinkForce, top_n));
        return vec![
            ("pull and top link", Front, Some(FromLinks::TopLink), with(&[pull, top, no_height])),
            ("lower links and top link", Front, Some(FromLinks::Both), with(&[lower, top, no_height])),
            ("pull and tail", Tail, None, with(&[pull, tail, no_height])),
            (
                "pull, top link and tail",
                Both,
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
        ("pull and tail", Tail, None, with(&[pull, tail, no_height])),
        ("pull and front", Front, None, with(&[pull, front, no_height])),
        ("pull, front and tail", Both, None, with(&[pull, front, tail, no_slope, no_height])),
        ("line of pull", LineOfPull, None, with(&[pull])),
    ]
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
            let mut any = |holes: &[Hole]| holes[rng.random_range(0..holes.len())].clone();
            let (plow_hole, tractor_hole) = (any(&plow.plow_hitch.holes), any(&plow.tractor_hitch.holes));
            let setting = Setting { plow_hole, tractor_hole, lateral_offset: None };
            let mut inputs = Inputs::of_plow(&plow, &setting).draw(&mut rng);
            inputs.soil_slope = rng.random_range(-0.25..0.25);
            inputs.soil_height = -depth_m * rng.random_range(0.1..0.9);
            let Ok(mut side) = plow_model.side_view(&inputs) else { continue };
            side.soil_draft = Force::from_n(rng.random_range(3.0..7.0) * plow.total_cut_m() * depth_m * 1e4);
            for (way, measured, from_links, mut read) in readings(&plow, &plow_model, &inputs, &side) {
                if let Some(from) = from_links {
                    plow_model.load_from_links(&mut read, from).unwrap();
                }
                let Ok(draw) = solve_backwards(&plow_model, &read, measured) else {
                    panic!("{}: {way}: {side:?}", plow.name)
                };
                let (found, soil_n) = (draw.side, side.soil_draft.n());
                let scale = (side.weight.n() / soil_n * side.wheelbase().m().max(1.0) * 10.0).max(1.0);
                for (found, put_in, scale) in [
                    (found.soil_draft.n(), soil_n, soil_n.max(side.weight.n())),
                    (found.soil_slope, side.soil_slope, scale),
                    (found.soil_at.z.m(), side.soil_at.z.m(), scale),
                ] {
                    assert!((found - put_in).abs() < 1e-9 * scale, "{way}: {found} {side:?} {draw:?}");
                }
                *compared.entry((plow.part_names().kind, way)).or_default() += 1;
            }
        }
    }
    println!("{compared:#?}");
    // Four ways for each of four kinds.
    assert_eq!(compared.len(), 16, "{compared:?}");
    assert!(compared.values().all(|count| *count >= 50), "{compared:?}");
}
