//! Figures as they are read at the seat, in the units of the reader.

use crate::reader_units::ReaderUnits as Units;
use ingest::quantity::Unit;

/// What stands where there is no reading.
const NONE: &str = "-";

impl Units {
    /// The other.
    pub(super) fn other(self) -> Self {
        match self {
            Self::Si => Self::Us,
            Self::Us => Self::Si,
        }
    }

    pub(super) fn names(self) -> &'static str {
        match self {
            Self::Si => "mm, N, km/h",
            Self::Us => "in, lbf, mph",
        }
    }

    const fn force_unit(self) -> Unit {
        match self {
            Self::Si => Unit::NEWTON,
            Self::Us => Unit::POUND_FORCE,
        }
    }

    /// Figures of a thousand and more are shown to ten: no load is known to the newton while the plow works.
    pub(super) fn force(self, n: Option<f64>) -> String {
        let unit = self.force_unit();
        shown(n.map(|n| n / unit.factor), unit.symbol, |size| if size < 999.5 { 1.0 } else { 10.0 }, 0)
    }

    pub(super) fn depth(self, mm: Option<f64>) -> String {
        let (unit, decimals) = match self {
            Self::Si => (Unit::MILLIMETRE, 0),
            Self::Us => (Unit::INCH, 1),
        };
        shown(mm.map(|mm| mm / unit.per(Unit::MILLIMETRE)), unit.symbol, |_| 10_f64.powi(-decimals), decimals)
    }

    pub(super) fn speed(self, mps: Option<f64>) -> String {
        let unit = match self {
            Self::Si => Unit::KILOMETRE_PER_HOUR,
            Self::Us => Unit::MILE_PER_HOUR,
        };
        shown(mps.map(|mps| mps / unit.per(Unit::METRE_PER_SECOND)), unit.symbol, |_| 0.1, 1)
    }
}

fn shown(value: Option<f64>, symbol: &str, step: impl Fn(f64) -> f64, decimals: i32) -> String {
    let Some(value) = value.filter(|value| value.is_finite()) else { return NONE.to_owned() };
    let step = step(value.abs());
    // Adding 0 turns a negative zero into a plain one.
    let rounded = (value / step).round() * step + 0.0;
    format!("{rounded:.*} {symbol}", decimals.max(0) as usize)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_are_rounded_to_what_can_be_read() {
        assert_eq!(Units::Si.force(Some(7_483.6)), "7480 N");
        assert_eq!(Units::Si.force(Some(-0.2)), "0 N");
        assert_eq!(Units::Us.force(Some(7_483.6)), "1680 lbf");
        assert_eq!(Units::Us.force(Some(100.0)), "22 lbf");
        assert_eq!(
            (Units::Si.depth(Some(178.4)), Units::Us.depth(Some(178.4))),
            ("178 mm".into(), "7.0 in".into())
        );
        assert_eq!(
            (Units::Si.speed(Some(1.5)), Units::Us.speed(Some(1.5))),
            ("5.4 km/h".into(), "3.4 mph".into())
        );
        assert_eq!((Units::Si.force(None), Units::Si.depth(Some(f64::NAN))), ("-".into(), "-".into()));
    }
}
