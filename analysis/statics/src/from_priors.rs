//! Studies of which the truth is drawn from what the analysis takes for granted: there its intervals have to hold
//! as often as they say, neither less nor more.
//!
//! They are put together here from the distributions of the inputs, not by the code that takes runs together.

use crate::distribution::Distribution;
use crate::inputs::{DRAWBAR_ZERO_HALF_WIDTH_DEG, Input, Inputs, MeanForce, RunFigures, pin_pose};
use crate::joint::{GAIN_MODEL_SD_N_PER_N, RunReadings};
use crate::plow_model::{PlowModel, link_forces, standing_loads};
use crate::side::Loads;
use crate::soil::{SLOPE_PASS_SD, SoilHeight};
use ingest::plow::{Plow, Setting, ShareCondition, read_plow};
use ingest::quantity::{Force, Length};
use rand::RngExt;
use rand_chacha::ChaCha8Rng;
use stats::Estimate;
use stats::student::Z_975;
use std::collections::BTreeMap;
use std::path::Path;

/// Which loads the plow of a study measures.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Sensed {
    Tail,
    /// By a load cell.
    TailCell,
    Front,
    /// The force along the top link, with the pull.
    TopLink,
    /// The forces along both kinds of link, and no pull.
    AllLinks,
    /// None: the inclination of the drawbar and the pitch.
    Inclination,
}

/// A kind of plow: its name, the file of its example and what it measures besides pull and depth.
pub(crate) type Kind = (&'static str, &'static str, Sensed);

/// All plows are invented.
pub(crate) const KINDS: [Kind; 3] = [
    ("trailed, tail wheel", "two-bottom.toml", Sensed::Tail),
    ("trailed, rolling landside, front load", "three-bottom-rolling-landside.toml", Sensed::Front),
    ("semi-mounted, tail wheel", "four-bottom-semi-mounted.toml", Sensed::Tail),
];

pub(crate) fn example(file: &str) -> Plow {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../sample-runs/plows");
    let mut plow = read_plow(&folder.join(file)).unwrap();
    plow.bottoms.soil_force_z = None;
    plow
}

/// What is true of a run.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Truth {
    pub(crate) loads: Loads,
    pub(crate) soil_slope: f64,
}

/// How the passes of a study go.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Plan {
    pub(crate) sensed: Sensed,
    pub(crate) passes: usize,
    /// Whether slope and height of the soil force vary from pass to pass.
    pub(crate) varies: bool,
    /// Whether pitch and gain are measured too.
    pub(crate) richly: bool,
    /// Centre and spread of the true slope over those that the analysis takes for granted.
    pub(crate) slope_off: (f64, f64),
}

/// How far the tractor's pin is off its height in the yard, standard deviation, where the inclination is measured.
const SQUAT_SD_M: f64 = 0.025;

const NORMAL: Distribution = Distribution::Normal { mean: 0.0, sd: 1.0 };

