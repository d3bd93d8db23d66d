//! A value out of a document, going on behind each fault: what cannot be read is told, and something stands in for it.

use super::pass::{Found, Pass, within};
use super::stand_in::StandIn;
use super::stop::Stop;
use super::wanted;
use serde::de::value::{StrDeserializer, StringDeserializer};
use serde::de::{DeserializeOwned, DeserializeSeed, Deserializer, MapAccess, SeqAccess, Visitor};
use std::cell::RefCell;
use std::ops::Range;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

/// So many faults are looked for: each but the unknown keys is a reading of its own.
const FAULTS_MAX: usize = 50;

/// What was read of a document.
pub(super) struct Reading<T> {
    /// The value, with something in the place of what could not be read.
    pub value: Option<T>,
    pub found: Vec<Found>,
    /// Places of what could not be read.
    pub unread: Vec<String>,
}

/// Reads what the document says.
pub(super) fn read<T: DeserializeOwned>(text: &str, document: Spanned<DeTable<'_>>) -> Reading<T> {
    let pass =
        Pass { text, found: RefCell::default(), typos: RefCell::default(), stand_ins: RefCell::default() };
    let span = document.span();
    let document = DeValue::Table(document.into_inner());
    let mut value = None;
    for _ in 0..FAULTS_MAX {
        match T::deserialize(Node { value: &document, span: span.clone(), place: String::new(), pass: &pass })
        {
            Ok(read) => {
                value = Some(read);
                break;
            }
            Err(stop) => {
                let Some((place, span)) = stop.at else { break };
                if pass.stand_ins.borrow_mut().insert(place.clone(), String::new()).is_some() {
                    break;
                }
                // What is made of what stands in for something says nothing of the file.
                if !stop.follows && !pass.has_stand_in_within(&place) {
                    let is_missing = stop.missing.is_some();
                    let found = Found { place, at: span.start, message: stop.message, is_missing };
                    pass.found.borrow_mut().push(found);
                }
            }
        }
    }
    let stand_ins = pass.stand_ins.into_inner();
    let typos = pass.typos.into_inner();
    let mut found = pass.found.into_inner();
    found.retain(|one| !(one.is_missing && typos.contains(&one.place)));
    for one in found.iter_mut().filter(|one| one.is_missing) {
        let wanted = stand_ins.get(&one.place).filter(|wanted| !wanted.is_empty());
        one.message =
            wanted.map_or_else(|| "missing".to_owned(), |wanted| format!("missing: write {wanted}"));
    }
    Reading { value, found, unread: stand_ins.into_keys().collect() }
}

/// A value of the document.
struct Node<'a> {
    value: &'a DeValue<'a>,
    span: Range<usize>,
    place: String,
    pass: &'a Pass<'a>,
}

/// A value of the document, or what stands in for it.
enum Part<'a> {
    There(Node<'a>),
    StandIn(StandIn<'a>),
}

impl<'a> Part<'a> {
    fn of(value: &'a Spanned<DeValue<'a>>, place: String, pass: &'a Pass<'a>) -> Self {
        match pass.stands_in(&place) {
            Some(stand_in) => Self::StandIn(stand_in),
            None => Self::There(Node { value: value.get_ref(), span: value.span(), place, pass }),
        }
    }

    fn read<'de, S: DeserializeSeed<'de>>(self, seed: S) -> Result<S::Value, Stop> {
        match self {
            Self::There(node) => {
                let (place, span) = (node.place.clone(), node.span.clone());
                seed.deserialize(node).map_err(|stop| stop.at(&place, &span))
            }
            Self::StandIn(stand_in) => {
                seed.deserialize(stand_in).map_err(|stop| Stop { follows: true, ..stop })
            }
        }
    }
}

struct Entries<'a> {
    parts: std::vec::IntoIter<(String, Part<'a>)>,
    next: Option<Part<'a>>,
}

impl<'de> MapAccess<'de> for Entries<'_> {
    type Error = Stop;

    fn next_key_seed<K: DeserializeSeed<'de>>(&mut self, seed: K) -> Result<Option<K::Value>, Stop> {
        let Some((key, part)) = self.parts.next() else { return Ok(None) };
        self.next = Some(part);
        seed.deserialize(StringDeserializer::new(key)).map(Some)
    }

    fn next_value_seed<V: DeserializeSeed<'de>>(&mut self, seed: V) -> Result<V::Value, Stop> {
        self.next.take().ok_or_else(|| Stop::saying("a value is missing"))?.read(seed)
    }
}

