//! From the figures of a run to the balance, by Monte Carlo (JCGM 101:2008).
//!
//! Each draw takes every input from its distribution and solves the statics backwards ([`super::draw`]).
//! Draws that cannot be (a wheel load below zero, a pull below the rolling resistance) are rejected and
//! counted. If no front load was measured, a draw is then kept with a probability in proportion to how likely
//! the height is at which it has the soil act ([`SoilHeight`]): this is what narrows the soil slope, and the
//! kept draws are equal in weight. (Strictly that probability also has the factor L/S of the change of
//! variables from soil height to tail load; it varies by the 1 to 2 % that S does and is left out.)

use super::contradiction::Suspect;
use super::draw::{Draw, Impossible};
use super::inputs::Measured;
use super::inputs::{Input, Inputs, RunFigures};
use super::plow_model::PlowModel;
use super::ranking::{InputShare, ranking};
use super::samples::Samples;
use super::sampling::{Sampled, Tally, gather};
use super::side::StaticsError;
use super::soil::SoilHeight;
use ingest::plow::{Plow, Setting};
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use serde::Serialize;
use stats::Estimate;

/// How many kept draws are wanted by default; JCGM 101, 7.2.2 has 10⁶ for certificates, but here the third
/// digit of an end of an interval means nothing.
pub const DRAWS: usize = 10_000;

/// Fewer kept draws than this share of those wanted give no figures.
const KEPT_SHARE_MIN: f64 = 0.1;

/// Probability from which the soil is shown to lift the plow.
const LIFTS_PROBABILITY_SHOWN: f64 = 0.95;

/// What the height of the soil force rests on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Evidence {
    /// Both wheel loads were measured: nothing about the soil had to be assumed.
    BothLoads,
    /// Share condition, and the height of the soil force from the description.
    SharesAndGivenHeight,
    /// Share condition, and that the soil acts within the furrow slice.
    SharesAndDepth,
}

/// Why there are no figures.
#[derive(Clone, Debug, PartialEq, Serialize, thiserror::Error)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum IdentifyError {
    /// The closed forms refuse the plow itself.
    #[error(transparent)]
    Statics(#[from] StaticsError),
    /// Neither load was measured.
    #[error(
        "nothing of what the plow is carried by was measured, nor the inclination of its drawbar with pitch or \
         front height: the pull alone tells nothing"
    )]
    NoLoad,
    /// A figure that is NaN or infinite.
    #[error("a mean of the run is not a finite number: check the readings with `check`")]
    NotFinite,
    /// Hardly any draw can be, or agrees with the soil acting where it can.
    #[error("description and readings contradict each other: {cause}")]
    Contradiction {
        /// Draws that were kept.
        kept: usize,
        /// Draws that were tried.
        tried: usize,
        /// What is farthest off, or ruled most of the others out.
        cause: Contradiction,
        /// Entries that would have to be otherwise, the likeliest first; none before the readings were asked
        /// ([`super::contradiction::held_against`]).
        #[serde(skip)]
        suspects: Vec<Suspect>,
    },
}

/// What rules draws out; its text says what to check.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Contradiction {
    /// A draw that cannot be.
    Impossible(Impossible),
    /// The soil would act above the land or below the furrow, or not where it was said to act.
    SoilHeight {
        /// The middle of the heights asked for is above the likely one.
        too_high: bool,
    },
    /// The soil would lift or draw in more than shares do; only where both loads were measured.
    SoilSlope {
        /// It would lift.
        too_high: bool,
    },
    /// The tail load follows the pull otherwise than it can.
    Gain {
        /// It gains more, or loses less.
        too_high: bool,
    },
    /// The tail's spring reads outside its load table for much of the time.
    OutsideTable {
        /// Below its first line.
        below: bool,
    },
}

impl std::fmt::Display for Contradiction {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Self::Impossible(Impossible::TailLoadBelowZero) => {
                "the tail load is below zero: check the zero of the tail-wheel sensor and its load table"
            }
            Self::Impossible(Impossible::FrontLoadBelowZero) => {
                "the tail wheel would carry more than the whole plow puts on the ground at this pull: check \
                 the tail wheel's load table, the weight, and the pull sensor"
            }
            Self::Impossible(Impossible::PullTooSmall) => {
                "the pull is less than the rolling resistance of the wheels: check the pull sensor and that \
                 the plow was in the ground"
            }
            Self::Impossible(Impossible::Geometry) => {
                "weight, wheels and drawbar do not fit together: check their places and lengths"
            }
            Self::SoilHeight { too_high: true } => {
                "the soil would have to push higher than it can: check the heights of both holes, the tail \
                 wheel's load table, and whether the right setting was named"
            }
            Self::SoilSlope { too_high: true } => {
                "the soil would have to lift the plow as no share does: check the load sensors and the weight"
            }
            Self::SoilSlope { too_high: false } => {
                "the soil would have to draw the plow in as no share does: check the load sensors and the weight"
            }
            Self::Gain { too_high: true } => {
                "when the pull grows, the tail load gains more than it can: check the zero and the load table of \
                 the tail wheel's sensor, the pull sensor, and the weight and its place"
            }
            Self::Gain { too_high: false } => {
                "when the pull grows, the tail load loses more than it can: check the zero and the load table of \
                 the tail wheel's sensor, the pull sensor, and the weight and its place"
            }
            Self::OutsideTable { below: true } => {
                "the tail wheel's sensor reads below the start of its load table, where no spring is pressed: \
                 check its sign and its zero"
            }
            Self::OutsideTable { below: false } => {
                "the tail wheel's sensor reads beyond the end of its load table: check its zero, or measure the \
                 table further"
            }
            Self::SoilHeight { too_high: false } => {
                "the soil would have to push lower than it can: check the heights of both holes, the tail \
                 wheel's load table, and whether the right setting was named"
            }
        })
    }
}

