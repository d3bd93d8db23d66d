//! What comes out of the assembly besides events: rows, and what was counted on the way.

use crate::channel_role::ChannelRole;
use crate::own_column::OWN_COLUMNS_MAX;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// Most readings in a row.
const VALUES_MAX: usize = ChannelRole::ALL.len() + OWN_COLUMNS_MAX;

/// One row of readings.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Row {
    /// Run time in µs, strictly rising from row to row.
    pub t_us: u64,
    values: [f64; VALUES_MAX],
    count: usize,
}

impl Row {
    /// A row without readings at a run time.
    #[must_use]
    pub fn at(t_us: u64) -> Self {
        Self { t_us, values: [0.0; VALUES_MAX], count: 0 }
    }

    /// The same row with its run time counted from so many µs later.
    #[must_use]
    pub fn earlier_by(self, us: u64) -> Self {
        Self { t_us: self.t_us.saturating_sub(us), ..self }
    }

    /// Appends the reading of the next column, in the column's unit. There are never more than columns that a plow can have.
    /// NaN is none, which a column of the user's own may lack.
    pub fn push(&mut self, value: f64) {
        if let Some(slot) = self.values.get_mut(self.count) {
            *slot = value;
            self.count += 1;
        }
    }

    /// The readings, in the order of the columns of the box's file.
    #[must_use]
    pub fn values(&self) -> &[f64] {
        // `push` never counts beyond the end.
        self.values.get(..self.count).unwrap_or(&self.values)
    }
}

/// What was counted for one box. Rows lost are counted from row numbers, never from damaged frames.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, JsonSchema, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct RunCounters {
    /// Rows written.
    pub rows: u64,
    /// Rows that the box sampled and that never came.
    pub rows_lost: u64,
    /// Gaps in which they were lost.
    pub gaps: u64,
    /// Time without rows in ms, besides that of rows which are counted as lost or refused.
    pub without_readings_ms: u64,
    /// Rows that came twice or after later ones; not written again.
    pub rows_duplicate: u64,
    /// Rows that made no sense or had other channels than the box said; not written. The latter are lost, too, where
    /// rows come after them.
    pub rows_refused: u64,
    /// Rows that were already running when the run began; not part of it.
    pub rows_before_start: u64,
    /// Rows with at least one saturated reading.
    pub rows_saturated: u64,
    /// Rows that the box says it could not send; they are among those lost.
    pub rows_dropped_in_box: u64,
    /// Boots and restarts of the box in mid-run.
    pub resets: u64,
    /// Times that the port was opened again.
    pub reconnects: u64,
    /// Marks.
    pub marks: u64,
    /// Good frames.
    pub frames: u64,
    /// Chunks between frame ends that were damaged.
    pub frames_damaged: u64,
    /// Frames of kinds that this version does not know.
    pub frames_unknown: u64,
    /// Good frames whose rows do not fit the channels that the box said it has; the rows are counted in
    /// the gap that they leave.
    pub frames_refused: u64,
    /// Bytes that came.
    pub bytes: u64,
    /// Bytes that came but could not be kept.
    pub bytes_not_kept: u64,
}
