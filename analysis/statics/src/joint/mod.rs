//! One estimate from everything that several runs of one plow recorded.
//!
//! [`super::identify`] takes one run by itself and asks the soil slope of the share condition alone. Runs in
//! different holes differ by a geometry that is known, so what they share (soil slope and height, weight, places,
//! calibrations) shows in how their loads differ. `model` says what is shared and what is each run's own;
//! `update` draws from all that agrees with the readings.
//!
//! The low-frequency gain enters as a reading with a stated model error, and not at all where the tail wheel
//! lifts. (The verdict of one run leaves it out, so that it can be a check there.)

mod model;
mod update;

pub use model::{GAIN_MODEL_SD_N_PER_N, RunReadings};

use super::draw::Draw;
use super::identify::{IdentifyError, identify};
use super::samples::Samples;
use super::value_of_information::{NextMeasurement, next_measurements};
use ingest::plow::Plow;
use ingest::quantity::Length;
use model::Model;
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use schemars::JsonSchema;
use serde::Serialize;
use stats::Estimate;
use stats::student::chi_square_sf;
use update::{Posterior, sample_posterior};

/// Kept draws by default.
pub const JOINT_DRAWS: usize = 4_000;

/// Fewer draws' worth of weight than this give no ends of an interval.
const EFFECTIVE_MIN: f64 = 400.0;

/// Readings this far from what the model expects have the runs contradict each other.
const PROBABILITY_MIN: f64 = 0.001;

/// A run in the light of all.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct JointRun {
    /// What it is called.
    pub run: String,
    /// Its setting.
    pub setting: String,
    /// From all runs.
    pub together: RunAnswer,
    /// From this run alone; `None` if it contradicts itself.
    pub alone: Option<RunAnswer>,
    /// The draws, the same number for the same draw in all runs.
    #[serde(skip)]
    pub draws: Samples<Draw>,
}

/// The figures of one run.
#[derive(Clone, Copy, Debug, Serialize, JsonSchema)]
pub struct RunAnswer {
    /// b, within ±1.
    pub balance_index: Estimate,
    /// e.
    #[serde(rename = "pull_line_offset_m")]
    pub pull_line_offset: Estimate<Length>,
    /// σ of this pass.
    pub soil_slope: Estimate,
    /// z_s of this pass.
    #[serde(rename = "soil_height_m")]
    pub soil_height: Estimate<Length>,
}

/// What all runs say together.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Joint {
    /// σ that they share.
    pub soil_slope: Estimate,
    /// z_s that they share, at the mean of their depths.
    #[serde(rename = "soil_height_m")]
    pub soil_height: Estimate<Length>,
    /// Run by run.
    pub runs: Vec<JointRun>,
    /// Effective number of the draws.
    pub effective_draws: f64,
    /// Probability of readings this far from what the model expects, if it is right.
    #[serde(rename = "chance")]
    pub probability: f64,
    /// The run whose b is least certain, by its name.
    pub widest: String,
    /// What would narrow that run's b most, the best first.
    pub next_measurements: Vec<NextMeasurement>,
    /// Seed of the draws (ChaCha of 8 rounds).
    pub seed: u64,
}

/// Why there is no such estimate.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum JointError {
    /// No run was given.
    #[error("no run was given")]
    NoRun,
    /// A run cannot be used at all.
    #[error("{run}: {why}")]
    Run {
        /// Which.
        run: String,
        /// Why.
        why: IdentifyError,
    },
    /// No soil fits them all.
    #[error(
        "the runs contradict each other: with one soil and one plow, readings like these have a chance of \
         {probability:.1e}; {run} fits least: check that its setting was named right, and that the same plow, \
         shares and calibrations served all of them"
    )]
    Contradiction {
        /// Probability of squared residuals this large.
        probability: f64,
        /// The run with the largest part of it.
        run: String,
    },
    /// The weights leave too few draws, or none can be.
    #[error(
        "the runs contradict each other or leave too little to draw from ({effective:.0} effective draws): \
         check the zero of each load sensor, and take fewer runs together"
    )]
    TooFewDraws {
        /// How many.
        effective: f64,
    },
}

