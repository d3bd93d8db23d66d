//! A run folder, read with code that shares nothing with the program that wrote it.

use std::fs;
use std::path::{Path, PathBuf};

use crate::{Doing, Failure, Outcome};

/// A number as it was written: its value, and half a unit of its last digit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Written {
    pub value: f64,
    /// Half a unit of the last digit that was written.
    pub half_digit: f64,
}

impl Written {
    /// A decimal number such as `-12.50`; no exponent, nothing that is not finite.
    fn parse(text: &str) -> Option<Self> {
        let digits = text.strip_prefix('-').unwrap_or(text);
        let (whole, fraction) = digits.split_once('.').unwrap_or((digits, ""));
        let plain = |part: &str| part.bytes().all(|byte| byte.is_ascii_digit());
        if whole.is_empty() || !plain(whole) || !plain(fraction) || digits.ends_with('.') {
            return None;
        }
        let half_digit = 0.5 * 10f64.powi(-i32::try_from(fraction.len()).ok()?);
        Some(Self { value: text.parse().ok()?, half_digit })
    }
}

/// `plow.csv`: names of the columns, and rows.
#[derive(Clone, Debug)]
pub struct Table {
    /// The columns' names; the first is `t_s`.
    pub columns: Vec<String>,
    /// The rows, each with a number for each column.
    pub rows: Vec<Vec<Written>>,
}

/// A line of `events.csv`.
#[derive(Clone, Debug, PartialEq)]
pub struct RunEvent {
    pub t_s: f64,
    pub kind: String,
    pub detail: String,
}

/// Reads a table of plain numbers from `plow.csv`: every line ended, every row whole.
///
/// # Errors
/// With the line of the first thing that is not so.
pub fn table_of(text: &str) -> Result<Table, String> {
    let Some(body) = text.strip_suffix('\n') else { return Err("does not end with a line end".into()) };
    let mut lines = body.split('\n').map(|line| line.strip_suffix('\r').unwrap_or(line));
    let columns: Vec<String> = lines.next().unwrap_or_default().split(',').map(str::to_owned).collect();
    if columns.first().map(String::as_str) != Some("t_s") {
        return Err(format!("line 1: first column is not t_s: {columns:?}"));
    }
    let mut rows = Vec::new();
    for (number, line) in (2..).zip(lines) {
        let row: Option<Vec<Written>> = line.split(',').map(Written::parse).collect();
        match row.filter(|row| row.len() == columns.len()) {
            Some(row) => rows.push(row),
            None => return Err(format!("line {number}: not {} numbers: {line:?}", columns.len())),
        }
    }
    Ok(Table { columns, rows })
}

pub fn read_events(run: &Path) -> Outcome<Vec<RunEvent>> {
    let path = run.join("events.csv");
    let text = fs::read_to_string(&path).doing(|| format!("read {}", path.display()))?;
    events_of(&text).map_err(|why| Failure(format!("{}: {why}", path.display())))
}

pub fn events_of(text: &str) -> Result<Vec<RunEvent>, String> {
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let header = reader.headers().map_err(|error| error.to_string())?.clone();
    if header != vec!["t_s", "kind", "detail"] {
        return Err(format!("columns {header:?}"));
    }
    let mut events = Vec::new();
    for record in reader.records() {
        let record = record.map_err(|error| error.to_string())?;
        let cell = |n: usize| record.get(n).unwrap_or_default().to_owned();
        let t_s = Written::parse(&cell(0)).ok_or_else(|| format!("no time in {record:?}"))?;
        events.push(RunEvent { t_s: t_s.value, kind: cell(1), detail: cell(2) });
    }
    Ok(events)
}

/// The run folders in `parent`, in order of their names.
pub fn runs_in(parent: &Path) -> Outcome<Vec<PathBuf>> {
    let entries = fs::read_dir(parent).doing(|| format!("list {}", parent.display()))?;
    let mut runs: Vec<PathBuf> =
        entries.filter_map(|entry| Some(entry.ok()?.path())).filter(|path| path.is_dir()).collect();
    runs.sort();
    Ok(runs)
}

/// The one run folder in `parent`.
pub fn run_in(parent: &Path) -> Outcome<PathBuf> {
    match &runs_in(parent)?[..] {
        [run] => Ok(run.clone()),
        runs => Err(Failure(format!("not one run folder but {runs:?}"))),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_know_their_last_digit() {
        for (text, value, half_digit) in [("0", 0.0, 0.5), ("-12.50", -12.5, 0.005), ("0.000001", 1e-6, 5e-7)]
        {
            let written = Written::parse(text).unwrap();
            assert!((written.value - value).abs() < 1e-15 && (written.half_digit - half_digit).abs() < 1e-15);
        }
        for text in ["", "-", ".5", "1.", "NaN", "inf", "1e3", " 1", "1 ", "+1", "--1", "1,5"] {
            assert_eq!(Written::parse(text), None, "{text:?}");
        }
    }

    #[test]
    fn a_table_is_read_strictly() {
        let good = "t_s,pull_n\n0.000,1\n0.005,-2.5\n";
        assert_eq!(table_of(good).unwrap().rows.len(), 2);
        for bad in [
            "",
            "t_s,pull_n\n0.000,1\n0.005,-2",
            "pull_n,t_s\n1,2\n",
            "t_s,pull_n\n0.000\n",
            "t_s,pull_n\n0.000,1,2\n",
            "t_s,pull_n\n0.000,\n",
            "t_s,pull_n\n\n0.000,1\n",
            "t_s,pull_n\n0.000,NaN\n",
            "t_s,pull_n\n0.000,\"1\"\n",
        ] {
            assert!(table_of(bad).is_err(), "{bad:?}");
        }
    }
}
