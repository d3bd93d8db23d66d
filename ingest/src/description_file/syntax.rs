//! What keeps a text from being TOML at all, in plain words; most of the rest is read all the same.

use super::fault::{LineFault, line_at};
use std::ops::Range;
use toml::Spanned;
use toml::de::DeTable;

const CURLY: &str = "“”„‘’";
const KEY_AND_VALUE: &str =
    "write a key, then =, then its value, such as count = 2; names of tables stand in brackets";
const NOT_CLOSED: &str = "what is opened here is not closed, or a comma in it is wrong: a list ends with ], what is in braces with }";
const COMMA_MISSING: &str = "a comma is missing before this";
const STRAIGHT: &str = "write straight ones (\" before and after), as an editor for plain text does";

/// Lines that make the parser give up what is behind them are taken out one after the other, at most so many.
const TAKEN_OUT_MAX: usize = 50;

/// A text that can be read as far as possible: what is wrong with it is told, and stands in it otherwise.
pub(super) struct Mended {
    text: String,
    faults: Vec<LineFault>,
    /// So many of them, the first, are curly marks, whose values are read all the same.
    curly: usize,
}

impl Mended {
    /// The text.
    pub fn text(&self) -> &str {
        &self.text
    }

    /// With straight quotation marks where curly ones stand around a name or value, and without lists that have no end
    /// and lines that are no keys with values; what is left stands where it stood.
    pub fn of(original: &str) -> Self {
        if DeTable::parse_recoverable(original).1.is_empty() {
            return Self { text: original.to_owned(), faults: Vec::new(), curly: 0 };
        }
        let (mut text, mut faults) = straightened(original);
        let curly = faults.len();
        for _ in 0..TAKEN_OUT_MAX {
            let (lost, sentence) = match unclosed(&text) {
                Some(lost) => (lost, NOT_CLOSED),
                None => match without_value(&text) {
                    Some(lost) => (lost, KEY_AND_VALUE),
                    None => break,
                },
            };
            faults.push(LineFault::in_line(original, line_at(original, lost.start), sentence));
            let blank: String = text
                .get(lost.clone())
                .unwrap_or_default()
                .bytes()
                .map(|byte| if byte == b'\n' { '\n' } else { ' ' })
                .collect();
            text.replace_range(lost, &blank);
        }
        Self { text, faults, curly }
    }
}

/// Lines from the one that opens a list or braces to the next header of a table, or the end: it is not closed.
fn unclosed(text: &str) -> Option<Range<usize>> {
    let is_header = |line: &str| {
        let name = line.trim_matches(['[', ']']);
        line.starts_with('[')
            && line.ends_with(']')
            && name.starts_with(char::is_alphabetic)
            && name.chars().all(|sign| sign.is_alphanumeric() || "_-. ".contains(sign))
    };
    let (mut depth, mut start, mut offset) = (0_usize, 0, 0);
    for line in text.split_inclusive('\n') {
        let code = line.split('#').next().unwrap_or_default().trim();
        if depth > 0 && is_header(code) {
            return Some(start..offset);
        }
        // A header says itself what is wrong with it.
        if depth > 0 || !code.starts_with('[') {
            let mut quote = None;
            for sign in line.chars() {
                match (quote, sign) {
                    (None, '#') => break,
                    (None, '"' | '\'') => quote = Some(sign),
                    (Some(open), _) if open == sign => quote = None,
                    (None, '[' | '{') => {
                        start = if depth == 0 { offset } else { start };
                        depth += 1;
                    }
                    (None, ']' | '}') => depth = depth.saturating_sub(1),
                    _ => {}
                }
            }
        }
        offset += line.len();
    }
    (depth > 0).then_some(start..offset)
}

/// A line behind which the parser reads nothing, as it has a key and no value.
fn without_value(text: &str) -> Option<Range<usize>> {
    let (_, errors) = DeTable::parse_recoverable(text);
    let lost = errors.iter().find(|error| error.message().contains("key with no value"))?;
    let before = text.get(..lost.span()?.start)?;
    let start = before.rfind('\n').map_or(0, |end| end + 1);
    let length = text.get(start..)?.find('\n').unwrap_or(text.len() - start);
    let line = start..start + length;
    text.get(line.clone()).filter(|there| !there.trim().is_empty()).map(|_| line)
}

