//! Units of what people read: SI, or US customary. Everything inside stays in SI; this is the way out.

use ingest::plow::ChannelRole;
use ingest::quantity::{Length, ReadQuantity, Unit, UnitSystem, units_of_reader};
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
    symbol: &'static str,
    /// One of it in the unit inside.
    one: f64,
    /// Shown figures are whole multiples of this.
    step: f64,
    decimals: usize,
}

impl Shown {
    const fn of(unit: Unit, step: f64, decimals: usize) -> Self {
        Self { symbol: unit.symbol, one: unit.factor, step, decimals }
    }

    fn number(self, inside: f64) -> String {
        let value = (inside / self.one / self.step).round() * self.step;
        // Adding 0 turns a negative zero into a plain one.
        format!("{:.*}", self.decimals, value + 0.0)
    }

    fn with_unit(self, inside: f64) -> String {
        format!("{} {}", self.number(inside), self.symbol)
    }

    fn with_interval(self, figure: &Estimate) -> String {
        let Estimate { value, low, high } = *figure;
        format!("{} ({} to {})", self.with_unit(value), self.number(low), self.number(high))
    }
}

impl From<UnitSystem> for Units {
    fn from(system: UnitSystem) -> Self {
        match system {
            UnitSystem::Si => Self::Si,
            UnitSystem::Us => Self::Us,
        }
    }
}

impl From<Units> for UnitSystem {
    fn from(units: Units) -> Self {
        match units {
            Units::Si => Self::Si,
            Units::Us => Self::Us,
        }
    }
}

impl Units {
    /// Those of [`units_of_reader`], if anybody says any.
    ///
    /// # Errors
    /// Its sentence.
    pub fn of_reader(asked: Option<Self>, described: Option<UnitSystem>) -> Result<Option<Self>, String> {
        Ok(units_of_reader(asked.map(Into::into), described)?.map(Into::into))
    }

    fn small_length(self) -> Shown {
        let unit = UnitSystem::from(self).small_length();
        match self {
            Self::Si => Shown::of(unit, 1.0, 0),
            Self::Us => Shown::of(unit, 0.1, 1),
        }
    }

    fn length(self) -> Shown {
        match self {
            Self::Si => Shown::of(Unit::METRE, 0.01, 2),
            Self::Us => Shown::of(Unit::FOOT, 0.1, 1),
        }
    }

    /// Figures of a thousand and more are shown to ten: a pull is not known to the newton.
    fn force(self, si: f64) -> Shown {
        let unit = UnitSystem::from(self).force();
        let size = si.abs() / unit.factor;
        Shown::of(unit, if size < 999.5 { 1.0 } else { 10.0 }, 0)
    }

    /// No quantity that is typed is a power, so it is not among the units read. 1 hp is 550 ft lbf/s, exactly
    /// 745.699 871 582 270 22 W (NIST SP 811, Appendix B).
    const fn power(self) -> Shown {
        match self {
            Self::Si => Shown { symbol: "kW", one: 1000.0, step: 0.01, decimals: 2 },
            Self::Us => Shown { symbol: "hp", one: 745.699_871_582_270_2, step: 0.01, decimals: 2 },
        }
    }

    const fn pressure(self) -> Shown {
        match self {
            Self::Si => Shown { symbol: "N/cm²", one: 1.0, step: 0.01, decimals: 2 },
            Self::Us => Shown { symbol: "psi", one: PSI_N_PER_CM2, step: 0.1, decimals: 1 },
        }
    }

    /// The unit in which live readings of a column are shown: its symbol, how many of the column's unit it is,
    /// and decimals.
    pub fn of_column(self, role: ChannelRole) -> (&'static str, f64, usize) {
        let unit = role.unit_in(self.into());
        let decimals = if unit == Unit::INCH { 3 } else { 2 };
        (unit.symbol, unit.per(role.column_unit()), decimals)
    }

    /// A height, offset or hole in mm or in, from m.
    pub fn height(self, m: f64) -> String {
        self.small_length().with_unit(m)
    }

    /// A height that somebody gave, as fine as it was given: `3 1/4 in`. One that was given in the other system, or
    /// worked out, is shown as any height.
    pub fn given_height(self, height: Length) -> String {
        let shown = self.small_length();
        let Some(unit) = height.written_unit() else { return self.height(height.m()) };
        let own = match self {
            Self::Si => [Unit::MILLIMETRE, Unit::CENTIMETRE, Unit::METRE].contains(unit),
            Self::Us => [Unit::INCH, Unit::FOOT].contains(unit),
        };
        let hundredths = height.m() / shown.one * 100.0;
        let steps = hundredths.round() / 100.0 / shown.step;
        let is_finer = (steps - steps.round()).abs() > 1e-6;
        match own {
            true if unit.symbol == shown.symbol => height.to_string(),
            true if is_finer => Shown { step: 0.01, decimals: 2, ..shown }.with_unit(height.m()),
            _ => self.height(height.m()),
        }
    }

    /// A height to a tenth of a millimetre or a hundredth of an inch, from m: what a spring gives.
    pub fn small_height(self, m: f64) -> String {
        match self {
            Self::Si => Shown::of(Unit::MILLIMETRE, 0.1, 1),
            Self::Us => Shown::of(Unit::INCH, 0.01, 2),
        }
        .with_unit(m)
    }

    /// A height in mm or in with its interval, from m: `95 mm (60 to 130)`.
    pub fn height_interval(self, figure_m: &Estimate) -> String {
        self.small_length().with_interval(figure_m)
    }

    /// A place along the plow or a distance in m or ft, from m.
    pub fn distance(self, m: f64) -> String {
        self.length().with_unit(m)
    }

