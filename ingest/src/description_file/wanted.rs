//! What may stand at a place of a description, in words of whoever writes one.

pub(super) const TEXT: &str = "text between quotation marks";
pub(super) const WHOLE_NUMBER: &str = "a whole number without quotation marks, such as 2";
pub(super) const NUMBER: &str = "a number without quotation marks, such as 0.08";
pub(super) const TRUTH: &str = "true or false, without quotation marks";
pub(super) const LIST: &str = "a list between brackets, [ ... ]";

pub(super) fn list_of(len: usize) -> String {
    format!("a list of {len} between brackets, [{}]", vec!["..."; len].join(", "))
}

/// A table of the document has a header, one within a list has braces.
pub(super) fn table(place: &str, fields: &[&str]) -> String {
    if place.is_empty() || place.contains('[') {
        let parts: Vec<String> = fields.iter().map(|field| format!("{field} = ...")).collect();
        format!("{{ {} }}", parts.join(", "))
    } else {
        format!("the table [{place}] with {}", fields.join(", "))
    }
}

pub(super) fn one_of(variants: &[&str]) -> String {
    let quoted: Vec<String> = variants.iter().map(|variant| format!("\"{variant}\"")).collect();
    match quoted.as_slice() {
        [all @ .., last] if !all.is_empty() => format!("{} or {last}", all.join(", ")),
        all => all.concat(),
    }
}

/// The one that is most like what was typed.
pub(super) fn nearest<'a>(typed: &str, known: &[&'a str]) -> Option<&'a str> {
    let likeness = |key: &str| strsim::jaro_winkler(typed, key);
    let best = known.iter().copied().max_by(|a, b| likeness(a).total_cmp(&likeness(b)))?;
    (likeness(best) > 0.7).then_some(best)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_may_stand_there_is_listed_as_one_says_it() {
        assert_eq!(one_of(&["land"]), "\"land\"");
        assert_eq!(one_of(&["land", "furrow"]), "\"land\" or \"furrow\"");
        assert_eq!(one_of(&["a", "b", "c"]), "\"a\", \"b\" or \"c\"");
        assert_eq!(nearest("chanel", &["measures", "channel"]), Some("channel"));
        assert_eq!(nearest("x", &["channel"]), None);
    }
}
