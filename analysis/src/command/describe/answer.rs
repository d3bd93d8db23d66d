//! An answer, as a person writes it, to what stands in `plow.toml`.

use super::questions::{End, Form, Question, Tape};
use crate::report::units::Units;
use ingest::quantity::{
    Dimension, Force, Length, Measured, QuantityError, ReadQuantity, Unit, parse_quantity,
};
use toml_edit::{Array, InlineTable, Value};

/// Keys with their values.
pub(super) type Entries = Vec<(String, Value)>;

/// Most holes in a row.
const HOLES_MAX: u32 = 60;
/// Heights no farther apart than this are those of the same hole: 1/16 in.
const SAME_HEIGHT_M: f64 = 0.0016;

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
    let length = || unit_of(Dimension::Length, units);
    if question.form.is_one_figure() && has_several_figures(text) {
        let example = match (question.form, units) {
            (Form::Count, _) => "2",
            (Form::Number, _) => "0.1",
            (_, Units::Us) => "14 1/2 in",
            (_, Units::Si) => "370 mm",
        };
        return Err(format!("one figure here, such as {example}; '{text}' is several"));
    }
    Ok(match question.form {
        Form::Text => one(text.into()),
        Form::Hole(end) => one(hole(text, end, known)?.into()),
        Form::Choice(words) => {
            let word = text.to_lowercase();
            if word == "both" && question.tape == Tape::RunsIn {
                return Err("one on each: answer for the wheel that carries more, land or furrow; if they carry alike, either \
                            will do (? tells why)"
                    .to_owned());
            }
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
        Form::Length => {
            let read = quantity::<Length>(text, length())?;
            if read.half_width.is_some() {
                return Err("no ± is asked for here: the figure alone".to_owned());
            }
            one(read.value.to_string().into())
        }
        Form::Measured => {
            let read = quantity::<Length>(text, length())?;
            from_the_wrong_end(question, read.value, length(), known)?;
            one(read.to_string().into())
        }
        Form::Weight => return weight(text, units, known),
        Form::Holes => one(Value::Array(holes(text, units)?)),
        Form::Table => {
            let mut table = Array::new();
            for line in text.split(';') {
                let (deflection, load) = line
                    .split_once(',')
                    .ok_or("deflection, load; deflection, load: such as 0 in, 0 lbf; 2 in, 200 lbf")?;
                let load = quantity::<Force>(load, unit_of(Dimension::Force, units))?;
                let deflection = quantity::<Length>(deflection, length())?;
                table.push(Array::from_iter([deflection.value.to_string(), load.value.to_string()]));
            }
            one(Value::Array(table))
        }
    })
}

/// Whether a row or a list was given: numbers apart, none of them a fraction of an inch or inches behind feet.
fn has_several_figures(text: &str) -> bool {
    let value = text.split('±').next().unwrap_or(text).trim();
    let is_number = |word: &str| !word.is_empty() && word.chars().all(|c| c.is_ascii_digit() || c == '.');
    let words: Vec<&str> = value.split_whitespace().collect();
    let apart = words.windows(2).any(|two| two.iter().all(|word| is_number(word)));
    apart
        || value.contains([';', '\n'])
        || value.contains(", ")
        || value.ends_with(',')
        || value.contains("apart")
        || value.matches(',').count() > 1
}

/// A quantity as it was typed; without a unit it has the person's own. What is wrong is said of what was typed, not of
/// what was put to it.
fn quantity<Q: ReadQuantity>(text: &str, unit: Unit) -> Result<Measured<Q>, String> {
    with_unit(text, unit).parse::<Measured<Q>>().map_err(|error| {
        let of_typed = text.trim().replace("+/-", "±").parse::<Measured<Q>>().err();
        let error = of_typed.filter(|of| !matches!(of, QuantityError::NoUnit { .. })).unwrap_or(error);
        match error {
            QuantityError::Comma(typed) => format!(
                "one figure here, and '{typed}' has a comma: write it without one, a fraction with a point: 1500, 1.5"
            ),
            other => other.to_string(),
        }
    })
}

/// What is behind 0 and was given as ahead of it: by a tape that was held at the tail, or without its minus.
fn from_the_wrong_end(question: &Question, value: Length, unit: Unit, known: &Entries) -> Result<(), String> {
    let behind = matches!(question.tape, Tape::TailPlace | Tape::BottomsPlace | Tape::WeightPlace);
    if !behind || value.m() <= 0.0 {
        return Ok(());
    }
    let given = written(value.m(), unit);
    let tail = tail_place(known).map(|tail| tail.si()).filter(|tail_m| tail_m + value.m() < 0.0);
    let from_tail = match tail {
        Some(tail_m) => format!(
            "Was the tape held at the tail (C, at {})? Then write {}.",
            written(tail_m, unit),
            written(tail_m + value.m(), unit)
        ),
        None if question.tape == Tape::TailPlace => String::new(),
        None => "Was the tape held at the tail? Then measure again from 0.".to_owned(),
    };
    let from_zero =
        format!("If it was held at 0 and the point is behind it, write {}.", written(-value.m(), unit));
    Err(format!("{given} would be ahead of 0, where this cannot be. {from_tail} {from_zero}"))
}

