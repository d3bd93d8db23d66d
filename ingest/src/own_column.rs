//! A column of the user's own: something is measured of which nothing is known here but its name and its unit.

/// How many a plow may have.
pub const OWN_COLUMNS_MAX: usize = 8;
/// What names of such columns begin with; no column that is known does.
pub const OWN_PREFIX: &str = "own_";
/// Longest name, in signs.
const NAME_SIGNS_MAX: usize = 40;
/// Longest unit, in signs.
const UNIT_SIGNS_MAX: usize = 24;
/// Significant digits of a cell: more than any converter gives, and a clock to the millisecond still has its own.
const CELL_DIGITS: usize = 12;
/// Significant digits of a figure that is shown.
const SHOWN_DIGITS: usize = 5;

/// A column of the user's own. It can be written into a header as it is.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct OwnColumn {
    column: String,
    name: String,
    unit: String,
}

impl OwnColumn {
    /// The column of this name and unit.
    ///
    /// ```
    /// use ingest::plow::OwnColumn;
    ///
    /// let column = OwnColumn::new("Engine speed", "1/min")?;
    /// assert_eq!((column.column(), column.name(), column.unit()), ("own_engine_speed", "Engine speed", "1/min"));
    /// # Ok::<(), String>(())
    /// ```
    ///
    /// # Errors
    /// A sentence that says what a name or a unit must be.
    pub fn new(name: &str, unit: &str) -> Result<Self, String> {
        let (name, unit) = (name.trim(), unit.trim());
        let safe = safe(name);
        if safe.is_empty() || name.chars().count() > NAME_SIGNS_MAX || name.chars().any(char::is_control) {
            return Err(format!(
                "name = {name:?} must be 1 to {NAME_SIGNS_MAX} signs in one line, with a letter a to z or a digit among \
                 them, for its column is called after it, such as \"engine speed\""
            ));
        }
        let refused = |sign: char| sign.is_control() || [',', ';', ':', '"', '\''].contains(&sign);
        if unit.is_empty() || unit.chars().count() > UNIT_SIGNS_MAX || unit.chars().any(refused) {
            return Err(format!(
                "unit = {unit:?} must be 1 to {UNIT_SIGNS_MAX} signs in one line, without commas, colons and quotation \
                 marks, such as \"1/min\", or \"1\" for a bare number"
            ));
        }
        Ok(Self { column: format!("{OWN_PREFIX}{safe}"), name: name.to_owned(), unit: unit.to_owned() })
    }

    /// Its name in a header: `own_engine_speed`.
    #[must_use]
    pub fn column(&self) -> &str {
        &self.column
    }

    /// Its name as the user wrote it.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Its unit as the user wrote it; nothing is converted.
    #[must_use]
    pub fn unit(&self) -> &str {
        &self.unit
    }

    /// A reading as the text of a cell: twelve digits of it, without needless ones, and nothing where there is none.
    #[must_use]
    pub fn cell(reading: f64) -> String {
        significant(reading, CELL_DIGITS)
    }

    /// A figure of it as it is shown to a person: five digits.
    #[must_use]
    pub fn shown(figure: f64) -> String {
        significant(figure, SHOWN_DIGITS)
    }
}

/// Small letters, digits and underscores of a name.
fn safe(name: &str) -> String {
    let mut safe = String::new();
    for sign in name.chars() {
        if sign.is_ascii_alphanumeric() {
            safe.push(sign.to_ascii_lowercase());
        } else if !safe.is_empty() && !safe.ends_with('_') {
            safe.push('_');
        }
    }
    safe.truncate(safe.trim_end_matches('_').len());
    safe
}

/// So many significant digits, without needless ones; empty for what is no number.
fn significant(value: f64, digits: usize) -> String {
    if !value.is_finite() {
        return String::new();
    }
    let rounded: f64 = format!("{value:.after$e}", after = digits - 1).parse().unwrap_or(value);
    // What has no size has no sign.
    let rounded = if rounded == 0.0 { 0.0 } else { rounded };
    match rounded.abs() {
        size if size == 0.0 || (1e-6..1e15).contains(&size) => rounded.to_string(),
        _ => format!("{rounded:e}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_name_becomes_a_header_and_what_cannot_be_one_is_refused_in_a_sentence() {
        for (name, column) in [
            ("engine speed", "own_engine_speed"),
            (" Draft-angle (°) ", "own_draft_angle"),
            ("pull_n", "own_pull_n"),
            ("Öl 2, \"hot\"", "own_l_2_hot"),
        ] {
            assert_eq!(OwnColumn::new(name, "1/min").unwrap().column(), column);
        }
        let long = "n".repeat(41);
        for name in ["", " ", "牽引角", "°", "a\nb", "a\u{1b}[31m", long.as_str()] {
            let why = OwnColumn::new(name, "deg").unwrap_err();
            assert!(why.starts_with("name = ") && why.lines().count() == 1, "{why:?}");
        }
        for unit in ["", "a,b", "\"", "inch'", "h:min", "1\n2", "a;b", long.as_str()] {
            let why = OwnColumn::new("angle", unit).unwrap_err();
            assert!(why.starts_with("unit = ") && why.lines().count() == 1, "{why:?}");
        }
        assert_eq!(OwnColumn::new("angle", " °C/√s ").unwrap().unit(), "°C/√s");
    }

    #[test]
    fn a_cell_has_no_needless_digits_and_an_unknown_reading_none() {
        for (value, cell) in [
            (1500.0, "1500"),
            (0.1 + 0.2, "0.3"),
            (-0.0, "0"),
            (-2.5, "-2.5"),
            (1.8e9 + 0.123, "1800000000.12"),
            (3e-7, "3e-7"),
            (1.5e300, "1.5e300"),
            (f64::NAN, ""),
            (f64::INFINITY, ""),
        ] {
            assert_eq!(OwnColumn::cell(value), cell);
        }
        assert_eq!(
            [1234.5678, 0.012_345_67, 1_234_567.0].map(OwnColumn::shown),
            ["1234.6", "0.012346", "1234600"]
        );
    }

    proptest! {
        /// Written again, a cell is byte for byte what it was.
        #[test]
        fn a_cell_reads_back(value in proptest::num::f64::NORMAL | proptest::num::f64::ZERO) {
            let cell = OwnColumn::cell(value);
            let back: f64 = cell.parse().unwrap();
            prop_assert!((back - value).abs() <= 1e-11 * value.abs(), "{cell}");
            prop_assert_eq!(OwnColumn::cell(back), cell);
        }

        #[test]
        fn any_name_is_a_header_of_its_own_or_refused(name in "\\PC{0,60}", unit in "\\PC{0,30}") {
            if let Ok(own) = OwnColumn::new(&name, &unit) {
                let plain = |b: u8| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'_';
                prop_assert!(own.column().bytes().all(plain));
                prop_assert!(own.column().len() > OWN_PREFIX.len());
            }
        }
    }
}
