//! From the figures of a run to the balance, by Monte Carlo (JCGM 101:2008).
//!
//! Each draw takes every input from its distribution and solves the statics backwards ([`super::draw`]).
//! Draws that cannot be (a wheel load below zero, a pull below the rolling resistance) are rejected and
//! counted. If no front load was measured, a draw is then kept with a probability in proportion to how likely
//! the height is at which it has the soil act ([`SoilHeight`]): this is what narrows the soil slope, and the
//! kept draws are equal in weight. (Strictly that probability also has the factor L/S of the change of
//! variables from soil height to tail load; it varies by the 1 to 2 % that S does and is left out.)

use super::draw::{Draw, solve_backwards};
use super::inputs::{Input, Inputs, MeasuredLoads, RunFigures};
use super::plow_model::PlowModel;
pub use super::refusal::{Contradiction, IdentifyError, Impossible};
use super::samples::Samples;
use super::soil::SoilHeight;
use ingest::plow::{Plow, Setting};
use ingest::quantity::{Force, Length};
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use schemars::JsonSchema;
use serde::Serialize;
use stats::Estimate;
use strum::VariantArray;

/// How many kept draws are wanted by default; JCGM 101, 7.2.2 has 10⁶ for certificates, but here the third
/// digit of an end of an interval means nothing.
pub const DRAWS: usize = 10_000;

/// Fewer kept draws than this share of those wanted give no figures.
pub const KEPT_SHARE_MIN: f64 = 0.1;

/// Probability from which the soil is shown to lift the plow.
pub const LIFTS_PROBABILITY_SHOWN: f64 = 0.95;

/// Tries for each draw wanted.
const TRIES_PER_DRAW: usize = 20;

/// Draws that are looked at: the standard error of a correlation of 2,000 pairs is 0.02.
const RANKED_DRAWS_MAX: usize = 2_000;

/// Shares below this are noise of the draws.
const SHARE_MIN: f64 = 0.01;

/// What the height of the soil force rests on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum SoilBasis {
    /// Both wheel loads were measured: nothing about the soil had to be assumed.
    BothLoads,
    /// Share condition, and the height of the soil force from the description.
    SharesAndGivenHeight,
    /// Share condition, and that the soil acts within the furrow slice.
    SharesAndDepth,
}

/// The figures of the statics, each with its 95 % interval, and the draws they came from.
#[derive(Clone, Debug, Serialize, JsonSchema)]
pub struct Identified {
    /// What they rest on.
    #[serde(rename = "evidence")]
    pub soil_basis: SoilBasis,
    /// Which loads were measured.
    pub measured: MeasuredLoads,
    /// σ.
    pub soil_slope: Estimate,
    /// Probability that σ is above 0, the soil lifting the plow.
    #[serde(rename = "lifts_chance")]
    pub lifts_probability: f64,
    /// z_s.
    #[serde(rename = "soil_height_m")]
    pub soil_height: Estimate<Length>,
    /// e.
    #[serde(rename = "pull_line_offset_m")]
    pub pull_line_offset: Estimate<Length>,
    /// b, within ±1.
    pub balance_index: Estimate,
    /// x_V, from the front wheels, forward +.
    #[serde(rename = "wheel_load_at_m")]
    pub wheel_load_at: Estimate<Length>,
    /// V_t / V.
    pub tail_share: Estimate,
    /// What it would be on the steady point, and is when the plow stands: (x_f − x_w)/L, its median.
    pub standing_tail_share: f64,
    /// V_f.
    #[serde(rename = "front_load_n")]
    pub front_load: Estimate<Force>,
    /// V_t.
    #[serde(rename = "tail_load_n")]
    pub tail_load: Estimate<Force>,
    /// β per newton along the drawbar, for a soil force that only grows and shrinks along its line.
    pub expected_gain_n_per_n: Estimate,
    /// Inputs by how much of b's spread goes with them, the largest first.
    pub ranking: Vec<InputShare>,
    /// Share of the draws tried that cannot be.
    pub rejected_share: f64,
    /// Share of them set aside because the soil would act at an unlikely height.
    pub set_aside_share: f64,
    /// The draws.
    #[serde(skip)]
    pub draws: Samples<Draw>,
}

/// Identifies the balance of a run from its figures; `draws_wanted` kept draws ([`DRAWS`] by default), the
/// same for the same `seed`.
///
/// # Errors
/// [`IdentifyError`] if a figure is not finite, no load was measured, or fewer than a tenth of the draws wanted can
/// be.
pub fn identify(
    plow: &Plow,
    setting: &Setting,
    run: &RunFigures,
    draws_wanted: usize,
    seed: u64,
) -> Result<Identified, IdentifyError> {
    identify_shifted(plow, setting, run, (draws_wanted, seed), None)
}

