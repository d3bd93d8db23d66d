//! Which measurement would tighten the balance index most.
//!
//! Each candidate is a measurement with a stated accuracy; how narrow the index would be with it is worked out from
//! the draws of the run (`preposterior.rs`), so the order is that of this run, not of a list.

use super::draw::Draw;
use super::inputs::{Input, Inputs, RunFigures, pin_pose_m};
use super::plow_model::PlowModel;
use super::predict::{PinShift, State};
use super::preposterior::expected_half_width;
use super::soil::{SLOPE_PASS_SD, SoilHeight};
use crate::stats::descriptive::percentiles;
use crate::stats::student::Z_975;
use crate::units_out::Units;
use ingest::plow::{Kind, Plow, Setting};
use ingest::safety::BEFORE_HANDS;
use serde::Serialize;

/// Draws that are looked at.
const DRAWS_MAX: usize = 2_000;
/// Lines that are told.
const TOLD_MAX: usize = 3;
/// A candidate that narrows the index by less than this share is not worth a line.
const NARROWER_BY_MIN: f64 = 0.10;
/// Seed of the outcomes.
const SEED: u64 = 0x7167;

/// Better values, half of a 95 % interval each, that a careful person reaches (by choice).
const WEIGHT_SHARE: f64 = 0.01;
const PLACE_M: f64 = 0.005;
const HOLE_M: f64 = 0.002;
const PULL_SHARE: f64 = 0.01;
const TAIL_SHARE: f64 = 0.02;
const FRONT_SHARE: f64 = 0.03;
const PITCH_DEG: f64 = 0.3;
const READING_SHARE: f64 = 0.02;

/// A measurement and what it would do.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct NextMeasurement {
    /// What to measure, and how well.
    pub what: String,
    /// Half of the 95 % interval of b now.
    pub half_width_now: f64,
    /// The same to be expected with it.
    pub half_width_then: f64,
    /// What is to be done before hands go to the plow: each of these measurements brings them there.
    pub caution: &'static str,
}

/// What can be measured: a quantity as each draw has it, and the standard uncertainty of the measurement.
struct Candidate {
    what: String,
    values: Vec<f64>,
    sd: f64,
}

/// The three measurements that would tighten b most, the best first; fewer if fewer would do anything.
#[must_use]
pub fn next_measurements(
    plow: &Plow,
    setting: &Setting,
    run: &RunFigures,
    draws: &[Draw],
    units: Units,
) -> Vec<NextMeasurement> {
    let every = (draws.len() / DRAWS_MAX).max(1);
    let some: Vec<&Draw> = draws.iter().step_by(every).take(DRAWS_MAX).collect();
    let index: Vec<f64> = some.iter().map(|draw| draw.loads.bounded_balance_index()).collect();
    let ends = percentiles(&index, &[2.5, 97.5]).ok().and_then(|ends| <[f64; 2]>::try_from(ends).ok());
    let Some([low, high]) = ends else { return Vec::new() };
    let half_width_now = (high - low) / 2.0;
    let asked = Asked { plow, setting, run, some: &some, units };
    let mut told: Vec<NextMeasurement> = asked
        .candidates()
        .into_iter()
        .filter_map(|one| {
            let half_width_then = expected_half_width(&index, &one.values, one.sd, SEED)?;
            Some(NextMeasurement { what: one.what, half_width_now, half_width_then, caution: BEFORE_HANDS })
        })
        .filter(|one| one.half_width_then < (1.0 - NARROWER_BY_MIN) * half_width_now)
        .collect();
    told.sort_by(|one, other| one.half_width_then.total_cmp(&other.half_width_then));
    told.truncate(TOLD_MAX);
    told
}

struct Asked<'a> {
    plow: &'a Plow,
    setting: &'a Setting,
    run: &'a RunFigures,
    some: &'a [&'a Draw],
    units: Units,
}

