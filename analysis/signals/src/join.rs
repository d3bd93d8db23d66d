//! Several boxes, one run: their channels side by side on one time base.
//!
//! The base is the box that has the load which the pass is judged by (the tail wheel's, as a rule; else the depth):
//! bobbing, lifted time and the spectra are of that load, and its readings are used as they came. The pull's box
//! would serve the pull instead, of which only slow things are asked; the fastest box would have readings made up
//! for the slower ones. Pull and depth are carried onto the base where the working part, and pull against tail
//! load, need both at the same moment; by run time row by row, because each box's clock has its own way to the
//! host's. All other figures of a channel come from its own box's readings. A gap of pull, that load or depth is a
//! gap of the joined signals; a gap of any other channel is that channel's alone.

use super::resample;
use super::time_base::{GAP_STEPS, Segment, SignalError, Signals, uniform, uniform_within};
use super::time_base::{common, pieces};
use crate::run::{Table, usual_step};
use ingest::plow::{ChannelRole, needed_at_once};
use std::ops::Range;

/// All channels of a run.
#[derive(Clone, Debug)]
pub struct Joined {
    /// The needed channels, and all others of the base's box, on the base; its segments are the stretches in
    /// which all that are needed are there.
    pub signals: Signals,
    /// The other boxes, each on its own time base.
    pub apart: Vec<Signals>,
}

/// Joins the tables of a run's boxes; the columns of one table are in no other.
///
/// # Errors
/// [`SignalError`] if there are too few rows, or none at which all boxes that are needed sent.
pub fn join(mut tables: Vec<Table>) -> Result<Joined, SignalError> {
    tables.retain(|table| !table.channels.is_empty());
    let needed =
        needed_at_once(|role: ChannelRole| tables.iter().any(|table| table.channels.contains_key(&role)));
    let has_first = |table: &Table| needed.first().is_some_and(|role| table.channels.contains_key(role));
    let at = tables.iter().position(has_first).unwrap_or(0);
    if tables.is_empty() {
        return Err(SignalError::TooFewRows { rows: 0 });
    }
    let mut base = tables.swap_remove(at);
    let step_s = usual_step(&base.t_s).ok_or(SignalError::TooFewRows { rows: base.t_s.len() })?;
    let all = 0..base.t_s.len();
    let mut covered = vec![all];
    for other in &tables {
        let roles: Vec<ChannelRole> =
            needed.iter().copied().filter(|role| other.channels.contains_key(role)).collect();
        if !roles.is_empty() {
            covered = common(&covered, &carry(other, &roles, &mut base, step_s));
        }
    }
    if covered.is_empty() {
        return Err(SignalError::NothingInCommon);
    }
    let signals = uniform_within(base, &covered, GAP_STEPS)?;
    // What has too few rows for a time base has nothing to say; where it was needed, nothing was covered.
    let apart = tables.into_iter().filter_map(|table| uniform(table).ok()).collect();
    Ok(Joined { signals, apart })
}

/// Carries channels of another box onto the rows of the base; returns the base's rows that they cover. In the
/// others they are 0, which no segment reaches.
fn carry(other: &Table, roles: &[ChannelRole], base: &mut Table, base_step_s: f64) -> Vec<Range<usize>> {
    let mut covered = Vec::new();
    let mut columns = vec![vec![0.0; base.t_s.len()]; roles.len()];
    let step_s = usual_step(&other.t_s);
    for rows in step_s.map(|step_s| pieces(&other.t_s, GAP_STEPS * step_s)).unwrap_or_default() {
        let times = other.t_s.get(rows.clone()).unwrap_or(&[]);
        let (Some(first), Some(last)) = (times.first(), times.last()) else { continue };
        let from = base.t_s.partition_point(|t| t < first);
        let to = base.t_s.partition_point(|t| t <= last);
        let targets = base.t_s.get(from..to).unwrap_or(&[]);
        if targets.is_empty() {
            continue;
        }
        let channels: Vec<&[f64]> = roles
            .iter()
            .filter_map(|role| other.channels.get(role).and_then(|values| values.get(rows.clone())))
            .collect();
        let carried = resample::at(times, &channels, targets, base_step_s);
        for (column, values) in columns.iter_mut().zip(&carried) {
            column.iter_mut().skip(from).zip(values).for_each(|(slot, value)| *slot = *value);
        }
        covered.push(from..to);
    }
    base.channels.extend(roles.iter().copied().zip(columns));
    covered
}

/// The rows of a box's own time base that lie within stretches of another.
pub fn within(own: &Signals, base: &Signals, segments: &[Segment]) -> Vec<Segment> {
    segments.iter().flat_map(|segment| own.part(segment.start_s, segment.end_s(base.rate_hz))).collect()
}

#[cfg(test)]
mod tests;
