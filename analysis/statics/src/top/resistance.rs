//! Where the centre of resistance lies across the cut, and how far that place moves.
//!
//! Rule: n·w/2 + w/4 from the wall of the open furrow (The Operation, Care and Repair of Farm Machinery, Deere &
//! Co., 1932 printing, riding plow; read as reprinted 1998): a quarter of one bottom's cut left of the middle. Of a
//! single bottom the same trade says: where share meets moldboard, about 2 in from the landside. Neither is exact:
//! the place is drawn from a range which holds both.

use crate::distribution::Distribution;
use ingest::quantity::Length;
use schemars::JsonSchema;
use serde::Serialize;

/// Half of the 95 % range over the cut of one bottom, by choice: wide enough to hold the quarter of the rule and,
/// for bottoms of 10 to 16 in, the place 2 in from the landside.
const HALF_RANGE_OF_CUT: f64 = 0.2;

/// A side of the plow, looking the way it goes; it throws to the right.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Side {
    /// Toward the unplowed land.
    Left,
    /// Toward the plowed ground.
    Right,
}

/// What moves the center of resistance off the place of the rule.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Condition {
    /// Mellow or coarse soil.
    MellowSoil,
    /// Low speed.
    LowSpeed,
    /// A short moldboard.
    ShortMoldboard,
    /// Heavy or hard soil.
    HeavySoil,
    /// High speed.
    HighSpeed,
    /// A long moldboard.
    LongMoldboard,
}

/// A condition, and the side to which it moves the center of resistance.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Mover {
    /// Which.
    pub condition: Condition,
    /// The way it moves the center.
    pub moves: Side,
}

/// What moves the center of resistance, and which way: common practice, no source.
pub const MOVERS: [Mover; 6] = [
    Mover { condition: Condition::MellowSoil, moves: Side::Left },
    Mover { condition: Condition::LowSpeed, moves: Side::Left },
    Mover { condition: Condition::ShortMoldboard, moves: Side::Left },
    Mover { condition: Condition::HeavySoil, moves: Side::Right },
    Mover { condition: Condition::HighSpeed, moves: Side::Right },
    Mover { condition: Condition::LongMoldboard, moves: Side::Right },
];

/// Distance of the center of resistance from the wall of the open furrow by the rule, for `count` bottoms
/// of a cut of `width` each.
pub fn from_furrow_wall(count: u32, width: Length) -> Length {
    Length::from_m(f64::from(count) * width.m() / 2.0 + width.m() / 4.0)
}

/// The place of the center of resistance, in m left of the middle of the whole cut: the rule, with its range as
/// a distribution.
pub fn place(width: Length) -> Distribution {
    let sd = HALF_RANGE_OF_CUT * width.m() / stats::student::Z_975;
    Distribution::Normal { mean: width.m() / 4.0, sd }
}
