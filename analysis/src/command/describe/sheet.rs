//! The measuring sheet: what the dialogue asks, to write down beside the plow.

use super::drawings::drawing;
use super::questions::{Form, Question, Tape};
use super::shapes::Shape;
use super::usual::Usual;
use crate::report::units::Units;
use ingest::safety::CAUTIONS;
use page::measuring::{KindToMeasure, MeasuringContent, PencilBox, ToMeasure};

/// Most drawings on a page, two in a row.
const EACH_PAGE: usize = 12;
/// As much room as what needs no drawing takes on the last page, in drawings.
const BLANKS: usize = 4;

/// The sheets of these kinds.
pub(super) fn content(shapes: &[&Shape]) -> MeasuringContent {
    MeasuringContent {
        title: "measuring sheet".into(),
        kinds: shapes.iter().map(|shape| kind(shape)).collect(),
        safety: CAUTIONS.to_vec().into(),
        provenance: concat!(
            "hitchwright ",
            env!("CARGO_PKG_VERSION"),
            "; numbers are those of the questions of hitchwright describe; usual ranges: common practice, no source"
        )
        .into(),
    }
}

fn kind(shape: &Shape) -> KindToMeasure {
    let all = shape.asked().enumerate().map(|(at, question)| to_measure(shape, at + 1, question));
    let (drawn, blanks): (Vec<_>, Vec<_>) = all.partition(|one| !one.drawing.marks.is_empty());
    let each_page = (drawn.len() + BLANKS).div_ceil(2).next_multiple_of(2).min(EACH_PAGE);
    KindToMeasure {
        name: format!("{}: {}", shape.name, shape.what).into(),
        stands: shape.stands.into(),
        letters: shape.letters.iter().map(|(letter, what)| format!("{letter} {what}").into()).collect(),
        pages: drawn.chunks(each_page).map(<[_]>::to_vec).collect(),
        blanks,
    }
}

fn to_measure(shape: &Shape, number: usize, question: &Question) -> ToMeasure {
    let [inches, millimeters] =
        [Units::Us, Units::Si].map(|units| Usual::of(shape, question, units).map(Usual::text));
    let mut usual = inches.iter().chain(&millimeters).cloned().collect::<Vec<_>>();
    usual.dedup();
    let usual = if usual.is_empty() { String::new() } else { format!("; usual {}", usual.join(", ")) };
    let left_out = if question.left_out.is_some() { "; may be left out" } else { "" };
    // What is counted or read off needs no picture beside the plow.
    let needs_none = matches!(question.tape, Tape::Count | Tape::Hole(_));
    ToMeasure {
        number,
        what: question.what.into(),
        how: format!("{}{usual}{left_out}", question.how).into(),
        boxes: boxes(question.form),
        chart: format!("{}-{number}", shape.name),
        drawing: drawing(shape, question.tape).filter(|_| !needs_none).unwrap_or_default(),
    }
}

fn boxes(form: Form) -> Vec<Vec<PencilBox>> {
    let one = |before: &str, width_mm: f64, after: &str| PencilBox {
        before: before.into(),
        width_mm,
        after: after.into(),
    };
    let length = |before: &str, width_mm: f64| [one(before, width_mm, "in"), one("", width_mm, "mm")];
    let force = |before: &str| [one(before, 13.0, "lbf"), one("", 13.0, "N")];
    match form {
        Form::Text | Form::Hole(_) => vec![vec![one("", 40.0, "")]],
        Form::Choice(words) => vec![words.iter().map(|word| one(word, 5.6, "")).collect()],
        Form::Count | Form::Number => vec![vec![one("", 16.0, "")]],
        Form::Length => vec![length("", 20.0).to_vec()],
        Form::Measured => vec![length("", 20.0).into_iter().chain([one("±", 12.0, "")]).collect()],
        Form::Weight => vec![force("front").into_iter().chain(force("tail")).collect()],
        Form::Holes => {
            let row = length("lowest", 10.0).into_iter().chain(length("step", 9.0));
            vec![row.chain([one("holes", 7.0, "")]).collect()]
        }
        Form::Table => vec![length("gives", 11.0).into_iter().chain(force("under")).collect::<Vec<_>>(); 3],
    }
}

#[cfg(test)]
mod tests {
    use super::super::shapes::SHAPES;
    use super::*;

    /// One or two pages, every question once, in the order of the dialogue, and a drawing with each that takes a tape.
    #[test]
    fn the_sheet_asks_what_the_dialogue_asks() {
        for shape in SHAPES {
            let kind = kind(shape);
            assert!((1..=2).contains(&kind.pages.len()), "{}: {} pages", shape.name, kind.pages.len());
            let mut asked: Vec<_> = kind
                .blanks
                .iter()
                .chain(kind.pages.iter().flatten())
                .map(|one| (one.number, one.what.to_string()))
                .collect();
            asked.sort();
            let expected: Vec<_> =
                shape.asked().enumerate().map(|(at, question)| (at + 1, question.what.to_owned())).collect();
            assert_eq!(asked, expected);
            for (at, question) in
                shape.asked().enumerate().filter(|(_, question)| question.form.is_measured())
            {
                let card = kind.pages.iter().flatten().find(|one| one.number == at + 1);
                assert!(card.is_some_and(|card| !card.drawing.marks.is_empty()), "{}", question.key);
            }
        }
    }
}
