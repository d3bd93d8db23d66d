//! Units of what people read: SI, or US customary. Everything inside stays in SI; this is the way out.

use ingest::plow::{ChannelRole, RoleDimension};
use ingest::quantity::Unit;
use serde::{Deserialize, Serialize};
use stats::Estimate;

/// One psi (lbf/in²) in N/cm²: 4.448 221 615 260 5 N over (2.54 cm)², both exact by definition.
pub const PSI_N_PER_CM2: f64 = Unit::POUND_FORCE.factor / (2.54 * 2.54);

/// Which units a person reads.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, clap::ValueEnum)]
#[serde(rename_all = "lowercase")]
pub enum Units {
    /// mm, m, N, km/h.
    #[default]
    #[value(help = "mm, N, km/h")]
    Si,
    /// in, ft, lbf, mph.
    #[value(help = "in, lbf, mph")]
    Us,
}

/// A unit with the decimals that its figures deserve.
#[derive(Clone, Copy)]
struct Shown {
    unit: Unit,
    /// Shown figures are whole multiples of this.
    step: f64,
    decimals: usize,
}

impl Shown {
    fn number(self, si: f64) -> String {
        let value = (si / self.unit.factor / self.step).round() * self.step;
        // Adding 0 turns a negative zero into a plain one.
        format!("{:.*}", self.decimals, value + 0.0)
    }

    fn with_unit(self, si: f64) -> String {
        format!("{} {}", self.number(si), self.unit.symbol)
    }

    fn with_interval(self, figure: &Estimate) -> String {
        format!(
            "{} {} ({} to {})",
            self.number(figure.value),
            self.unit.symbol,
            self.number(figure.low),
            self.number(figure.high)
        )
    }
}

impl Units {
    fn small_length(self) -> Shown {
        match self {
            Self::Si => Shown { unit: Unit::MILLIMETRE, step: 1.0, decimals: 0 },
            Self::Us => Shown { unit: Unit::INCH, step: 0.1, decimals: 1 },
        }
    }

    fn length(self) -> Shown {
        match self {
            Self::Si => Shown { unit: Unit::METRE, step: 0.01, decimals: 2 },
            Self::Us => Shown { unit: Unit::FOOT, step: 0.1, decimals: 1 },
        }
    }

    /// Figures of a thousand and more are shown to ten: a pull is not known to the newton.
    fn force(self, si: f64) -> Shown {
        let unit = match self {
            Self::Si => Unit::NEWTON,
            Self::Us => Unit::POUND_FORCE,
        };
        let size = si.abs() / unit.factor;
        Shown { unit, step: if size < 999.5 { 1.0 } else { 10.0 }, decimals: 0 }
    }

    /// The unit in which live readings of a column are shown: its symbol, how many of the column's unit it is,
    /// and decimals.
    #[must_use]
    pub fn of_column(self, role: ChannelRole) -> (&'static str, f64, usize) {
        let (unit, decimals) = match (role.dimension(), self) {
            (RoleDimension::Force, Self::Si) => (Unit::NEWTON, 2),
            (RoleDimension::Force, Self::Us) => (Unit::POUND_FORCE, 2),
            (RoleDimension::Length, Self::Si) => (Unit::MILLIMETRE, 2),
            (RoleDimension::Length, Self::Us) => (Unit::INCH, 3),
            (RoleDimension::Speed, Self::Si) => (Unit::KILOMETRE_PER_HOUR, 2),
            (RoleDimension::Speed, Self::Us) => (Unit::MILE_PER_HOUR, 2),
            (RoleDimension::Angle, _) => (Unit::DEGREE, 2),
        };
        (unit.symbol, unit.per(role.column_unit()), decimals)
    }

    /// A height, offset or hole in mm or in, from m.
    #[must_use]
    pub fn height(self, m: f64) -> String {
        self.small_length().with_unit(m)
    }