impl Asked<'_> {
    fn candidates(&self) -> Vec<Candidate> {
        let mut all = self.of_the_description();
        all.extend(self.of_the_sensors());
        all.extend(self.another_pass());
        all
    }

    fn values(&self, of: impl Fn(&Draw) -> f64) -> Vec<f64> {
        self.some.iter().map(|draw| of(draw)).collect()
    }

    /// A measurement of an input to half of a 95 % interval, beside an independent standard deviation.
    fn again(&self, what: String, input: Input, half_width: f64, also_sd: f64) -> Candidate {
        let values = self.values(|draw| draw.inputs[input]);
        Candidate { what, values, sd: (half_width / Z_975).hypot(also_sd) }
    }

    /// What tape and scale can better, where they have not done so yet.
    fn of_the_description(&self) -> Vec<Candidate> {
        let (plow, units) = (self.plow, self.units);
        let distributions = Inputs::of_plow(plow, self.setting);
        let parts = plow.part_names();
        let (place, hole) = (units.height(PLACE_M), units.height(HOLE_M));
        let weight_n = WEIGHT_SHARE * plow.weight.total.si();
        let (_, pose_sd_m) = pin_pose_m(plow, self.run);
        let place_of = |what: &str| format!("measure the place of {what} again, to {place}");
        [
            ("weigh the whole plow again, to 1 %".to_owned(), Input::Weight, weight_n, 0.0),
            (
                format!("weigh front and tail apart, for the place of the weight to {place}"),
                Input::WeightPlace,
                PLACE_M,
                0.0,
            ),
            (place_of(&format!("the {}", parts.tail)), Input::TailPlace, PLACE_M, 0.0),
            (place_of("the hitch at the plow"), Input::PlowHitchPlace, PLACE_M, 0.0),
            (place_of("the bottoms"), Input::BottomsPlace, PLACE_M, 0.0),
            (
                format!("measure the length of the {} again, to {place}", parts.member),
                Input::MemberLength,
                PLACE_M,
                0.0,
            ),
            (
                format!("measure the height of the hole at the plow again, to {hole}"),
                Input::PlowHoleHeight,
                HOLE_M,
                pose_sd_m,
            ),
            (
                format!("measure {} again, to {hole}", Input::TractorHoleHeight.words(&parts)),
                Input::TractorHoleHeight,
                HOLE_M,
                0.0,
            ),
        ]
        .into_iter()
        .filter(|(_, input, ..)| *input != Input::TractorHoleHeight || self.run.drawbar_deg.is_none())
        .filter(|(_, input, half_width, _)| distributions[*input].standard_uncertainty() > half_width / Z_975)
        .map(|(what, input, half_width, also_sd)| self.again(what, input, half_width, also_sd))
        .collect()
    }

    /// Sensors that are missing, and calibrations that could be better.
    fn of_the_sensors(&self) -> Vec<Candidate> {
        let (plow, run) = (self.plow, self.run);
        let parts = plow.part_names();
        let mut all = Vec::new();
        let pull_n = run.pull.mean_n.value.abs();
        let readings_n = run.pull.readings_sd_n();
        all.push(self.again(
            "calibrate the pull sensor again, to 1 %".to_owned(),
            Input::Pull,
            PULL_SHARE * pull_n,
            readings_n,
        ));
        if let Some(tail) = run.tail_load {
            let (half_n, readings_n) = (TAIL_SHARE * tail.mean_n.value.abs(), tail.readings_sd_n());
            let what = format!("calibrate the load of the {} again, to 2 %", parts.tail);
            all.push(self.again(what, Input::TailLoad, half_n, readings_n.max(1.0)));
        }
        if run.tail_load.is_none() {
            let values = self.values(|draw| draw.loads.tail_load_n);
            let mean_n = values.iter().sum::<f64>() / values.len().max(1) as f64;
            let what = format!("add a load cell for the {}, good to 3 %", parts.tail_load);
            all.push(Candidate { what, values, sd: (FRONT_SHARE * mean_n.abs() / Z_975).max(1.0) });
        }
        if run.front_load.is_none() {
            let values = self.values(|draw| draw.loads.front_load_n);
            let mean_n = values.iter().sum::<f64>() / values.len().max(1) as f64;
            let what = format!("add a sensor for the {}, good to 3 %", parts.front_load);
            all.push(Candidate { what, values, sd: (FRONT_SHARE * mean_n.abs() / Z_975).max(1.0) });
        }
        // The pin turns about the front carrier only where that stands on the ground.
        if run.pitch_deg.is_none() && matches!(plow.kind(), Kind::Trailed | Kind::Walking) {
            let pitch_deg = crate::stats::Estimate::around(0.0, PITCH_DEG);
            let (_, pose_sd_m) = pin_pose_m(plow, &RunFigures { pitch_deg, ..*run });
            let hole_m = Inputs::of_plow(plow, self.setting).plow_hole_height;
            let sd_m = pose_sd_m.hypot(hole_m.standard_uncertainty());
            let what = "add a sensor for the pitch of the frame, good to 0.3 degrees".to_owned();
            all.push(self.again(what, Input::PlowHoleHeight, 0.0, sd_m));
        }
        all
    }

    /// One more pass in the hole at the tractor that tells most: the one that moves the load farthest, of those
    /// in which all carriers still carry.
    fn another_pass(&self) -> Option<Candidate> {
        let plow_model = PlowModel::of(self.plow);
        let (read_n, of): (f64, fn(&Draw) -> f64) = match (self.run.tail_load, self.run.front_load) {
            (Some(tail), _) => (tail.mean_n.value, |draw| draw.loads.tail_load_n),
            (None, Some(front)) => (front.mean_n.value, |draw| draw.loads.front_load_n),
            (None, None) => return None,
        };
        let by_tail = self.run.tail_load.is_some();
        let load = |draw: &Draw, tractor_m: f64| {
            let loads = State::from(draw).moved(&plow_model, PinShift { plow_m: 0.0, tractor_m }).ok()?;
            let (front_n, tail_n) = loads.carried_loads_n();
            Some(if by_tail { tail_n } else { front_n })
        };
        let now_m = self.setting.tractor_hole.z.si();
        let mut best: Option<(f64, Candidate)> = None;
        for hole in &self.plow.tractor_hitch.holes {
            let tractor_m = hole.z.si() - now_m;
            if tractor_m.abs() < 1e-3 {
                continue;
            }
            // What the sensor is wrong by in this draw, it would be wrong by again.
            let values: Option<Vec<f64>> =
                self.some.iter().map(|draw| Some(load(draw, tractor_m)? + read_n - of(draw))).collect();
            let Some(values) = values else { continue };
            let lifted = self.some.iter().filter(|draw| load(draw, tractor_m).is_none_or(|n| n <= 0.0));
            if lifted.count() * 20 > self.some.len() {
                continue;
            }
            let mean_n = values.iter().sum::<f64>() / values.len().max(1) as f64;
            if best.as_ref().is_some_and(|best| best.0 >= (mean_n - read_n).abs()) {
                continue;
            }
            let sd = (READING_SHARE * mean_n.abs() / Z_975).hypot(self.pass_sd_n(tractor_m, &load)?);
            let what = format!(
                "drive one more pass with hole {} at the {}, and take the runs together",
                hole.name,
                self.plow.part_names().puller
            );
            best = Some(((mean_n - read_n).abs(), Candidate { what, values, sd }));
        }
        best.map(|best| best.1)
    }

    /// What pose and soil of another pass move the load by, standard deviation.
    fn pass_sd_n(&self, tractor_m: f64, load: &impl Fn(&Draw, f64) -> Option<f64>) -> Option<f64> {
        let depth_m = self.run.depth_m.unwrap_or_else(|| self.plow.bottoms.depth.m());
        let (_, height_m) = SoilHeight::of(self.plow, depth_m).shared_and_own_sd_m(depth_m);
        let (_, pose_m) = pin_pose_m(self.plow, self.run);
        let draw = self.some.iter().find(|draw| load(draw, tractor_m).is_some())?;
        let here_n = load(draw, tractor_m)?;
        let changed = |change: fn(&mut Draw, f64), by: f64| {
            let mut other = **draw;
            change(&mut other, by);
            load(&other, tractor_m).map_or(0.0, |n| n - here_n)
        };
        let slope_n = changed(|draw, by| draw.side.soil_slope += by, SLOPE_PASS_SD);
        let height_n = changed(|draw, by| draw.side.soil_at.z_m += by, height_m);
        let pose_n = changed(
            |draw, by| {
                let z_m = draw.inputs.plow_hole_height;
                draw.inputs.plow_hole_height = z_m + by;
            },
            pose_m,
        );
        // The first pass had a pose and a soil of its own too.
        Some(std::f64::consts::SQRT_2 * slope_n.hypot(height_n).hypot(pose_n))
    }
}
