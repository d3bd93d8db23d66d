//! The quantities, each a type of its own.

use super::parse::TextVisitor;
use super::{Dimension, Quantity, QuantityError, Written, parse_quantity};

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
                deserializer.deserialize_any(TextVisitor::of(Self::DIMENSION))
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