/// The document as far as it can be read, and what is wrong with it.
pub(super) struct Syntax<'a> {
    pub document: Spanned<DeTable<'a>>,
    pub faults: Vec<LineFault>,
    /// Lines of which nothing more is said.
    lost: Vec<usize>,
}

impl<'a> Syntax<'a> {
    /// Of a text of which these faults are told.
    pub fn of(Mended { text, faults, curly }: &'a Mended, original: &str) -> Self {
        let (document, errors) = DeTable::parse_recoverable(text);
        let place = |error: &toml::de::Error| {
            let at = error.span().map_or(0, |span| span.start);
            let quote = if error.message().contains("literal") { "'''" } else { "\"\"\"" };
            let opens = || text.get(..at)?.rfind(quote);
            // Of text of several lines that does not end, the parser names the end of the file.
            Some(error.message())
                .filter(|said| said.contains("multi-line"))
                .and_then(|_| opens())
                .unwrap_or(at)
        };
        let mut errors: Vec<(usize, &str)> =
            errors.iter().map(|error| (place(error), error.message())).collect();
        errors.sort_by_key(|error| error.0);
        let mut faults = faults.clone();
        let mut lost: Vec<usize> = faults.iter().skip(*curly).map(|fault| fault.line).collect();
        for (at, message) in errors {
            let line = line_at(text, at);
            lost.push(line);
            if faults.iter().any(|known| known.line == line) {
                continue;
            }
            let there = original.lines().nth(line - 1).unwrap_or_default();
            let words = in_plain_words(message, there, text.get(at..).unwrap_or_default());
            faults.push(LineFault::in_line(original, line, &words));
        }
        Self { document, faults, lost }
    }

    /// Whether nothing more is said of a line.
    pub fn is_lost(&self, line: usize) -> bool {
        self.lost.contains(&line)
    }

    /// Whether what is missing in the table whose header stands in this line may only be lost: something before the
    /// next header is no TOML. A missing table itself (`None`) is lost with its header, or with the rest of a file that is
    /// torn off in its last line.
    pub fn may_hide(&self, text: &str, header: Option<usize>) -> bool {
        let is_header =
            |line: usize| text.lines().nth(line - 1).is_some_and(|line| line.trim_start().starts_with('['));
        match header {
            None => {
                let last = text.trim_end().lines().count();
                self.faults.iter().any(|fault| is_header(fault.line) || fault.line >= last)
            }
            Some(header) => self
                .faults
                .iter()
                .any(|fault| fault.line >= header && !(header + 1..=fault.line).any(is_header)),
        }
    }
}

