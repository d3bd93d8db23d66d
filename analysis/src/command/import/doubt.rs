//! Columns whose unit nobody said, and whose readings are none in the run's unit.

use super::columns::{Columns, Time};
use super::logger_file::Imported;
use ingest::plow::ChannelRole;

/// Rows of a recording are not that far apart, in s.
const STEP_S_MAX: f64 = 5.0;

/// Asks for the unit of such a column.
pub fn unit_in_doubt(columns: &Columns, imported: &Imported) -> Option<String> {
    let (no_unit, time_no_unit) = &imported.no_unit;
    let rows = &imported.rows;
    for (k, ((role, source), no_unit)) in columns.readings.iter().zip(no_unit).enumerate() {
        let largest = rows
            .iter()
            .filter_map(|row| row.values().get(k))
            .fold(0.0, |most: f64, value| most.max(value.abs()));
        // The run's own name of a column has its unit.
        let Some(other) = likely(*role, largest).filter(|_| *no_unit && source.name != role.column()) else {
            continue;
        };
        return Some(format!(
            "in what unit is {name}? Its largest number, {}, would be unusual in {unit}: say it, e.g. --column \
             '{column}={name}:{other}', or ':{unit}' if it is so",
            (largest * 1000.0).round() / 1000.0,
            name = source.name,
            unit = source.own.symbol,
            column = role.column(),
        ));
    }
    let Time::Column(source) = &columns.time else { return None };
    let mut steps: Vec<u64> =
        rows.iter().zip(rows.iter().skip(1)).map(|(one, next)| next.t_us - one.t_us).collect();
    let middle = steps.len() / 2;
    let step_s = if steps.is_empty() { 0.0 } else { *steps.select_nth_unstable(middle).1 as f64 / 1e6 };
    (*time_no_unit && source.name != "t_s" && step_s >= STEP_S_MAX).then(|| {
        format!(
            "in what unit is {}? In seconds its rows are {step_s} s apart: say it, e.g. --column 't_s={}:ms'",
            source.name, source.name
        )
    })
}

/// The unit that a reading is likely in, where its largest number is no such reading of a plow at work in the unit of
/// the run's column.
pub fn likely(role: ChannelRole, largest: f64) -> Option<&'static str> {
    match role {
        _ if largest <= 0.0 => None,
        ChannelRole::Depth if largest < 1.0 => Some("m"),
        ChannelRole::Depth if largest < 60.0 => Some("cm"),
        ChannelRole::Pull | ChannelRole::LowerLinks if largest < 100.0 => Some("kN"),
        ChannelRole::Speed if largest > 5.0 => Some("km/h"),
        _ => None,
    }
}
