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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::script::hello;

    const LAST_US: u64 = 10_000_000;

    /// When a box that says something each tenth of a second is told to bring no rows, in µs after its last row.
    fn missed_us(frame_us: u64) -> u64 {
        let mut rows = RowsAt { frame_us, ..RowsAt::default() };
        assert_eq!(rows.came(LAST_US), None);
        let told =
            (0..100).map(|n| 100_000 * n).find(|since_us| rows.are_missed(LAST_US + since_us)).unwrap();
        let again = rows.are_missed(LAST_US + told + 100_000);
        assert_eq!((rows.is_missing(), again), (true, false), "it is told once");
        assert_eq!(rows.came(LAST_US + 60_000_000), Some(LAST_US));
        assert!(!rows.is_missing());
        told
    }

    /// A frame of rows that takes seconds to fill is waited for.
    #[test]
    fn rows_are_missed_after_a_second_or_two_and_a_half_frames() {
        assert_eq!((missed_us(20_000), missed_us(2_000_000)), (900_000, 5_000_000));
        let mut silent = RowsAt::default();
        silent.came(LAST_US);
        let says = [3_000_000, 3_400_000, 3_500_000].map(|since_us| silent.are_missed(LAST_US + since_us));
        assert_eq!(says, [false, false, true], "one that was silent first says who it is");
    }

    /// Row 5 of a box that booted after the last row came is its sixth: of rows of 10 ms four went by before it, at least.
    #[test]
    fn rows_before_a_boot_had_time_or_are_none() {
        let mut rows = RowsAt::default();
        rows.came(LAST_US);
        let row = |first| Readings::new(first, 0, 10_000, 1, &[7]).unwrap();
        let had = |first, since_us| rows.had_time_for(&row(first), LAST_US + since_us);
        assert_eq!([had(5, 40_000), had(5, 39_999), had(0, 0), had(1, 0)], [true, false, true, true]);
    }

    #[test]
    fn what_came_instead_of_rows_is_said_from_the_first_one_on() {
        let hello = hello(7);
        let said = |rows, channels, hello| Refused { rows, channels }.why_no_rows(hello);
        assert_eq!(said(0, None, Some(&hello)), "it answers, but sends none");
        let counts = "its rows hold counts that their converters cannot give";
        assert_eq!([said(1, None, Some(&hello)), said(1, Some(3), None)], [counts, counts]);
        assert_eq!(said(9, Some(3), Some(&hello)), "its rows have 3 channels; its hello says 2");
    }
}
