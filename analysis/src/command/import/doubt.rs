//! Columns whose unit nobody said, and whose readings are none in the run's unit; times that no logger of a plow has.

use super::columns::{Columns, Time};
use super::logger_file::Imported;
use ingest::assemble::Row;
use ingest::plow::ChannelRole;
use ingest::quantity::{Dimension, unit_for};
use signals::RATE_HZ_MAX;

/// Rows of a recording are not that far apart, in s.
const STEP_S_MAX: f64 = 5.0;
/// Of a hundred numbers one may be a spike.
const SPIKES_PERCENT: usize = 1;

/// Asks for the unit of such a column. Numbers that look like codes for a missing reading are asked for before
/// (`codes.rs`): they would hide what the readings are.
pub fn unit_in_doubt(columns: &Columns, imported: &Imported) -> Option<String> {
    let rows = &imported.rows;
    for (k, ((role, source), no_unit)) in columns.readings.iter().zip(&imported.no_unit.0).enumerate() {
        let up_to = up_to(rows.iter().filter_map(|row| row.values().get(k)).copied());
        // The run's own name of a column has its unit.
        let Some(other) = likely(*role, up_to).filter(|_| *no_unit && source.name != role.column()) else {
            continue;
        };
        return Some(format!(
            "in what unit is {name}? Its numbers go up to {}, which would be unusual in {unit}: say it, e.g. --column \
             '{column}={name}:{other}', or ':{unit}' if it is so",
            (up_to * 1000.0).round() / 1000.0,
            name = source.name,
            unit = source.own.symbol,
            column = role.column(),
        ));
    }
    rate_in_doubt(columns, imported)
}

/// Asks for the unit of the time, where no plow is logged so fast or so slowly, whatever was typed.
fn rate_in_doubt(columns: &Columns, imported: &Imported) -> Option<String> {
    let (Time::Column(source), Some(unit_s)) = (&columns.time, imported.time_unit_s) else { return None };
    if source.name == "t_s" {
        return None;
    }
    let step_s = usual_step_us(&imported.rows)? as f64 / 1e6;
    let hz = 1.0 / step_s.max(1e-6);
    let found = if step_s >= STEP_S_MAX {
        format!("its rows are {step_s} s apart")
    } else if hz > RATE_HZ_MAX {
        format!("{hz:.0} rows come a second")
    } else {
        return None;
    };
    // The first unit in which the steps are those of a logger.
    let other = ["ms", "s", "us", "min"].into_iter().find(|symbol| {
        let of = unit_for(Dimension::Time, symbol).map_or(f64::NAN, |of| step_s * of.factor / unit_s);
        (1.0 / RATE_HZ_MAX..STEP_S_MAX).contains(&of)
    });
    Some(format!(
        "in what unit is {name}? As it is read {found}, and no plow is logged so: say it, e.g. --column 't_s={name}:{}'; if \
         it is so, leave t_s out and say --rate {}",
        other.unwrap_or("s"),
        (hz * 1000.0).round() / 1000.0,
        name = source.name,
    ))
}

/// The middle of the times from row to row; `None` of fewer than two rows.
pub fn usual_step_us(rows: &[Row]) -> Option<u64> {
    let mut steps: Vec<u64> =
        rows.iter().zip(rows.iter().skip(1)).map(|(one, next)| next.t_us - one.t_us).collect();
    let middle = steps.len() / 2;
    (!steps.is_empty()).then(|| *steps.select_nth_unstable(middle).1)
}

/// How large the numbers of a column are, whatever their sign, but for a few; 0 of none.
pub fn up_to(numbers: impl Iterator<Item = f64>) -> f64 {
    let mut sizes: Vec<f64> = numbers.map(f64::abs).collect();
    let spikes = sizes.len() * SPIKES_PERCENT / 100;
    let Some(place) = sizes.len().checked_sub(spikes + 1) else { return 0.0 };
    *sizes.select_nth_unstable_by(place, f64::total_cmp).1
}

/// The unit that a reading is likely in, where numbers up to so much are no such readings of a plow at work in the unit of
/// the run's column.
pub fn likely(role: ChannelRole, up_to: f64) -> Option<&'static str> {
    match role {
        _ if up_to <= 0.0 => None,
        ChannelRole::Depth if up_to < 1.0 => Some("m"),
        ChannelRole::Depth if up_to < 60.0 => Some("cm"),
        ChannelRole::Pull | ChannelRole::LowerLinks if up_to < 100.0 => Some("kN"),
        ChannelRole::Speed if up_to > 5.0 => Some("km/h"),
        _ => None,
    }
}
