//! Stretches in which a channel lies at an end of its converter.

/// A stretch has ended when the channel was off its ends for this long, in µs: a signal that touches
/// the end a hundred times a second is one stretch.
const RELEASED_US: u64 = 100_000;

/// What changed with a row.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Change {
    /// A stretch began with this row.
    Began,
    /// The stretch is over: how many of its rows were saturated.
    Ended {
        /// Saturated rows.
        rows: u64,
    },
}

/// One channel.
#[derive(Clone, Copy, Debug, Default)]
pub struct Saturation {
    rows: u64,
    last_us: u64,
    /// The converter has given a negative count: it is a signed one.
    pub seen_negative: bool,
}

impl Saturation {
    /// Takes the next row: its box time and whether the channel is saturated in it.
    pub fn row(&mut self, box_us: u64, saturated: bool) -> Option<Change> {
        if saturated {
            self.rows += 1;
            self.last_us = box_us;
            return (self.rows == 1).then_some(Change::Began);
        }
        if self.rows > 0 && box_us.saturating_sub(self.last_us) >= RELEASED_US {
            return self.end();
        }
        None
    }

    /// Ends the stretch, if there is one: the box booted, or the run is over.
    pub fn end(&mut self) -> Option<Change> {
        let rows = std::mem::take(&mut self.rows);
        (rows > 0).then_some(Change::Ended { rows })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn touching_the_end_again_and_again_is_one_stretch() {
        let mut channel = Saturation::default();
        let mut changes = Vec::new();
        for row in 0..1000u64 {
            let saturated = (200..400).contains(&row) && row % 10 == 0;
            changes.extend(channel.row(row * 1000, saturated).map(|change| (row, change)));
        }
        assert_eq!(changes, [(200, Change::Began), (490, Change::Ended { rows: 20 })]);
    }
}
