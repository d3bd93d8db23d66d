//! How a person wrote a quantity: in which unit, and in which parts of it.

use super::{UNITS, Unit};

/// Largest number under a fraction line that is written out again; finer ones become decimals.
const DENOMINATOR_MAX: u8 = 128;

/// The way a quantity was written: in two bytes, so that it costs a quantity no more than its number does.
#[derive(Clone, Copy, Debug)]
pub struct Written {
    /// Place of the unit in [`UNITS`].
    unit: u8,
    /// The number under the fraction line of an inch rule (`13 1/2 in`: 2); below 2 there was none to keep.
    denominator: u8,
}

impl Written {
    /// With this number, in this unit; `None` if the unit is none of [`UNITS`].
    pub(super) fn of(number: &str, unit: &Unit) -> Option<Self> {
        let place = UNITS.iter().position(|one| one == unit)?;
        let denominator = denominator_of(number).and_then(|number| u8::try_from(number).ok());
        Some(Self { unit: u8::try_from(place).ok()?, denominator: denominator.unwrap_or(0) })
    }

    /// The unit.
    pub(super) fn unit(self) -> Option<&'static Unit> {
        UNITS.get(usize::from(self.unit))
    }

    /// The quantity of this size in its SI unit, in this unit; `None` if no number in this unit is read as
    /// exactly that size.
    pub(super) fn text(self, si: f64) -> Option<String> {
        let unit = self.unit()?;
        let number = self.fraction(unit, si).or_else(|| decimal(unit, si))?;
        Some(format!("{number} {}", unit.symbol))
    }

    fn fraction(self, unit: &Unit, si: f64) -> Option<String> {
        let denominator = Some(self.denominator).filter(|number| (2..=DENOMINATOR_MAX).contains(number))?;
        let about = si / unit.factor;
        let all = (about.abs() * f64::from(denominator)).round();
        if all >= 1e9 {
            return None;
        }
        let (all, denominator) = (all as u64, u64::from(denominator));
        let (whole, above) = (all / denominator, all % denominator);
        let sign = if about < 0.0 { "-" } else { "" };
        let number = match (whole, above) {
            (_, 0) => return None,
            (0, above) => format!("{sign}{above}/{denominator}"),
            (whole, above) => format!("{sign}{whole} {above}/{denominator}"),
        };
        reads_as(unit, &number, si).then_some(number)
    }
}

fn reads_as(unit: &Unit, number: &str, si: f64) -> bool {
    parse_number(number).is_some_and(|value| value * unit.factor == si)
}

fn decimal(unit: &Unit, si: f64) -> Option<String> {
    let about = si / unit.factor;
    // The division may be a last digit off either way, and the shortest of the neighbors is the one typed.
    let near = [about, about.next_up(), about.next_down()];
    let shortest = (0..=17).flat_map(|digits| near.map(|value| rounded(value, digits)));
    shortest.map(|value| value.to_string()).find(|number| reads_as(unit, number, si))
}

/// The number with this many digits after the first.
fn rounded(value: f64, digits: usize) -> f64 {
    // What was just written as a number is read as one.
    format!("{value:.digits$e}").parse().unwrap_or(value)
}

/// In how many parts the inch rule was read: the number under the fraction line; `None` if there is none.
fn denominator_of(number: &str) -> Option<u32> {
    number.split_once('/').and_then(|(_, below)| below.trim().parse().ok())
}

/// `12`, `-0.5`, `1e3`, `3/4`, `13 1/2`, `-13 1/2` (the sign goes with the whole).
pub(super) fn parse_number(text: &str) -> Option<f64> {
    let fraction = |text: &str| -> Option<f64> {
        let (above, below) = text.split_once('/')?;
        let (above, below): (u32, u32) = (above.trim().parse().ok()?, below.trim().parse().ok()?);
        (below != 0).then(|| f64::from(above) / f64::from(below))
    };
    if !text.contains('/') {
        return text.parse().ok().filter(|number: &f64| number.is_finite());
    }
    let (negative, text) = match text.strip_prefix('-') {
        Some(rest) => (true, rest.trim_start()),
        None => (false, text),
    };
    let magnitude = match text.split_once(' ') {
        Some((whole, part)) => f64::from(whole.parse::<u32>().ok()?) + fraction(part)?,
        None => fraction(text)?,
    };
    Some(if negative { -magnitude } else { magnitude })
}

#[cfg(test)]
mod tests {
    use crate::quantity::{Force, Length, Measured, Quantity, ReadQuantity, UNITS};
    use proptest::prelude::*;

    fn again(text: &str) -> String {
        text.parse::<Length>().unwrap().to_string()
    }

    #[test]
    fn a_quantity_is_written_out_as_it_was_given() {
        for text in
            ["3 in", "13 1/2 in", "-1 1/4 in", "3/4 in", "0.35 m", "-0.1 mm", "120 cm", "2.5 ft", "0 in"]
        {
            assert_eq!(again(text), text);
        }
        // Beyond what an inch rule shows the same size is written with decimals.
        let far: Length = again("2000000000 1/2 in").parse().unwrap();
        assert_eq!(far.m(), "2000000000.5 in".parse::<Length>().unwrap().m());
        // The same quantity in plainer writing.
        for (text, plain) in
            [("14.0 in", "14 in"), ("1e3 mm", "1000 mm"), ("3\"", "3 in"), ("2/1 in", "2 in")]
        {
            assert_eq!(again(text), plain);
        }
        let force: Measured<Force> = "765 lbf +/- 10 lbf".parse().unwrap();
        assert_eq!(force.to_string(), "765 lbf ± 10 lbf");
        assert_eq!(Length::from_m(0.35).to_string(), "0.35 m");
    }

    /// What was written before quantities kept their unit.
    #[test]
    fn a_quantity_of_an_old_run_is_still_the_same() {
        let old: Length = "0.07619999999999999 m".parse().unwrap();
        assert_eq!(old, "3 in".parse().unwrap());
        assert_eq!(old.to_string(), "0.07619999999999999 m");
    }

    #[test]
    fn a_quantity_is_no_more_than_two_numbers() {
        assert_eq!(size_of::<Length>(), 16);
    }

    proptest! {
        /// Whatever was typed: the same quantity to the last bit, in the same unit, and stable from then on.
        #[test]
        fn what_is_typed_is_kept(number in -1e6f64..1e6, digits in 0usize..8, at in 0usize..100) {
            let lengths: Vec<_> =
                UNITS.iter().filter(|unit| unit.dimension == Length::DIMENSION).collect();
            let symbol = lengths[at % lengths.len()].symbol;
            let typed = format!("{number:.digits$} {symbol}");
            let length: Length = typed.parse().unwrap();
            let text = length.to_string();
            let read: Length = text.parse().unwrap();
            prop_assert_eq!(read.si().to_bits() << 1, length.si().to_bits() << 1, "{} as {}", typed, text);
            prop_assert!(text.ends_with(&format!(" {symbol}")) && text.len() <= typed.len(), "{} as {}", typed, text);
            prop_assert_eq!(read.to_string(), text);
        }

        #[test]
        fn an_inch_rule_is_kept(whole in 0u32..500, above in 1u32..128, below in 2u32..=128, negative in any::<bool>()) {
            prop_assume!(above < below);
            let sign = if negative { "-" } else { "" };
            let number = if whole == 0 { format!("{above}/{below}") } else { format!("{whole} {above}/{below}") };
            let text = format!("{sign}{number} in");
            prop_assert_eq!(again(&text), text);
        }
    }
}
