//! Codes of a logger for a missing reading, by what a column holds: a number at an end of it that lies far outside all
//! others and comes again, or one that loggers write for "none".

/// Numbers that loggers write for "none" are known: runs of nines, and the ends of what 16 and 32 bits hold. Floating
/// point ones are huge.
const KNOWN: [f64; 8] = [
    32_767.0,
    -32_768.0,
    65_535.0,
    65_534.0,
    2_147_483_647.0,
    -2_147_483_648.0,
    4_294_967_295.0,
    8_388_607.0,
];
const NINES: [f64; 6] = [99.9, 999.0, 9_999.0, 99_999.0, 999_999.0, 9_999_999.0];
const HUGE: f64 = 1e15;
/// Distinct numbers watched at each end: a column may have a code of its own for each kind of fault.
const WATCHED: usize = 3;
/// A number is far outside where it is this many times as far from the next one as all others are apart. By choice: no
/// sensor of a plow jumps so far and lands on the same digits twice.
const FAR: f64 = 5.0;
/// A known one that comes again need not be so far, only outside. By choice.
const FAR_KNOWN: f64 = 0.05;
/// Of fewer other readings it is not known what is far.
const OTHERS_MIN: u64 = 10;

/// A number that looks like a code.
#[derive(Clone, Debug, PartialEq)]
pub struct Code<P> {
    /// The number as the file has it.
    pub value: f64,
    /// Rows that have it.
    pub rows: u64,
    /// Where it stands first.
    pub first: P,
    /// Least and largest of the others.
    pub others: (f64, f64),
}

#[derive(Clone, Debug)]
struct Seen<P> {
    value: f64,
    rows: u64,
    first: P,
}

/// The outermost numbers of a column, as they come.
#[derive(Clone, Debug)]
pub struct Ends<P> {
    numbers: u64,
    /// The least, outermost first.
    low: Vec<Seen<P>>,
    /// The largest, outermost first.
    high: Vec<Seen<P>>,
}

// Not derived: a place needs no default.
impl<P> Default for Ends<P> {
    fn default() -> Self {
        Self { numbers: 0, low: Vec::new(), high: Vec::new() }
    }
}

impl<P: Clone> Ends<P> {
    /// Takes the next number of the column.
    pub fn take(&mut self, value: f64, place: &P) {
        self.numbers += 1;
        note(&mut self.low, value, place, |one, other| one < other);
        note(&mut self.high, value, place, |one, other| one > other);
    }

    /// What looks like a code, from the outside in: each that is found is no longer among the others by which the next is
    /// far.
    pub fn codes(&self) -> Vec<Code<P>> {
        let mut found: Vec<Code<P>> = Vec::new();
        let (mut low, mut high) = (0, 0);
        loop {
            let (lows, highs) = (self.low.get(low..).unwrap_or(&[]), self.high.get(high..).unwrap_or(&[]));
            let others = self.numbers - found.iter().map(|code| code.rows).sum::<u64>();
            if let Some(code) = outermost(lows, highs, others) {
                found.push(code);
                low += 1;
            } else if let Some(code) = outermost(highs, lows, others) {
                found.push(code);
                high += 1;
            } else {
                return found;
            }
        }
    }
}

/// The outermost of `own`, where it looks like a code beside so many numbers, of which the other end is `end`.
fn outermost<P: Clone>(own: &[Seen<P>], end: &[Seen<P>], numbers: u64) -> Option<Code<P>> {
    let ([seen, next, ..], [end, ..]) = (own, end) else { return None };
    let others = (next.value.min(end.value), next.value.max(end.value));
    let outside = !(others.0..=others.1).contains(&seen.value);
    let enough = numbers.saturating_sub(seen.rows) >= OTHERS_MIN;
    (outside && enough && is_code(seen, next.value, others.1 - others.0)).then(|| Code {
        value: seen.value,
        rows: seen.rows,
        first: seen.first.clone(),
        others,
    })
}

fn note<P: Clone>(ends: &mut Vec<Seen<P>>, value: f64, place: &P, outer: impl Fn(f64, f64) -> bool) {
    // Nearly every number lies inside.
    if ends.len() > WATCHED && ends.last().is_some_and(|last| outer(last.value, value)) {
        return;
    }
    if let Some(seen) = ends.iter_mut().find(|seen| seen.value == value) {
        seen.rows += 1;
        return;
    }
    let at = ends.iter().position(|seen| outer(value, seen.value)).unwrap_or(ends.len());
    if at <= WATCHED {
        ends.insert(at, Seen { value, rows: 1, first: place.clone() });
        ends.truncate(WATCHED + 1);
    }
}

fn is_code<P>(seen: &Seen<P>, next: f64, span: f64) -> bool {
    let away = (seen.value - next).abs();
    let known = is_known(seen.value);
    match (known, seen.rows > 1) {
        (true, true) => away > FAR_KNOWN * span,
        (true, false) => away > FAR * span,
        // A sensor that is switched off reads 0, and what has two states only has no range.
        (false, true) => seen.value != 0.0 && span > 0.0 && away > FAR * span,
        (false, false) => false,
    }
}

fn is_known(value: f64) -> bool {
    KNOWN.contains(&value) || NINES.contains(&value.abs()) || value.abs() >= HUGE
}

/// What stands for a missing reading, as it was typed.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Missing {
    texts: Vec<String>,
    numbers: Vec<f64>,
    /// Every other number is a reading: nobody asks.
    pub no_more: bool,
}