/// The same with every draw of the inputs moved by so much: as if what is stated were off by that.
///
/// # Errors
/// As [`identify`].
pub(super) fn identify_shifted(
    plow: &Plow,
    setting: &Setting,
    run: &RunFigures,
    (draws_wanted, seed): (usize, u64),
    shift: Option<Inputs<f64>>,
) -> Result<Identified, IdentifyError> {
    if !run.is_finite() {
        return Err(IdentifyError::NotFinite);
    }
    let distributions = Inputs::of_plow(plow, setting).with_run(plow, run);
    let plow_model = PlowModel::of(plow);
    let measured = run.measured(plow).ok_or(IdentifyError::NoLoad)?;
    let height = SoilHeight::of(plow, run.depth_or_described(plow));
    let soil_basis = match (measured, height.given) {
        (MeasuredLoads::Both, _) => SoilBasis::BothLoads,
        (_, true) => SoilBasis::SharesAndGivenHeight,
        (_, false) => SoilBasis::SharesAndDepth,
    };
    let likely = (measured != MeasuredLoads::Both).then_some(height);
    let draw = |rng: &mut ChaCha8Rng| {
        let mut inputs = distributions.draw(rng);
        if let Some(shift) = shift {
            inputs = distributions.inclined(inputs.zip_with(shift, |drawn, shift| drawn + shift));
        }
        if let Some(from) = run.from_links(plow) {
            plow_model.load_from_links(&mut inputs, from).map_err(|_| Impossible::Geometry)?;
        }
        solve_backwards(&plow_model, &inputs, measured)
    };
    let (draws, tally) = gather(draw, measured, likely, (draws_wanted.max(1), seed));
    let contradiction = || IdentifyError::Contradiction {
        kept: draws.len(),
        tried: draws.tried(),
        cause: tally.main_cause(),
        suspects: Vec::new(),
    };
    if !draws.are_enough(KEPT_SHARE_MIN, draws_wanted.max(1)) {
        return Err(contradiction());
    }
    summarise(&draws, &tally, (soil_basis, measured)).ok_or_else(contradiction)
}

fn summarise(
    draws: &Samples<Draw>,
    tally: &Tally,
    (soil_basis, measured): (SoilBasis, MeasuredLoads),
) -> Option<Identified> {
    let tried = draws.tried() as f64;
    Some(Identified {
        soil_basis,
        measured,
        soil_slope: draws.estimate(|d| d.side.soil_slope)?,
        lifts_probability: draws.probability(|d| d.side.soil_slope > 0.0)?,
        soil_height: draws.estimate(|d| d.side.soil_at.z)?,
        pull_line_offset: draws.estimate(|d| d.loads.pull_line_offset)?,
        balance_index: draws.estimate(|d| d.loads.bounded_balance_index())?,
        wheel_load_at: draws.estimate(|d| d.loads.wheel_load_at)?,
        tail_share: draws.estimate(|d| d.loads.tail_load.n() / d.loads.ground_load.n())?,
        standing_tail_share: draws.estimate(|d| d.side.standing_tail_load().n() / d.side.weight.n())?.value,
        front_load: draws.estimate(|d| d.loads.front_load)?,
        tail_load: draws.estimate(|d| d.loads.tail_load)?,
        expected_gain_n_per_n: draws.estimate(|d| d.loads.expected_gain_n_per_n)?,
        ranking: ranking(draws, |d| d.loads.bounded_balance_index()),
        rejected_share: tally.rejected() as f64 / tried,
        set_aside_share: tally.set_aside as f64 / tried,
        draws: draws.clone(),
    })
}

impl Identified {
    /// Whether the soil is shown to lift the plow.
    pub fn lifts_shown(&self) -> bool {
        self.lifts_probability >= LIFTS_PROBABILITY_SHOWN
    }
}

/// What was counted on the way.
#[derive(Default)]
struct Tally {
    impossible: [usize; Impossible::VARIANTS.len()],
    set_aside: usize,
    set_aside_high: usize,
}

impl Tally {
    fn rejected(&self) -> usize {
        self.impossible.iter().sum()
    }

    fn main_cause(&self) -> Contradiction {
        match self.impossible.iter().zip(Impossible::VARIANTS).max() {
            Some((count, kind)) if *count >= self.set_aside => Contradiction::Impossible(*kind),
            _ => Contradiction::SoilHeight { too_high: 2 * self.set_aside_high > self.set_aside },
        }
    }
}

