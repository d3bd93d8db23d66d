//! The slow, plain reading of a CSV that the fast one refused: it names the first row that is wrong.

use super::csv_error::CsvError;
use std::path::Path;

/// The first fault of a file whose header is right and whose rows are not.
pub(super) fn first_fault(text: &[u8], names: &[&str], path: &Path) -> CsvError {
    let mut before = f64::NEG_INFINITY;
    let text = text.strip_suffix(b"\n").unwrap_or(text);
    for (index, line) in text.split(|byte| *byte == b'\n').enumerate().skip(1) {
        let line_number = index + 1;
        let row = |problem: String| CsvError::Row { path: path.to_owned(), line: line_number, problem };
        let line = line.strip_suffix(b"\r").unwrap_or(line);
        let t_s = match row_fault(line, names) {
            Err(problem) => return row(problem),
            Ok(t_s) => t_s,
        };
        if t_s <= before {
            let what = if t_s < before { "goes backwards" } else { "stands still" };
            return row(format!("time {what}: {t_s} s after {before} s"));
        }
        before = t_s;
    }
    // The two readers disagree although each row is right by itself.
    CsvError::Row {
        path: path.to_owned(),
        line: 1,
        problem: "the rows and the line ends of this file do not agree".to_owned(),
    }
}

/// Time of a sound row, or what is wrong with it.
fn row_fault(line: &[u8], names: &[&str]) -> Result<f64, String> {
    let text = std::str::from_utf8(line).map_err(|_| "this row is not text".to_owned())?;
    if text.is_empty() {
        return Err("this row is empty".to_owned());
    }
    let fields: Vec<&str> = text.split(',').collect();
    if fields.len() != names.len() {
        return Err(format!("{} fields where the header has {}", fields.len(), names.len()));
    }
    let mut t_s = 0.0;
    for (name, field) in names.iter().zip(&fields) {
        let shown: String = field.chars().filter(|c| !c.is_control()).take(24).collect();
        let value: f64 = field.parse().map_err(|_| format!("'{shown}' under {name} is not a number"))?;
        if !value.is_finite() {
            return Err(format!("'{shown}' under {name} is not a finite number"));
        }
        if *name == "t_s" {
            t_s = value;
        }
    }
    Ok(t_s)
}
