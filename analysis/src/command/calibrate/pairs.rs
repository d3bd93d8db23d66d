//! Known loads and lengths, as a person types them, and as a CSV keeps them with their counts.

use crate::command::output::{self, CommandError};
use ingest::calibration::Observation;
use ingest::plow::{ChannelRole, RoleDimension};
use ingest::quantity::{Unit, UnitSystem, WrongUnit, unit_for};
use std::path::{Path, PathBuf};

/// Reads known values of one kind.
#[derive(Clone, Debug)]
pub(super) struct ValueReader {
    pub(super) role: ChannelRole,
    /// Unit of numbers that come without one.
    unit: Option<Unit>,
    /// Units of whoever types.
    pub(super) units: UnitSystem,
}

impl ValueReader {
    pub(super) fn new(role: ChannelRole, unit: Option<&str>) -> Result<Self, String> {
        let named = |symbol: &str| {
            unit_for(role.column_unit().dimension, symbol)
                .copied()
                .map_err(|error: WrongUnit| format!("--unit '{symbol}' {error}"))
        };
        Ok(Self { role, unit: unit.map(named).transpose()?, units: UnitSystem::default() })
    }

    /// The value with its unit, as it goes into a calibration.
    ///
    /// # Errors
    /// A sentence that says what would be right.
    pub(super) fn read(&self, text: &str) -> Result<String, String> {
        let text = text.trim();
        let bare = text.ends_with(|c: char| c.is_ascii_digit() || c == '.');
        let whole = match self.unit {
            Some(unit) if bare => format!("{text} {}", unit.symbol),
            _ => text.to_owned(),
        };
        self.role.in_column_unit(&whole).map_err(|error| error.to_string())?;
        Ok(whole)
    }

    /// Two values for an explanation.
    pub(super) fn examples(&self) -> String {
        let symbol = self.unit.map_or("", |unit| unit.symbol);
        if symbol.is_empty() && self.units == UnitSystem::Us {
            let own = self.role.unit_in(self.units).symbol;
            let some = if self.role.dimension() == RoleDimension::Force { "500" } else { "4" };
            return format!("\"0 {own}\", then \"{some} {own}\"");
        }
        match self.role.dimension() {
            RoleDimension::Force if symbol.is_empty() => "\"0 N\", then \"500 lbf\"".to_owned(),
            RoleDimension::Length if symbol.is_empty() => "\"0 mm\", then \"4 in\"".to_owned(),
            RoleDimension::Speed if symbol.is_empty() => "\"0 km/h\", then \"3.5 mph\"".to_owned(),
            RoleDimension::Angle if symbol.is_empty() => "\"0 deg\", then \"5 deg\"".to_owned(),
            _ => format!("\"0 {symbol}\", or only the number"),
        }
    }
}

/// A list of pairs is a page, no recording.
const PAIRS_BYTES_MAX: u64 = 1_000_000;

/// Reads pairs. The columns `count` and `value` are needed, those that tell of unrest are taken where they are; others are
/// passed over.
pub(super) fn read(path: &Path, values: &ValueReader) -> Result<Vec<Observation>, CommandError> {
    let here = |why: String| CommandError::at(path, why);
    let bytes = std::fs::metadata(path).map_err(|cause| here(cause.to_string()))?.len();
    if bytes > PAIRS_BYTES_MAX {
        return Err(here(format!("{bytes} bytes are no list of pairs")));
    }
    let text = std::fs::read_to_string(path).map_err(|cause| here(cause.to_string()))?;
    pairs_of(text.trim_start_matches('\u{feff}'), values).map_err(here)
}

fn pairs_of(text: &str, values: &ValueReader) -> Result<Vec<Observation>, String> {
    let mut reader =
        csv::ReaderBuilder::new().trim(csv::Trim::All).flexible(true).from_reader(text.as_bytes());
    let header = reader.headers().map_err(|error| error.to_string())?.clone();
    let place = |name: &str| {
        header.iter().position(|there| there.eq_ignore_ascii_case(name)).ok_or_else(|| {
            let there: Vec<_> = header.iter().collect();
            format!(
                "line 1: there is no column '{name}' (columns: {}); count and value are needed",
                there.join(", ")
            )
        })
    };
    let (count, value) = (place("count")?, place("value")?);
    let (sd, drift, rows) = (place("count_sd").ok(), place("count_drift").ok(), place("rows").ok());
    let mut taken = Vec::new();
    for record in reader.records() {
        let record = record.map_err(|error| error.to_string())?;
        let line = record.position().map_or(0, csv::Position::line);
        let cell = |place: usize| record.get(place).unwrap_or("");
        let number = cell(count).parse().ok().filter(|number: &f64| number.is_finite());
        let number = number.ok_or_else(|| format!("line {line}: '{}' is no count", cell(count)))?;
        let true_value = values.read(cell(value)).map_err(|why| format!("line {line}: {why}"))?;
        let kept = |place: Option<usize>| cell(place?).parse().ok().filter(|number: &f64| number.is_finite());
        taken.push(Observation {
            count_sd: kept(sd),
            count_drift: kept(drift),
            rows: rows.and_then(|place| cell(place).parse().ok()),
            ..Observation::pair(number, true_value)
        });
    }
    Ok(taken)
}