/// Draws until as many are kept as are wanted, or too many were tried; with `likely` a draw is kept as often as the
/// height is likely at which it has the soil act.
fn gather(
    draw: impl Fn(&mut ChaCha8Rng) -> Result<Draw, Impossible>,
    measured: MeasuredLoads,
    likely: Option<SoilHeight>,
    (wanted, seed): (usize, u64),
) -> (Samples<Draw>, Tally) {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    let mut draws = Vec::with_capacity(wanted);
    let (mut tally, mut tried) = (Tally::default(), 0);
    while draws.len() < wanted && tried < wanted * TRIES_PER_DRAW {
        tried += 1;
        let draw = match draw(&mut rng) {
            Ok(draw) => draw,
            Err(why) => {
                tally.impossible[why as usize] += 1;
                continue;
            }
        };
        if let Some(height) = likely {
            let z = draw.side.soil_at.z;
            let likeliness = match measured {
                // Drawn from what is likely: only the bounds are left to keep.
                MeasuredLoads::LineOfPull => f64::from(u8::from(height.likeliness(z) > 0.0)),
                _ => height.likeliness(z),
            };
            if rng.random::<f64>() >= likeliness {
                tally.set_aside += 1;
                tally.set_aside_high += usize::from(z > height.mean);
                continue;
            }
        }
        draws.push(draw);
    }
    (Samples::new(draws, tried), tally)
}

/// How much of the spread goes with an input.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
pub struct InputShare {
    /// Which input.
    pub input: Input,
    /// Squared rank correlation (Spearman) with the figure over the kept draws, 0 to 1. Soil slope and soil
    /// height hang together by the measured tail load, so the shares need not add up to 1.
    pub share: f64,
}

/// Inputs by how much of the spread of `figure` goes with them, the largest first; those under 1 % are left
/// out.
fn ranking(draws: &[Draw], figure: impl Fn(&Draw) -> f64) -> Vec<InputShare> {
    let looked_at = draws.get(..draws.len().min(RANKED_DRAWS_MAX)).unwrap_or(draws);
    let of_figure = ranks(&looked_at.iter().map(figure).collect::<Vec<_>>());
    let mut shares: Vec<InputShare> = Input::ALL
        .into_iter()
        .map(|input| {
            let of_input = ranks(&looked_at.iter().map(|draw| draw.inputs[input]).collect::<Vec<_>>());
            InputShare { input, share: correlation(&of_input, &of_figure).powi(2) }
        })
        .filter(|share| share.share >= SHARE_MIN)
        .collect();
    // With the drawbar's inclination measured, the tractor's pin is where that has it.
    if shares.iter().any(|share| share.input == Input::DrawbarAngle) {
        shares.retain(|share| share.input != Input::TractorHoleHeight);
    }
    shares.sort_by(|a, b| b.share.total_cmp(&a.share));
    shares
}

/// Rank of each value, from 0; equal values share the mean of their ranks.
fn ranks(values: &[f64]) -> Vec<f64> {
    let mut order: Vec<(usize, f64)> = values.iter().copied().enumerate().collect();
    order.sort_by(|a, b| a.1.total_cmp(&b.1));
    let mut ranks = vec![0.0; values.len()];
    let mut first = 0;
    for run in order.chunk_by(|a, b| a.1 == b.1) {
        let mean = first as f64 + (run.len() - 1) as f64 / 2.0;
        for (place, _) in run {
            if let Some(rank) = ranks.get_mut(*place) {
                *rank = mean;
            }
        }
        first += run.len();
    }
    ranks
}

/// Pearson's correlation; 0 if either list is constant.
fn correlation(a: &[f64], b: &[f64]) -> f64 {
    let mean = |values: &[f64]| values.iter().sum::<f64>() / values.len().max(1) as f64;
    let (mean_a, mean_b) = (mean(a), mean(b));
    let sum = |f: fn(f64, f64) -> f64| a.iter().zip(b).map(|(x, y)| f(x - mean_a, y - mean_b)).sum::<f64>();
    let scale = (sum(|x, _| x * x) * sum(|_, y| y * y)).sqrt();
    if scale > 0.0 { sum(|x, y| x * y) / scale } else { 0.0 }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn equal_values_share_a_rank() {
        assert_eq!(ranks(&[5.0, 1.0, 5.0, 0.0]), vec![2.5, 1.0, 2.5, 0.0]);
    }

    #[test]
    fn a_constant_goes_with_nothing_and_a_rising_function_with_everything() {
        let x = ranks(&[0.1, 3.0, 2.0, 7.0]);
        let y = ranks(&[(0.1f64).exp(), (3.0f64).exp(), (2.0f64).exp(), (7.0f64).exp()]);
        assert!((correlation(&x, &y) - 1.0).abs() < 1e-12);
        assert_eq!(correlation(&ranks(&[4.0; 4]), &y), 0.0);
    }
}
