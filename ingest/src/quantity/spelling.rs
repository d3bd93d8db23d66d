//! Spellings that people use for numbers and units, turned into the one that is parsed: marks of feet and inches,
//! fractions in one sign, a hyphen before a fraction, commas, names of units.

use super::unit::in_table;
use super::{Dimension, Unit, WrongUnit};

/// Signs for a fraction, each with its parts.
const FRACTIONS: &[(char, &str)] = &[
    ('¼', "1/4"),
    ('½', "1/2"),
    ('¾', "3/4"),
    ('⅛', "1/8"),
    ('⅜', "3/8"),
    ('⅝', "5/8"),
    ('⅞', "7/8"),
    ('⅓', "1/3"),
    ('⅔', "2/3"),
];

/// Names beside the symbols of [`super::UNITS`], in small letters; they are taken in capitals too.
const NAMES: &[(Dimension, &[&str], Unit)] = &[
    (Dimension::Length, &["in", "inch", "inches", "\"", "''"], Unit::INCH),
    (Dimension::Length, &["ft", "foot", "feet", "'"], Unit::FOOT),
    (Dimension::Length, &["millimeter", "millimeters", "millimetre", "millimetres"], Unit::MILLIMETRE),
    (Dimension::Length, &["centimeter", "centimeters", "centimetre", "centimetres"], Unit::CENTIMETRE),
    (Dimension::Length, &["meter", "meters", "metre", "metres"], Unit::METRE),
    // A pound where a force is wanted is what a scale shows: the force of a pound's weight.
    (Dimension::Force, &["lb", "lbs", "lbf", "pound", "pounds"], Unit::POUND_FORCE),
    (Dimension::Speed, &["mph"], Unit::MILE_PER_HOUR),
    (Dimension::Speed, &["km/h", "kmh", "kph"], Unit::KILOMETRE_PER_HOUR),
    (Dimension::Angle, &["°", "degree", "degrees"], Unit::DEGREE),
    (Dimension::SpringRate, &["lb/in", "lbs/in", "lbf/in"], Unit::POUND_FORCE_PER_INCH),
    (Dimension::Time, &["µs", "μs"], Unit::MICROSECOND),
    (Dimension::Time, &["sec", "second", "seconds"], Unit::SECOND),
    (Dimension::Time, &["minute", "minutes"], Unit::MINUTE),
    (Dimension::Time, &["hour", "hours"], Unit::HOUR),
];

/// The unit of this dimension that is written like this; names and signs such as `inches`, ″ and ° are taken too.
///
/// # Errors
/// [`WrongUnit`]: the end of a sentence that begins with the symbol.
pub fn unit_for(dimension: Dimension, symbol: &str) -> Result<&'static Unit, WrongUnit> {
    let symbol = symbol.trim();
    let found = in_table(symbol).filter(|unit| unit.dimension == dimension);
    found.or_else(|| unit_named(dimension, symbol)).ok_or_else(|| {
        let explanation = match (dimension, symbol) {
            (Dimension::Force, "kg") => "; a scale's kilograms are \"kgf\"",
            _ => "",
        };
        WrongUnit { dimension, explanation }
    })
}

/// The unit of this dimension that has this name, or this symbol with the point of an abbreviation.
fn unit_named(dimension: Dimension, name: &str) -> Option<&'static Unit> {
    let name = plain(name).trim().trim_end_matches('.').to_lowercase();
    NAMES.iter().find(|(of, names, _)| *of == dimension && names.contains(&name.as_str())).map(|line| &line.2)
}

/// The same text in plain signs: straight marks of feet and inches, a fraction in figures, a hyphen as minus.
pub(super) fn plain(text: &str) -> String {
    let mut plain = String::with_capacity(text.len());
    for sign in text.chars() {
        match sign {
            '″' | '“' | '”' => plain.push('"'),
            '′' | '‘' | '’' => plain.push('\''),
            '−' => plain.push('-'),
            '⁄' => plain.push('/'),
            '\u{a0}' | '\u{202f}' | '\u{2009}' => plain.push(' '),
            _ => match FRACTIONS.iter().find(|(one, _)| *one == sign) {
                Some((_, parts)) => {
                    plain.push(' ');
                    plain.push_str(parts);
                }
                None => plain.push(sign),
            },
        }
    }
    plain
}

/// `3-1/4` as `3 1/4`.
pub(super) fn without_hyphen(number: &str) -> String {
    match number.rsplit_once('-') {
        Some((whole, part)) if part.contains('/') && whole.ends_with(|last: char| last.is_ascii_digit()) => {
            format!("{whole} {part}")
        }
        _ => number.to_owned(),
    }
}

