//! Runs of one plow as a function of independent standard normals: what they share once, what is each run's own
//! beside it.
//!
//! Shared: weight, places and lengths, resistances, the level that the holes of a row were taken from, the
//! calibrations, soil slope and soil height. A run's own: what its readings leave open of its mean forces, its
//! pose, how far the slope of the soil force is off the shared one in this pass.
//!
//! From these the statics is solved backwards ([`super::super::draw`]) and says where the soil acts in that run.
//! That it acts near the shared height, within what passes differ by, is what is observed of every run; with both
//! loads measured the same goes for the slope; low-frequency gain and drawbar angle are observed beside it where
//! a run has them. (Loads as coordinates and heights as observations, not the other way round, because a load is
//! read so closely that a linear update would miss the thin curved sheet on which it is what was read. The factor
//! of the change of variables is left out for the reason given in [`super::super::identify`].)

use super::update::Observation;
use crate::believable::unbelievable;
use crate::distribution::Distribution;
use crate::draw::{Draw, solve_backwards};
use crate::identify::IdentifyError;
use crate::inputs::{
    DRAWBAR_ZERO_HALF_WIDTH_DEG, FromLinks, Input, Inputs, MeanForce, MeasuredLoads, RunFigures, pin_pose,
};
use crate::plow_model::PlowModel;
use crate::side::Loads;
use crate::soil::{SLOPE_PASS_SD, SoilHeight, soil_slope_prior};
use ingest::plow::{Hole, Kind, Plow, Setting};
use stats::Estimate;
use stats::student::Z_975;
use std::collections::BTreeMap;

/// Standard deviation of the measured gain about the one of a soil force that only grows and shrinks along its
/// line, N per N: the force of a real pass also moves (by choice; with it a gain hardly moves the balance).
pub const GAIN_MODEL_SD_N_PER_N: f64 = 0.10;
/// Half of a hole's variance is the level that its row was measured from, the other half its own (by choice).
const ROW_VARIANCE_SHARE: f64 = 0.5;
/// A mean is not known better than this, N: the readings of a short pass can repeat each other.
const READING_SD_MIN_N: f64 = 1.0;

/// What one run says.
#[derive(Clone, Debug)]
pub struct RunReadings {
    /// What it is called.
    pub name: String,
    /// Name of its setting.
    pub setting_name: String,
    /// Its holes.
    pub setting: Setting,
    /// Mean forces, depth, pitch and inclination.
    pub figures: RunFigures,
    /// Low-frequency gain from pull to tail load, N per N; `None` if it is not shown or the tail wheel lifts.
    pub gain_n_per_n: Option<Estimate>,
}

/// Inputs that all runs share.
const SHARED: [Input; 12] = [
    Input::Weight,
    Input::WeightPlace,
    Input::TailPlace,
    Input::PlowHitchPlace,
    Input::MemberLength,
    Input::BottomsPlace,
    Input::RollingResistance,
    Input::TailResistance,
    Input::SoleFriction,
    Input::LowerLinkPlowHeight,
    Input::LowerLinkTractorHeight,
    Input::LowerLinkLength,
];

/// Which of the coordinates, from 0.
type CoordinateIndex = usize;

/// A hole's height: as measured, with the error of its row and its own.
struct HoleHeight {
    mean_m: f64,
    sd_m: f64,
    row: CoordinateIndex,
    own: CoordinateIndex,
}

impl HoleHeight {
    fn z_m(&self, x: &[f64]) -> f64 {
        let error = ROW_VARIANCE_SHARE.sqrt() * x[self.row] + (1.0 - ROW_VARIANCE_SHARE).sqrt() * x[self.own];
        self.mean_m + self.sd_m * error
    }
}

/// A mean force: as read, less what calibration and readings are off by.
struct Force {
    mean: MeanForce,
    calibration: CoordinateIndex,
    reading: CoordinateIndex,
}

impl Force {
    fn true_n(&self, x: &[f64]) -> f64 {
        let readings_sd_n = self.mean.readings_sd().n().max(READING_SD_MIN_N);
        self.mean.mean.value.n()
            + self.mean.calibration_sd().n() * x[self.calibration]
            + readings_sd_n * x[self.reading]
    }
}