/// Draws a plow of random share condition, and runs of it in random settings; `None` if one of them cannot be.
pub(crate) fn runs(
    plow: &mut Plow,
    plan: Plan,
    rng: &mut ChaCha8Rng,
) -> Option<(Vec<Truth>, Vec<RunReadings>)> {
    let conditions = [ShareCondition::Sharp, ShareCondition::Blunt, ShareCondition::Worn];
    plow.bottoms.share = conditions[rng.random_range(0..3)];
    let plow_model = PlowModel::of(plow);
    let settings: Vec<Setting> = (0..plan.passes).map(|_| any_setting(plow, rng)).collect();
    let first = Inputs::of_plow(plow, &settings[0]);
    let shared = first.draw(rng);
    let prior = first.soil_slope;
    let slope = prior.centre() + plan.slope_off.0 + plan.slope_off.1 * (prior.draw(rng) - prior.centre());
    let height_u = NORMAL.draw(rng);
    let rows = [NORMAL.draw(rng), NORMAL.draw(rng)];
    let off = [NORMAL.draw(rng), NORMAL.draw(rng)];
    let n_per_cm2 = Distribution::Uniform { low: 3.0, high: 7.0 }.draw(rng);
    let depth_m = plow.bottoms.depth.m();
    let mut own: BTreeMap<(Input, String), f64> = BTreeMap::new();
    let (mut truths, mut evidence) = (Vec::new(), Vec::new());
    for (number, setting) in settings.into_iter().enumerate() {
        let distributions = Inputs::of_plow(plow, &setting);
        let mut inputs = shared;
        for (row, input, name) in [
            (rows[0], Input::PlowHoleHeight, &setting.plow_hole.name),
            (rows[1], Input::TractorHoleHeight, &setting.tractor_hole.name),
        ] {
            let own = *own.entry((input, name.clone())).or_insert_with(|| NORMAL.draw(rng));
            let (height, error) = (distributions[input], (row + own) * std::f64::consts::FRAC_1_SQRT_2);
            inputs[input] = height.centre() + height.standard_uncertainty() * error;
        }
        let inclined = plan.sensed == Sensed::Inclination;
        let pitch_deg = Estimate::around(1.5 * NORMAL.draw(rng), 0.1).filter(|_| plan.richly || inclined);
        let no_pull = MeanForce::pull(Estimate::from_si(Estimate::exact(0.0)?));
        let blank = RunFigures {
            depth: Some(Length::from_m(depth_m)),
            pitch: pitch_deg.map(Estimate::from_si),
            ..RunFigures::of_pull(no_pull)
        };
        let (higher, pose_sd) = pin_pose(plow, &blank);
        inputs.plow_hole_height = inputs.plow_hole_height + higher.m() + pose_sd.m() * NORMAL.draw(rng);
        if inclined {
            // The tractor does not stand in the field as it did in the yard.
            inputs.tractor_hole_height += SQUAT_SD_M * NORMAL.draw(rng);
        }
        let height = SoilHeight::of(plow, plow.bottoms.depth);
        let (shared, own) = height.shared_and_own_sd(plow.bottoms.depth);
        let (slope, z_m) = match plan.varies {
            true => (
                slope + SLOPE_PASS_SD * NORMAL.draw(rng),
                height.mean.m() + shared.m() * height_u + own.m() * NORMAL.draw(rng),
            ),
            false => (slope, height.mean.m() + height.sd.m() * height_u),
        };
        if height.likeliness(Length::from_m(z_m)) == 0.0 {
            return None;
        }
        inputs.soil_slope = slope;
        inputs.soil_height = z_m;
        let mut side = plow_model.side_view(&inputs).ok()?;
        side.soil_draft = Force::from_n(n_per_cm2 * plow.total_cut_m() * depth_m * 1e4);
        let loads = side.loads().ok()?;
        if loads.tail_load.n() <= 0.0 || loads.front_load.n() <= 0.0 {
            return None;
        }
        let standing = standing_loads(plow, &setting).ok()?.1;
        let mut read = |force: Force, of: &dyn Fn(Estimate<Force>) -> MeanForce, calibration: f64| {
            let (force_n, true_half_n) = (force.n(), 5.0 + 0.01 * force.n().abs());
            let about = of(Estimate::from_si(Estimate::around(force_n, true_half_n)?));
            let read_n = force_n
                + about.calibration_sd().n() * calibration
                + about.readings_sd().n() * NORMAL.draw(rng);
            Estimate::around(read_n, true_half_n).map(Estimate::from_si).map(of)
        };
        let mut figures = RunFigures { pull: read(loads.pull, &MeanForce::pull, off[0])?, ..blank };
        let tail = |n| MeanForce::tail(n, standing);
        let link = |n| MeanForce::link(n, loads.pull);
        let links = plow_model.links(&inputs).ok().filter(|_| plow_model.hangs_on_links());
        let links = links.map(|links| link_forces(&links, loads.pull_x, loads.front_load));
        match plan.sensed {
            Sensed::Tail => figures.tail_load = Some(read(loads.tail_load, &tail, off[1])?),
            Sensed::TailCell => {
                figures.tail_load = Some(read(loads.tail_load, &MeanForce::tail_cell, off[1])?)
            }
            Sensed::Front => figures.front_load = Some(read(loads.front_load, &MeanForce::front, off[1])?),
            Sensed::TopLink => figures.top_link = Some(read(links?.1, &link, off[1])?),
            Sensed::AllLinks => {
                figures.lower_links = Some(read(links?.0, &link, off[0])?);
                figures.top_link = Some(read(links?.1, &link, off[1])?);
                figures.pull_from_links = true;
            }
            Sensed::Inclination => {
                let off_deg = DRAWBAR_ZERO_HALF_WIDTH_DEG.hypot(0.1) / Z_975 * off[1];
                let angle_deg = loads.drawbar_slope.atan().to_degrees() + off_deg;
                figures.drawbar_angle = Estimate::around(angle_deg, 0.1).map(Estimate::from_si);
            }
        }
        // A load that reads below 0 is no load.
        if figures.tail_load.or(figures.front_load).is_some_and(|load| load.mean.value.n() <= 0.0) {
            return None;
        }
        let gain = loads.expected_gain_n_per_n + (GAIN_MODEL_SD_N_PER_N.hypot(0.01)) * NORMAL.draw(rng);
        truths.push(Truth { loads, soil_slope: slope });
        evidence.push(RunReadings {
            name: format!("run {}", number + 1),
            setting_name: format!("{}-{}", setting.plow_hole.name, setting.tractor_hole.name),
            setting,
            figures,
            gain_n_per_n: Estimate::around(gain, 0.0196).filter(|_| plan.richly),
        });
    }
    Some((truths, evidence))
}

fn any_setting(plow: &Plow, rng: &mut ChaCha8Rng) -> Setting {
    let (at_plow, at_tractor) = (&plow.plow_hitch.holes, &plow.tractor_hitch.holes);
    Setting {
        plow_hole: at_plow[rng.random_range(0..at_plow.len())].clone(),
        tractor_hole: at_tractor[rng.random_range(0..at_tractor.len())].clone(),
        lateral_offset: None,
    }
}