/// A number with commas as one without: `1,600` with a US customary unit, `1,600.5` and `1,600,000` have thousands,
/// `3,5` a fraction; `None` for what may be either.
pub(super) fn without_comma(number: &str, unit: Option<&Unit>) -> Option<String> {
    if !number.contains(',') {
        return Some(number.to_owned());
    }
    let (whole, fraction) = match number.split_once('.') {
        Some((whole, fraction)) => (whole, Some(fraction)),
        None => (number, None),
    };
    let (sign, digits) = match whole.strip_prefix('-') {
        Some(rest) => ("-", rest.trim_start()),
        None => ("", whole),
    };
    let groups: Vec<&str> = digits.split(',').collect();
    let figures = |text: &str| !text.is_empty() && text.bytes().all(|one| one.is_ascii_digit());
    if !groups.iter().copied().chain(fraction).all(figures) {
        return None;
    }
    let thousands = !digits.starts_with('0')
        && groups.iter().enumerate().all(|(at, one)| one.len() == 3 || (at == 0 && one.len() < 3));
    let us = unit.is_some_and(|unit| {
        [Unit::INCH, Unit::FOOT, Unit::POUND_FORCE, Unit::MILE_PER_HOUR, Unit::POUND_FORCE_PER_INCH]
            .contains(unit)
    });
    match (thousands, fraction, groups.as_slice()) {
        (true, Some(fraction), _) => Some(format!("{sign}{}.{fraction}", groups.concat())),
        (true, None, all) if all.len() > 2 || us => Some(format!("{sign}{}", groups.concat())),
        (false, None, [whole, part]) => Some(format!("{sign}{whole}.{part}")),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use crate::quantity::{Force, Length, Measured, Quantity, Speed, SpringRate};

    fn inches(text: &str) -> f64 {
        text.parse::<Length>().unwrap_or_else(|error| panic!("{text}: {error}")).si() / 0.0254
    }

    #[test]
    fn lengths_are_read_as_people_write_them() {
        for (text, wanted) in [
            ("14 inches", 14.0),
            ("1 inch", 1.0),
            ("14 in.", 14.0),
            ("14 IN", 14.0),
            ("3 feet", 36.0),
            ("1 foot", 12.0),
            ("3'6\"", 42.0),
            ("3' 6\"", 42.0),
            ("3’6”", 42.0),
            ("3′ 6½″", 42.5),
            ("3'6''", 42.0),
            ("3 ft 10 in", 46.0),
            ("3 ft. 10-1/2 in.", 46.5),
            ("3 feet 10 inches", 46.0),
            ("-2 ft 1.4 in", -25.4),
            ("3-1/4 in", 3.25),
            ("-3-1/4 in", -3.25),
            ("−3 in", -3.0),
            ("3¼ in", 3.25),
            ("3 ¼ in", 3.25),
            ("¼\"", 0.25),
            ("-¼ in", -0.25),
            ("3 1⁄4 in", 3.25),
            ("2,54 cm", 1.0),
            ("0,254 m", 10.0),
            ("1,016.0 mm", 40.0),
            ("1,016 in", 1016.0),
            ("1,234,567 in", 1_234_567.0),
            ("1,016,000 mm", 40_000.0),
        ] {
            assert!((inches(text) - wanted).abs() < 1e-9, "{text}: {} in", inches(text));
        }
    }

    /// As fine as they were given, in a unit that is understood anywhere.
    #[test]
    fn they_are_written_out_in_plain_signs() {
        for (text, plain) in [
            ("3¼ in", "3 1/4 in"),
            ("3-1/4\"", "3 1/4 in"),
            ("3'6½\"", "42 1/2 in"),
            ("3 ft 10 in", "46 in"),
            ("3 feet", "3 ft"),
            ("3,5 cm", "3.5 cm"),
        ] {
            let length: Length = text.parse().unwrap();
            assert_eq!(length.to_string(), plain);
            assert_eq!(plain.parse::<Length>().unwrap(), length);
        }
        let weight: Measured<Force> = "1,600 lbs +- 20 pounds".parse().unwrap();
        assert_eq!(weight.to_string(), "1600 lbf ± 20 lbf");
    }

    #[test]
    fn a_pound_is_a_force_where_one_is_wanted() {
        for text in ["820 lb", "820 lbs", "820 LBS", "820 pounds", "820 lb.", "820lbs"] {
            assert_eq!(text.parse::<Force>(), "820 lbf".parse(), "{text}");
        }
        assert_eq!("120 lb/in".parse::<SpringRate>(), "120 lbf/in".parse());
        assert_eq!("3.5 MPH".parse::<Speed>(), "3.5 mph".parse());
        assert_eq!("6 kph".parse::<Speed>(), "6 km/h".parse());
        assert!("820 lb".parse::<Length>().is_err());
    }

    #[test]
    fn what_may_be_two_things_is_refused_with_the_cure() {
        for text in ["1,600 mm", "1,600 N", "-1,600 mm", "1.600,5 N", "1,60,0 N", "1,,6 N", ",5 cm", "1,600"]
        {
            let error = text.parse::<Force>().map(drop).and(text.parse::<Length>().map(drop)).unwrap_err();
            assert!(error.to_string().contains("write it without one"), "{text}: {error}");
        }
        for text in ["3'6", "3 ft 10", "3 in 6 in", "3 ft -6 in", "3 ft 10 cm", "3 ft 6 ft"] {
            assert!(text.parse::<Length>().is_err(), "{text}");
        }
    }
}
