//! Why the statics refuses a plow, or gives no figures of a run: it cannot be solved, or description and readings
//! contradict each other.

use super::entries::{Entry, Unit};
use super::unbelievable::Unbelievable;
use ingest::quantity::{Force, Length, SaidIn, UnitSystem, in_si};
use schemars::JsonSchema;
use serde::Serialize;
use std::fmt::{Display, Formatter};

/// Why the statics cannot be solved for these numbers.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema, strum::EnumDiscriminants)]
#[strum_discriminants(
    name(StaticsErrorKind),
    derive(PartialOrd, Ord, Serialize, JsonSchema),
    serde(rename_all = "snake_case"),
    doc = "Why a plow cannot be somewhere, without figures."
)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum StaticsError {
    /// The drawbar has no, or next to no, length forward.
    VerticalDrawbar {
        /// Height of the tractor's pin above the plow's.
        #[serde(rename = "rise_m", serialize_with = "in_si")]
        rise: Length,
        /// Pin to pin.
        #[serde(rename = "length_m", serialize_with = "in_si")]
        length: Length,
    },
    /// The weight line is not between the wheels.
    WeightOutsideWheels {
        /// Weight line.
        #[serde(rename = "weight_x_m", serialize_with = "in_si")]
        weight_x: Length,
        /// Tail carrier.
        #[serde(rename = "tail_x_m", serialize_with = "in_si")]
        tail_x: Length,
        /// Front carrier.
        #[serde(rename = "front_x_m", serialize_with = "in_si")]
        front_x: Length,
    },
    /// Top link and lower links run so nearly along each other that they meet nowhere near.
    LinksMeetNowhere {
        /// How far ahead; below 0 they close in behind, infinite or NaN for links along each other.
        #[serde(rename = "ahead_m", serialize_with = "in_si")]
        #[schemars(with = "Option<Length>")]
        ahead: Length,
        /// The farthest that is taken.
        #[serde(rename = "farthest_m", serialize_with = "in_si")]
        farthest: Length,
    },
    /// Drawbar and soil lift the whole plow off its wheels.
    NoGroundLoad {
        /// V, at or below 0.
        #[serde(rename = "ground_load_n", serialize_with = "in_si")]
        ground_load: Force,
    },
    /// The pull does not even overcome the rolling resistance.
    PullTooSmall {
        /// The pull along the drawbar.
        #[serde(rename = "pull_n", serialize_with = "in_si")]
        pull: Force,
    },
    /// A number that is NaN or infinite.
    NotFinite,
}

impl StaticsErrorKind {
    /// What would be, of a plow that cannot be in some holes.
    pub const fn would_be(self) -> &'static str {
        match self {
            Self::NoGroundLoad => "the plow would be lifted off all that carries it",
            Self::VerticalDrawbar => "the drawbar would stand on end",
            Self::LinksMeetNowhere => "top link and lower links would meet nowhere near",
            Self::WeightOutsideWheels => "the weight would not be between what carries front and tail",
            Self::PullTooSmall => "the pull would not even overcome the rolling resistance",
            Self::NotFinite => "the figures of the plow give none",
        }
    }
}

impl SaidIn for StaticsError {
    fn said_in(&self, units: UnitSystem) -> String {
        let (force, length) = (|it| units.force_text(it), |it| units.length_text(it));
        match *self {
            Self::VerticalDrawbar { rise, length: long } => format!(
                "the drawbar would stand on end: its pins differ by {} in height and it is {} long; check both hole \
                 heights and the drawbar's length",
                length(rise),
                length(long)
            ),
            Self::WeightOutsideWheels { weight_x, tail_x, front_x } => format!(
                "the weight at x = {} is not between what carries the tail, at {}, and what carries the front, at {}; \
                 check those three lengths",
                length(weight_x),
                length(tail_x),
                length(front_x)
            ),
            Self::LinksMeetNowhere { ahead, farthest } => format!(
                "top link and lower links meet {} ahead of the plow's lower pins, or nowhere; they have to close in \
                 towards the tractor and meet within {}: check the heights of their four pins",
                length(ahead),
                length(farthest)
            ),
            Self::NoGroundLoad { ground_load } => format!(
                "drawbar and soil would lift the whole plow: {} left on the wheels; check weight, pull and hole heights",
                force(ground_load)
            ),
            Self::PullTooSmall { pull } => format!(
                "a pull of {} is less than the rolling resistance of the wheels, so no soil is being turned: check the \
                 pull sensor's calibration and zero",
                force(pull)
            ),
            Self::NotFinite => {
                "a number of the plow or the run is not finite, so nothing follows from it".to_owned()
            }
        }
    }
}

