//! The drawing of a truth of the invented plow, and of what was measured of it.

use crate::distribution::Distribution;
use crate::inputs::{MeanForce, RunFigures};
use crate::invented_plow::{figures, plow, setting};
use crate::side::{Carrier, Point, SideView, tractor_pin};
use ingest::plow::{Plow, PlowToml, Setting, ShareCondition};
use ingest::quantity::{Force, Length, Measured};
use rand_chacha::ChaCha8Rng;
use stats::Estimate;

/// The plow of the description, exactly as described, with a true soil force.
pub(super) fn truth(
    plow: &Plow,
    holes: &Setting,
    soil_slope: f64,
    soil_z_m: f64,
    soil_draft_n: f64,
) -> SideView {
    let plow_hitch = Point::from_m(plow.plow_hitch.x.si(), holes.plow_hole.z.si());
    let tail_at = Point::from_m(plow.tail.x().si(), plow.ground_z_m(plow.tail.runs_in()));
    let tractor_hitch = tractor_pin(plow_hitch, holes.tractor_hole.z.value, plow.link.length.value);
    SideView {
        weight: plow.weight.total.value,
        weight_x: plow.weight.x.value,
        front: Carrier { at: Point::from_m(0.0, 0.0), resistance: 0.06 },
        tail: Carrier { at: tail_at, resistance: 0.06 },
        plow_hitch,
        tractor_hitch: tractor_hitch.unwrap(),
        soil_at: Point::from_m(plow.bottoms.x.si(), soil_z_m),
        soil_slope,
        soil_draft: Force::from_n(soil_draft_n),
    }
}

/// A run of the described plow with no errors at all.
pub(super) fn run_of(plow: &Plow, holes: &Setting, soil_slope: f64, front_measured: bool) -> RunFigures {
    let loads = truth(plow, holes, soil_slope, -0.10, 7_500.0).loads().unwrap();
    let run = figures(loads.pull.n(), loads.tail_load.n().max(0.0), plow);
    RunFigures { front_load: front_measured.then(|| front(loads.front_load.n(), 20.0)), ..run }
}

/// A mean front load, and half of the interval of its readings.
fn front(n: f64, half_width_n: f64) -> MeanForce {
    MeanForce::front(Estimate::from_si(Estimate::around(n, half_width_n).unwrap()))
}

/// A plow, what its owner wrote down of it, and a run.
pub(super) struct Study {
    pub(super) described: Plow,
    pub(super) side: SideView,
    pub(super) run: RunFigures,
}

/// How the truth is drawn.
#[derive(Clone, Copy)]
pub(super) struct Field {
    pub(super) share: ShareCondition,
    pub(super) soil_slope: Distribution,
    /// Height of the soil force over the depth, below the land.
    pub(super) soil_depth_share: Distribution,
    pub(super) front_measured: bool,
}

pub(super) const SHARP: Field = Field {
    share: ShareCondition::Sharp,
    soil_slope: Distribution::Uniform { low: -0.2, high: 0.0 },
    soil_depth_share: Distribution::Uniform { low: 0.3, high: 0.75 },
    front_measured: false,
};

/// Draws a plow whose true balance index is `index`, by the height of its hole at the plow, and what was
/// measured of it; `None` if no height gives that index.
pub(super) fn study(field: Field, index: f64, rng: &mut ChaCha8Rng) -> Option<Study> {
    let mut described = PlowToml::from(plow());
    described.bottoms.share = field.share;
    let soil_slope = field.soil_slope.draw(rng);
    let soil_z_m = -0.18 * field.soil_depth_share.draw(rng);
    let draft_n = Distribution::Uniform { low: 6_000.0, high: 9_500.0 }.draw(rng);
    let at_height = |z_m: f64| {
        let mut side = truth(&plow(), &setting("1", "4"), soil_slope, soil_z_m, draft_n);
        side.plow_hitch.z = Length::from_m(z_m);
        side.tractor_hitch =
            tractor_pin(side.plow_hitch, Length::from_m(0.3302), Length::from_m(1.12)).ok()?;
        Some((side, side.loads().ok()?))
    };
    let (mut low_m, mut high_m) = (-0.3, 0.7);
    for _ in 0..60 {
        let middle_m = (low_m + high_m) / 2.0;
        if at_height(middle_m)?.1.balance_index < index { low_m = middle_m } else { high_m = middle_m }
    }
    let (side, loads) = at_height(low_m)?;
    if (loads.balance_index - index).abs() > 1e-6 {
        return None;
    }
    let mut off = |half_width: f64| Distribution::Normal { mean: 0.0, sd: half_width / 1.96 }.draw(rng);
    described.weight.total = Measured::exactly_as_read(Force::from_n(3_400.0 * (1.0 + off(0.03))));
    for (length, half_width_m) in [
        (&mut described.weight.x, 0.01),
        (&mut described.tail_wheel.as_mut().unwrap().x, 0.01),
        (&mut described.plow_hitch.x, 0.01),
        (&mut described.bottoms.x, 0.01),
        (&mut described.drawbar.as_mut().unwrap().length, 0.01),
    ] {
        *length = Measured::exactly_as_read(Length::from_m(length.si() + off(half_width_m)));
    }
    let plow_z_m = side.plow_hitch.z.m() + off(0.005);
    let tractor_off_m = off(0.005);
    for hole in described.plow_hitch.holes.iter_mut().filter(|hole| hole.name == "4") {
        hole.z = Measured::exactly_as_read(Length::from_m(plow_z_m));
    }
    for hole in &mut described.tractor_hitch.holes {
        hole.z = Measured::exactly_as_read(Length::from_m(hole.z.si() + tractor_off_m));
    }
    let described = Plow::try_from(described).unwrap();
    let pull_n = loads.pull.n() * (1.0 + off(0.022));
    let tail_n = (loads.tail_load.n() * (1.0 + off(0.05)) + off(35.0)).max(0.0);
    let mut run = figures(pull_n, tail_n, &described);
    if field.front_measured {
        let front_n = loads.front_load.n() * (1.0 + off(0.032));
        run.front_load = Some(front(front_n, 0.01 * front_n));
    }
    Some(Study { described, side, run })
}
