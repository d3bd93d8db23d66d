//! A figure with its 95 % interval, as it stands on the page and in the JSON.

use super::student::Z_975;
use ingest::quantity::Quantity;
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::Serialize;
use std::borrow::Cow;

/// A figure and the ends of its 95 % interval: numbers, or quantities of one dimension.
///
/// Serialises as `{"value", "low", "high"}`, numbers in SI. Where a figure may be absent, callers hold
/// `Option<Estimate>` and build it with [`Estimate::new`], which refuses numbers that are not finite: serde_json
/// would write those as `null` inside an object that promises numbers.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Estimate<Q = f64> {
    /// The figure itself.
    pub value: Q,
    /// Lower end of the 95 % interval.
    pub low: Q,
    /// Upper end of the 95 % interval.
    pub high: Q,
}

impl<Q: Quantity> Estimate<Q> {
    /// The same figure as numbers in SI.
    pub fn si(&self) -> Estimate {
        Estimate { value: self.value.si(), low: self.low.si(), high: self.high.si() }
    }

    /// The figure that has these numbers in SI.
    pub fn from_si(figure: Estimate) -> Self {
        let Estimate { value, low, high } = figure;
        Self { value: Q::from_si(value), low: Q::from_si(low), high: Q::from_si(high) }
    }

    /// Half of the 95 % interval, in SI.
    pub fn half_width(&self) -> f64 {
        (self.high.si() - self.low.si()) / 2.0
    }

    /// Standard uncertainty, in SI: that of a normal law with this interval.
    pub fn standard_uncertainty(&self) -> f64 {
        self.half_width() / Z_975
    }
}

impl<Q: Quantity> Serialize for Estimate<Q> {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let Estimate { value, low, high } = self.si();
        serializer.collect_map([("value", value), ("low", low), ("high", high)])
    }
}

/// One schema for all of them: the unit is that of the field.
impl<Q> JsonSchema for Estimate<Q> {
    fn schema_name() -> Cow<'static, str> {
        "Estimate".into()
    }

    fn schema_id() -> Cow<'static, str> {
        concat!(module_path!(), "::Estimate").into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({
            "description": "A figure with its 95 % interval, in the unit of the key that it stands under.",
            "type": "object",
            "unit": "that of the key",
            "properties": {
                "value": { "type": "number", "description": "The figure itself." },
                "low": { "type": "number", "description": "Lower end of the 95 % interval." },
                "high": { "type": "number", "description": "Upper end of the 95 % interval." }
            },
            "required": ["value", "low", "high"],
            "additionalProperties": false
        })
    }
}

impl Estimate {
    /// An estimate from its three numbers; the ends may come in either order. `None` if any is NaN or
    /// infinite.
    pub fn new(value: f64, one_end: f64, other_end: f64) -> Option<Self> {
        let all_finite = value.is_finite() && one_end.is_finite() && other_end.is_finite();
        all_finite.then(|| Self { value, low: one_end.min(other_end), high: one_end.max(other_end) })
    }

    /// A figure without uncertainty (a count, a set length): both ends are the value. `None` if it is not
    /// finite.
    pub fn exact(value: f64) -> Option<Self> {
        Self::new(value, value, value)
    }

    /// value ± half_width. `None` if either is not finite.
    pub fn around(value: f64, half_width: f64) -> Option<Self> {
        Self::new(value, value - half_width, value + half_width)
    }

    /// `value` with the 2.5th and 97.5th percentile of `draws` as ends (Monte Carlo, JCGM 101:2008, 7.7:
    /// probabilistically symmetric interval). `None` without draws, or if a number needed is not finite.
    pub fn from_draws(value: f64, draws: &[f64]) -> Option<Self> {
        let ends = super::descriptive::percentiles(draws, &[2.5, 97.5]).ok()?;
        Self::new(value, *ends.first()?, *ends.last()?)
    }