    /// The same with its interval.
    pub fn distance_interval(self, figure_m: &Estimate) -> String {
        self.length().with_interval(figure_m)
    }

    /// A way that was driven, in whole m or ft, from m.
    pub fn way(self, m: f64) -> String {
        Shown { step: 1.0, decimals: 0, ..self.length() }.with_unit(m)
    }

    /// A force in N or lbf, from N.
    pub fn force_n(self, n: f64) -> String {
        self.force(n).with_unit(n)
    }

    /// The same with its interval.
    pub fn force_interval(self, figure_n: &Estimate) -> String {
        let Estimate { value, low, high } = *figure_n;
        format!("{} ({} to {})", self.force_n(value), self.force_number(low), self.force_number(high))
    }

    /// The number of [`Units::force_n`] alone. Each force is rounded by its own size, so that the same force has
    /// the same figure wherever it stands.
    pub fn force_number(self, n: f64) -> String {
        self.force(n).number(n)
    }

    /// A power in kW or hp, from W.
    pub fn power_w(self, w: f64) -> String {
        self.power().with_unit(w)
    }

    /// The same with its interval.
    pub fn power_interval(self, figure_w: &Estimate) -> String {
        self.power().with_interval(figure_w)
    }

    /// A draft per cross-section in N/cm² or psi, from N/cm².
    pub fn specific_draft(self, n_per_cm2: f64) -> String {
        self.pressure().with_unit(n_per_cm2)
    }

    /// The same with its interval.
    pub fn specific_draft_interval(self, figure: &Estimate) -> String {
        self.pressure().with_interval(figure)
    }

    /// A speed in km/h or mph, from m/s.
    pub fn speed(self, mps: f64) -> String {
        Shown::of(UnitSystem::from(self).speed(), 0.1, 1).with_unit(mps)
    }
}

/// A share as a percentage without decimals; what is neither none nor all is never shown as 0 % or 100 %.
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
pub fn probability_percent(share: f64) -> String {
    percent(share.clamp(f64::MIN_POSITIVE, 1.0 - f64::EPSILON))
}

/// A figure without unit, to two decimals and with its sign: `+0.81 (+0.70 to +0.92)`.
pub fn signed_interval(figure: &Estimate) -> String {
    format!("{} ({} to {})", signed(figure.value), signed(figure.low), signed(figure.high))
}

/// The number alone.
pub fn signed(value: f64) -> String {
    let rounded = (value * 100.0).round() / 100.0 + 0.0;
    if rounded == 0.0 { "0.00".to_owned() } else { format!("{rounded:+.2}") }
}

/// A figure, left +, as `5.5° to the right (4.2° to 6.8°)`; ends on different sides each say theirs. `size` prints
/// a size that is not below 0, with its unit.
pub fn sided(figure: &Estimate, size: impl Fn(f64) -> String) -> String {
    let side = |value: f64| if value < 0.0 { "right" } else { "left" };
    let told = |value: f64| format!("{} to the {}", size(value.abs()), side(value));
    let (near, far) = if figure.value < 0.0 { (figure.high, figure.low) } else { (figure.low, figure.high) };
    if side(near) == side(far) || size(near.abs()) == size(0.0) {
        format!("{} ({} to {})", told(figure.value), size(near.abs()), size(far.abs()))
    } else {
        format!("{} ({}, to {})", told(figure.value), told(near), told(far))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

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
    fn a_height_that_was_given_is_shown_as_fine_as_it_was() {
        let shown = |text: &str, units: Units| units.given_height(text.parse().unwrap());
        for (given, us, si) in [
            ("3 1/4 in", "3 1/4 in", "83 mm"),
            ("3¼ in", "3 1/4 in", "83 mm"),
            ("13.125 in", "13.125 in", "333 mm"),
            ("14 in", "14 in", "356 mm"),
            ("3 ft", "36.0 in", "914 mm"),
            ("82.5 mm", "3.2 in", "82.5 mm"),
            ("0.0825 m", "3.2 in", "82.50 mm"),
            ("8.3 cm", "3.3 in", "83 mm"),
        ] {
            assert_eq!((shown(given, Units::Us), shown(given, Units::Si)), (us.to_owned(), si.to_owned()));
        }
        assert_eq!(Units::Us.given_height(Length::from_m(0.0825)), "3.2 in");
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

    fn degrees(value: f64, low: f64, high: f64) -> String {
        sided(&Estimate { value, low, high }, |deg| format!("{deg:.1}°"))
    }

    #[test]
    fn a_side_is_said_in_words() {
        assert_eq!(degrees(-5.5, -6.8, -4.2), "5.5° to the right (4.2° to 6.8°)");
        assert_eq!(degrees(5.5, 4.2, 6.8), "5.5° to the left (4.2° to 6.8°)");
        assert_eq!(degrees(-1.0, -3.0, 2.0), "1.0° to the right (2.0° to the left, to 3.0° to the right)");
        assert_eq!(degrees(1.0, -3.0, 2.0), "1.0° to the left (3.0° to the right, to 2.0° to the left)");
        assert_eq!(degrees(-1.0, -3.0, 0.01), "1.0° to the right (0.0° to 3.0°)");
    }

    proptest! {
        /// Found on the sheet of the wide plow: "left by -5.5".
        #[test]
        fn no_sign_is_printed(value in -90.0..90.0f64, below in 0.0..50.0f64, above in 0.0..50.0f64) {
            let text = degrees(value, value - below, value + above);
            prop_assert!(!text.contains('-') && !text.contains('−'), "{}", text);
        }
    }
}
