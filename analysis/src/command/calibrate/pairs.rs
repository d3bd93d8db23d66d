//! Pairs of count and known value in a CSV: read, and kept while they are taken.

use super::value::ValueReader;
use crate::command::{CommandError, output};
use ingest::calibration::Observation;
use std::path::{Path, PathBuf};

/// A list of pairs is a page, no recording.
const PAIRS_BYTES_MAX: u64 = 1_000_000;

/// Reads pairs. The columns `count` and `value` are needed; others are passed over.
pub(super) fn read(path: &Path, values: &ValueReader) -> Result<Vec<Observation>, CommandError> {
    let here = |why: String| CommandError::failed(format!("{}: {why}", path.display()));
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
    let mut taken = Vec::new();
    for record in reader.records() {
        let record = record.map_err(|error| error.to_string())?;
        let line = record.position().map_or(0, csv::Position::line);
        let cell = |place: usize| record.get(place).unwrap_or("");
        let number = cell(count).parse().ok().filter(|number: &f64| number.is_finite());
        let number = number.ok_or_else(|| format!("line {line}: '{}' is no count", cell(count)))?;
        let true_value = values.read(cell(value)).map_err(|why| format!("line {line}: {why}"))?;
        taken.push(Observation::pair(number, true_value));
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
        let here = |why: String| CommandError::failed(format!("{}: {why}", path.display()));
        if std::fs::symlink_metadata(path).is_ok() {
            return Err(here("is there already; name a new file".to_owned()));
        }
        let mut file = Self { path: path.to_owned(), kept: Vec::new() };
        file.write()?;
        Ok(file)
    }

    /// Keeps these steps instead of those before.
    pub(super) fn keep(&mut self, taken: &[Observation]) -> Result<(), CommandError> {
        if self.kept == taken {
            return Ok(());
        }
        self.kept = taken.to_vec();
        self.write()
    }

    fn write(&mut self) -> Result<(), CommandError> {
        output::write(&self.path, text_of(&self.kept).as_bytes())
    }
}

fn text_of(taken: &[Observation]) -> String {
    let mut text = String::from("count,value,count_sd,rows\n");
    for step in taken {
        let sd = step.count_sd.map(|sd| format!("{sd:.3}")).unwrap_or_default();
        let rows = step.rows.map(|rows| rows.to_string()).unwrap_or_default();
        // A value was read as a quantity; one that is written with the sign of the inch has a quote in it.
        let value = step.true_value.replace('"', "in");
        text += &format!("{:.3},{value},{sd},{rows}\n", step.count_mean);
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;
    use ingest::plow::ChannelRole;

    #[test]
    fn what_was_kept_reads_back_and_what_is_wrong_is_named_with_its_line() {
        let values = ValueReader::new(ChannelRole::Depth, None).unwrap();
        let step = |count_mean, value: &str| Observation {
            count_sd: Some(2.0),
            rows: Some(600),
            ..Observation::pair(count_mean, value)
        };
        let text = text_of(&[step(16_200.5, "0 mm"), step(28_392.0, "4\"")]);
        let back = pairs_of(&text, &values).unwrap();
        assert_eq!(back, [Observation::pair(16_200.5, "0 mm"), Observation::pair(28_392.0, "4in")]);
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
