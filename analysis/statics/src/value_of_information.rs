//! Which measurement would narrow the balance index most.
//!
//! Each candidate is a measurement with a stated accuracy; how narrow the index would be with it is worked out from
//! the draws of the run, so the order is that of this run, not of a list.

use super::draw::Draw;
use super::inputs::{Input, Inputs, RunFigures, pin_pose};
use super::plow_model::PlowModel;
use super::predict::{PinShift, State};
use super::soil::{SLOPE_PASS_SD, SoilHeight};
use ingest::plow::{Kind, Plow, Setting};
use ingest::quantity::{Angle, Length, in_si};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};
use schemars::JsonSchema;
use serde::Serialize;
use stats::descriptive::percentiles;
use stats::student::Z_975;

/// Draws that are looked at.
const DRAWS_MAX: usize = 2_000;
/// Lines that are told.
const TOLD_MAX: usize = 3;
/// A candidate that narrows the index by less than this share is not worth a line.
const NARROWER_BY_MIN: f64 = 0.10;
/// Seed of the outcomes.
pub const OUTCOMES_SEED: u64 = 0x7167;
/// Outcomes of a measurement that are looked at.
const OUTCOMES: usize = 64;

/// Better values, half of a 95 % interval each, that a careful person reaches (by choice).
const WEIGHT_SHARE: f64 = 0.01;
const PLACE_M: f64 = 0.005;
const HOLE_M: f64 = 0.002;
const PULL_SHARE: f64 = 0.01;
const TAIL_SHARE: f64 = 0.02;
const CELL_SHARE: f64 = 0.03;
const PITCH_DEG: f64 = 0.3;
const READING_SHARE: f64 = 0.02;

/// A measurement and what it would do.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct NextMeasurement {
    /// What to measure.
    pub what: Measurement,
    /// How well.
    pub to: Accuracy,
    /// Half of the 95 % interval of b now.
    pub half_width_now: f64,
    /// The same to be expected with it.
    pub half_width_then: f64,
}

/// What can be measured next.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Measurement {
    /// An entry of the description, or a sensor's calibration, again.
    Again(Input),
    /// The load of what carries the tail, with a cell that is not there yet.
    AddTailLoad,
    /// The load of what carries the front, with a sensor that is not there yet.
    AddFrontLoad,
    /// The pitch of the frame, with a sensor that is not there yet.
    AddPitch,
    /// One more pass, in this hole at the tractor.
    Pass {
        /// Name of the hole.
        tractor_hole: String,
    },
}

/// How well something is measured: half of a 95 % interval.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Accuracy {
    /// Of what is measured.
    Share(f64),
    /// Of a length.
    #[serde(rename = "m", serialize_with = "in_si")]
    Length(Length),
    /// Of an angle.
    #[serde(rename = "deg", serialize_with = "in_si")]
    Angle(Angle),
}

/// What can be measured: a quantity as each draw has it, and the standard uncertainty of the measurement.
struct Candidate {
    what: Measurement,
    to: Accuracy,
    values: Vec<f64>,
    sd: f64,
}

