//! Why the statics gives no figures of a run: it cannot be solved, or description and readings contradict each other.

use super::draw::Impossible;
use super::entries::{Entry, Unit};
use super::refusal::StaticsError;
use serde::Serialize;

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

/// An entry that, moved alone, would take away a good part of the contradiction.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Suspect {
    /// Which.
    pub entry: Entry,
    /// By how much it would have to move, in `unit`; 0 where nothing moves.
    pub moves_by: f64,
    /// The unit of the move.
    pub unit: Unit,
    /// The move in standard uncertainties of what is stated; `None` where nothing is stated.
    pub moves_by_u: Option<f64>,
    /// Share of the suspicion that falls on it, all suspects together 1.
    pub suspicion: f64,
    /// The squared distance that is left after the move.
    pub left: f64,
}
