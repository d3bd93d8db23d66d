//! That the chapters hang together: all in the book, each symbol in the list of symbols.

use super::*;
use std::collections::BTreeSet;

/// A chapter that the book does not include would never be printed.
#[test]
fn every_chapter_is_in_the_book() {
    for (name, _) in HandbookContent::CHAPTERS {
        let of_the_book = HandbookContent::TEMPLATE.contains(&format!("#include \"{name}\""));
        assert!(of_the_book || *name == "book.typ", "{name}");
    }
    assert!(asked("#n.").len() > 40);
}

/// Words of the typesetter's in a formula.
const TYPESET: [&str; 15] = [
    "sqrt", "sum", "product", "cos", "exp", "pi", "slash", "quad", "thin", "dot", "dots", "cases", "display",
    "partial", "Gamma",
];

/// The symbols of a formula, each with its index as `x_w`.
fn symbols_of(formula: &str) -> Vec<String> {
    let mut rest: String = formula.split('"').step_by(2).collect::<String>().replace("gap: #0.8em", "");
    let mut found = Vec::new();
    while let Some(at) = rest.find(char::is_alphabetic) {
        rest = rest[at..].to_owned();
        let end = rest.find(|c: char| !c.is_alphabetic()).unwrap_or(rest.len());
        let (name, behind) = (rest[..end].to_owned(), rest[end..].to_owned());
        rest = behind;
        if name.chars().count() > 1 {
            assert!(TYPESET.contains(&name.as_str()), "{name} in {formula}");
            continue;
        }
        let Some(behind) = rest.strip_prefix('_').map(ToOwned::to_owned) else {
            found.push(name);
            continue;
        };
        let (index, behind) = match behind.strip_prefix('(') {
            Some(inner) => inner.split_once(')').unwrap(),
            None => behind.split_at(behind.find(|c: char| !c.is_alphanumeric()).unwrap_or(behind.len())),
        };
        found.push(format!("{name}_{}", index.replace(' ', "")));
        rest = behind.to_owned();
    }
    found
}

/// One symbol, one meaning: whatever a formula or a sentence of the book uses stands once in the list of symbols, and
/// what stands there is used. (Found where b, σ, τ, ρ, L, S and D each stood for two things.)
#[test]
fn every_symbol_stands_once_in_the_list() {
    let (mut used, mut listed) = (BTreeSet::new(), Vec::new());
    let mut formulas = 0;
    for (chapter, text) in HandbookContent::CHAPTERS {
        listed.extend(quoted_in(text, "row(").into_iter().flat_map(|names| names.split(", ")));
        if *chapter == "book.typ" {
            continue;
        }
        used.extend(quoted_in(text, "#s(").into_iter().map(ToOwned::to_owned));
        for formula in text.split("\n#eq(").skip(1) {
            let (alt, formula) = formula.split_once("\n$").unwrap();
            assert!(alt.starts_with('"') && alt.len() > 20, "{alt}");
            used.extend(symbols_of(formula.split_once("$)").unwrap().0));
            formulas += 1;
        }
    }
    assert!(formulas > 15, "{formulas}");
    let once: BTreeSet<String> = listed.iter().map(|name| (*name).to_owned()).collect();
    assert_eq!(once.len(), listed.len(), "a symbol stands twice in {listed:?}");
    // A running number is used as an index only.
    let used: BTreeSet<String> = used.into_iter().chain(["k".to_owned()]).collect();
    let not_listed: Vec<_> = used.difference(&once).collect();
    let not_used: Vec<_> = once.difference(&used).collect();
    assert!(
        not_listed.is_empty() && not_used.is_empty(),
        "not listed: {not_listed:?}; not used: {not_used:?}"
    );
}

#[test]
fn symbols_of_a_formula_are_told_with_their_index() {
    let symbols = symbols_of("q_(0 k) (λ) = sum_(i=0)^n y_i^2 + cos(pi j) \"for\" s_A^4");
    assert_eq!(symbols, ["q_0k", "λ", "i", "n", "y_i", "j", "s_A"]);
}
