//! What is put in for a value that is missing or cannot be read, so that what stands behind it can be.

use super::stop::Stop;
use super::wanted;
use serde::Deserializer;
use serde::de::value::{MapDeserializer, SeqDeserializer, StrDeserializer};
use serde::de::{IntoDeserializer, Visitor};
use std::cell::RefCell;
use std::collections::BTreeMap;
use std::fmt::{Display, Formatter};

/// Places at which something stands in for the value, each with what is wanted there once that is known.
pub(super) type StandIns = RefCell<BTreeMap<String, String>>;

/// A value of whatever type is asked for.
#[derive(Clone)]
pub(super) struct StandIn<'a> {
    pub place: String,
    pub all: &'a StandIns,
}

impl StandIn<'_> {
    fn wants(&self, what: impl FnOnce(&str) -> String) {
        if let Some(wanted) = self.all.borrow_mut().get_mut(&self.place) {
            *wanted = what(&self.place);
        }
    }

    fn whole<'de, V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Stop> {
        self.wants(|_| wanted::WHOLE_NUMBER.to_owned());
        visitor.visit_u64(1)
    }

    fn within(&self, part: &str) -> Self {
        Self { place: format!("{}.{part}", self.place), all: self.all }
    }
}

impl<'de> IntoDeserializer<'de, Stop> for StandIn<'_> {
    type Deserializer = Self;
    fn into_deserializer(self) -> Self {
        self
    }
}

/// What a visitor says that it takes.
struct Expecting<'a, V>(&'a V);

impl<'de, V: Visitor<'de>> Display for Expecting<'_, V> {
    fn fmt(&self, f: &mut Formatter<'_>) -> std::fmt::Result {
        self.0.expecting(f)
    }
}

macro_rules! whole {
    ($($ask:ident)*) => {
        $(fn $ask<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Stop> {
            self.whole(visitor)
        })*
    };
}

macro_rules! text {
    ($($ask:ident)*) => {
        $(fn $ask<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Stop> {
            self.wants(|_| wanted::TEXT.to_owned());
            visitor.visit_str("")
        })*
    };
}

impl<'de> Deserializer<'de> for StandIn<'_> {
    type Error = Stop;

    whole! { deserialize_i8 deserialize_i16 deserialize_i32 deserialize_i64 }
    whole! { deserialize_u8 deserialize_u16 deserialize_u32 deserialize_u64 }
    serde::forward_to_deserialize_any! { f32 bytes byte_buf unit unit_struct }
    text! { deserialize_char deserialize_str deserialize_string deserialize_identifier }

    /// A quantity: its visitor takes bytes, which no file has, for any one of its kind.
    fn deserialize_any<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Stop> {
        self.wants(|_| Expecting(&visitor).to_string());
        visitor.visit_bytes(&[])
    }

    fn deserialize_bool<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Stop> {
        self.wants(|_| wanted::TRUTH.to_owned());
        visitor.visit_bool(false)
    }

    fn deserialize_f64<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Stop> {
        self.wants(|_| wanted::NUMBER.to_owned());
        visitor.visit_f64(1.0)
    }

    fn deserialize_option<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Stop> {
        visitor.visit_some(self)
    }

    fn deserialize_newtype_struct<V: Visitor<'de>>(
        self,
        _: &'static str,
        visitor: V,
    ) -> Result<V::Value, Stop> {
        visitor.visit_newtype_struct(self)
    }

    fn deserialize_seq<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Stop> {
        self.wants(|_| wanted::LIST.to_owned());
        visitor.visit_seq(SeqDeserializer::new(std::iter::empty::<Self>()))
    }

    fn deserialize_tuple<V: Visitor<'de>>(self, len: usize, visitor: V) -> Result<V::Value, Stop> {
        self.wants(|_| wanted::list_of(len));
        let parts = (0..len).map(|_| self.within("part"));
        visitor.visit_seq(SeqDeserializer::new(parts))
    }

    fn deserialize_tuple_struct<V: Visitor<'de>>(
        self,
        _: &'static str,
        len: usize,
        visitor: V,
    ) -> Result<V::Value, Stop> {
        self.deserialize_tuple(len, visitor)
    }

    fn deserialize_map<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Stop> {
        self.wants(|place| format!("a table [{place}.NAME] for each"));
        visitor.visit_map(MapDeserializer::new(std::iter::empty::<(&str, Self)>()))
    }

    fn deserialize_struct<V: Visitor<'de>>(
        self,
        _: &'static str,
        fields: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Stop> {
        self.wants(|place| wanted::table(place, fields));
        visitor.visit_map(MapDeserializer::new(fields.iter().map(|field| (*field, self.within(field)))))
    }

    fn deserialize_enum<V: Visitor<'de>>(
        self,
        _: &'static str,
        variants: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Stop> {
        self.wants(|_| wanted::one_of(variants));
        visitor.visit_enum(StrDeserializer::new(variants.first().copied().unwrap_or_default()))
    }

    fn deserialize_ignored_any<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Stop> {
        visitor.visit_unit()
    }
}