/// Takes runs of one plow together; the same for the same `seed`. `plow` has the share condition of the runs.
///
/// # Errors
/// [`JointError`].
pub fn estimate_jointly(
    plow: &Plow,
    runs: &[RunReadings],
    draws_wanted: usize,
    seed: u64,
) -> Result<Joint, JointError> {
    if runs.is_empty() {
        return Err(JointError::NoRun);
    }
    let model = Model::of(plow, runs).map_err(|(run, why)| JointError::Run { run, why })?;
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let (predict, possible) = (|x: &[f64]| model.predict(x), |x: &[f64]| model.possible(x));
    let wanted = draws_wanted.max(1);
    let posterior = sample_posterior(model.dimension, predict, possible, &model.observed, wanted, &mut rng)
        .ok_or(NOTHING)?;
    let probability = chi_square_sf(posterior.chi_square, model.observed.len() as f64);
    if probability < PROBABILITY_MIN {
        let run = worst(runs, &model, &posterior.squared_residuals);
        return Err(JointError::Contradiction { probability, run });
    }
    if posterior.effective_sample_size < EFFECTIVE_MIN.min(0.1 * draws_wanted as f64) {
        return Err(JointError::TooFewDraws { effective: posterior.effective_sample_size });
    }
    summarise(plow, runs, &model, &posterior, (probability, seed)).ok_or(NOTHING)
}

const NOTHING: JointError = JointError::TooFewDraws { effective: 0.0 };

/// `None` if a draw cannot be.
fn summarise(
    plow: &Plow,
    runs: &[RunReadings],
    model: &Model,
    posterior: &Posterior,
    (probability, seed): (f64, u64),
) -> Option<Joint> {
    let told = runs.iter().enumerate().map(|(number, run)| {
        let draws = posterior.draws.iter().map(|x| model.draw(number, x)).collect::<Option<Vec<Draw>>>()?;
        let alone = identify(plow, &run.setting, &run.figures, draws.len(), seed).ok();
        let draws = Samples::new(draws, posterior.draws.tried());
        let (together, alone) = (answer(&draws)?, alone.and_then(|found| answer(&found.draws)));
        Some(JointRun { run: run.name.clone(), setting: run.setting_name.clone(), together, alone, draws })
    });
    let told: Vec<JointRun> = told.collect::<Option<_>>()?;
    let width = |run: &JointRun| run.together.balance_index.half_width();
    let (widest, run) = told.iter().zip(runs).max_by(|one, other| width(one.0).total_cmp(&width(other.0)))?;
    Some(Joint {
        soil_slope: posterior.draws.estimate(|x| model.soil_slope(x))?,
        soil_height: Estimate::from_si(posterior.draws.estimate(|x| model.soil_height_m(x))?),
        effective_draws: posterior.effective_sample_size,
        probability,
        widest: widest.run.clone(),
        next_measurements: next_measurements(plow, &run.setting, &run.figures, &widest.draws),
        runs: told,
        seed,
    })
}

/// The run with the largest part of the squared residuals, by its name.
fn worst(runs: &[RunReadings], model: &Model, squared_residuals: &[f64]) -> String {
    let of_run = |number: usize| -> f64 {
        let all = model.run_of.iter().zip(squared_residuals);
        all.filter(|(run, _)| **run == number).map(|(_, squared_residual)| squared_residual).sum()
    };
    let worst = runs.iter().enumerate().max_by(|one, other| of_run(one.0).total_cmp(&of_run(other.0)));
    worst.map(|(_, run)| run.name.clone()).unwrap_or_default()
}

fn answer(draws: &Samples<Draw>) -> Option<RunAnswer> {
    Some(RunAnswer {
        balance_index: draws.estimate(|d| d.loads.bounded_balance_index())?,
        pull_line_offset: draws.estimate(|d| d.loads.pull_line_offset)?,
        soil_slope: draws.estimate(|d| d.side.soil_slope)?,
        soil_height: draws.estimate(|d| d.side.soil_at.z)?,
    })
}

#[cfg(test)]
mod tests;