/// The three measurements that would narrow b most, the best first; fewer if fewer would do anything.
pub fn next_measurements(
    plow: &Plow,
    setting: &Setting,
    run: &RunFigures,
    draws: &[Draw],
) -> Vec<NextMeasurement> {
    let every = (draws.len() / DRAWS_MAX).max(1);
    let some: Vec<&Draw> = draws.iter().step_by(every).take(DRAWS_MAX).collect();
    let index: Vec<f64> = some.iter().map(|draw| draw.loads.bounded_balance_index()).collect();
    let ends = percentiles(&index, &[2.5, 97.5]).ok().and_then(|ends| <[f64; 2]>::try_from(ends).ok());
    let Some([low, high]) = ends else { return Vec::new() };
    let half_width_now = (high - low) / 2.0;
    let asked = Asked { plow, setting, run, some: &some };
    let candidates = asked.of_the_description().into_iter().chain(asked.of_the_sensors());
    let mut told: Vec<NextMeasurement> = candidates
        .chain(asked.another_pass())
        .filter_map(|one| {
            let half_width_then = expected_half_width(&index, &one.values, one.sd, OUTCOMES_SEED)?;
            Some(NextMeasurement { what: one.what, to: one.to, half_width_now, half_width_then })
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
}

impl Asked<'_> {
    fn values(&self, of: impl Fn(&Draw) -> f64) -> Vec<f64> {
        self.some.iter().map(|draw| of(draw)).collect()
    }

    /// A measurement of an input to half of a 95 % interval, beside an independent standard deviation.
    fn again(&self, input: Input, (to, half_width): (Accuracy, f64), also_sd: f64) -> Candidate {
        let values = self.values(|draw| draw.inputs[input]);
        Candidate { what: Measurement::Again(input), to, values, sd: (half_width / Z_975).hypot(also_sd) }
    }

    /// What tape and scale can better, where they have not done so yet.
    fn of_the_description(&self) -> Vec<Candidate> {
        let distributions = Inputs::of_plow(self.plow, self.setting);
        let weight_n = WEIGHT_SHARE * self.plow.weight.total.si();
        let pose_sd_m = pin_pose(self.plow, self.run).1.m();
        let length = |to_m: f64| (Accuracy::Length(Length::from_m(to_m)), to_m);
        [
            (Input::Weight, (Accuracy::Share(WEIGHT_SHARE), weight_n), 0.0),
            (Input::WeightPlace, length(PLACE_M), 0.0),
            (Input::TailPlace, length(PLACE_M), 0.0),
            (Input::PlowHitchPlace, length(PLACE_M), 0.0),
            (Input::BottomsPlace, length(PLACE_M), 0.0),
            (Input::MemberLength, length(PLACE_M), 0.0),
            (Input::PlowHoleHeight, length(HOLE_M), pose_sd_m),
            (Input::TractorHoleHeight, length(HOLE_M), 0.0),
        ]
        .into_iter()
        .filter(|(input, ..)| *input != Input::TractorHoleHeight || self.run.drawbar_angle.is_none())
        .filter(|(input, (_, half), _)| distributions[*input].standard_uncertainty() > half / Z_975)
        .map(|(input, to, also_sd)| self.again(input, to, also_sd))
        .collect()
    }

    /// Sensors that are missing, and calibrations that could be better.
    fn of_the_sensors(&self) -> Vec<Candidate> {
        let (plow, run) = (self.plow, self.run);
        let share = |share: f64, of_n: f64| (Accuracy::Share(share), share * of_n.abs());
        let pull = share(PULL_SHARE, run.pull.mean.value.n());
        let mut all = vec![self.again(Input::Pull, pull, run.pull.readings_sd().n())];
        if let Some(tail) = run.tail_load {
            let readings_n = tail.readings_sd().n().max(1.0);
            all.push(self.again(Input::TailLoad, share(TAIL_SHARE, tail.mean.value.n()), readings_n));
        } else {
            all.push(self.new_cell(Measurement::AddTailLoad, |draw| draw.loads.tail_load.n()));
        }
        if run.front_load.is_none() {
            all.push(self.new_cell(Measurement::AddFrontLoad, |draw| draw.loads.front_load.n()));
        }
        // The pin turns about the front carrier only where that stands on the ground.
        if run.pitch.is_none() && matches!(plow.kind(), Kind::Trailed | Kind::Walking) {
            let pitch = stats::Estimate::around(0.0, PITCH_DEG).map(stats::Estimate::from_si);
            let pose_sd_m = pin_pose(plow, &RunFigures { pitch, ..*run }).1.m();
            let hole_m = Inputs::of_plow(plow, self.setting).plow_hole_height;
            let sd_m = pose_sd_m.hypot(hole_m.standard_uncertainty());
            let to = (Accuracy::Angle(Angle::from_deg(PITCH_DEG)), 0.0);
            let what = Measurement::AddPitch;
            all.push(Candidate { what, ..self.again(Input::PlowHoleHeight, to, sd_m) });
        }
        all
    }

    /// A load that no sensor gives yet.
    fn new_cell(&self, what: Measurement, load_n: impl Fn(&Draw) -> f64) -> Candidate {
        let values = self.values(load_n);
        let mean_n = mean(&values);
        let sd = (CELL_SHARE * mean_n.abs() / Z_975).max(1.0);
        Candidate { what, to: Accuracy::Share(CELL_SHARE), values, sd }
    }

    /// One more pass in the hole at the tractor that tells most: the one that moves the load farthest, of those
    /// in which all carriers still carry.
    fn another_pass(&self) -> Option<Candidate> {
        let plow_model = PlowModel::of(self.plow);
        let (read_n, of): (f64, fn(&Draw) -> f64) = match (self.run.tail_load, self.run.front_load) {
            (Some(tail), _) => (tail.mean.value.n(), |draw| draw.loads.tail_load.n()),
            (None, Some(front)) => (front.mean.value.n(), |draw| draw.loads.front_load.n()),
            (None, None) => return None,
        };
        let by_tail = self.run.tail_load.is_some();
        let load = |draw: &Draw, tractor_m: f64| {
            let shift = PinShift { tractor: Length::from_m(tractor_m), ..PinShift::default() };
            let (front, tail) = State::from(draw).moved(&plow_model, shift).ok()?.carried_loads();
            Some(if by_tail { tail.n() } else { front.n() })
        };
        let now_m = self.setting.tractor_hole.z.si();
        let mut best: Option<(f64, Candidate)> = None;
        for hole in &self.plow.tractor_hitch.holes {
            let tractor_m = hole.z.si() - now_m;
            if tractor_m.abs() < 1e-3 {
                continue;
            }
            let loads_n: Option<Vec<f64>> = self.some.iter().map(|draw| load(draw, tractor_m)).collect();
            let Some(loads_n) = loads_n else { continue };
            if loads_n.iter().filter(|n| **n <= 0.0).count() * 20 > self.some.len() {
                continue;
            }
            // What the sensor is wrong by in this draw, it would be wrong by again.
            let values = self.some.iter().zip(loads_n).map(|(draw, load_n)| load_n + read_n - of(draw));
            let values: Vec<f64> = values.collect();
            let mean_n = mean(&values);
            if best.as_ref().is_some_and(|best| best.0 >= (mean_n - read_n).abs()) {
                continue;
            }
            let sd = (READING_SHARE * mean_n.abs() / Z_975).hypot(self.pass_sd_n(tractor_m, &load)?);
            let what = Measurement::Pass { tractor_hole: hole.name.clone() };
            let to = Accuracy::Share(READING_SHARE);
            best = Some(((mean_n - read_n).abs(), Candidate { what, to, values, sd }));
        }
        best.map(|best| best.1)
    }

    /// What pose and soil of another pass move the load by, standard deviation.
    fn pass_sd_n(&self, tractor_m: f64, load: &impl Fn(&Draw, f64) -> Option<f64>) -> Option<f64> {
        let depth = self.run.depth_or_described(self.plow);
        let height_m = SoilHeight::of(self.plow, depth).shared_and_own_sd(depth).1.m();
        let pose_m = pin_pose(self.plow, self.run).1.m();
        let draw = self.some.iter().find(|draw| load(draw, tractor_m).is_some())?;
        let here_n = load(draw, tractor_m)?;
        let changed = |change: fn(&mut Draw, f64), by: f64| {
            let mut other = **draw;
            change(&mut other, by);
            load(&other, tractor_m).map(|n| n - here_n)
        };
        let slope_n = changed(|draw, by| draw.side.soil_slope += by, SLOPE_PASS_SD)?;
        let height_n =
            changed(|draw, by| draw.side.soil_at.z = Length::from_m(draw.side.soil_at.z.m() + by), height_m)?;
        let pose_n = changed(|draw, by| draw.inputs.plow_hole_height += by, pose_m)?;
        // The first pass had a pose and a soil of its own too.
        Some(std::f64::consts::SQRT_2 * slope_n.hypot(height_n).hypot(pose_n))
    }
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len().max(1) as f64
}

/// Half of the central 95 % of `figures`, expected after a measurement of the quantity that has these `values`
/// in the same draws, with a standard uncertainty of `sd` above 0.
///
/// Each outcome is the value of one draw with an error; each draw is weighted by how likely it makes that outcome.
/// `None` without draws.
fn expected_half_width(figures: &[f64], values: &[f64], sd: f64, seed: u64) -> Option<f64> {
    let mut pairs: Vec<(f64, f64)> = figures.iter().copied().zip(values.iter().copied()).collect();
    if pairs.is_empty() {
        return None;
    }
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let every = (values.len() / OUTCOMES).max(1);
    let mut error = || -> f64 { StandardNormal.sample(&mut rng) };
    let outcomes: Vec<f64> = values.iter().step_by(every).map(|value| value + sd * error()).collect();
    pairs.sort_by(|a, b| a.0.total_cmp(&b.0));
    let half_widths = outcomes.iter().map(|outcome| weighted_half_width(&pairs, *outcome, sd));
    Some(half_widths.sum::<Option<f64>>()? / outcomes.len() as f64)
}

/// `pairs` of figure and value, sorted by the figure; `None` where a weight is no number.
fn weighted_half_width(pairs: &[(f64, f64)], outcome: f64, sd: f64) -> Option<f64> {
    let weight = |value: f64| (-0.5 * ((value - outcome) / sd).powi(2)).exp();
    let total: f64 = pairs.iter().map(|pair| weight(pair.1)).sum();
    let (mut reached, mut low) = (0.0, None);
    for (figure, value) in pairs {
        reached += weight(*value);
        if low.is_none() && reached >= 0.025 * total {
            low = Some(*figure);
        }
        if reached >= 0.975 * total {
            return low.map(|low| (figure - low) / 2.0);
        }
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A normal of SD 1, measured with SD 0.5: SD 1/√(1 + 4) after it; a measurement of something else changes
    /// nothing.
    #[test]
    fn normals_narrow_as_the_textbook_has_it() {
        let mut rng = ChaCha8Rng::seed_from_u64(1);
        let mut normals = || (0..20_000).map(|_| StandardNormal.sample(&mut rng)).collect::<Vec<f64>>();
        let (x, other) = (normals(), normals());
        let with = expected_half_width(&x, &x, 0.5, 2).unwrap();
        assert!((with - 1.96 / 5.0f64.sqrt()).abs() < 0.03, "{with}");
        let without = expected_half_width(&x, &other, 0.5, 2).unwrap();
        assert!((without - 1.96).abs() < 0.06, "{without}");
        assert_eq!(expected_half_width(&[], &[], 1.0, 1), None);
    }
}
