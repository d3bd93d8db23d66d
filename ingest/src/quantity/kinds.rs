//! The quantities, each a type of its own.

use super::parse::TextVisitor;
use super::{Dimension, Quantity, QuantityError, ReadQuantity, Unit, Written, parse_quantity};

/// A quantity that is computed only.
macro_rules! computed {
    ($(#[$doc:meta])* $name:ident, $unit:literal, $from:ident, $to:ident) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd)]
        pub struct $name(f64);

        impl $name {
            #[doc = concat!("So many ", $unit, ".")]
            #[must_use]
            pub const fn $from(value: f64) -> Self {
                Self(value)
            }

            #[doc = concat!("In ", $unit, ".")]
            #[must_use]
            pub const fn $to(self) -> f64 {
                self.0
            }
        }

        impl Quantity for $name {
            fn from_si(value: f64) -> Self {
                Self(value)
            }
            fn si(self) -> f64 {
                self.0
            }
        }
    };
}

/// A quantity that files and people give too, in a unit that is kept beside it.
macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident, $unit:literal, $from:ident, $to:ident, $dimension:ident) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, Default)]
        pub struct $name {
            si: f64,
            written: Option<Written>,
        }

        impl $name {
            #[doc = concat!("So many ", $unit, ".")]
            #[must_use]
            pub const fn $from(value: f64) -> Self {
                Self { si: value, written: None }
            }

            #[doc = concat!("In ", $unit, ".")]
            #[must_use]
            pub const fn $to(self) -> f64 {
                self.si
            }
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
            fn from_si(value: f64) -> Self {
                Self { si: value, written: None }
            }
            fn si(self) -> f64 {
                self.si
            }
        }

        impl std::ops::Add for $name {
            type Output = Self;
            fn add(self, other: Self) -> Self {
                Self::$from(self.si + other.si)
            }
        }

        impl std::ops::Sub for $name {
            type Output = Self;
            fn sub(self, other: Self) -> Self {
                Self::$from(self.si - other.si)
            }
        }

        impl ReadQuantity for $name {
            const DIMENSION: Dimension = Dimension::$dimension;
            fn written_as(self, written: Written) -> Self {
                Self { written: Some(written), ..self }
            }
            fn written_unit(self) -> Option<&'static Unit> {
                self.written.and_then(Written::unit)
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

quantity! {
    /// A length, in m.
    Length, "m", from_m, m, Length
}
quantity! {
    /// A force, in N.
    Force, "N", from_n, n, Force
}
quantity! {
    /// A speed, in m/s.
    Speed, "m/s", from_mps, mps, Speed
}
quantity! {
    /// An angle, in degrees (the one exception from SI: people read slopes in degrees).
    Angle, "degrees", from_deg, deg, Angle
}
quantity! {
    /// Force per length of a spring, in N/m.
    SpringRate, "N/m", from_n_per_m, n_per_m, SpringRate
}
quantity! {
    /// A stretch of time, in s.
    TimeSpan, "s", from_s, s, Time
}
computed! {
    /// A moment of force, in N·m.
    Moment, "N·m", from_n_m, n_m
}
computed! {
    /// A power, in W.
    Power, "W", from_w, w
}
