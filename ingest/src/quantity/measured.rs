//! A measured quantity with what is known of its uncertainty: `"765 lbf"` or `"765 lbf ± 10 lbf"`.

use super::{Quantity, QuantityError, ReadQuantity, parse_quantity};
use crate::student::Z_975;

/// A value, and the half-width around it that holds the true one in 95 of 100 cases, if it was given.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Measured<Q> {
    /// What was measured.
    pub value: Q,
    /// The ± that was written after it: half of a 95 % interval.
    pub half_width: Option<Q>,
}

impl<Q: Quantity> Measured<Q> {
    /// A value whose uncertainty was not given.
    #[must_use]
    pub fn exactly_as_read(value: Q) -> Self {
        Self { value, half_width: None }
    }

    /// Standard uncertainty in the SI unit, from the ± if it was given, else from `default_half_width`.
    #[must_use]
    pub fn standard_uncertainty(&self, default_half_width: Q) -> f64 {
        self.half_width.unwrap_or(default_half_width).si().abs() / Z_975
    }

    /// The value in its SI unit.
    #[must_use]
    pub fn si(&self) -> f64 {
        self.value.si()
    }
}

impl<Q: ReadQuantity> std::str::FromStr for Measured<Q> {
    type Err = QuantityError;
    fn from_str(text: &str) -> Result<Self, QuantityError> {
        let halves = ["±", "+/-", "+-", "+−"].iter().find_map(|sign| text.split_once(sign));
        match halves {
            None => Ok(Self::exactly_as_read(parse_quantity(text)?)),
            Some((value, half_width)) => {
                let (value, read) = (parse_quantity(value)?, parse_quantity::<Q>(half_width)?);
                if read.si() < 0.0 {
                    return Err(QuantityError::NegativeHalfWidth(half_width.trim().to_owned()));
                }
                Ok(Self { value, half_width: Some(read) })
            }
        }
    }
}

impl<Q: Quantity + std::fmt::Display> std::fmt::Display for Measured<Q> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self.half_width {
            None => write!(f, "{}", self.value),
            Some(half_width) => write!(f, "{} ± {half_width}", self.value),
        }
    }
}

impl<Q: Quantity + std::fmt::Display> serde::Serialize for Measured<Q> {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<'de, Q: ReadQuantity + serde::Deserialize<'de>> serde::Deserialize<'de> for Measured<Q> {
    fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_any(super::parse::TextVisitor::of(Q::DIMENSION))
    }
}
