//! That the book prints what there is, and all of it.

use super::*;
use ingest::plow::read_plow_text;
use page::handbook_content::{asked, quoted};
use page::{Paper, Sheets, lay_out};
use serde_json::Value;
use std::collections::BTreeSet;

fn book() -> HandbookContent {
    let text = sample_runs::plow::Plow::TWO_BOTTOM_TOML;
    let plow = read_plow_text(text, "two-bottom.toml".as_ref()).unwrap();
    let setting = ("middle", &plow.settings["middle"]);
    let date = jiff::civil::date(2027, 4, 11);
    handbook_content(&plow, setting, Force::from_n(7_480.0), date).unwrap()
}

/// A number that no chapter prints is left over from one that was taken out.
#[test]
fn chapters_ask_for_what_there_is() {
    let book = book();
    let names = |of: &str| asked(of).into_iter().collect::<BTreeSet<_>>();
    assert_eq!(names("#n."), book.numbers.keys().map(|name| (*name).to_owned()).collect());
    assert_eq!(names("data.tables."), book.tables.keys().map(|name| (*name).to_owned()).collect());
}

/// On both papers; and the sheets hold numbers, not names.
#[test]
fn the_book_is_laid_out() {
    for paper in [Paper::A4, Paper::Letter] {
        let sheets = lay_out(&book(), paper, Sheets::One).unwrap().sheets;
        assert!((8..=20).contains(&sheets.len()), "{} sheets", sheets.len());
        let text: Vec<&str> = sheets.iter().flatten().map(|ink| ink.what.as_str()).collect();
        let text = text.join(" ");
        for told in ["10000 draws", "hole at the tractor", "652", "Thomson"] {
            assert!(text.contains(told), "{told}: {text}");
        }
    }
}

/// Found in a table of contents whose last twenty lines were set on one line. (Formulas set their parts over each other.)
#[test]
fn no_line_of_the_contents_is_set_on_another() {
    let book = book();
    for paper in [Paper::A4, Paper::Letter] {
        let sheets = lay_out(&book, paper, Sheets::One).unwrap().sheets;
        let first = &sheets[0];
        assert!(first.iter().any(|ink| ink.what.contains("Sources")), "{first:?}");
        for (place, one) in first.iter().enumerate() {
            for other in first.iter().skip(place + 1) {
                let across = one.right.min(other.right) - one.left.max(other.left);
                let down = one.bottom.min(other.bottom) - one.top.max(other.top);
                let apart = across < 1.0 || down < 0.5 * one.size.min(other.size);
                assert!(apart, "{one:?} on {other:?}");
            }
        }
    }
}

/// b near 0 is (standing tail load less tail load) over the standing one, to the few per cent that rolling
/// resistance makes: a tenth of it moves b by 0.1.
#[test]
fn a_tenth_of_the_tail_load_moves_the_index_by_a_tenth() {
    let tail = &book().tables["resolve"][0];
    assert_eq!(&*tail[0], "mean tail load");
    let share: f64 = tail[1].split(' ').next().unwrap().parse().unwrap();
    assert!((9.0..=11.0).contains(&share), "{}", &*tail[1]);
}

/// What the book says a report holds is in what a report holds.
#[test]
fn every_key_that_the_book_names_is_in_a_schema() {
    fn keys(schema: &Value, found: &mut BTreeSet<String>) {
        let inner: Vec<&Value> = match schema {
            Value::Object(members) => {
                let properties = members.get("properties").and_then(Value::as_object);
                found.extend(properties.into_iter().flat_map(|of| of.keys().cloned()));
                members.values().collect()
            }
            Value::Array(members) => members.iter().collect(),
            _ => Vec::new(),
        };
        inner.into_iter().for_each(|inner| keys(inner, found));
    }
    let mut found = BTreeSet::new();
    for file in std::fs::read_dir(concat!(env!("CARGO_MANIFEST_DIR"), "/schemas")).unwrap() {
        let text = std::fs::read_to_string(file.unwrap().path()).unwrap();
        keys(&serde_json::from_str(&text).unwrap(), &mut found);
    }
    let named = quoted("#key(");
    assert!(named.len() > 15, "{named:?}");
    let unknown: Vec<_> = named.into_iter().filter(|key| !found.contains(*key)).collect();
    assert!(unknown.is_empty(), "{unknown:?}");
}