struct Items<'a>(std::vec::IntoIter<Part<'a>>);

impl<'de> SeqAccess<'de> for Items<'_> {
    type Error = Stop;

    fn next_element_seed<S: DeserializeSeed<'de>>(&mut self, seed: S) -> Result<Option<S::Value>, Stop> {
        self.0.next().map(|part| part.read(seed)).transpose()
    }
}

impl<'a> Node<'a> {
    /// What is wanted instead of what stands here.
    fn wrong(&self, wanted: &str) -> Stop {
        let source = self.pass.text.get(self.span.clone()).unwrap_or_default();
        let first: String = source.lines().next().unwrap_or_default().chars().take(40).collect();
        let is_scalar = !matches!(self.value, DeValue::Array(_) | DeValue::Table(_) | DeValue::String(_));
        let message = match self.value {
            _ if is_scalar && wanted == wanted::TEXT => {
                format!("write it between quotation marks: \"{first}\"")
            }
            DeValue::String(text) if is_number(text) && wanted.contains("number") => {
                format!("write it without quotation marks: {text}")
            }
            _ => format!("write {wanted}"),
        };
        Stop::saying(message)
    }

    fn entries(self, fields: Option<&'static [&'static str]>) -> Option<Entries<'a>> {
        let DeValue::Table(table) = self.value else { return None };
        let Self { place, pass, .. } = self;
        let has = |key: &str| table.iter().any(|(known, _)| known.get_ref() == key);
        let mut parts: Vec<(String, Part<'a>)> = Vec::new();
        for (key, value) in table {
            let mut key: (&str, usize) = (key.get_ref(), key.span().start);
            if let Some(known) = fields.filter(|known| !known.contains(&key.0)) {
                // What is written wrong is read for what is meant, so that its own faults are found.
                let meant = pass.unknown(&place, key, known).filter(|meant| !has(meant));
                match meant.filter(|meant| !parts.iter().any(|(taken, _)| taken == meant)) {
                    Some(meant) => key.0 = meant,
                    None => continue,
                }
            }
            parts.push((key.0.to_owned(), Part::of(value, within(&place, key.0), pass)));
        }
        for field in fields.unwrap_or_default() {
            let missing = !parts.iter().any(|(key, _)| key == field);
            if let Some(stand_in) = pass.stands_in(&within(&place, field)).filter(|_| missing) {
                parts.push(((*field).to_owned(), Part::StandIn(stand_in)));
            }
        }
        Some(Entries { parts: parts.into_iter(), next: None })
    }

    fn items(self) -> Option<Items<'a>> {
        let DeValue::Array(list) = self.value else { return None };
        let parts = list.iter().enumerate();
        let parts = parts.map(|(at, value)| Part::of(value, format!("{}[{at}]", self.place), self.pass));
        Some(Items(parts.collect::<Vec<_>>().into_iter()))
    }

    fn text<'de, V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Stop> {
        match self.value {
            DeValue::String(text) => visitor.visit_str(text),
            _ => Err(self.wrong(wanted::TEXT)),
        }
    }

    fn whole<'de, V: Visitor<'de>>(self, visitor: V, range: (i64, i64)) -> Result<V::Value, Stop> {
        let number = match self.value {
            DeValue::Integer(number) => i64::from_str_radix(number.as_str(), number.radix()).ok(),
            _ => return Err(self.wrong(wanted::WHOLE_NUMBER)),
        };
        let within = number.filter(|number| (range.0..=range.1).contains(number));
        let (low, high) = range;
        visitor.visit_i64(
            within.ok_or_else(|| Stop::saying(format!("write a whole number from {low} to {high}")))?,
        )
    }

    fn number(&self) -> Option<f64> {
        match self.value {
            DeValue::Integer(number) => {
                i64::from_str_radix(number.as_str(), number.radix()).ok().map(|number| number as f64)
            }
            DeValue::Float(number) => number.as_str().parse().ok(),
            _ => None,
        }
    }
}

