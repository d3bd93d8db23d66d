//! What of a description, and of its sensors, can be wrong by more than its stated ±.

use crate::inputs::{Input, Inputs};
use schemars::JsonSchema;
use serde::Serialize;

/// The unit of a move.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Unit {
    /// m.
    #[serde(rename = "m")]
    Metre,
    /// N.
    #[serde(rename = "N")]
    Newton,
    /// A share of the stated value.
    Share,
    /// A slope, m per m.
    Slope,
    /// Nothing moves: another name or another sign.
    None,
}

/// An entry that may be wrong.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Entry {
    /// A length, a height, a force or the shares' condition.
    Input(Input),
    /// The gain of the pull's calibration.
    PullGain,
    /// The zero of the pull's calibration.
    PullZero,
    /// The spring, by its load table.
    LoadTable,
    /// The zero of the tail's sensor.
    TailZero,
    /// The tail's sensor counts the other way.
    TailReversed,
    /// Another setting of the description was driven.
    Setting(String),
}

/// How often an entry is wrong beyond its ±, and by how much then (standard deviation): by choice, for no figures
/// were found. Heights of holes are counted from the wrong surface, holes and settings mixed up and zeros slip more
/// often than a weight is read wrong.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Slip {
    /// How often, as a probability.
    pub probability: f64,
    /// Standard deviation in the entry's unit; 0 where nothing moves.
    pub sd: f64,
}

impl Entry {
    /// Those that move, whatever the plow.
    pub(crate) const MOVING: [Self; 13] = [
        Self::Input(Input::PlowHoleHeight),
        Self::Input(Input::TractorHoleHeight),
        Self::PullZero,
        Self::PullGain,
        Self::TailZero,
        Self::LoadTable,
        Self::Input(Input::WeightPlace),
        Self::Input(Input::Weight),
        Self::Input(Input::TailPlace),
        Self::Input(Input::MemberLength),
        Self::Input(Input::PlowHitchPlace),
        Self::Input(Input::BottomsPlace),
        Self::Input(Input::SoilSlope),
    ];

    pub(crate) const fn slip(&self) -> Slip {
        let (probability, sd) = match self {
            Self::Input(Input::PlowHoleHeight | Input::TractorHoleHeight) => (0.02, 0.10),
            Self::Input(Input::WeightPlace) => (0.015, 0.15),
            Self::Input(Input::Weight) => (0.005, 0.15),
            Self::Input(Input::SoilSlope) => (0.01, 0.15),
            Self::Input(_) => (0.005, 0.10),
            Self::PullGain => (0.01, 0.35),
            Self::PullZero => (0.01, 0.15),
            Self::LoadTable => (0.01, 0.20),
            Self::TailZero => (0.01, 0.040),
            Self::TailReversed => (0.01, 0.0),
            Self::Setting(_) => (0.02, 0.0),
        };
        Slip { probability, sd }
    }

    /// Moves the entry by `by` where that moves an input alone; the gain and the table are not looked at.
    pub(crate) fn move_input(&self, inputs: &mut Inputs<f64>, by: f64) {
        let (input, to): (Input, fn(f64, f64) -> f64) = match self {
            Self::Input(Input::Weight) => (Input::Weight, |value, by| value * (1.0 + by)),
            Self::PullGain => (Input::Pull, |value, by| value * (1.0 + by)),
            Self::LoadTable => (Input::TailLoad, |value, by| value * (1.0 + by)),
            Self::PullZero => (Input::Pull, |value, by| value + by),
            Self::Input(input) => (*input, |value, by| value + by),
            Self::TailZero | Self::TailReversed | Self::Setting(_) => return,
        };
        inputs[input] = to(inputs[input], by);
    }

    /// The unit that its move is told in.
    pub const fn unit(&self) -> Unit {
        match self {
            Self::Input(Input::Weight) | Self::PullGain | Self::LoadTable => Unit::Share,
            Self::PullZero => Unit::Newton,
            Self::Input(Input::SoilSlope) => Unit::Slope,
            Self::Input(_) | Self::TailZero => Unit::Metre,
            Self::TailReversed | Self::Setting(_) => Unit::None,
        }
    }
}
