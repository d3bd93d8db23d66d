//! Stretches in which a channel lies at an end of its converter.

use super::columns::Column;
use crate::row_columns::RowColumns;
use firmware_protocol::CHANNELS_MAX;

/// A stretch has ended when the channel was off its ends for this long, in µs: a signal that touches
/// the end a hundred times a second is one stretch.
const RELEASED_US: u64 = 100_000;

/// What changed with a row.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Change {
    /// A stretch began with a row of this count.
    Began { count: i32 },
    /// The stretch is over: how many of its rows were saturated.
    Ended { rows: u64 },
}

/// One channel.
#[derive(Clone, Copy, Debug, Default)]
struct Stretch {
    rows: u64,
    last_us: u64,
    /// The converter has given a negative count: it is a signed one.
    seen_negative: bool,
}

impl Stretch {
    /// Takes the next row: its box time, the channel's count and whether it is saturated.
    fn row(&mut self, box_us: u64, count: i32, saturated: bool) -> Option<Change> {
        if saturated {
            self.rows += 1;
            self.last_us = box_us;
            return (self.rows == 1).then_some(Change::Began { count });
        }
        if self.rows > 0 && box_us.saturating_sub(self.last_us) >= RELEASED_US {
            return self.end();
        }
        None
    }

    /// Ends the stretch, if there is one: the box booted, or the run is over.
    fn end(&mut self) -> Option<Change> {
        let rows = std::mem::take(&mut self.rows);
        (rows > 0).then_some(Change::Ended { rows })
    }
}

/// The channels of a box, in the order of its columns.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Saturation {
    stretches: [Stretch; CHANNELS_MAX],
}

impl Saturation {
    /// Takes the counts of the next row, which has one for each column; whether any of them is saturated.
    pub(super) fn row(
        &mut self,
        box_us: u64,
        columns: &[Column],
        counts: &[i32],
        mut changed: impl FnMut(&str, Change),
    ) -> bool {
        let mut any = false;
        for (column, stretch) in columns.iter().zip(&mut self.stretches) {
            let Some(count) = counts.get(column.index).copied() else { continue };
            stretch.seen_negative |= count < 0;
            let saturated = column.is_saturated(count, stretch.seen_negative);
            any |= saturated;
            if let Some(change) = stretch.row(box_us, count, saturated) {
                changed(column.fills.column(), change);
            }
        }
        any
    }

    /// Ends all stretches.
    pub(super) fn end(&mut self, columns: &RowColumns, mut changed: impl FnMut(&str, Change)) {
        for (column, stretch) in columns.names().zip(&mut self.stretches) {
            if let Some(change) = stretch.end() {
                changed(column, change);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn touching_the_end_again_and_again_is_one_stretch() {
        let mut channel = Stretch::default();
        let mut changes = Vec::new();
        for row in 0..1000u64 {
            let saturated = (200..400).contains(&row) && row % 10 == 0;
            changes.extend(channel.row(row * 1000, 9, saturated).map(|change| (row, change)));
        }
        assert_eq!(changes, [(200, Change::Began { count: 9 }), (490, Change::Ended { rows: 20 })]);
    }
}
