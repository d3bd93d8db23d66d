//! Quantities that carry their dimension: a force is not a length, and a bare number is neither.
//!
//! Inside, every quantity is an `f64` in its SI unit; units come in and go out at the edge only. How a person wrote
//! one is kept beside it, so that what is written out again reads as it was given: "3 in", not
//! "0.07619999999999999 m". It has no part in any comparison.

mod in_si;
mod kinds;
mod measured;
mod parse;
mod slip;
mod spelling;
mod system;
mod unit;
mod written;

pub use in_si::in_si;
pub use kinds::{Angle, Force, Length, Moment, Power, Speed, SpringRate, TimeSpan};
pub use measured::Measured;
pub use parse::{QuantityError, parse_quantity};
pub use slip::UnitSlip;
pub use spelling::unit_for;
pub use system::{SaidIn, UNITS_VARIABLE, UnitSystem, units_of_reader};
pub use unit::{Dimension, UNITS, Unit, WrongUnit, units_of};
pub use written::Written;

/// A number kept in the SI unit of its dimension; an angle in degrees. A bare `f64` is a quantity of dimension one.
pub trait Quantity: Copy + std::fmt::Debug + PartialEq {
    /// The quantity that has this value in its SI unit.
    fn from_si(value: f64) -> Self;
    /// Its value in its SI unit.
    fn si(self) -> f64;
}

impl Quantity for f64 {
    fn from_si(value: f64) -> Self {
        value
    }
    fn si(self) -> f64 {
        self
    }
}

/// A quantity that a file or a person gives, with its unit.
pub trait ReadQuantity: Quantity {
    /// What it measures.
    const DIMENSION: Dimension;
    /// The same, written out in the way `written` says.
    fn written_as(self, written: Written) -> Self;
    /// The unit in which it was written; `None` if it was not.
    fn written_unit(self) -> Option<&'static Unit>;
}
