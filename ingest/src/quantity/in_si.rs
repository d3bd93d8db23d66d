//! Quantities in JSON as bare numbers in SI, where the name of the field says the unit.

use super::{Angle, Force, Length, Moment, Power, Quantity, Speed};
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::{Serialize, Serializer};
use std::borrow::Cow;

/// What [`in_si`] writes: quantities by themselves, in pairs, in lists, or none.
pub trait SiNumbers {
    /// What is written for it.
    fn numbers(&self) -> impl Serialize;
}

impl<Q: Quantity> SiNumbers for Q {
    fn numbers(&self) -> impl Serialize {
        self.si()
    }
}

impl<Q: Quantity> SiNumbers for Option<Q> {
    fn numbers(&self) -> impl Serialize {
        self.map(Q::si)
    }
}

impl<Q: Quantity> SiNumbers for (Q, Q) {
    fn numbers(&self) -> impl Serialize {
        (self.0.si(), self.1.si())
    }
}

impl<Q: Quantity> SiNumbers for Vec<Q> {
    fn numbers(&self) -> impl Serialize {
        self.iter().map(|quantity| quantity.si()).collect::<Vec<f64>>()
    }
}

/// For `#[serde(rename = "pull_n", serialize_with = "in_si")]`: by themselves quantities are written with their unit.
pub fn in_si<S: Serializer>(quantities: &impl SiNumbers, serializer: S) -> Result<S::Ok, S::Error> {
    quantities.numbers().serialize(serializer)
}

/// Reports alone have a schema, and they write quantities by [`in_si`].
macro_rules! bare_numbers {
    ($($quantity:ident)*) => {$(
        impl JsonSchema for $quantity {
            fn inline_schema() -> bool {
                true
            }
            fn schema_name() -> Cow<'static, str> {
                stringify!($quantity).into()
            }
            fn json_schema(_: &mut SchemaGenerator) -> Schema {
                json_schema!({ "type": "number" })
            }
        }
    )*};
}

bare_numbers! { Angle Force Length Moment Power Speed }

#[cfg(test)]
mod tests {
    use super::super::{Force, Length};
    use serde::Serialize;

    #[derive(Serialize)]
    struct Written {
        #[serde(rename = "pull_n", serialize_with = "super::in_si")]
        pull: Force,
        #[serde(rename = "left_m", serialize_with = "super::in_si")]
        left: Option<Length>,
        #[serde(rename = "ends_m", serialize_with = "super::in_si")]
        ends: (Length, Length),
        #[serde(rename = "heights_m", serialize_with = "super::in_si")]
        heights: Vec<Length>,
    }

    /// However it was typed.
    #[test]
    fn numbers_are_written_in_si() {
        let length = |text: &str| text.parse::<Length>().unwrap();
        let written = Written {
            pull: "2 kN".parse().unwrap(),
            left: None,
            ends: (length("50 cm"), length("1 m")),
            heights: vec![length("250 mm")],
        };
        assert_eq!(
            serde_json::to_string(&written).unwrap(),
            r#"{"pull_n":2000.0,"left_m":null,"ends_m":[0.5,1.0],"heights_m":[0.25]}"#
        );
    }
}