fn tail_place(known: &Entries) -> Option<Measured<Length>> {
    let is_tail = |key: &str| ["tail_wheel.x", "rolling_landside.x", "heel.x"].contains(&key);
    known.iter().find(|(key, _)| is_tail(key)).and_then(|(_, value)| value.as_str()?.parse().ok())
}

/// The holes of a row that was answered: their names, and heights as they were written.
pub(super) fn holes_known(end: End, known: &Entries) -> Vec<(String, String)> {
    let wanted = match end {
        End::Plow => "plow_hitch.holes",
        End::Tractor => "tractor_hitch.holes",
    };
    let row = known.iter().find(|(key, _)| key == wanted).and_then(|(_, value)| value.as_array());
    let text = |hole: &Value, key: &str| Some(hole.as_inline_table()?.get(key)?.as_str()?.to_owned());
    row.into_iter().flatten().filter_map(|hole| Some((text(hole, "name")?, text(hole, "z")?))).collect()
}

/// The holes in a line: `1 at 9 in, 2 at 10 in`.
pub(super) fn holes_line(holes: &[(String, String)]) -> String {
    let one = |(name, height): &(String, String)| {
        let (height, _) = height.split_once(" ±").unwrap_or((height, ""));
        format!("{name} at {height}")
    };
    holes.iter().map(one).collect::<Vec<_>>().join(", ")
}

