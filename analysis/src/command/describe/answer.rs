//! An answer, as a person writes it, to what stands in `plow.toml`.

use super::questions::{Form, Question};
use crate::report::units::Units;
use ingest::quantity::{Dimension, Force, Length, Measured, Unit, parse_quantity};
use toml_edit::{Array, InlineTable, Value};

/// Keys with their values.
pub(super) type Entries = Vec<(String, Value)>;

/// Most holes in a row.
const HOLES_MAX: u32 = 60;

/// Reads an answer; `known` is what was answered before.
///
/// # Errors
/// What is wrong with it, for the person.
pub(super) fn read(
    question: &Question,
    text: &str,
    units: Units,
    known: &Entries,
) -> Result<Entries, String> {
    let one = |value: Value| vec![(question.key.to_owned(), value)];
    let length = |text: &str| with_unit(text, unit_of(Dimension::Length, units));
    let sentence = |error: ingest::quantity::QuantityError| error.to_string();
    Ok(match question.form {
        Form::Text => one(text.into()),
        Form::Choice(words) => {
            let word = text.to_lowercase();
            let known = words.iter().find(|known| **known == word);
            one((*known.ok_or_else(|| format!("one of: {}", words.join(", ")))?).into())
        }
        Form::Count => {
            one(i64::from(text.parse::<u32>().map_err(|_| "a whole number, such as 2".to_owned())?).into())
        }
        Form::Number => {
            let number = text.parse::<f64>().ok().filter(|number| number.is_finite());
            one(number.ok_or("a number, such as 0.1")?.into())
        }
        Form::Length => one(parse_quantity::<Length>(&length(text)).map_err(sentence)?.to_string().into()),
        Form::Measured => one(length(text).parse::<Measured<Length>>().map_err(sentence)?.to_string().into()),
        Form::Weight => return weight(text, units, known),
        Form::Holes => one(Value::Array(holes(text, units)?)),
        Form::Table => {
            let mut table = Array::new();
            for line in text.split(';') {
                let (deflection, load) = line
                    .split_once(',')
                    .ok_or("deflection, load; deflection, load: such as 0 in, 0 lbf; 2 in, 200 lbf")?;
                let load = with_unit(load, unit_of(Dimension::Force, units));
                let deflection = parse_quantity::<Length>(&length(deflection)).map_err(sentence)?;
                let load = parse_quantity::<Force>(&load).map_err(sentence)?;
                table.push(Array::from_iter([deflection.to_string(), load.to_string()]));
            }
            one(Value::Array(table))
        }
    })
}

pub(super) const fn unit_of(dimension: Dimension, units: Units) -> Unit {
    match (dimension, units) {
        (Dimension::Force, Units::Us) => Unit::POUND_FORCE,
        (Dimension::Force, Units::Si) => Unit::NEWTON,
        (_, Units::Us) => Unit::INCH,
        (_, Units::Si) => Unit::MILLIMETRE,
    }
}

/// The text with the person's own unit behind each number that has none.
fn with_unit(text: &str, unit: Unit) -> String {
    let part = |part: &str| {
        let part = part.trim();
        let bare = part.ends_with(|c: char| c.is_ascii_digit() || c == '.');
        if bare { format!("{part} {}", unit.symbol) } else { part.to_owned() }
    };
    text.replace("+/-", "±").split('±').map(part).collect::<Vec<_>>().join(" ± ")
}

/// A size in SI, in a unit, to four decimals.
fn written(si: f64, unit: Unit) -> String {
    let number = format!("{:.4}", si / unit.factor);
    format!("{} {}", number.trim_end_matches('0').trim_end_matches('.'), unit.symbol)
}

