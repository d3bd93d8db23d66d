//! Quantities that carry their dimension: a force is not a length, and a bare number is neither.
//!
//! Inside, every quantity is an `f64` in its SI unit; units come in and go out at the edge only. How a person wrote
//! one is kept beside it, so that what is written out again reads as it was given: "3 in", not
//! "0.07619999999999999 m". It has no part in any comparison.

mod measured;
mod number;
mod parse;
mod unit;
mod written;

pub use measured::Measured;
pub use parse::{QuantityError, parse_quantity};
pub use unit::{Dimension, UNITS, Unit, WrongUnit, unit_for, units_of};
pub use written::Written;

/// A number with a dimension, kept in its SI unit.
pub trait Quantity: Copy + std::fmt::Debug + PartialEq {
    /// What kind of quantity this is.
    const DIMENSION: Dimension;
    /// The quantity that has this value in its SI unit.
    fn from_si(value: f64) -> Self;
    /// The same, written out in the way `written` says.
    fn written_as(self, written: Written) -> Self;
    /// Its value in its SI unit.
    fn si(self) -> f64;
}

macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident, $dimension:ident) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, Default)]
        pub struct $name {
            si: f64,
            written: Option<Written>,
        }

        impl PartialEq for $name {
            fn eq(&self, other: &Self) -> bool {
                self.si == other.si
            }
        }

        impl PartialOrd for $name {
            fn partial_cmp(&self, other: &Self) -> Option<std::cmp::Ordering> {
                self.si.partial_cmp(&other.si)
            }
        }

        impl Quantity for $name {
            const DIMENSION: Dimension = Dimension::$dimension;
            fn from_si(value: f64) -> Self {
                Self { si: value, written: None }
            }
            fn written_as(self, written: Written) -> Self {
                Self { written: Some(written), ..self }
            }
            fn si(self) -> f64 {
                self.si
            }
        }

        impl std::str::FromStr for $name {
            type Err = QuantityError;
            fn from_str(text: &str) -> Result<Self, QuantityError> {
                parse_quantity(text)
            }
        }

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                match self.written.and_then(|written| written.text(self.si)) {
                    Some(text) => f.write_str(&text),
                    None => write!(f, "{} {}", self.si, Dimension::$dimension.si_symbol()),
                }
            }
        }

        impl serde::Serialize for $name {
            fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
                serializer.collect_str(self)
            }
        }

        impl<'de> serde::Deserialize<'de> for $name {
            fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
                deserializer.deserialize_any(parse::TextVisitor::of(Self::DIMENSION))
            }
        }
    };
}

quantity!(
    /// A length, in m.
    Length,
    Length
);
quantity!(
    /// A force, in N.
    Force,
    Force
);
quantity!(
    /// A speed, in m/s.
    Speed,
    Speed
);
quantity!(
    /// An angle, in degrees (the one exception from SI: people read slopes in degrees).
    Angle,
    Angle
);
quantity!(
    /// Force per length of a spring, in N/m.
    SpringRate,
    SpringRate
);
quantity!(
    /// A stretch of time, in s.
    TimeSpan,
    Time
);

impl Length {
    /// In m.
    #[must_use]
    pub fn m(self) -> f64 {
        self.si
    }
}

impl Force {
    /// In N.
    #[must_use]
    pub fn n(self) -> f64 {
        self.si
    }
}

impl Speed {
    /// In m/s.
    #[must_use]
    pub fn mps(self) -> f64 {
        self.si
    }
}