/// What the parser says, by what is in it, as whoever writes a description would say it.
type Words = [(&'static [&'static str], &'static str)];

const OF_TEXT: &Words = &[
    (&["duplicate key"], "this stands in the file already: take one of the two out"),
    (&["unclosed table", "unclosed array table"], "the ] behind the name of the table is missing"),
    (&["escape", "unicode"], "a backslash between quotation marks is written twice: \\\\"),
    (&["basic string", "literal string", "multi-line"], "the quotation mark behind the text is missing"),
    (&["opening quote"], "the quotation mark before the text is missing"),
    (&["missing comma"], COMMA_MISSING),
    (&["extra comma"], "there is one comma too many"),
];

const OF_KEYS_AND_NUMBERS: &Words = &[
    (&["value for key", "`=`", "key-value", "assignment"], KEY_AND_VALUE),
    (
        &["unexpected key or value", "unexpected content"],
        "something stands behind the value that does not belong there (a quotation mark within text is written \\\")",
    ),
    (&["key"], "a key has letters without accents, figures, - and _ only"),
    (
        &["leading zero", "mantissa", "fraction", "exponent", "sign", "digits", "number", "float", "integer"],
        "a number is written like 2 or 0.5; a quantity stands between quotation marks, like \"14 in\"",
    ),
    (&["boolean"], "write true or false"),
];

/// `there` is the line, `rest` the text from the place on.
fn in_plain_words(message: &str, there: &str, rest: &str) -> String {
    let said = message.split(", expected").next().unwrap_or_default();
    let line = rest.lines().next().unwrap_or_default();
    let (value, behind) = line.split_at(line.find(['#', ',', ']', '}']).unwrap_or(line.len()));
    let value = value.trim();
    let find = |words: &Words| {
        words.iter().find(|(parts, _)| parts.iter().any(|part| said.contains(part))).map(|(_, words)| *words)
    };
    if said.contains("invalid basic string") && there.contains(|sign| CURLY.contains(sign)) {
        return format!("a quotation mark in this line is a curly one: {STRAIGHT}");
    }
    if said.contains("must be quoted") {
        // Numbers, or a key and its value, behind one another within brackets or braces.
        let one_by_one =
            value.contains(' ') && value.split_whitespace().all(|one| one.parse::<f64>().is_ok());
        return match value {
            "" => "the value is missing".to_owned(),
            _ if behind.starts_with([']', '}']) && (one_by_one || value.contains('=')) => {
                COMMA_MISSING.to_owned()
            }
            _ => format!("write it between quotation marks: \"{value}\""),
        };
    }
    let has_key = there.contains('=') && !there.trim_start().starts_with('=');
    let words = find(OF_TEXT)
        .or_else(|| if has_key { find(OF_KEYS_AND_NUMBERS) } else { Some(KEY_AND_VALUE) })
        .map(str::to_owned);
    words.unwrap_or_else(|| format!("this cannot be read ({said})"))
}

/// The text with straight quotation marks where curly ones stand around a name or value, at the same places, and what
/// is to be said of these.
fn straightened(text: &str) -> (String, Vec<LineFault>) {
    let (mut straight, mut faults) = (String::with_capacity(text.len()), Vec::new());
    for (at, line) in text.split_inclusive('\n').enumerate() {
        match straight_line(line) {
            Some((other, sign)) => {
                straight.push_str(&other);
                let message =
                    format!("there is a curly quotation mark ({sign}) around a name or value: {STRAIGHT}");
                faults.push(LineFault::in_line(text, at + 1, &message));
            }
            None => straight.push_str(line),
        }
    }
    (straight, faults)
}

/// The line in as many bytes, and the first of its curly marks; `None` if it has none outside of straight ones.
fn straight_line(line: &str) -> Option<(String, char)> {
    let (mut straight, mut first) = (String::with_capacity(line.len()), None);
    let (mut open, mut before): (Option<char>, char) = (None, ' ');
    for sign in line.chars() {
        let is_curly = CURLY.contains(sign);
        match open {
            None if sign == '#' => break,
            None if is_curly => {
                first = first.or(Some(sign));
                open = Some(sign);
                straight.push_str(&blanks(sign));
                straight.push('"');
            }
            None => {
                open = Some(sign).filter(|sign| "\"'".contains(*sign));
                straight.push(sign);
            }
            // Within curly marks the inch's and the foot's may stand: one closes that is of the same size.
            Some(mark)
                if CURLY.contains(mark)
                    && (sign == '"' || is_curly && is_single(sign) == is_single(mark)) =>
            {
                open = None;
                straight.push('"');
                straight.push_str(&blanks(sign));
            }
            Some(mark) => {
                if sign == mark && !(mark == '"' && before == '\\') {
                    open = None;
                }
                straight.push(sign);
            }
        }
        before = sign;
    }
    let first = first?;
    let rest = line.get(straight.len()..).unwrap_or_default();
    Some((straight + rest, first))
}

fn is_single(sign: char) -> bool {
    "‘’".contains(sign)
}

/// What fills up the bytes that a straight mark is shorter.
fn blanks(sign: char) -> String {
    " ".repeat(sign.len_utf8() - 1)
}

#[cfg(test)]
mod tests;
