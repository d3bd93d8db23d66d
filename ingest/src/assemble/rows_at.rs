//! When rows came, whether a box that answers brings none, and why.

use firmware_protocol::{Hello, Readings};

/// A box that answers and brings no row for longer than this, or than two and a half of its frames, is told of. In µs.
const NO_ROWS_US: u64 = 900_000;
/// And has answered for this long at least, in µs: one that was silent may say who it is before it goes on.
const ANSWERS_US: u64 = 500_000;

/// Host times in µs.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct RowsAt {
    /// The last row, or when the first was to be expected.
    last_us: u64,
    /// The first time since then that the box said something else.
    answered_us: Option<u64>,
    /// How long the rows of the last frame took.
    pub frame_us: u64,
    missed_since_us: Option<u64>,
}

impl RowsAt {
    /// Rows are to be expected from now on.
    pub(super) fn expect(&mut self, host_us: u64) {
        (self.last_us, self.answered_us) = (host_us, None);
    }

    /// Whether a box that has booted since the last row came can have sampled the rows before these.
    pub(super) fn had_time_for(&self, readings: &Readings, host_us: u64) -> bool {
        let before = u64::from(readings.first_row.saturating_sub(1));
        before * u64::from(readings.interval_us) <= host_us.saturating_sub(self.last_us)
    }

    /// A row came; gives since when rows had been missed, if that was told.
    pub(super) fn came(&mut self, host_us: u64) -> Option<u64> {
        self.expect(host_us);
        self.missed_since_us.take()
    }

    /// The box said something; whether it is to be told now that it brings no rows.
    pub(super) fn are_missed(&mut self, host_us: u64) -> bool {
        if self.missed_since_us.is_some() || self.last_us == host_us {
            return false;
        }
        let answered_us = *self.answered_us.get_or_insert(host_us);
        let waited = host_us >= self.last_us + NO_ROWS_US.max(self.frame_us * 5 / 2);
        let missed = waited && host_us >= answered_us + ANSWERS_US;
        if missed {
            self.missed_since_us = Some(self.last_us);
        }
        missed
    }

    /// Whether it was told that rows are missed, and none has come since.
    pub(super) fn is_missing(&self) -> bool {
        self.missed_since_us.is_some()
    }
}

/// Rows refused in a row.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Refused {
    pub rows: u64,
    /// Channels of the last row that had others than the hello says.
    pub channels: Option<usize>,
}

impl Refused {
    /// What comes instead of rows that can be written.
    pub(super) fn why_no_rows(self, hello: Option<&Hello>) -> String {
        match (self.channels, hello) {
            (Some(channels), Some(hello)) => {
                format!("its rows have {channels} channels; its hello says {}", hello.channels().len())
            }
            _ if self.rows > 0 => "its rows hold counts that their converters cannot give".to_owned(),
            _ => "it answers, but sends none".to_owned(),
        }
    }
}
