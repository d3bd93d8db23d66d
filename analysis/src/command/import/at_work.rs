//! Whether depth and pull of a file, as they are read, can be those of the plow at work.

use ingest::assemble::Row;
use ingest::plow::{ChannelRole, Plow, Setting};
use ingest::quantity::{Force, Length};
use statics::believable::{DEPTH_ASKED, Unbelievable, depth_off, pull_refused};

/// The depth that is seldom exceeded, in percent.
const DEEP_PERCENT: usize = 90;

/// What of depth and pull is to be asked, the depth first: in the wrong unit it makes the pull look wrong.
pub fn doubtful(
    (plow, setting): (&Plow, &Setting),
    roles: &[ChannelRole],
    rows: &[Row],
) -> Option<Unbelievable> {
    let place = |wanted: ChannelRole| roles.iter().position(|role| *role == wanted);
    let at = |row: &Row, place: usize| row.values().get(place).copied();
    let of_depth = place(ChannelRole::Depth)?;
    let depth_mm =
        percentile(rows.iter().filter_map(|row| at(row, of_depth)).filter(|mm| *mm > 0.0), DEEP_PERCENT)?;
    let depth = Length::from_m(depth_mm / 1000.0);
    depth_off(plow, depth, DEPTH_ASKED).or_else(|| {
        let of_pull = place(ChannelRole::Pull)?;
        let deep = rows.iter().filter(|row| at(row, of_depth).is_some_and(|mm| mm > depth_mm / 2.0));
        let pull_n = percentile(deep.filter_map(|row| at(row, of_pull)), 50)?;
        pull_refused((plow, setting), Force::from_n(pull_n), depth)
    })
}

/// The number that this per cent of the numbers do not exceed; `None` of none.
fn percentile(numbers: impl Iterator<Item = f64>, percent: usize) -> Option<f64> {
    let mut numbers: Vec<f64> = numbers.collect();
    let place = numbers.len().checked_sub(1)? * percent / 100;
    Some(*numbers.select_nth_unstable_by(place, f64::total_cmp).1)
}