/// The file that keeps the steps while they are taken: whatever happens, no load is hung for nothing.
#[derive(Debug)]
pub(super) struct PairsFile {
    path: PathBuf,
    kept: Vec<Observation>,
}

impl PairsFile {
    /// A new file; one that is there is left alone.
    pub(super) fn create(path: &Path) -> Result<Self, CommandError> {
        if std::fs::symlink_metadata(path).is_ok() {
            return Err(CommandError::at(path, "is there already; name a new file"));
        }
        output::write(path, text_of(&[]).as_bytes())?;
        Ok(Self { path: path.to_owned(), kept: Vec::new() })
    }

    /// Keeps these steps instead of those before.
    pub(super) fn keep(&mut self, taken: &[Observation]) -> Result<(), CommandError> {
        if self.kept != taken {
            output::write(&self.path, text_of(taken).as_bytes())?;
            self.kept = taken.to_vec();
        }
        Ok(())
    }
}

fn text_of(taken: &[Observation]) -> String {
    let mut text = String::from("count,value,count_sd,count_drift,rows\n");
    for step in taken {
        let [sd, drift] = [step.count_sd, step.count_drift]
            .map(|counts| counts.map(|counts| format!("{counts:.3}")).unwrap_or_default());
        let rows = step.rows.map(|rows| rows.to_string()).unwrap_or_default();
        // A value was read as a quantity; one that is written with the sign of the inch has a quote in it.
        let value = step.true_value.replace('"', "in");
        text += &format!("{:.3},{value},{sd},{drift},{rows}\n", step.count_mean);
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;
    use ingest::plow::ChannelRole;

    #[test]
    fn a_bare_number_takes_the_unit_that_was_named_and_no_other() {
        let named = ValueReader::new(ChannelRole::Pull, Some("lbf")).unwrap();
        assert_eq!(named.read(" 500 "), Ok("500 lbf".to_owned()));
        assert_eq!(named.read("13 1/2"), Ok("13 1/2 lbf".to_owned()));
        assert_eq!(named.read("2 kN"), Ok("2 kN".to_owned()));
        let unnamed = ValueReader::new(ChannelRole::Pull, None).unwrap();
        assert!(unnamed.read("500").unwrap_err().contains("has no unit"));
        assert!(unnamed.read("500 mm").unwrap_err().contains("is no unit of a force"));
        let wrong = ValueReader::new(ChannelRole::Depth, Some("lbf")).unwrap_err();
        assert!(wrong.contains("--unit 'lbf' is no unit of a length"), "{wrong}");
    }

    #[test]
    fn what_was_kept_reads_back_and_what_is_wrong_is_named_with_its_line() {
        let values = ValueReader::new(ChannelRole::Depth, None).unwrap();
        let step = |count_mean, value: &str| Observation {
            count_sd: Some(2.0),
            count_drift: Some(-0.5),
            rows: Some(600),
            ..Observation::pair(count_mean, value)
        };
        let text = text_of(&[step(16_200.5, "0 mm"), step(28_392.0, "4\"")]);
        let back = pairs_of(&text, &values).unwrap();
        assert_eq!(back, [step(16_200.5, "0 mm"), step(28_392.0, "4in")]);
        let typed = pairs_of("count,value,count_sd\n5,0 mm,\n6,1 mm,x\n", &values).unwrap();
        assert_eq!(typed, [Observation::pair(5.0, "0 mm"), Observation::pair(6.0, "1 mm")]);
        let read = |text: &str| pairs_of(text, &values).map(|taken| taken.len());
        assert_eq!(read("VALUE, Count, remark\n0 mm, 5, free\n1 1/2 in,6,\n"), Ok(2));
        for (text, part) in [
            ("", "no column 'count'"),
            ("count,reading\n1,2 mm\n", "no column 'value' (columns: count, reading)"),
            ("count,value\n1,2 mm\nx,3 mm\n", "line 3: 'x' is no count"),
            ("count,value\n1,2 lbf\n", "line 2: 'lbf' in '2 lbf' is no unit of a length"),
            ("count,value\n1,2\n", "line 2: '2' has no unit"),
            ("count,value\n1\n", "line 2: ''"),
        ] {
            let error = read(text).unwrap_err();
            assert!(error.contains(part), "{part:?} is not in {error:?}");
        }
    }
}
