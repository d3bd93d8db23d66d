//! `gnss.csv` to columns: fixes of a GNSS receiver.

use super::csv::CsvError;
use super::csv::{columns_of, text_of};
use ingest::open_run::WholeFile;
use std::path::Path;

/// The columns after `t_s`, in order.
const COLUMNS: [&str; 4] = ["lat_deg", "lon_deg", "speed_mps", "course_deg"];

/// Fixes in the order of run time; where there was no fix, there is no row.
#[derive(Clone, Debug, Default)]
pub struct GnssTable {
    /// Run time of each fix in s, strictly rising.
    pub t_s: Vec<f64>,
    /// Latitude in degrees, north +, within ±90.
    pub lat_deg: Vec<f64>,
    /// Longitude in degrees, east +, within ±180.
    pub lon_deg: Vec<f64>,
    /// Speed over ground, m/s, 0 or more.
    pub speed_mps: Vec<f64>,
}

/// Reads the whole rows of a `gnss.csv`.
///
/// # Errors
/// [`CsvError`]; a place that is not on the earth, or a speed below 0, is a row that is none.
pub(super) fn read_gnss(file: &WholeFile) -> Result<GnssTable, CsvError> {
    gnss_of(text_of(file)?, &file.path)
}

fn gnss_of(text: Vec<u8>, path: &Path) -> Result<GnssTable, CsvError> {
    let expected = format!("t_s,{}", COLUMNS.join(","));
    let (_, columns) = columns_of(text, path, |header| {
        if header == expected { Ok(COLUMNS.to_vec()) } else { Err(format!("the header must be {expected}")) }
    })?;
    let mut columns = columns.into_iter();
    let mut next = || columns.next().unwrap_or_default();
    let table = GnssTable { t_s: next(), lat_deg: next(), lon_deg: next(), speed_mps: next() };
    let bounds =
        [(&table.lat_deg, -90.0, 90.0), (&table.lon_deg, -180.0, 180.0), (&table.speed_mps, 0.0, 1e3)];
    for (name, (values, low, high)) in COLUMNS.iter().zip(bounds) {
        if let Some(row) = values.iter().position(|value| !(low..=high).contains(value)) {
            let problem = format!("{name} must lie between {low} and {high}");
            // The header is line 1.
            return Err(CsvError::Row { path: path.to_owned(), line: row + 2, problem });
        }
    }
    Ok(table)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> Result<GnssTable, String> {
        gnss_of(text.as_bytes().to_vec(), Path::new("gnss.csv")).map_err(|error| error.to_string())
    }

    #[test]
    fn fixes_are_read_strictly() {
        const HEADER: &str = "t_s,lat_deg,lon_deg,speed_mps,course_deg\n";
        let table =
            read(&format!("{HEADER}0.5,30.0000001,-40.0,1.600,90.00\n1.5,30.0,-40.0,1.6,0.00\n")).unwrap();
        assert_eq!((table.t_s.len(), table.lat_deg[0], table.speed_mps[1]), (2, 30.000_000_1, 1.6));
        for (rows, expected) in [
            ("0.5,90.1,0,1,0\n", "line 2: lat_deg"),
            ("0.5,30,0,1,0\n1.5,30,181,1,0\n", "line 3: lon_deg"),
            ("0.5,30,0,-1,0\n", "line 2: speed_mps"),
            ("0.5,30,0,1\n", "line 2: 4 fields"),
            ("0.5,30,0,1,0\n0.5,30,0,1,0\n", "line 3: time stands still"),
        ] {
            let error = read(&format!("{HEADER}{rows}")).unwrap_err();
            assert!(error.contains(expected), "{rows:?} gave: {error}");
        }
        assert!(read("t_s,lat_deg\n0,1\n").unwrap_err().contains("the header must be t_s,lat_deg,lon_deg"));
    }
}