    /// A height to a tenth of a millimetre or a hundredth of an inch, from m: what a spring gives.
    #[must_use]
    pub fn small_height(self, m: f64) -> String {
        match self {
            Self::Si => Shown { unit: Unit::MILLIMETRE, step: 0.1, decimals: 1 },
            Self::Us => Shown { unit: Unit::INCH, step: 0.01, decimals: 2 },
        }
        .with_unit(m)
    }

    /// A height in mm or in with its interval, from m: `95 mm (60 to 130)`.
    #[must_use]
    pub fn height_interval(self, figure_m: &Estimate) -> String {
        self.small_length().with_interval(figure_m)
    }

    /// A place along the plow or a distance in m or ft, from m.
    #[must_use]
    pub fn distance(self, m: f64) -> String {
        self.length().with_unit(m)
    }

    /// The same with its interval.
    #[must_use]
    pub fn distance_interval(self, figure_m: &Estimate) -> String {
        self.length().with_interval(figure_m)
    }

    /// A force in N or lbf, from N.
    #[must_use]
    pub fn force_n(self, n: f64) -> String {
        self.force(n).with_unit(n)
    }

    /// The same with its interval.
    #[must_use]
    pub fn force_interval(self, figure_n: &Estimate) -> String {
        let Estimate { value, low, high } = *figure_n;
        format!("{} ({} to {})", self.force_n(value), self.force_number(low), self.force_number(high))
    }

    /// The number of [`Units::force_n`] alone. Each force is rounded by its own size, so that the same force has
    /// the same figure wherever it stands.
    #[must_use]
    pub fn force_number(self, n: f64) -> String {
        self.force(n).number(n)
    }

    /// A power in kW or hp, from W.
    #[must_use]
    pub fn power_w(self, w: f64) -> String {
        let (symbol, of_w) = self.power();
        format!("{:.2} {symbol}", hundredths(of_w(w)))
    }

    /// The same with its interval.
    #[must_use]
    pub fn power_interval(self, figure_w: &Estimate) -> String {
        let (symbol, of_w) = self.power();
        let shown = |w| hundredths(of_w(w));
        let Estimate { value, low, high } = *figure_w;
        format!("{:.2} {symbol} ({:.2} to {:.2})", shown(value), shown(low), shown(high))
    }

    /// No quantity that is typed is a power, so it is not among the units read. 1 hp is 550 ft lbf/s, exactly
    /// 745.699 871 582 270 22 W (NIST SP 811, Appendix B).
    fn power(self) -> (&'static str, fn(f64) -> f64) {
        match self {
            Self::Si => ("kW", |w| w / 1000.0),
            Self::Us => ("hp", |w| w / 745.699_871_582_270_2),
        }
    }

    fn pressure(self) -> (&'static str, f64, usize) {
        match self {
            Self::Si => ("N/cm²", 1.0, 2),
            Self::Us => ("psi", PSI_N_PER_CM2, 1),
        }
    }

    /// A draft per cross-section in N/cm² or psi, from N/cm².
    #[must_use]
    pub fn specific_draft(self, n_per_cm2: f64) -> String {
        let (symbol, one, decimals) = self.pressure();
        // Adding 0 turns a negative zero into a plain one.
        format!("{:.decimals$} {symbol}", n_per_cm2 / one + 0.0)
    }

    /// The same with its interval.
    #[must_use]
    pub fn specific_draft_interval(self, figure: &Estimate) -> String {
        let (_, one, decimals) = self.pressure();
        let (low, high) = (figure.low / one, figure.high / one);
        format!("{} ({low:.decimals$} to {high:.decimals$})", self.specific_draft(figure.value))
    }

    /// A speed in km/h or mph, from m/s.
    #[must_use]
    pub fn speed(self, mps: f64) -> String {
        let unit = match self {
            Self::Si => Unit::KILOMETRE_PER_HOUR,
            Self::Us => Unit::MILE_PER_HOUR,
        };
        Shown { unit, step: 0.1, decimals: 1 }.with_unit(mps)
    }
}