/// The quantities of an example in the person's own units, rounded as a tape and a scale are read.
pub(super) fn shown(text: &str, units: Units) -> String {
    let rounded = |si: f64, dimension: Dimension| {
        let unit = unit_of(dimension, units);
        let number = format!("{:.1}", si / unit.factor);
        format!("{} {}", number.trim_end_matches(".0"), unit.symbol)
    };
    let piece = |piece: &str| {
        let (value, half, dimension) =
            match (piece.parse::<Measured<Length>>(), piece.parse::<Measured<Force>>()) {
                (Ok(length), _) => (length.si(), length.half_width.map(|half| half.m()), Dimension::Length),
                (_, Ok(force)) => (force.si(), force.half_width.map(|half| half.n()), Dimension::Force),
                _ => return piece.to_owned(),
            };
        let half = half.map_or_else(String::new, |half| format!(" ± {}", rounded(half, dimension)));
        rounded(value, dimension) + &half
    };
    let line = |line: &str| line.split(", ").map(piece).collect::<Vec<_>>().join(", ");
    text.split("; ").map(line).collect::<Vec<_>>().join("; ")
}

fn holes(text: &str, units: Units) -> Result<Array, String> {
    let unit = unit_of(Dimension::Length, units);
    let measured =
        |text: &str| with_unit(text, unit).parse::<Measured<Length>>().map_err(|error| error.to_string());
    let mut heights = Vec::new();
    if let Some((before, count)) = text.split_once("apart") {
        let (first, step) = before
            .split_once(',')
            .ok_or("first height, step apart, number: such as 16 in, 1 1/2 in apart, 10 holes")?;
        let count = count.trim_matches(|c: char| !c.is_ascii_digit()).parse::<u32>().ok();
        let count = count
            .filter(|count| (1..=HOLES_MAX).contains(count))
            .ok_or("how many holes? such as: 16 in, 1 1/2 in apart, 10 holes")?;
        let (first, step) = (measured(first)?, measured(step)?);
        let half_width = first.half_width.map_or_else(String::new, |half| format!(" ± {half}"));
        heights.extend(
            (0..count)
                .map(|at| written(first.value.m() + f64::from(at) * step.value.m(), unit) + &half_width),
        );
    } else {
        for height in text.split(',') {
            heights.push(measured(height)?.to_string());
        }
    }
    Ok(heights
        .into_iter()
        .enumerate()
        .map(|(at, z)| Value::InlineTable(InlineTable::from_iter([("name", (at + 1).to_string()), ("z", z)])))
        .collect())
}

/// The whole weight; or that of both ends, from which the place of it follows.
fn weight(text: &str, units: Units, known: &Entries) -> Result<Entries, String> {
    let force = unit_of(Dimension::Force, units);
    let read =
        |text: &str| with_unit(text, force).parse::<Measured<Force>>().map_err(|error| error.to_string());
    let text = text.replace("+/-", "±");
    let total = |total: Measured<Force>| ("weight.total".to_owned(), Value::from(total.to_string()));
    let Some((front, tail)) = text.split_once('+') else { return Ok(vec![total(read(&text)?)]) };
    let (front, tail) = (read(front)?, read(tail)?);
    let place = known
        .iter()
        .find(|(key, _)| ["tail_wheel.x", "rolling_landside.x", "heel.x"].contains(&key.as_str()));
    let place = place.and_then(|(_, value)| value.as_str()?.parse::<Measured<Length>>().ok());
    let place = place.ok_or("the place of the tail is not known: give the whole weight")?;
    let sum = front.si() + tail.si();
    if sum <= 0.0 || front.si() < 0.0 || tail.si() < 0.0 {
        return Err("weights are above 0".to_owned());
    }
    let off = |measured: Measured<Force>| measured.half_width.map(|half| half.n());
    let (mut whole, mut x) =
        (written(sum, force), written(place.si() * tail.si() / sum, unit_of(Dimension::Length, units)));
    if let (Some(front_off), Some(tail_off)) = (off(front), off(tail)) {
        whole += &format!(" ± {}", written(front_off.hypot(tail_off), force));
        let by_scales = place.si() * (front.si() * tail_off).hypot(tail.si() * front_off) / (sum * sum);
        let by_tape = place.half_width.map_or(0.0, |half| half.m()) * tail.si() / sum;
        x += &format!(" ± {}", written(by_scales.hypot(by_tape), unit_of(Dimension::Length, units)));
    }
    Ok(vec![("weight.total".to_owned(), whole.into()), ("weight.x".to_owned(), x.into())])
}