fn is_number(text: &str) -> bool {
    text.trim().parse::<f64>().is_ok_and(f64::is_finite)
}

macro_rules! whole {
    ($($ask:ident: $type:ty;)*) => {
        $(fn $ask<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Stop> {
            self.whole(visitor, (i64::try_from(<$type>::MIN).unwrap_or(i64::MIN), i64::try_from(<$type>::MAX).unwrap_or(i64::MAX)))
        })*
    };
}

macro_rules! text {
    ($($ask:ident)*) => {
        $(fn $ask<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Stop> {
            self.text(visitor)
        })*
    };
}

impl<'de> Deserializer<'de> for Node<'_> {
    type Error = Stop;

    whole! {
        deserialize_i8: i8; deserialize_i16: i16; deserialize_i32: i32; deserialize_i64: i64;
        deserialize_u8: u8; deserialize_u16: u16; deserialize_u32: u32; deserialize_u64: u64;
    }
    serde::forward_to_deserialize_any! { f32 i128 u128 bytes byte_buf unit unit_struct }
    text! { deserialize_char deserialize_str deserialize_string deserialize_identifier }

    fn deserialize_any<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Stop> {
        match self.value {
            DeValue::String(text) => visitor.visit_str(text),
            DeValue::Integer(number) => match i64::from_str_radix(number.as_str(), number.radix()) {
                Ok(number) => visitor.visit_i64(number),
                Err(_) => Err(Stop::saying("the number is too large")),
            },
            DeValue::Float(_) => match self.number() {
                Some(number) => visitor.visit_f64(number),
                None => Err(self.wrong(wanted::NUMBER)),
            },
            DeValue::Boolean(truth) => visitor.visit_bool(*truth),
            DeValue::Datetime(date) => visitor.visit_str(&date.to_string()),
            DeValue::Array(_) => self.deserialize_seq(visitor),
            DeValue::Table(_) => self.deserialize_map(visitor),
        }
    }

    fn deserialize_bool<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Stop> {
        match self.value {
            DeValue::Boolean(truth) => visitor.visit_bool(*truth),
            _ => Err(self.wrong(wanted::TRUTH)),
        }
    }

    fn deserialize_f64<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Stop> {
        match self.number() {
            Some(number) => visitor.visit_f64(number),
            None => Err(self.wrong(wanted::NUMBER)),
        }
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
        let wrong = self.wrong(wanted::LIST);
        visitor.visit_seq(self.items().ok_or(wrong)?)
    }

    fn deserialize_tuple<V: Visitor<'de>>(self, len: usize, visitor: V) -> Result<V::Value, Stop> {
        let wrong = self.wrong(&wanted::list_of(len));
        visitor.visit_seq(self.items().filter(|items| items.0.len() == len).ok_or(wrong)?)
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
        let wrong = self.wrong(&format!("a table [{}.NAME] for each", self.place));
        visitor.visit_map(self.entries(None).ok_or(wrong)?)
    }

    fn deserialize_struct<V: Visitor<'de>>(
        self,
        _: &'static str,
        fields: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Stop> {
        let wrong = self.wrong(&wanted::table(&self.place, fields));
        let (place, span) = (self.place.clone(), self.span.clone());
        visitor.visit_map(self.entries(Some(fields)).ok_or(wrong)?).map_err(|stop| match stop.missing {
            Some(field) => stop.at(&within(&place, field), &span),
            None => stop,
        })
    }

    fn deserialize_enum<V: Visitor<'de>>(
        self,
        _: &'static str,
        variants: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Stop> {
        match self.value {
            DeValue::String(text) if variants.contains(&text.as_ref()) => {
                visitor.visit_enum(StrDeserializer::new(text.as_ref()))
            }
            DeValue::String(text) => {
                let near = wanted::nearest(text, variants);
                let near = near.map_or_else(String::new, |near| format!("; did you mean \"{near}\"?"));
                Err(Stop::saying(format!(
                    "\"{text}\" is not known here: write {}{near}",
                    wanted::one_of(variants)
                )))
            }
            _ => Err(self.wrong(&wanted::one_of(variants))),
        }
    }

    fn deserialize_ignored_any<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Stop> {
        visitor.visit_unit()
    }
}
