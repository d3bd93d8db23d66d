//! Where the centre of resistance lies across the cut, and how far that place moves.
//!
//! Rule: n·w/2 + w/4 from the wall of the open furrow (The Operation, Care and Repair of Farm Machinery, Deere &
//! Co., 1932 printing, riding plow; read as reprinted 1998): a quarter of one bottom's cut left of the middle. Of a
//! single bottom the same trade says: where share meets moldboard, about 2 in from the landside. Neither is exact:
//! the place is drawn from a range which holds both.

use super::TopPoint;
use crate::distribution::Distribution;
use ingest::quantity::{Force, Length, in_si};
use serde::Serialize;

/// Half of the 95 % range over the cut of one bottom, by choice: wide enough to hold the quarter of the rule and,
/// for bottoms of 10 to 16 in, the place 2 in from the landside.
const HALF_RANGE_OF_CUT: f64 = 0.2;

/// A side of the plow, looking the way it goes; it throws to the right.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Side {
    /// Toward the unplowed land.
    Left,
    /// Toward the plowed ground.
    Right,
}

/// What moves the centre of resistance off the place of the rule.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
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

/// A condition, and the side to which it moves the centre of resistance.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct Mover {
    /// Which.
    pub condition: Condition,
    /// The way it moves the centre.
    pub moves: Side,
}

/// What moves the centre of resistance, and which way: common practice, no source.
pub const MOVERS: [Mover; 6] = [
    Mover { condition: Condition::MellowSoil, moves: Side::Left },
    Mover { condition: Condition::LowSpeed, moves: Side::Left },
    Mover { condition: Condition::ShortMoldboard, moves: Side::Left },
    Mover { condition: Condition::HeavySoil, moves: Side::Right },
    Mover { condition: Condition::HighSpeed, moves: Side::Right },
    Mover { condition: Condition::LongMoldboard, moves: Side::Right },
];

/// Distance of the centre of resistance from the wall of the open furrow by the rule, for `count` bottoms
/// of a cut of `width` each.
pub fn from_furrow_wall(count: u32, width: Length) -> Length {
    let width_m = width.m();
    Length::from_m(f64::from(count) * width_m / 2.0 + width_m / 4.0)
}

/// The place of the centre of resistance, in m left of the middle of the whole cut: the rule, with its range as
/// a distribution.
pub fn place(width: Length) -> Distribution {
    let width_m = width.m();
    let sd = HALF_RANGE_OF_CUT * width_m / stats::student::Z_975;
    Distribution::Normal { mean: width_m / 4.0, sd }
}

/// What a side-load channel shows of the soil.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct SideEvidence {
    /// y_r: place of the centre of resistance, left of the middle of the cut.
    #[serde(rename = "resistance_y_m", serialize_with = "in_si")]
    pub resistance_y: Length,
    /// The soil's push toward the landside wall is at least this: the wall can push the plow away only.
    #[serde(rename = "soil_side_at_least_n", serialize_with = "in_si")]
    pub soil_side_at_least: Force,
}

/// From the mean draft part of the pull and the mean side force at the tractor's pin (on the plow, left positive)
/// to the centre of resistance at `resistance_x`: the line through the pin along the measured pull,
/// y_r = y_p − (x_p − x_r)·P_y/P_x. How much the soil pushes sideways does not follow, for the wall's answer is not
/// measured; N = S_y + P_y ≥ 0 gives the bound. `None` without a pull ahead or with a number that is not finite.
pub fn from_side_force(
    pull_x: Force,
    side: Force,
    pin: TopPoint,
    resistance_x: Length,
) -> Option<SideEvidence> {
    let (pull_x_n, side_n) = (pull_x.n(), side.n());
    let resistance_y_m = pin.y.m() - (pin.x.m() - resistance_x.m()) * side_n / pull_x_n;
    (pull_x_n > 0.0 && resistance_y_m.is_finite()).then(|| SideEvidence {
        resistance_y: Length::from_m(resistance_y_m),
        soil_side_at_least: Force::from_n((-side_n).max(0.0)),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What the pull of a known line reads as leads back to the line.
    #[test]
    fn a_side_force_leads_back_to_the_centre_of_resistance() {
        let pin = TopPoint { x: Length::from_m(1.4), y: Length::from_m(-0.2) };
        let (x_r, y_r) = (-0.7, 0.09);
        let side_n = 8_000.0 * (pin.y.m() - y_r) / (pin.x.m() - x_r);
        let found =
            from_side_force(Force::from_n(8_000.0), Force::from_n(side_n), pin, Length::from_m(x_r)).unwrap();
        assert!((found.resistance_y.m() - y_r).abs() < 1e-12, "{found:?}");
        assert_eq!(found.soil_side_at_least.n(), -side_n);
        assert_eq!(
            from_side_force(Force::from_n(8_000.0), Force::from_n(500.0), pin, Length::from_m(x_r))
                .unwrap()
                .soil_side_at_least
                .n(),
            0.0
        );
    }

    #[test]
    fn no_pull_shows_nothing() {
        let pin = TopPoint { x: Length::from_m(1.4), y: Length::from_m(0.0) };
        for (pull_x_n, side_n) in [(0.0, 0.0), (-10.0, 1.0), (f64::NAN, 1.0), (100.0, f64::NAN)] {
            assert_eq!(
                from_side_force(Force::from_n(pull_x_n), Force::from_n(side_n), pin, Length::from_m(-0.7)),
                None
            );
        }
    }
}