/// To two decimals, and never a negative zero.
fn hundredths(value: f64) -> f64 {
    (value * 100.0).round() / 100.0 + 0.0
}

/// A share as a percentage without decimals; what is neither none nor all is never shown as 0 % or 100 %.
#[must_use]
pub fn percent(share: f64) -> String {
    let whole = (share * 100.0).round() + 0.0;
    if whole < 1.0 && share > 0.0 {
        "under 1 %".to_owned()
    } else if whole > 99.0 && share < 1.0 {
        "over 99 %".to_owned()
    } else {
        format!("{whole:.0} %")
    }
}

/// A chance counted from draws: never 0 % or 100 %, which no number of draws can show.
#[must_use]
pub fn probability_percent(share: f64) -> String {
    percent(share.clamp(f64::MIN_POSITIVE, 1.0 - f64::EPSILON))
}

/// A figure without unit, to two decimals and with its sign: `+0.81 (+0.70 to +0.92)`.
#[must_use]
pub fn signed_interval(figure: &Estimate) -> String {
    format!("{} ({} to {})", signed(figure.value), signed(figure.low), signed(figure.high))
}

/// The number alone.
#[must_use]
pub fn signed(value: f64) -> String {
    let rounded = (value * 100.0).round() / 100.0 + 0.0;
    if rounded == 0.0 { "0.00".to_owned() } else { format!("{rounded:+.2}") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_are_rounded_to_what_they_are_worth() {
        assert_eq!(Units::Si.height(0.0953), "95 mm");
        assert_eq!(Units::Us.height(0.3556), "14.0 in");
        assert_eq!(Units::Si.force_n(8123.0), "8120 N");
        assert_eq!(Units::Si.force_n(812.4), "812 N");
        assert_eq!(Units::Us.force_n(3402.9), "765 lbf");
        assert_eq!(Units::Us.force_n(8896.443), "2000 lbf");
        assert_eq!(Units::Si.speed(1.6), "5.8 km/h");
        assert_eq!(Units::Us.speed(2.2352), "5.0 mph");
        assert_eq!(Units::Si.power_w(12_345.6), "12.35 kW");
        assert_eq!(Units::Us.power_w(7_456.998_7), "10.00 hp");
        assert_eq!(Units::Si.distance(-0.604), "-0.60 m");
        assert_eq!(Units::Us.distance(3.048), "10.0 ft");
    }

    #[test]
    fn nothing_is_shown_as_minus_zero() {
        assert_eq!(Units::Si.height(-0.0001), "0 mm");
        assert_eq!(Units::Si.power_w(-4.0), "0.00 kW");
        assert_eq!(signed(-0.001), "0.00");
        assert_eq!(signed(0.8149), "+0.81");
        assert_eq!(percent(-0.0), "0 %");
    }

    #[test]
    fn small_and_large_shares_do_not_become_none_and_all() {
        assert_eq!(percent(0.004), "under 1 %");
        assert_eq!(percent(0.9999), "over 99 %");
        assert_eq!(percent(1.0), "100 %");
        assert_eq!(percent(0.0), "0 %");
        assert_eq!(percent(0.316), "32 %");
        assert_eq!(
            (probability_percent(1.0).as_str(), probability_percent(0.0).as_str()),
            ("over 99 %", "under 1 %")
        );
        assert_eq!(probability_percent(0.316), "32 %");
    }

    #[test]
    fn intervals_share_one_unit() {
        let figure = Estimate { value: 0.095, low: 0.06, high: 0.13 };
        assert_eq!(Units::Si.height_interval(&figure), "95 mm (60 to 130)");
        let figure = Estimate { value: 950.0, low: 900.0, high: 1040.0 };
        assert_eq!(Units::Si.force_interval(&figure), "950 N (900 to 1040)");
        assert_eq!(signed_interval(&Estimate { value: 0.0, low: -0.2, high: 0.2 }), "0.00 (-0.20 to +0.20)");
    }
}