impl Display for StaticsError {
    fn fmt(&self, f: &mut Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.said_in(UnitSystem::Si))
    }
}

impl std::error::Error for StaticsError {}

impl SaidIn for IdentifyError {
    fn said_in(&self, units: UnitSystem) -> String {
        match self {
            Self::Statics(error) => error.said_in(units),
            Self::Unbelievable(why) => why.said_in(units),
            _ => self.to_string(),
        }
    }
}

/// Why a draw cannot be.
#[derive(
    Clone,
    Copy,
    Debug,
    PartialEq,
    Eq,
    PartialOrd,
    Ord,
    Serialize,
    JsonSchema,
    strum::VariantArray,
    thiserror::Error,
)]
#[serde(rename_all = "snake_case")]
pub enum Impossible {
    /// The tail load came out below 0.
    #[error("the tail load is below zero: check the zero of the tail-wheel sensor and its load table")]
    TailLoadBelowZero,
    /// The front load came out below 0: the tail wheel carries more than is left on the ground.
    #[error(
        "the tail wheel would carry more than the whole plow puts on the ground at this pull: check the tail wheel's \
         load table, the weight, and the pull sensor"
    )]
    FrontLoadBelowZero,
    /// The pull came out below the rolling resistance.
    #[error(
        "the pull is less than the rolling resistance of the wheels: check the pull sensor and that the plow was in \
         the ground"
    )]
    PullTooSmall,
    /// The geometry does not hold (drawbar on end, weight outside the wheels).
    #[error("weight, wheels and drawbar do not fit together: check their places and lengths")]
    Geometry,
}

/// Why there are no figures.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema, thiserror::Error)]
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
    /// The means cannot be those of this plow at work.
    #[error(transparent)]
    Unbelievable(Unbelievable),
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
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema, thiserror::Error)]
#[serde(rename_all = "snake_case")]
pub enum Contradiction {
    /// A draw that cannot be.
    #[error(transparent)]
    Impossible(Impossible),
    /// The soil would act above the land or below the furrow, or not where it was said to act.
    #[error(
        "the soil would have to push {} than it can: check the heights of both holes, the tail wheel's load table, \
         and whether the right setting was named",
        if *too_high { "higher" } else { "lower" }
    )]
    SoilHeight {
        /// The middle of the heights asked for is above the likely one.
        too_high: bool,
    },
    /// The soil would lift or draw in more than shares do; only where both loads were measured.
    #[error(
        "the soil would have to {} as no share does: check the load sensors and the weight",
        if *too_high { "lift the plow" } else { "draw the plow in" }
    )]
    SoilSlope {
        /// It would lift.
        too_high: bool,
    },
    /// The tail load follows the pull otherwise than it can.
    #[error(
        "when the pull grows, the tail load {} more than it can: check the zero and the load table of the tail wheel's \
         sensor, the pull sensor, and the weight and its place",
        if *too_high { "gains" } else { "loses" }
    )]
    Gain {
        /// It gains more, or loses less.
        too_high: bool,
    },
    /// The tail's spring reads outside its load table for much of the time.
    #[error(
        "the tail wheel's sensor reads {}",
        if *below {
            "below the start of its load table, where no spring is pressed: check its sign and its zero"
        } else {
            "beyond the end of its load table: check its zero, or measure the table further"
        }
    )]
    OutsideTable {
        /// Below its first line.
        below: bool,
    },
}

/// An entry that, moved alone, would take away a good part of the contradiction.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
pub struct Suspect {
    /// Which.
    pub entry: Entry,
    /// By how much it would have to move, in `unit`; 0 where nothing moves.
    pub moves_by: f64,
    /// The unit of the move.
    pub unit: Unit,
    /// The move in standard uncertainties of what is stated; `None` where nothing is stated.
    #[serde(rename = "moves_by_standard_uncertainties")]
    pub moves_by_u: Option<f64>,
    /// Share of the suspicion that falls on it, all suspects together 1.
    pub suspicion: f64,
    /// The squared distance that is left after the move, in standard uncertainties.
    #[serde(rename = "left_squared_standard_uncertainties")]
    pub left: f64,
}