/// The name of a hole, by its number or by its height with the unit.
fn hole(text: &str, end: End, known: &Entries) -> Result<String, String> {
    let holes = holes_known(end, known);
    if holes.is_empty() {
        return Err("the holes of that row are not known yet: answer that question first".to_owned());
    }
    let mut word = text.to_lowercase();
    for before in ["the ", "hole", "number", "no.", "nr.", "#", "at "] {
        word = word.trim_start().strip_prefix(before).unwrap_or(word.trim_start()).to_owned();
    }
    let word = word.trim();
    let number = ["st", "nd", "rd", "th"].iter().find_map(|end| word.strip_suffix(end)).unwrap_or(word);
    if holes.iter().any(|(name, _)| name == number) {
        return Ok(number.to_owned());
    }
    let meant = parse_quantity::<Length>(word).ok();
    let apart_m = |height: &str| Some((height.parse::<Measured<Length>>().ok()?.si() - meant?.m()).abs());
    let at = holes.iter().find(|(_, height)| apart_m(height).is_some_and(|m| m < SAME_HEIGHT_M));
    at.map(|(name, _)| name.clone()).ok_or_else(|| {
        format!(
            "there is no hole \"{text}\": they are {}; write the number, or the height with its unit",
            holes_line(&holes)
        )
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
    text.replace("+/-", "±").replace("+-", "±").split('±').map(part).collect::<Vec<_>>().join(" ± ")
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
    let measured = |text: &str| quantity::<Length>(text, unit);
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
    let read = |text: &str| match has_several_figures(text) {
        true => Err(format!("one weight, or front + tail with a + between: '{}' is several", text.trim())),
        false => quantity::<Force>(text, force),
    };
    let text = text.replace("+/-", "±").replace("+-", "±");
    let total = |total: Measured<Force>| ("weight.total".to_owned(), Value::from(total.to_string()));
    let Some((front, tail)) = text.split_once('+') else { return Ok(vec![total(read(&text)?)]) };
    let (front, tail) = (read(front)?, read(tail)?);
    let place = tail_place(known).ok_or("the place of the tail is not known: give the whole weight")?;
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

#[cfg(test)]
mod tests {
    use super::super::questions::QUESTIONS;
    use super::*;

    fn said(key: &str, text: &str, known: &Entries) -> Result<String, String> {
        let question = QUESTIONS.iter().find(|question| question.key == key).unwrap();
        let entries = read(question, text, Units::Us, known)?;
        let shown =
            |(key, value): &(String, Value)| format!("{key} {}", value.to_string().trim().replace('"', ""));
        Ok(entries.iter().map(shown).collect::<Vec<_>>().join("; "))
    }

    fn known() -> Entries {
        let row = QUESTIONS.iter().find(|question| question.key == "plow_hitch.holes").unwrap();
        let mut known = read(row, "9, 11, 12 1/2 ± 1/8, 1'3\"", Units::Us, &Vec::new()).unwrap();
        known.push(("tail_wheel.x".to_owned(), "-98 in".into()));
        known
    }

    /// Found at a terminal: "no unit of a length", "a comma that may stand for thousands", and an "in" that nobody typed.
    #[test]
    fn several_figures_are_told_and_what_was_typed_is_quoted() {
        for (key, text) in [
            ("drawbar.length", "12 in, 14, 16, 18 in"),
            ("drawbar.length", "12, 14"),
            ("drawbar.length", "70 72"),
            ("bottoms.depth", "7 in; 8 in"),
            ("plow_hitch.x", "9 in, 1 1/2 in apart, 5 holes"),
            ("bottoms.count", "2, 3"),
            ("heel.resistance", "0.3 0.4"),
        ] {
            let why = said(key, text, &known()).unwrap_err();
            assert!(
                why.starts_with("one figure here, such as ") && why.contains(&format!("'{text}'")),
                "{why}"
            );
        }
        assert!(said("weight.total", "400, 210", &known()).unwrap_err().contains("with a + between"));
        for text in ["hole 3", "about 12", "x"] {
            let why = said("drawbar.length", text, &known()).unwrap_err();
            assert!(why.starts_with(&format!("'{text}' does not start with a number")), "{why}");
        }
        let why = said("drawbar.length", "1,2.5", &known()).unwrap_err();
        assert!(why.starts_with("one figure here, and '1,2.5' has a comma"), "{why}");
        assert!(said("bottoms.depth", "7 ± 1", &known()).unwrap_err().contains("no ±"));
        for (key, text, wanted) in [
            ("drawbar.length", "5'10\"", "drawbar.length 70 in"),
            ("drawbar.length", "3 ft 6 in", "drawbar.length 42 in"),
            ("drawbar.length", "42 1/2 +- 1/4", "drawbar.length 42 1/2 in ± 1/4 in"),
            ("bottoms.depth", "7 1/2", "bottoms.depth 7 1/2 in"),
            ("weight.total", "400 pounds + 210 pounds", "weight.total 610 lbf; weight.x -33.7377 in"),
            (
                "weight.total",
                "400 +- 4 + 210 +- 4",
                "weight.total 610 lbf ± 5.6569 lbf; weight.x -33.7377 in ± 0.4759 in",
            ),
        ] {
            assert_eq!(said(key, text, &known()).as_deref(), Ok(wanted));
        }
    }

    /// Found at a terminal: the answer to a tape held at the tail was to write -63.
    #[test]
    fn a_tape_from_the_wrong_end_is_asked_about() {
        let why = said("weight.x", "63 in", &known()).unwrap_err();
        assert!(
            why.contains(
                "Was the tape held at the tail (C, at -98 in)? Then write -35 in. If it was held at 0"
            ),
            "{why}"
        );
        assert!(why.ends_with("write -63 in."), "{why}");
        let why = said("tail_wheel.x", "98", &Vec::new()).unwrap_err();
        assert!(!why.contains("held at the tail") && why.ends_with("write -98 in."), "{why}");
        let why = said("bottoms.x", "63", &Vec::new()).unwrap_err();
        assert!(why.contains("held at the tail? Then measure again from 0."), "{why}");
        assert_eq!(said("weight.x", "-35", &known()).as_deref(), Ok("weight.x -35 in"));
        assert_eq!(said("plow_hitch.x", "12", &known()).as_deref(), Ok("plow_hitch.x 12 in"));
    }

    #[test]
    fn a_hole_is_understood_by_its_number_and_its_height() {
        let key = "settings.today.plow_hole";
        for (text, name) in [
            ("2", "2"),
            ("hole 2", "2"),
            ("Hole No. 2", "2"),
            ("#2", "2"),
            ("the 2nd", "2"),
            ("9 in", "1"),
            ("hole at 9 in", "1"),
            ("12 1/2\"", "3"),
            ("15 in", "4"),
            ("1 ft 3 in", "4"),
        ] {
            assert_eq!(said(key, text, &known()), Ok(format!("{key} {name}")), "{text}");
        }
        for text in ["9", "10 in", "top", "9 lbf"] {
            let why = said(key, text, &known()).unwrap_err();
            assert!(why.contains("they are 1 at 9 in, 2 at 11 in, 3 at 12 1/2 in, 4 at "), "{text}: {why}");
        }
        assert!(said(key, "2", &Vec::new()).unwrap_err().contains("not known yet"));
        let both = said("front_wheels.runs_in", "both", &known()).unwrap_err();
        assert!(both.contains("the wheel that carries more"), "{both}");
    }
}
