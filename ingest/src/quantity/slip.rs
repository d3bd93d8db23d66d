//! Readings taken in another unit than they are in: by what factor they come out wrong.

use super::unit::{Dimension, UNITS};
use schemars::JsonSchema;
use serde::Serialize;

/// Two units whose sizes differ by less are not told apart by a reading: newtons in tens and kilograms of force.
const ALIKE: f64 = 1.5;

/// A unit taken for another.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
pub struct UnitSlip {
    /// The unit that the readings seem to be in.
    pub really: &'static str,
    /// The unit that they seem to be taken for.
    pub taken_for: &'static str,
    /// By so much they come out too large.
    pub factor: f64,
}

impl UnitSlip {
    /// Every slip between two units of a dimension.
    pub fn all(dimension: Dimension) -> impl Iterator<Item = Self> {
        let units = move || UNITS.iter().filter(move |unit| unit.dimension == dimension);
        let pairs = units().flat_map(move |taken_for| units().map(move |really| (really, taken_for)));
        let slips = pairs.map(|(really, taken_for)| Self {
            really: really.symbol,
            taken_for: taken_for.symbol,
            factor: taken_for.factor / really.factor,
        });
        slips.filter(|slip| slip.factor.max(1.0 / slip.factor) > ALIKE)
    }

    /// The slip whose factor is nearest to this one, if it is within a share of it.
    #[must_use]
    pub fn of_factor(dimension: Dimension, factor: f64, within: f64) -> Option<Self> {
        let off = |slip: &Self| (slip.factor / factor).ln().abs();
        Self::all(dimension)
            .min_by(|one, other| off(one).total_cmp(&off(other)))
            .filter(|slip| off(slip) <= within.ln_1p())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_factor_names_the_units_and_a_plain_one_none() {
        let named = |dimension, factor: f64| {
            UnitSlip::of_factor(dimension, factor, 0.15).map(|slip| (slip.really, slip.taken_for))
        };
        assert_eq!(named(Dimension::Length, 2.5), Some(("cm", "in")));
        assert_eq!(named(Dimension::Length, 0.04), Some(("in", "mm")));
        assert_eq!(named(Dimension::Length, 990.0), Some(("mm", "m")));
        assert_eq!(named(Dimension::Force, 0.001), Some(("kN", "N")));
        assert_eq!(named(Dimension::Force, 0.225), Some(("lbf", "N")));
        for plain in [1.0, 0.7, 1.4, f64::NAN, 0.0, -2.54, f64::INFINITY] {
            assert_eq!(named(Dimension::Length, plain), None, "{plain}");
        }
    }
}
