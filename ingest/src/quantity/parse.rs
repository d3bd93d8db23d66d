//! Text to quantity: `"14 in"`, `"13 1/2 in"`, `"765 lbf"`, `"0.35 m"`.

use super::written::parse_number;
use super::{Dimension, ReadQuantity, Unit, Written, WrongUnit, spelling, unit_for, units_of};
use std::marker::PhantomData;

/// Why a text is not the quantity that was wanted.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[allow(missing_docs, reason = "the sentences say what they are, the names of fields their unit")]
pub enum QuantityError {
    #[error("'{text}' does not start with a number; write {} like \"{}\"", wanted.name(), wanted.example())]
    NoNumber { text: String, wanted: Dimension },
    #[error(
        "'{text}' has no unit; write {} like \"{}\" (units: {})",
        wanted.name(), wanted.example(), units_of(*wanted)
    )]
    NoUnit { text: String, wanted: Dimension },
    #[error("'{unit}' in '{text}' {wrong}")]
    WrongUnit { text: String, unit: String, wrong: WrongUnit },
    #[error(
        "'{0}' has a comma that may stand for thousands or for a fraction; write it without one, and a fraction \
         with a point: 1500, 1.5"
    )]
    Comma(String),
    #[error("'{0}' after the ± is below 0; it is how far the true value may be off to either side")]
    NegativeHalfWidth(String),
    #[error("'{0}' is not a finite number")]
    NotFinite(String),
}

/// Reads a number with its unit. The number may be a whole, a decimal or an inch-rule fraction
/// (`13 1/2`), written in the ways of the module `spelling`; the unit must be one of the quantity's dimension.
///
/// ```
/// use ingest::quantity::{Force, Length, Measured, Quantity, parse_quantity};
///
/// let height: Length = parse_quantity("13 1/2 in")?;
/// assert!((height.si() - 0.3429).abs() < 1e-12);
/// assert_eq!(height.to_string(), "13 1/2 in", "as it was written");
/// assert!(parse_quantity::<Length>("13 lbf").is_err() && parse_quantity::<Length>("13").is_err());
///
/// let pull: Measured<Force> = "765 lbf ± 10 lbf".parse()?;
/// assert_eq!(pull.half_width, Some(parse_quantity("10 lbf")?));
/// # Ok::<(), ingest::quantity::QuantityError>(())
/// ```
///
/// # Errors
/// [`QuantityError`] says what is wrong and what would be right.
pub fn parse_quantity<Q: ReadQuantity>(text: &str) -> Result<Q, QuantityError> {
    let wanted = Q::DIMENSION;
    let owned = || text.to_owned();
    let plain = spelling::plain(text);
    let (number, symbol) = number_and_symbol(plain.trim());
    if symbol.is_empty() {
        // A comma is said first: with it the number is not one yet.
        number_in(number, None, text, wanted)?;
        return Err(QuantityError::NoUnit { text: owned(), wanted });
    }
    let (number, value, unit) = match feet_and_inches(wanted, number, symbol, text) {
        Some(read) => read?,
        None => {
            let unit = unit_for(wanted, symbol);
            let (number, value) = number_in(number, unit.as_ref().ok().copied(), text, wanted)?;
            let wrong = |wrong| QuantityError::WrongUnit { text: owned(), unit: symbol.to_owned(), wrong };
            (number, value, unit.map_err(wrong)?)
        }
    };
    let si = value * unit.factor;
    if !si.is_finite() {
        return Err(QuantityError::NotFinite(owned()));
    }
    let quantity = Q::from_si(si);
    Ok(Written::of(&number, unit).map_or(quantity, |written| quantity.written_as(written)))
}

fn number_and_symbol(text: &str) -> (&str, &str) {
    // An exponent's letter must not be mistaken for the start of a unit, nor the other way round.
    let split = text.find(|c: char| !(c.is_ascii_digit() || " .,+-/eE\t".contains(c))).unwrap_or(text.len());
    let (number, symbol) = text.split_at(split);
    (number.trim(), symbol)
}

/// The number as it is parsed, and its value.
fn number_in(
    number: &str,
    unit: Option<&Unit>,
    text: &str,
    wanted: Dimension,
) -> Result<(String, f64), QuantityError> {
    let number = spelling::without_comma(&spelling::without_hyphen(number), unit)
        .ok_or_else(|| QuantityError::Comma(text.to_owned()))?;
    match parse_number(&number) {
        Some(value) => Ok((number, value)),
        None => Err(QuantityError::NoNumber { text: text.to_owned(), wanted }),
    }
}