/// Typed, it says that there is no further code.
const NO_MORE: &str = "none";

impl Missing {
    pub fn of(typed: &[String], decimal_comma: bool) -> Self {
        let point = |text: &String| if decimal_comma { text.replace(',', ".") } else { text.clone() };
        Self {
            texts: typed.iter().map(|text| text.trim().to_owned()).collect(),
            numbers: typed.iter().filter_map(|text| point(text).trim().parse().ok()).collect(),
            no_more: typed.iter().any(|text| text.trim().eq_ignore_ascii_case(NO_MORE)),
        }
    }

    /// Whether a cell of this text is one.
    pub fn is_text(&self, text: &str) -> bool {
        self.texts.iter().any(|missing| missing == text)
    }

    /// Whether a cell of this number is one, however it is written.
    pub fn is_number(&self, number: f64) -> bool {
        self.numbers.contains(&number)
    }
}

/// A number as an option takes it.
pub fn typed(value: f64) -> String {
    if value.abs() < HUGE { value.to_string() } else { format!("{value:e}") }
}

/// Asks what these are, each with the name of its column; `None` where there is none.
pub fn question(found: &[(String, Code<u64>)]) -> Option<String> {
    let told: Vec<String> =
        found.iter().map(|(column, code)| format!("{column} has {}", one(code))).collect();
    let it = if found.len() == 1 { "it is a reading" } else { "they are readings" };
    (!found.is_empty()).then(|| {
        format!(
            "{}: a logger's code for a missing reading? Then say {}, and its rows become gaps (of columns of your own, empty \
             cells); if {it}, say --missing-value={NO_MORE}",
            told.join("; "),
            options(found),
        )
    })
}

/// `-9999 in 5 rows, first in line 12, far outside all others (0.2 to 9.1)`.
pub fn one(Code { value, rows, first, others: (low, high) }: &Code<u64>) -> String {
    let rows = if *rows == 1 { "1 row".to_owned() } else { format!("{rows} rows, first") };
    format!(
        "{} in {rows} in line {first}, far outside all others ({} to {})",
        typed(*value),
        typed(*low),
        typed(*high)
    )
}

/// The options that turn them into gaps, each once.
pub fn options(found: &[(String, Code<u64>)]) -> String {
    let mut options: Vec<String> = Vec::new();
    for (_, code) in found {
        let option = format!("--missing-value={}", typed(code.value));
        if !options.contains(&option) {
            options.push(option);
        }
    }
    options.join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The codes of a column of readings from 0 to 9 that has these numbers besides, so many times each.
    fn codes(besides: &[(f64, usize)]) -> Vec<(f64, u64, usize)> {
        let readings = (0..400).map(|k| 4.5 + 4.5 * (f64::from(k) / 7.0).sin());
        let more = besides.iter().flat_map(|(value, times)| std::iter::repeat_n(*value, *times));
        let mut ends = Ends::default();
        readings.chain(more).enumerate().for_each(|(line, value)| ends.take(value, &line));
        ends.codes().into_iter().map(|code| (code.value, code.rows, code.first)).collect()
    }

    #[test]
    fn a_number_far_outside_that_comes_again_is_a_code_and_a_reading_is_none() {
        assert_eq!(codes(&[]), []);
        for code in [-9999.0, 9999.0, -999.0, 99_999.0, 32_767.0, 65_535.0, 1e20, -3.402_823_466e38] {
            assert_eq!(codes(&[(code, 5)]), [(code, 5, 400)], "{code}");
            assert_eq!(codes(&[(code, 1)]), [(code, 1, 400)], "a known one need not come again: {code}");
        }
        // By the data: nobody's usual code.
        assert_eq!(codes(&[(-77.0, 2)]), [(-77.0, 2, 400)]);
        // A spike, a stop that is near, a sensor that is switched off, a number that is no reading's neighbor.
        for none in [(-77.0, 1), (20.0, 30), (0.0, 300), (-0.0, 3), (32_000.0, 1)] {
            assert_eq!(codes(&[none]), [], "{none:?}");
        }
    }

    #[test]
    fn codes_of_several_faults_are_all_found_on_both_sides() {
        let found = codes(&[(-9999.0, 3), (9999.0, 2), (-77.0, 4), (32_767.0, 2)]);
        let mut values: Vec<f64> = found.iter().map(|code| code.0).collect();
        values.sort_by(f64::total_cmp);
        assert_eq!(values, [-9999.0, -77.0, 9999.0, 32_767.0]);
    }

    #[test]
    fn what_has_few_numbers_or_two_states_has_no_code_but_a_known_one() {
        let of = |numbers: &[(f64, usize)]| {
            let mut ends = Ends::default();
            for (value, times) in numbers {
                (0..*times).for_each(|_| ends.take(*value, &()));
            }
            ends.codes().iter().map(|code| code.value).collect::<Vec<_>>()
        };
        assert_eq!(of(&[(0.0, 50), (1.0, 2)]), [0.0; 0]);
        assert_eq!(of(&[(1500.0, 20), (-9999.0, 2)]), [-9999.0]);
        assert_eq!(of(&[(1.0, 3), (2.0, 3), (-9999.0, 2)]), [0.0; 0], "too few others");
        assert_eq!(of(&[(-9999.0, 40)]), [0.0; 0], "nothing else is there");
    }
}
