//! What is usual for an answer: shown with the question, and asked back where the answer is outside.

use super::answer::{Entries, unit_of};
use super::questions::{Form, QUESTIONS, Question};
use super::shapes::Shape;
use crate::report::units::Units;
use ingest::quantity::{Dimension, Force, Length, Measured, Unit};
use toml_edit::Value;

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
        let (low, high) = shape.usual(question)?;
        let dimension = match question.form {
            Form::Text | Form::Choice(_) | Form::Table => return None,
            Form::Count | Form::Number => return Some(Self { low, high, unit: None }),
            Form::Weight => Dimension::Force,
            Form::Length | Form::Measured | Form::Holes => Dimension::Length,
        };
        let (listed, unit) = (unit_of(dimension, Units::Us), unit_of(dimension, units));
        let [low, high] = [low, high].map(|value| match units {
            Units::Us => value,
            Units::Si => two_digits(value * listed.factor / unit.factor),
        });
        Some(Self { low, high, unit: Some(unit) })
    }

    pub(super) fn text(self) -> String {
        format!("{} to {}{}", self.low, self.high, self.symbol())
    }

    fn symbol(self) -> String {
        self.unit.map_or_else(String::new, |unit| format!(" {}", unit.symbol))
    }
}

/// Rounded to two digits: a range is no measurement.
fn two_digits(value: f64) -> f64 {
    if value == 0.0 {
        return 0.0;
    }
    let places = 1 - value.abs().log10().floor() as i32;
    let rounded = (value * 10f64.powi(places)).round();
    if places > 0 { rounded / 10f64.powi(places) } else { rounded * 10f64.powi(-places) }
}

/// What of an answer is outside of what is usual, each in a sentence.
pub(super) fn outside(shape: &Shape, entries: &Entries, units: Units) -> Vec<String> {
    let mut sentences = Vec::new();
    for (key, value) in entries {
        let question = QUESTIONS.iter().find(|question| question.key == key);
        let Some(usual) = question.and_then(|question| Usual::of(shape, question, units)) else { continue };
        let one = usual.unit.map_or(1.0, |unit| unit.factor);
        // A last bit of a change of unit is none of the person's.
        let is_outside = |number: &f64| *number < usual.low - 1e-9 || *number > usual.high + 1e-9;
        let found = numbers(value).into_iter().map(|si| si / one).find(is_outside);
        sentences.extend(found.map(|number| {
            let digits = format!("{number:.2}");
            let number = digits.trim_end_matches('0').trim_end_matches('.');
            format!(
                "{number}{}, where {} is usual (common practice, no source).",
                usual.symbol(),
                usual.text()
            )
        }));
    }
    sentences
}

/// The sizes in an entry, in SI.
fn numbers(value: &Value) -> Vec<f64> {
    let quantity = |text: &str| match (text.parse::<Measured<Length>>(), text.parse::<Measured<Force>>()) {
        (Ok(length), _) => Some(length.si()),
        (_, Ok(force)) => Some(force.si()),
        _ => None,
    };
    match value {
        Value::String(text) => quantity(text.value()).into_iter().collect(),
        Value::Integer(count) => vec![*count.value() as f64],
        Value::Float(number) => vec![*number.value()],
        Value::Array(holes) => {
            holes.iter().filter_map(|hole| quantity(hole.as_inline_table()?.get("z")?.as_str()?)).collect()
        }
        _ => Vec::new(),
    }
}

#[cfg(test)]
mod tests {
    use super::super::{answer, shapes::SHAPES};
    use super::*;

    #[test]
    fn ranges_are_shown_and_judged_in_the_persons_unit() {
        let question = |key: &str| QUESTIONS.iter().find(|question| question.key == key).unwrap();
        let shape = &SHAPES[0];
        let said = |key: &str, text: &str, units: Units| {
            let entries = answer::read(question(key), text, units, &Vec::new()).unwrap();
            outside(shape, &entries, units).join(" ")
        };
        let text = |key: &str, units: Units| Usual::of(shape, question(key), units).unwrap().text();
        assert_eq!(text("bottoms.depth", Units::Us), "4 to 14 in");
        assert_eq!(text("bottoms.depth", Units::Si), "100 to 360 mm");
        assert_eq!(text("plow_hitch.washer", Units::Si), "1.3 to 25 mm");
        assert_eq!(text("heel.resistance", Units::Si), "0.2 to 0.6");
        assert_eq!(said("bottoms.depth", "14", Units::Us), "");
        assert_eq!(said("bottoms.depth", "360", Units::Si), "");
        assert!(said("bottoms.depth", "361", Units::Si).starts_with("361 mm, where 100 to 360 mm is usual"));
        assert!(said("bottoms.count", "12", Units::Us).starts_with("12, where 1 to 8 is usual"));
        assert!(said("weight.total", "20", Units::Us).contains("20 lbf, where 150 to 4000 lbf"));
        assert!(
            said("tractor_hitch.holes", "10, 5 in apart, 6 holes", Units::Us).starts_with("35 in, where")
        );
        // Each kind has its own.
        let walking = SHAPES.iter().find(|shape| shape.name == "walking").unwrap();
        assert_eq!(Usual::of(walking, question("bottoms.depth"), Units::Us).unwrap().text(), "3 to 9 in");
    }

    /// No example is unusual, and every range of a kind is one of a question that it is asked.
    #[test]
    fn the_example_of_each_kind_is_usual() {
        for shape in SHAPES {
            for question in shape.asked().filter(|question| question.usual.is_some()) {
                let Some(text) = shape.example_of(question.key) else { continue };
                for units in [Units::Us, Units::Si] {
                    let entries = answer::read(question, &text, units, &Vec::new()).unwrap();
                    assert_eq!(
                        outside(shape, &entries, units),
                        Vec::<String>::new(),
                        "{}: {}",
                        shape.name,
                        question.key
                    );
                }
            }
            for (key, low, high) in shape.usual {
                assert!(
                    shape.asked().any(|question| question.key == *key) && low < high,
                    "{}: {key}",
                    shape.name
                );
            }
        }
    }
}