/// One run.
struct RunModel {
    centres: Inputs<f64>,
    plow_hole: HoleHeight,
    tractor_hole: HoleHeight,
    pose_m: (f64, f64),
    pose: CoordinateIndex,
    forces: Vec<(Input, Force)>,
    measured: MeasuredLoads,
    from_links: Option<FromLinks>,
    slope: CoordinateIndex,
    soil_height: SoilHeight,
    height_sds_m: (f64, f64),
    also: Vec<fn(&Loads) -> f64>,
}

/// All runs.
pub(super) struct Model {
    plow_model: PlowModel,
    shared: Vec<(Input, Distribution, CoordinateIndex)>,
    soil_slope: (Distribution, CoordinateIndex),
    soil_height: CoordinateIndex,
    runs: Vec<RunModel>,
    /// How many coordinates there are.
    pub(super) dimension: usize,
    /// What was observed.
    pub(super) observed: Vec<Observation>,
    /// The run of each observation.
    pub(super) run_of: Vec<usize>,
}

/// An observed figure whose interval is widened by an independent standard deviation.
fn observation(figure: &Estimate, also_sd: f64) -> Observation {
    Observation { value: figure.value, sd: figure.standard_uncertainty().hypot(also_sd) }
}

impl Model {
    /// # Errors
    /// The first run that cannot be used, by its name, and why.
    pub(super) fn of<'a>(plow: &Plow, runs: &'a [RunReadings]) -> Result<Self, (String, IdentifyError)> {
        let mut dimension = 0;
        let mut next = || -> CoordinateIndex {
            dimension += 1;
            dimension - 1
        };
        let [row_at_plow, row_at_tractor] = std::array::from_fn(|_| next());
        let [pull_calibration, tail_calibration, front_calibration, lower_calibration, top_calibration] =
            std::array::from_fn(|_| next());
        let [soil_slope, soil_height] = std::array::from_fn(|_| next());
        let mut holes: BTreeMap<(CoordinateIndex, &str), CoordinateIndex> = BTreeMap::new();
        let mut model = Self {
            plow_model: PlowModel::of(plow),
            shared: Vec::new(),
            soil_slope: (soil_slope_prior(plow.bottoms.share), soil_slope),
            soil_height,
            runs: Vec::new(),
            dimension: 0,
            observed: Vec::new(),
            run_of: Vec::new(),
        };
        for (number, run) in runs.iter().enumerate() {
            let figures = &run.figures;
            let refused = |why| (run.name.clone(), why);
            if !figures.is_finite() {
                return Err(refused(IdentifyError::NotFinite));
            }
            if let Some(why) = unbelievable((plow, &run.setting), figures) {
                return Err(refused(IdentifyError::Unbelievable(why)));
            }
            let distributions = Inputs::of_plow(plow, &run.setting);
            if model.shared.is_empty() {
                let uncertain = SHARED.iter().filter(|i| distributions[**i].standard_uncertainty() > 0.0);
                model.shared = uncertain.map(|i| (*i, distributions[*i], next())).collect();
            }
            let mut hole = |hole: &'a Hole, input, row| {
                let own = *holes.entry((row, &hole.name)).or_insert_with(&mut next);
                let (mean_m, sd_m) =
                    (distributions[input].centre(), distributions[input].standard_uncertainty());
                HoleHeight { mean_m, sd_m, row, own }
            };
            let plow_hole = hole(&run.setting.plow_hole, Input::PlowHoleHeight, row_at_plow);
            let tractor_hole = hole(&run.setting.tractor_hole, Input::TractorHoleHeight, row_at_tractor);
            let measured = figures.measured(plow).filter(|measured| *measured != MeasuredLoads::LineOfPull);
            let measured = measured.ok_or_else(|| refused(IdentifyError::NoLoad))?;
            let forces = [
                (Input::Pull, Some(figures.pull), pull_calibration),
                (Input::TailLoad, figures.tail_load, tail_calibration),
                (Input::FrontLoad, figures.front_load, front_calibration),
                (Input::LowerLinksForce, figures.lower_links, lower_calibration),
                (Input::TopLinkForce, figures.top_link, top_calibration),
            ];
            let forces = forces.into_iter().filter_map(|(input, mean, calibration)| {
                Some((input, Force { mean: mean?, calibration, reading: next() }))
            });
            let forces = forces.collect();
            let depth = figures.depth_or_described(plow);
            let soil_height = SoilHeight::of(plow, depth);
            let height_sds = soil_height.shared_and_own_sd(depth);
            let height_sds_m = (height_sds.0.m(), height_sds.1.m());
            model.observe(number, Observation { value: 0.0, sd: height_sds_m.1 });
            if measured == MeasuredLoads::Both {
                model.observe(number, Observation { value: 0.0, sd: SLOPE_PASS_SD });
            }
            let mut also: Vec<fn(&Loads) -> f64> = Vec::new();
            if let Some(gain) = &run.gain_n_per_n {
                also.push(|loads| loads.expected_gain_n_per_n);
                model.observe(number, observation(gain, GAIN_MODEL_SD_N_PER_N));
            }
            if let Some(angle) = figures.drawbar_angle.filter(|_| plow.kind() != Kind::Mounted) {
                also.push(|loads| loads.drawbar_slope.atan().to_degrees());
                model.observe(number, observation(&angle.si(), DRAWBAR_ZERO_HALF_WIDTH_DEG / Z_975));
            }
            let [pose, slope] = std::array::from_fn(|_| next());
            let (pose_shift, pose_sd) = pin_pose(plow, figures);
            model.runs.push(RunModel {
                centres: distributions.centres(),
                plow_hole,
                tractor_hole,
                pose_m: (pose_shift.m(), pose_sd.m()),
                pose,
                forces,
                measured,
                from_links: figures.from_links(plow),
                slope,
                height_sds_m,
                soil_height,
                also,
            });
        }
        model.dimension = dimension;
        Ok(model)
    }

    fn observe(&mut self, run: usize, observation: Observation) {
        self.observed.push(observation);
        self.run_of.push(run);
    }

    /// σ that the runs share.
    pub(super) fn soil_slope(&self, x: &[f64]) -> f64 {
        self.soil_slope.0.at(x[self.soil_slope.1])
    }

    /// Height of the soil force that the runs share, at the mean of their depths.
    pub(super) fn soil_height_m(&self, x: &[f64]) -> f64 {
        let heights = self.runs.iter().map(|run| self.shared_height_m(run, x));
        heights.sum::<f64>() / self.runs.len().max(1) as f64
    }

    fn shared_height_m(&self, run: &RunModel, x: &[f64]) -> f64 {
        run.soil_height.mean.m() + run.height_sds_m.0 * x[self.soil_height]
    }

    fn inputs(&self, run: &RunModel, x: &[f64]) -> Inputs<f64> {
        let mut inputs = run.centres;
        for (input, distribution, place) in &self.shared {
            inputs[*input] = distribution.at(x[*place]);
        }
        let pose_m = run.pose_m.0 + run.pose_m.1 * x[run.pose];
        inputs.plow_hole_height = run.plow_hole.z_m(x) + pose_m;
        inputs.tractor_hole_height = run.tractor_hole.z_m(x);
        for (input, force) in &run.forces {
            inputs[*input] = force.true_n(x);
        }
        inputs.soil_slope = self.soil_slope(x) + SLOPE_PASS_SD * x[run.slope];
        inputs
    }

    /// A run, by its number, as these coordinates have it; `None` if it cannot be.
    pub(super) fn draw(&self, number: usize, x: &[f64]) -> Option<Draw> {
        self.draw_of(&self.runs[number], x)
    }

    fn draw_of(&self, run: &RunModel, x: &[f64]) -> Option<Draw> {
        let mut inputs = self.inputs(run, x);
        if let Some(from) = run.from_links {
            self.plow_model.load_from_links(&mut inputs, from).ok()?;
        }
        solve_backwards(&self.plow_model, &inputs, run.measured).ok()
    }

    /// What would be observed at these coordinates, in the order of the observations.
    pub(super) fn predict(&self, x: &[f64]) -> Option<Vec<f64>> {
        let mut predicted = Vec::with_capacity(self.observed.len());
        for run in &self.runs {
            let draw = self.draw_of(run, x)?;
            predicted.push(draw.side.soil_at.z.m() - self.shared_height_m(run, x));
            if run.measured == MeasuredLoads::Both {
                predicted.push(draw.side.soil_slope - self.soil_slope(x));
            }
            predicted.extend(run.also.iter().map(|of| of(&draw.loads)));
        }
        Some(predicted)
    }

    /// Whether all carriers carry and the soil acts where it can.
    pub(super) fn possible(&self, x: &[f64]) -> bool {
        let within = |run: &RunModel| {
            let draw = self.draw_of(run, x);
            draw.is_some_and(|draw| run.soil_height.likeliness(draw.side.soil_at.z) > 0.0)
        };
        self.runs.iter().all(within)
    }
}
