//! What is usual for an answer, as it is shown with the question.

use super::answer::unit_of;
use super::questions::{Form, Question};
use super::shapes::Shape;
use crate::report::units::Units;
use ingest::plow::{usual, usual_in};
use ingest::quantity::{Dimension, Unit};

/// A range in a person's unit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Usual {
    low: f64,
    high: f64,
    /// None of a mere number.
    unit: Option<Unit>,
}

impl Usual {
    pub(super) fn of(shape: &Shape, question: &Question, units: Units) -> Option<Self> {
        let dimension = match question.form {
            Form::Text | Form::Hole(_) | Form::Choice(_) | Form::Table => return None,
            Form::Count | Form::Number => None,
            Form::Weight => Some(Dimension::Force),
            Form::Length | Form::Measured | Form::Holes => Some(Dimension::Length),
        };
        let unit = dimension.map(|dimension| unit_of(dimension, units));
        let (low, high) = match unit {
            Some(unit) => usual_in(shape.kind, question.key, unit)?,
            None => usual(shape.kind, question.key)?,
        };
        Some(Self { low, high, unit })
    }

    pub(super) fn text(self) -> String {
        let symbol = self.unit.map_or_else(String::new, |unit| format!(" {}", unit.symbol));
        format!("{} to {}{symbol}", self.low, self.high)
    }
}

#[cfg(test)]
mod tests {
    use super::super::questions::QUESTIONS;
    use super::super::shapes::SHAPES;
    use super::*;

    #[test]
    fn ranges_are_shown_in_the_persons_unit() {
        let question = |key: &str| QUESTIONS.iter().find(|question| question.key == key).unwrap();
        let text = |key: &str, units: Units| Usual::of(&SHAPES[0], question(key), units).unwrap().text();
        assert_eq!(text("bottoms.depth", Units::Us), "4 to 14 in");
        assert_eq!(text("bottoms.depth", Units::Si), "100 to 360 mm");
        assert_eq!(text("plow_hitch.washer", Units::Si), "1.3 to 25 mm");
        assert_eq!(text("heel.resistance", Units::Si), "0.2 to 0.6");
        assert_eq!(text("weight.total", Units::Us), "150 to 4000 lbf");
        // Each kind has its own.
        let walking = SHAPES.iter().find(|shape| shape.name == "walking").unwrap();
        assert_eq!(Usual::of(walking, question("bottoms.depth"), Units::Us).unwrap().text(), "3 to 9 in");
    }

    /// Whatever is measured in one figure has a range.
    #[test]
    fn each_measurement_has_a_range() {
        for shape in SHAPES {
            for question in shape.asked() {
                let wants =
                    !matches!(question.form, Form::Text | Form::Hole(_) | Form::Choice(_) | Form::Table);
                assert_eq!(Usual::of(shape, question, Units::Us).is_some(), wants, "{}", question.key);
            }
        }
    }
}