/// `3 ft 10 in` and `3'10"` as inches; `None` if the symbol is a unit and nothing more.
fn feet_and_inches(
    wanted: Dimension,
    feet: &str,
    symbol: &str,
    text: &str,
) -> Option<Result<(String, f64, &'static Unit), QuantityError>> {
    let (foot, inches) = symbol.split_at(symbol.find(|c: char| c.is_ascii_digit())?);
    let (inches, inch) = number_and_symbol(inches);
    let is = |symbol: &str, unit: Unit| unit_for(wanted, symbol.trim()).is_ok_and(|found| *found == unit);
    if !is(foot, Unit::FOOT) || !is(inch, Unit::INCH) {
        return None;
    }
    let both = number_in(feet, Some(&Unit::FOOT), text, wanted)
        .and_then(|(_, feet)| Ok((feet, number_in(inches, Some(&Unit::INCH), text, wanted)?)));
    Some(both.map(|(whole, (number, inches))| {
        let inches = if feet.starts_with('-') { -inches } else { inches };
        (number, whole.mul_add(12.0, inches), &Unit::INCH)
    }))
}

/// Takes a TOML string, and turns a bare number into the sentence that says what is missing.
pub(super) struct TextVisitor<T> {
    dimension: Dimension,
    value: PhantomData<T>,
}

impl<T> TextVisitor<T> {
    pub(super) fn of(dimension: Dimension) -> Self {
        Self { dimension, value: PhantomData }
    }

    fn bare<E: serde::de::Error>(&self, number: impl std::fmt::Display) -> E {
        E::custom(QuantityError::NoUnit { text: number.to_string(), wanted: self.dimension })
    }
}

impl<T: std::str::FromStr<Err = QuantityError>> serde::de::Visitor<'_> for TextVisitor<T> {
    type Value = T;
    fn expecting(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{} with its unit, like \"{}\"", self.dimension.name(), self.dimension.example())
    }
    fn visit_str<E: serde::de::Error>(self, text: &str) -> Result<T, E> {
        text.parse().map_err(E::custom)
    }
    /// Bytes, which no file has, are what the reader of descriptions asks with for any quantity of the kind, where it
    /// needs one in place of what cannot be read.
    fn visit_bytes<E: serde::de::Error>(self, _: &[u8]) -> Result<T, E> {
        let any = self.dimension.example();
        self.visit_str(any)
    }
    fn visit_i64<E: serde::de::Error>(self, number: i64) -> Result<T, E> {
        Err(self.bare(number))
    }
    fn visit_f64<E: serde::de::Error>(self, number: f64) -> Result<T, E> {
        Err(self.bare(number))
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Force, Length, Speed};
    use proptest::prelude::*;

    #[test]
    fn inch_rule_fractions_are_read_as_a_plowman_writes_them() {
        let inches = |text: &str| text.parse::<Length>().map(|length| length.m() / 0.0254);
        assert_eq!(inches("13 1/2 in").map(|x| (x * 1e9).round() / 1e9), Ok(13.5));
        assert_eq!(inches("3/4 in").map(|x| (x * 1e9).round() / 1e9), Ok(0.75));
        assert_eq!(inches("-1 1/4\"").map(|x| (x * 1e9).round() / 1e9), Ok(-1.25));
        assert!(inches("1/0 in").is_err());
    }

    #[test]
    fn what_is_wrong_is_said_with_what_would_be_right() {
        let error = |text: &str| text.parse::<Force>().map_err(|e| e.to_string()).unwrap_err();
        assert!(error("765").contains("no unit"), "{}", error("765"));
        assert!(error("765 in").contains("no unit of a force"));
        assert!(error("347 kg").contains("kgf"));
        assert!(error("abc").contains("does not start with a number"));
        assert!(error("1,500 N").contains("write it without one"), "{}", error("1,500 N"));
        assert!(error("1,500").contains("write it without one"));
        assert!("1e400 m".parse::<Length>().is_err());
        // A number that is one, until its unit is applied.
        assert_eq!(error("1e306 kN"), "'1e306 kN' is not a finite number");
        assert!("inf m".parse::<Length>().is_err());
        assert!("NaN mph".parse::<Speed>().is_err());
        assert!("".parse::<Length>().is_err());
    }

    #[test]
    fn an_exponent_is_part_of_the_number() {
        assert_eq!("1.5e3 N".parse::<Force>().map(Force::n), Ok(1500.0));
        assert_eq!("2E-3 m".parse::<Length>().map(Length::m), Ok(0.002));
    }

    proptest! {
        #[test]
        fn what_is_written_reads_back_as_it_was(value in -1e9f64..1e9) {
            let length = Length::from_m(value);
            prop_assert_eq!(length.to_string().parse::<Length>(), Ok(length));
        }

        #[test]
        fn no_text_panics(text in "\\PC{0,40}") {
            let _ = text.parse::<Length>();
            let _ = text.parse::<super::super::Measured<Force>>();
        }
    }
}
