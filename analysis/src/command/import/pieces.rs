//! Which rows of a logger's file make a run each.

use ingest::assemble::Row;
use ingest::passes::rule::{AFTER_S, BEFORE_S, TRIM_S, WORKING_S_MIN};
use ingest::passes::{PassEvent, PassFinder, Watched};
use ingest::plow::{ChannelRole, Plow};
use std::ops::Range;

/// Shorter passes cannot be judged, in s.
pub const PASS_S_MIN: f64 = WORKING_S_MIN + 2.0 * TRIM_S;

/// The passes of a file.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Pieces {
    /// Rows of those of at least [`PASS_S_MIN`], each with the seconds before and after that a recorder keeps.
    pub passes: Vec<Range<usize>>,
    /// How many were shorter.
    pub short: usize,
}

/// The passes in these rows; none where depth or pull is not among the columns.
pub fn passes_of(plow: &Plow, roles: &[ChannelRole], rows: &[Row]) -> Pieces {
    let (mut finder, mut watched) = (PassFinder::of(plow), Watched::default());
    let mut stretches = Vec::new();
    let mut found = |event| match event {
        PassEvent::WentIn { at_s } => stretches.push((at_s, f64::INFINITY)),
        PassEvent::CameOut { from_s, at_s } => {
            stretches.pop();
            stretches.push((from_s, at_s));
        }
    };
    for row in rows {
        finder.take(&watched.reading(row.t_us as f64 / 1e6, roles, row.values()), &mut found);
    }
    let last_s = rows.last().map_or(0.0, |row| row.t_us as f64 / 1e6);
    let all = stretches.len();
    stretches.retain(|(from_s, to_s)| to_s.min(last_s) - from_s >= PASS_S_MIN);
    let mut pieces = Pieces { short: all - stretches.len(), ..Pieces::default() };
    let place = |t_s: f64| rows.partition_point(|row| (row.t_us as f64) < t_s * 1e6);
    for (from_s, to_s) in stretches {
        let before = pieces.passes.last().map_or(0, |rows| rows.end);
        pieces.passes.push(before.max(place(from_s - BEFORE_S))..place(to_s + AFTER_S));
    }
    pieces
}