/// The figures of the statics, each with its 95 % interval, and the draws they came from.
#[derive(Clone, Debug, Serialize)]
pub struct Identified {
    /// What they rest on.
    pub evidence: Evidence,
    /// Which loads were measured.
    pub measured: Measured,
    /// σ.
    pub soil_slope: Estimate,
    /// Probability that σ is above 0, the soil lifting the plow.
    #[serde(rename = "lifts_chance")]
    pub lifts_probability: f64,
    /// z_s.
    pub soil_height_m: Estimate,
    /// e.
    pub pull_line_offset_m: Estimate,
    /// b, within ±1.
    pub balance_index: Estimate,
    /// x_V, from the front wheels, forward +.
    pub wheel_load_at_m: Estimate,
    /// V_t / V.
    pub tail_share: Estimate,
    /// What it would be on the steady point, and is when the plow stands: (x_f − x_w)/L, its median.
    pub standing_tail_share: f64,
    /// V_f.
    pub front_load_n: Estimate,
    /// V_t.
    pub tail_load_n: Estimate,
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
    let height = SoilHeight::of(plow, run.depth_or_described_m(plow));
    let evidence = match (measured, height.given) {
        (Measured::Both, _) => Evidence::BothLoads,
        (_, true) => Evidence::SharesAndGivenHeight,
        (_, false) => Evidence::SharesAndDepth,
    };
    let likely = (measured != Measured::Both).then_some(height);
    let sampled = Sampled { plow_model, distributions, measured, from_links: run.from_links(plow), shift };
    let (draws, tally) = gather(&sampled, likely, draws_wanted.max(1), &mut ChaCha8Rng::seed_from_u64(seed));
    let contradiction = || IdentifyError::Contradiction {
        kept: draws.len(),
        tried: draws.tried(),
        cause: tally.main_cause(),
        suspects: Vec::new(),
    };
    if !draws.are_enough(KEPT_SHARE_MIN, draws_wanted.max(1)) {
        return Err(contradiction());
    }
    summarise(&draws, &tally, (evidence, measured)).ok_or_else(contradiction)
}

fn summarise(
    draws: &Samples<Draw>,
    tally: &Tally,
    (evidence, measured): (Evidence, Measured),
) -> Option<Identified> {
    let figure = |of: fn(&Draw) -> f64| draws.estimate(of);
    let tried = draws.tried() as f64;
    Some(Identified {
        evidence,
        measured,
        soil_slope: figure(|d| d.side.soil_slope)?,
        lifts_probability: draws.probability(|d| d.side.soil_slope > 0.0)?,
        soil_height_m: figure(|d| d.side.soil_at.z_m)?,
        pull_line_offset_m: figure(|d| d.loads.pull_line_offset_m)?,
        balance_index: figure(|d| d.loads.bounded_balance_index())?,
        wheel_load_at_m: figure(|d| d.loads.wheel_load_at_m)?,
        tail_share: figure(|d| d.loads.tail_load_n / d.loads.ground_load_n)?,
        standing_tail_share: figure(|d| d.side.standing_tail_load_n() / d.side.weight_n)?.value,
        front_load_n: figure(|d| d.loads.front_load_n)?,
        tail_load_n: figure(|d| d.loads.tail_load_n)?,
        expected_gain_n_per_n: figure(|d| d.loads.expected_gain_n_per_n)?,
        ranking: ranking(draws, |d| d.loads.bounded_balance_index()),
        rejected_share: tally.rejected() as f64 / tried,
        set_aside_share: tally.set_aside as f64 / tried,
        draws: draws.clone(),
    })
}

impl Identified {
    /// Whether the soil is shown to lift the plow.
    #[must_use]
    pub fn lifts_shown(&self) -> bool {
        self.lifts_probability >= LIFTS_PROBABILITY_SHOWN
    }

    /// The input that goes with most of b's spread.
    #[must_use]
    pub fn dominant_input(&self) -> Option<Input> {
        self.ranking.first().map(|share| share.input)
    }
}
