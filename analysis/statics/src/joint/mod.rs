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

use ingest::quantity::Length;
pub use model::{GAIN_MODEL_SD_N_PER_N, RunReadings};

use super::draw::Draw;
use super::identify::{IdentifyError, identify};
use super::samples::Samples;
use super::value_of_information::{NextMeasurement, next_measurements};
use ingest::plow::Plow;
use model::Model;
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use serde::Serialize;
use stats::Estimate;
use stats::student::chi_square_sf;

/// Kept draws by default.
pub const JOINT_DRAWS: usize = 4_000;

/// Fewer draws' worth of weight than this give no ends of an interval.
const EFFECTIVE_MIN: f64 = 400.0;

/// Readings this far from what the model expects have the runs contradict each other.
const PROBABILITY_MIN: f64 = 0.001;

/// A run in the light of all.
#[derive(Clone, Debug, Serialize)]
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
#[derive(Clone, Copy, Debug, Serialize)]
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
#[derive(Clone, Debug, Serialize)]
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
    let named = |run: &RunReadings, why| JointError::Run { run: run.name.clone(), why };
    for run in runs {
        Model::of(plow, std::slice::from_ref(run)).map_err(|why| named(run, why))?;
    }
    let nothing = JointError::TooFewDraws { effective: 0.0 };
    let model = Model::of(plow, runs).map_err(|why| JointError::Run { run: plow.name.clone(), why })?;
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let posterior = update::sample_posterior(
        model.dimension,
        |x| model.predict(x),
        |x| model.possible(x),
        &model.observed,
        draws_wanted.max(1),
        &mut rng,
    )
    .ok_or_else(|| nothing.clone())?;
    let probability = chi_square_sf(posterior.chi_square, model.observed.len() as f64);
    if probability < PROBABILITY_MIN {
        return Err(JointError::Contradiction {
            probability,
            run: worst(runs, &model, &posterior.squared_residuals),
        });
    }
    if posterior.effective_sample_size < EFFECTIVE_MIN.min(0.1 * draws_wanted as f64) {
        return Err(JointError::TooFewDraws { effective: posterior.effective_sample_size });
    }
    let mut by_run: Vec<Vec<Draw>> = vec![Vec::with_capacity(posterior.draws.len()); runs.len()];
    for x in posterior.draws.iter() {
        for (kept, draw) in by_run.iter_mut().zip(model.draws(x).ok_or_else(|| nothing.clone())?) {
            kept.push(draw);
        }
    }
    let tried = posterior.draws.tried();
    let by_run = by_run.into_iter().map(|draws| Samples::new(draws, tried));
    let figure =
        |of: &dyn Fn(&[f64]) -> f64| posterior.draws.estimate(|x| of(x)).ok_or_else(|| nothing.clone());
    let soil_slope = figure(&|x| model.soil_slope(x))?;
    let soil_height = Estimate::from_si(figure(&|x| model.soil_height_m(x))?);
    let told: Option<Vec<JointRun>> =
        runs.iter().zip(by_run).map(|(run, draws)| joint_run(plow, run, draws, seed)).collect();
    let told = told.ok_or(nothing)?;
    let width = |run: &JointRun| run.together.balance_index.high - run.together.balance_index.low;
    let widest = told.iter().zip(runs).max_by(|one, other| width(one.0).total_cmp(&width(other.0)));
    let (widest, next_measurements) = widest.map_or_else(Default::default, |(told, run)| {
        let found = next_measurements(plow, &run.setting, &run.figures, &told.draws);
        (told.run.clone(), found)
    });
    Ok(Joint {
        soil_slope,
        soil_height,
        runs: told,
        effective_draws: posterior.effective_sample_size,
        probability,
        widest,
        next_measurements,
    })
}

fn worst(runs: &[RunReadings], model: &Model, squared_residuals: &[f64]) -> String {
    let of_run = |number: usize| -> f64 {
        model
            .run_of
            .iter()
            .zip(squared_residuals)
            .filter(|(run, _)| **run == number)
            .map(|(_, squared_residual)| squared_residual)
            .sum()
    };
    let worst = runs.iter().enumerate().max_by(|one, other| of_run(one.0).total_cmp(&of_run(other.0)));
    worst.map(|(_, run)| run.name.clone()).unwrap_or_default()
}

fn joint_run(plow: &Plow, run: &RunReadings, draws: Samples<Draw>, seed: u64) -> Option<JointRun> {
    let alone = identify(plow, &run.setting, &run.figures, draws.len(), seed).ok();
    Some(JointRun {
        run: run.name.clone(),
        setting: run.setting_name.clone(),
        together: answer(&draws)?,
        alone: alone.and_then(|found| answer(&found.draws)),
        draws,
    })
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