    /// The same figure through a function that only rises or only falls between `low` and `high` (unit
    /// change, square root of a positive figure, reciprocal of one that excludes 0). `None` if a result is
    /// not finite.
    pub fn map(self, monotone: impl Fn(f64) -> f64) -> Option<Self> {
        Self::new(monotone(self.value), monotone(self.low), monotone(self.high))
    }

    /// The figure times `factor`, e.g. into another unit; a negative factor swaps the ends.
    pub fn scaled(self, factor: f64) -> Self {
        let (one, other) = (self.low * factor, self.high * factor);
        Self { value: self.value * factor, low: one.min(other), high: one.max(other) }
    }

    /// `self − other` for two independent figures, the distances to the ends combined in quadrature.
    ///
    /// Source: the "method of variance estimates recovery", Zou & Donner 2008, Statistics in Medicine 27,
    /// 1693–1702; it keeps the asymmetry of the two intervals, which a plain ± would lose.
    pub fn minus(self, other: Self) -> Self {
        let value = self.value - other.value;
        let below = (self.value - self.low).hypot(other.high - other.value);
        let above = (self.high - self.value).hypot(other.value - other.low);
        Self { value, low: value - below, high: value + above }
    }

    /// The same with a further, independent half-width of a 95 % interval: distances add in quadrature.
    #[must_use]
    pub fn widened_by(self, half_width: f64) -> Self {
        let Self { value, low, high } = self;
        Self {
            value,
            low: value - (value - low).hypot(half_width),
            high: value + (high - value).hypot(half_width),
        }
    }

    /// Whether `x` lies within the interval, ends included.
    pub fn holds(self, x: f64) -> bool {
        self.low <= x && x <= self.high
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use ingest::quantity::Length;

    #[test]
    fn ends_are_ordered_and_numbers_that_are_not_finite_refused() {
        let e = Estimate::new(2.0, 3.0, 1.0).unwrap();
        assert_eq!((e.low, e.high), (1.0, 3.0));
        assert_eq!(Estimate::new(f64::NAN, 0.0, 1.0), None);
        assert_eq!(Estimate::new(0.0, f64::NEG_INFINITY, 1.0), None);
        assert_eq!(Estimate::exact(f64::INFINITY), None);
        assert_eq!(e.map(|x| 1.0 / (x - 1.0)), None);
    }

    #[test]
    fn a_falling_function_swaps_the_ends() {
        let e = Estimate::new(2.0, 1.0, 4.0).unwrap();
        assert_eq!(e.map(|x| 1.0 / x), Estimate::new(0.5, 0.25, 1.0));
        assert_eq!(e.scaled(-2.0), Estimate { value: -4.0, low: -8.0, high: -2.0 });
    }

    #[test]
    fn difference_of_two_figures_keeps_their_asymmetry() {
        let a = Estimate::new(10.0, 7.0, 14.0).unwrap();
        let b = Estimate::new(4.0, 1.0, 8.0).unwrap();
        // below: sqrt(3^2 + 4^2) = 5; above: sqrt(4^2 + 3^2) = 5
        assert_eq!(a.minus(b), Estimate { value: 6.0, low: 1.0, high: 11.0 });
    }

    #[test]
    fn serialises_as_three_named_numbers() {
        let e = Estimate::new(1.5, 1.0, 2.0).unwrap();
        assert_eq!(serde_json::to_string(&e).unwrap(), r#"{"value":1.5,"low":1.0,"high":2.0}"#);
    }

    #[test]
    fn a_quantity_is_serialised_in_si() {
        let figure = Estimate::<Length>::from_si(Estimate::new(1.5, 1.0, 2.0).unwrap());
        assert_eq!(figure.high, Length::from_m(2.0));
        assert_eq!(serde_json::to_string(&figure).unwrap(), r#"{"value":1.5,"low":1.0,"high":2.0}"#);
    }

    #[test]
    fn draws_give_their_central_95_percent() {
        let draws: Vec<f64> = (0..=1000).map(f64::from).collect();
        assert_eq!(Estimate::from_draws(500.0, &draws), Estimate::new(500.0, 25.0, 975.0));
        assert_eq!(Estimate::from_draws(500.0, &[]), None);
    }
}
