//! The units that a file or a command line may use.
//!
//! Factors are exact by definition (NIST SP 811, Appendix B: 1 in = 0.0254 m, 1 lb = 0.453 592 37 kg,
//! standard gravity 9.806 65 m/s²). This is the only list of units: `plow.toml`, the command line and
//! `import` all read it.

/// What a quantity measures.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Dimension {
    /// SI unit m.
    Length,
    /// SI unit N.
    Force,
    /// SI unit m/s.
    Speed,
    /// Kept in degrees.
    Angle,
    /// SI unit N/m.
    SpringRate,
    /// SI unit s.
    Time,
}

impl Dimension {
    /// Symbol of the unit in which it is kept, its name in a sentence, and a quantity of it as it is written.
    const fn facts(self) -> (&'static str, &'static str, &'static str) {
        match self {
            Self::Length => ("m", "a length", "14 in"),
            Self::Force => ("N", "a force", "765 lbf"),
            Self::Speed => ("m/s", "a speed", "3.5 mph"),
            Self::Angle => ("deg", "an angle", "2.5 deg"),
            Self::SpringRate => ("N/m", "a spring rate", "120 lbf/in"),
            Self::Time => ("s", "a time", "90 s"),
        }
    }

    /// Symbol of the unit in which it is kept.
    #[must_use]
    pub const fn si_symbol(self) -> &'static str {
        self.facts().0
    }

    /// Its name in a sentence, with article.
    #[must_use]
    pub const fn name(self) -> &'static str {
        self.facts().1
    }

    /// A quantity of it, as it is written.
    #[must_use]
    pub const fn example(self) -> &'static str {
        self.facts().2
    }
}

/// A named unit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Unit {
    /// As it is written.
    pub symbol: &'static str,
    /// What it measures.
    pub dimension: Dimension,
    /// One of it, in the unit in which its dimension is kept.
    pub factor: f64,
}

/// One pound-force in N: 0.453 592 37 kg × 9.806 65 m/s².
const LBF_N: f64 = 0.453_592_37 * 9.806_65;
const INCH_M: f64 = 0.0254;

/// The units, each a constant of [`Unit`], so that one that is not here does not compile; and the list of them.
macro_rules! units {
    ($($name:ident: $symbol:literal, $dimension:ident, $factor:expr;)*) => {
        impl Unit {
            $(
                #[doc = concat!("`", $symbol, "`.")]
                pub const $name: Self =
                    Self { symbol: $symbol, dimension: Dimension::$dimension, factor: $factor };
            )*
        }

        /// All units.
        pub const UNITS: &[Unit] = &[$(Unit::$name,)*];
    };
}

units! {
    METRE: "m", Length, 1.0;
    CENTIMETRE: "cm", Length, 0.01;
    MILLIMETRE: "mm", Length, 0.001;
    INCH: "in", Length, INCH_M;
    FOOT: "ft", Length, 0.3048;
    NEWTON: "N", Force, 1.0;
    KILONEWTON: "kN", Force, 1000.0;
    DECANEWTON: "daN", Force, 10.0;
    KILOGRAM_FORCE: "kgf", Force, 9.806_65;
    POUND_FORCE: "lbf", Force, LBF_N;
    METRE_PER_SECOND: "m/s", Speed, 1.0;
    KILOMETRE_PER_HOUR: "km/h", Speed, 1.0 / 3.6;
    MILE_PER_HOUR: "mph", Speed, 0.447_04;
    KNOT: "kn", Speed, 1852.0 / 3600.0;
    DEGREE: "deg", Angle, 1.0;
    RADIAN: "rad", Angle, 180.0 / std::f64::consts::PI;
    NEWTON_PER_METRE: "N/m", SpringRate, 1.0;
    NEWTON_PER_MILLIMETRE: "N/mm", SpringRate, 1000.0;
    KILONEWTON_PER_METRE: "kN/m", SpringRate, 1000.0;
    POUND_FORCE_PER_INCH: "lbf/in", SpringRate, LBF_N / INCH_M;
    SECOND: "s", Time, 1.0;
    MILLISECOND: "ms", Time, 0.001;
    MICROSECOND: "us", Time, 1e-6;
    MINUTE: "min", Time, 60.0;
    HOUR: "h", Time, 3600.0;
}

impl Unit {
    /// One of it in another unit of its dimension.
    #[must_use]
    pub const fn per(self, other: Self) -> f64 {
        self.factor / other.factor
    }
}

pub(super) fn in_table(symbol: &str) -> Option<&'static Unit> {
    UNITS.iter().find(|unit| unit.symbol == symbol)
}

/// A symbol that is no unit of the dimension wanted.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("is no unit of {}{explanation} (units: {})", dimension.name(), units_of(*dimension))]
pub struct WrongUnit {
    /// The dimension wanted.
    pub dimension: Dimension,
    /// A likely cause, or nothing.
    pub(super) explanation: &'static str,
}

/// The symbols of all units of a dimension, for error messages.
#[must_use]
pub fn units_of(dimension: Dimension) -> String {
    let symbols: Vec<_> = UNITS.iter().filter(|u| u.dimension == dimension).map(|u| u.symbol).collect();
    symbols.join(", ")
}

#[cfg(test)]
mod tests {
    use super::*;

    /// NIST SP 811 App. B: lbf 4.448 221 615 260 5 N, mph 0.447 04 m/s, lbf/in 175.126 835 246 476 N/m.
    #[test]
    fn factors_are_those_of_the_published_tables() {
        let factor = |symbol| in_table(symbol).unwrap().factor;
        assert_eq!(factor("lbf"), 4.448_221_615_260_5);
        assert!((factor("lbf/in") / 175.126_835_246_476 - 1.0).abs() < 1e-14);
        assert_eq!(factor("mph"), 0.447_04);
        assert!((factor("kn") - 0.514_444_444_444_444).abs() < 1e-14);
        assert_eq!(factor("ft"), 0.3048);
    }
}
