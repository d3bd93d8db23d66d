//! Where the next row is expected, in row numbers and in box time.

use crate::clock::nearest;
use firmware_protocol::Readings;
use std::collections::VecDeque;
use std::hash::{DefaultHasher, Hash, Hasher};

/// A frame that comes late by no more than this is a stale copy; further back it is a restart. In µs.
const STALE_US: i64 = 2_000_000;
/// By how much a frame's clock may be off from what row numbers say, besides a share of the time since.
const CLOCK_SLACK_US: i64 = 20_000;
/// That share: two crystals, and a row interval that the box changed by a little.
const CLOCK_SLACK_SHARE: f64 = 2e-3;
/// Largest correction of box time from one frame to the next, as a share of the row interval (and of
/// the time since over a gap): stamps may jitter, but rows must stay in order.
const CORRECTION_ROWS: f64 = 0.5;
const CORRECTION_SHARE: f64 = 0.05;
/// By how much a row that is stamped itself may be later than the rows between say, besides as long again: a
/// box that samples and prints in one loop may stop for a while. In µs.
const PAUSE_US: i64 = 10_000_000;

/// What a frame of rows is to the rows before it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Placement {
    /// The first frame since the box's boot.
    First,
    /// It goes on: after `gap_rows` lost rows (0 if it joins), its first `stale_rows` known already. Its first row,
    /// stale or not, is of `first_box_us` of box time.
    GoesOn { first_box_us: u64, gap_rows: u32, stale_rows: u32 },
    /// All its rows came before.
    Stale,
    /// Row numbers fell back, or the clock does not fit them: nothing joins the rows before. `expected_row` would have
    /// gone on; the clock is `clock_off_us` from what row numbers say, within half a wrap; `gap_rows` are lost for
    /// certain: those skipped if row numbers did go on.
    Restarted { expected_row: u32, clock_off_us: i32, gap_rows: u32 },
}

#[derive(Clone, Copy, Debug)]
struct Next {
    row: u32,
    box_us: u64,
    interval_us: u32,
}

impl Next {
    /// Box time at which the first row of `readings`, `ahead` rows after the next one, is to be expected, in µs: by
    /// the interval, and if that changed in the gap before it, when nobody knows which rows had which, by the
    /// frame's own clock between the two.
    fn expected_us(self, ahead: i64, readings: &Readings) -> u64 {
        let by = |interval_us: u32| self.box_us.saturating_add_signed(ahead * i64::from(interval_us));
        let (old, new) = (by(self.interval_us), by(readings.interval_us));
        // Over half a wrap of the clock apart, the two would leave open which wrap it is.
        if ahead <= 0 || old.abs_diff(new) > u64::from(u32::MAX / 2) {
            return old;
        }
        nearest(readings.clock_us, old.midpoint(new)).clamp(old.min(new), old.max(new))
    }
}

/// The expectation; none before the first frame of a boot.
#[derive(Clone, Debug, Default)]
pub struct RowSequencer {
    next: Option<Next>,
    /// Numbers of the stamped rows of the last [`STALE_US`], with what stood in each: clock and counts.
    stamped: VecDeque<(u32, u64)>,
}

/// What stands in rows besides their number.
fn content(readings: &Readings) -> u64 {
    let mut hasher = DefaultHasher::new();
    readings.clock_us.hash(&mut hasher);
    readings.rows().for_each(|counts| counts.hash(&mut hasher));
    hasher.finish()
}

/// By how many µs `later` was sampled later than `before`, both with clocks of their own, if its number says so too, to
/// a third.
pub fn later_us(before: &Readings, later: &Readings) -> Option<u64> {
    // Truncation to the signed difference is the point: both wrap.
    let rows = later.first_row.wrapping_sub(before.first_row) as i32;
    let later_us = later.clock_us.wrapping_sub(before.clock_us) as i32;
    let (rows, later_us) = (u64::try_from(rows).ok()?, u64::try_from(later_us).ok()?);
    let expected_us = rows * u64::from(before.interval_us);
    (2 * later_us <= 3 * expected_us && 3 * later_us >= 2 * expected_us).then_some(later_us)
}

impl RowSequencer {
    /// The box has booted: nothing is expected.
    pub fn forget(&mut self) {
        *self = Self::default();
    }

    /// Whether no row has come since the boot.
    pub fn is_new(&self) -> bool {
        self.next.is_none()
    }

    /// What `readings` is to the rows before. Changes nothing. With `each_row_stamped` they are one row with
    /// its own clock, which is taken as it is as long as it rises.
    pub fn place(&self, readings: &Readings, each_row_stamped: bool) -> Placement {
        let Some(next) = self.next else { return Placement::First };
        // Truncation to the signed difference is the point: row numbers wrap.
        let ahead = readings.first_row.wrapping_sub(next.row) as i32;
        let (gap_rows, stale_rows) = (ahead.max(0).unsigned_abs(), ahead.min(0).unsigned_abs());
        let ahead = i64::from(ahead);
        let interval = i64::from(next.interval_us);
        let expected = next.expected_us(ahead, readings);
        let clock_us = nearest(readings.clock_us, expected);
        let off_us = readings.clock_us.wrapping_sub(expected as u32) as i32;
        let span = (ahead.abs() * interval) as f64;
        // An interval in whole µs is off by up to half of one in each row.
        let slack = CLOCK_SLACK_US as f64 + span * (CLOCK_SLACK_SHARE + 0.5 / interval as f64);
        let follows = each_row_stamped
            && ahead >= 0
            && clock_us + u64::from(next.interval_us) > next.box_us
            && i64::from(off_us) <= span as i64 + PAUSE_US;
        let fits = follows || f64::from(off_us).abs() <= slack;
        let rows = readings.row_count() as i64;
        let stale = -ahead * interval <= STALE_US;
        // Within the first seconds of a box that prints, rows of two boots have the same numbers and clocks that
        // hardly differ: only a row that is the same in all is a copy.
        let other_row =
            each_row_stamped && ahead < 0 && !self.stamped.contains(&(readings.first_row, content(readings)));
        if !fits || other_row || (ahead < 0 && !stale) {
            return Placement::Restarted { expected_row: next.row, clock_off_us: off_us, gap_rows };
        }
        if ahead + rows <= 0 {
            return Placement::Stale;
        }
        if follows {
            return Placement::GoesOn { first_box_us: clock_us, gap_rows, stale_rows: 0 };
        }
        let most = if ahead > 0 {
            CORRECTION_SHARE * span
        } else {
            (CORRECTION_ROWS * interval as f64).min(CORRECTION_SHARE * (rows * interval) as f64)
        };
        let correction = (clock_us as f64 - expected as f64).clamp(-most, most) as i64;
        Placement::GoesOn {
            first_box_us: expected.saturating_add_signed(if ahead < 0 { 0 } else { correction }),
            gap_rows,
            stale_rows,
        }
    }

    /// The frame was taken, its first row at this box time.
    pub fn took(&mut self, readings: &Readings, first_box_us: u64, each_row_stamped: bool) {
        let rows = readings.row_count() as u32;
        let row = readings.first_row.wrapping_add(rows);
        if each_row_stamped {
            self.stamped.push_back((readings.first_row, content(readings)));
            let is_old = |(old, _): &(u32, u64)| {
                i64::from(row.wrapping_sub(*old)) * i64::from(readings.interval_us) > STALE_US
            };
            while self.stamped.front().is_some_and(is_old) {
                self.stamped.pop_front();
            }
        }
        self.next = Some(Next {
            row,
            box_us: first_box_us + u64::from(rows) * u64::from(readings.interval_us),
            interval_us: readings.interval_us,
        });
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn frame(first_row: u32, clock_us: u64, interval_us: u32, rows: usize) -> Readings {
        Readings::new(first_row, clock_us as u32, interval_us, 1, &vec![0; rows]).unwrap()
    }

    fn after(first_row: u32, box_us: u64, interval_us: u32, rows: usize) -> RowSequencer {
        let mut sequencer = RowSequencer::default();
        sequencer.took(&frame(first_row, box_us, interval_us, rows), box_us, false);
        sequencer
    }

    /// A box whose rate was changed while the line lost rows: any of the lost rows may be the one from which on the
    /// new rate holds, and the clock of the first frame after them tells.
    #[test]
    fn a_rate_that_changed_in_a_gap_neither_parts_rows_nor_moves_them() {
        for (old_us, new_us) in [(1000, 5000), (5000, 1000), (2000, 500_000)] {
            for lost_before_change in [0, 1, 30, 60] {
                let boot = (1u64 << 32) - 40_000;
                let sequencer = after(7, boot, old_us, 10);
                let next_us = boot + 10 * u64::from(old_us);
                let lasted_us = lost_before_change * old_us + (60 - lost_before_change) * new_us;
                let first_us = next_us + u64::from(lasted_us);
                let placed = sequencer.place(&frame(77, first_us, new_us, 5), false);
                let expected = Placement::GoesOn { first_box_us: first_us, gap_rows: 60, stale_rows: 0 };
                assert_eq!(placed, expected, "{old_us} to {new_us} us after {lost_before_change} rows");
                // Earlier or later than either rate allows is another matter.
                let (least, most) = (60 * old_us.min(new_us), 60 * old_us.max(new_us));
                for wrong_us in [next_us + u64::from(most) + 100_000, next_us + u64::from(least) - 60_000] {
                    let placed = sequencer.place(&frame(77, wrong_us, new_us, 5), false);
                    assert!(matches!(placed, Placement::Restarted { .. }), "{wrong_us}: {placed:?}");
                }
            }
        }
    }

    proptest! {
        /// Any start, any wrap of row number and clock, any gap up to half the row numbers: counted
        /// exactly, and placed in box time across as many wraps of the clock as it lasted.
        #[test]
        fn gaps_are_counted_exactly(
            first in any::<u32>(), boot in (1u64 << 32)..(1 << 40), interval in 1_000u32..20_000,
            rows in 1usize..30, gap in prop_oneof![0u32..100, 0u32..0x7FFF_FFFF],
        ) {
            let sequencer = after(first, boot, interval, rows);
            let skipped = rows as u64 + u64::from(gap);
            let box_us = boot + skipped * u64::from(interval);
            let later = frame(first.wrapping_add(skipped as u32), box_us, interval, rows);
            let placed = Placement::GoesOn { first_box_us: box_us, gap_rows: gap, stale_rows: 0 };
            prop_assert_eq!(sequencer.place(&later, false), placed);
        }

        #[test]
        fn stale_copies_are_told_from_restarts(
            first in any::<u32>(), boot in (1u64 << 32)..(1 << 40), back in 1u32..100, new_clock in any::<u32>(),
        ) {
            let sequencer = after(first, boot, 1000, 8);
            let stale = frame(first.wrapping_sub(8 * back), boot - 8000 * u64::from(back), 1000, 8);
            prop_assert_eq!(sequencer.place(&stale, false), Placement::Stale);
            let off = new_clock.wrapping_sub((boot - 8000 * u64::from(back)) as u32) as i32;
            prop_assume!(off.abs() > 30_000);
            let restarted = frame(first.wrapping_sub(8 * back), u64::from(new_clock), 1000, 8);
            let is_restart = matches!(sequencer.place(&restarted, false), Placement::Restarted { gap_rows: 0, .. });
            prop_assert!(is_restart);
        }

        /// Stamps that jitter by 3 ms, eight rows of 1 ms a frame: box time still rises from row to row.
        #[test]
        fn jittering_stamps_do_not_turn_rows_around(jitter in proptest::collection::vec(-3000i64..3000, 1..200)) {
            let mut sequencer = after(0, 10_000_000_000, 1000, 8);
            let mut last_row_us = 10_000_000_000 + 7000;
            for (k, off) in (1u32..).zip(jitter) {
                let frame = frame(8 * k, (10_000_000_000 + 8000 * i64::from(k) + off) as u64, 1000, 8);
                let Placement::GoesOn { first_box_us, .. } = sequencer.place(&frame, false) else { panic!("frame {k}") };
                prop_assert!(first_box_us > last_row_us);
                prop_assert!((first_box_us as i64 - 10_000_000_000 - 8000 * i64::from(k)).abs() <= 3000);
                last_row_us = first_box_us + 7000;
                sequencer.took(&frame, first_box_us, false);
            }
        }
    }

    #[test]
    fn the_bounds_on_both_sides() {
        let sequencer = after(100, 1 << 33, 1000, 8);
        let at =
            |ahead: i64| frame((108i64 + ahead) as u32, ((1i64 << 33) + 8000 + 1000 * ahead) as u64, 1000, 8);
        let gap = |ahead| match sequencer.place(&at(ahead), false) {
            Placement::GoesOn { gap_rows, stale_rows, .. } => Some((gap_rows, stale_rows)),
            _ => None,
        };
        assert_eq!(gap(0), Some((0, 0)));
        assert_eq!(gap(1), Some((1, 0)));
        assert_eq!(gap(0x7FFF_FFFF), Some((0x7FFF_FFFF, 0)));
        // One more and it is a step back: a restart.
        assert!(matches!(sequencer.place(&at(0x8000_0000), false), Placement::Restarted { .. }));
        assert_eq!(gap(-7), Some((0, 7)));
        assert_eq!(sequencer.place(&at(-8), false), Placement::Stale);
        assert_eq!(sequencer.place(&at(-2000), false), Placement::Stale);
        assert!(matches!(sequencer.place(&at(-2001), false), Placement::Restarted { .. }));
    }

    #[test]
    fn an_interval_that_is_no_whole_number_of_us_does_not_run_away() {
        // 3 kHz: 333.333 us between rows, 333 on the wire.
        let mut sequencer = after(0, 1 << 33, 333, 10);
        for k in 1..100_000u32 {
            let real = (1u64 << 33) + u64::from(k) * 10_000_000 / 3000;
            let frame = frame(10 * k, real, 333, 10);
            let Placement::GoesOn { first_box_us, gap_rows: 0, stale_rows: 0 } =
                sequencer.place(&frame, false)
            else {
                panic!("frame {k}")
            };
            assert!(first_box_us.abs_diff(real) <= 1);
            sequencer.took(&frame, first_box_us, false);
        }
    }

    /// Rows with clocks of their own: a loop that takes a sixth longer than it says, stops for seconds, and
    /// is cut off for longer than a wrap of the clock; but time that falls is a restart.
    #[test]
    fn rows_with_their_own_clock_are_placed_by_it() {
        let mut sequencer = after(0, 1 << 33, 10_000, 1);
        let (mut row, mut real) = (0, 1u64 << 33);
        for (skipped, later_us) in [(0, 11_600); 500].into_iter().chain([
            (0, 3_000_000),
            (0, 2_000),
            (7, 8 * 11_600),
            (400_000, 400_001 * 11_600),
            (0, 11_600),
        ]) {
            (row, real) = (row + 1 + skipped, real + later_us);
            let frame = frame(row, real, 10_000, 1);
            let placed = Placement::GoesOn { first_box_us: real, gap_rows: skipped, stale_rows: 0 };
            assert_eq!(sequencer.place(&frame, true), placed, "row {row}");
            sequencer.took(&frame, real, true);
        }
        let fallen = frame(row + 1, real - 1_000_000, 10_000, 1);
        assert!(matches!(sequencer.place(&fallen, true), Placement::Restarted { gap_rows: 0, .. }));
        assert_eq!(sequencer.place(&frame(row, real, 10_000, 1), true), Placement::Stale);
        assert!(matches!(sequencer.place(&frame(0, 5, 10_000, 1), true), Placement::Restarted { .. }));
    }

    /// A box that prints and began anew at once: its number and clock are those of a row before, what it measured is not.
    #[test]
    fn a_row_of_the_same_number_and_clock_with_other_counts_is_no_copy() {
        let row = |number: u32, count| Readings::new(number, 10_000 * number, 10_000, 1, &[count]).unwrap();
        let mut sequencer = RowSequencer::default();
        for number in 0..20 {
            sequencer.took(&row(number, 7), (1 << 33) + 10_000 * u64::from(number), true);
        }
        assert_eq!(sequencer.place(&row(5, 7), true), Placement::Stale);
        let restarted = sequencer.place(&row(5, 8), true);
        assert!(
            matches!(restarted, Placement::Restarted { expected_row: 20, gap_rows: 0, .. }),
            "{restarted:?}"
        );
        // Frames carry one clock for many rows, and are copies by their numbers and clock alone.
        assert_eq!(sequencer.place(&row(5, 8), false), Placement::Stale);
    }

    /// Of two frames with clocks of their own the later one tells how late the first came, if number and clock agree.
    #[test]
    fn frames_are_so_much_later_as_their_clocks_say_if_their_numbers_do_to_a_third() {
        let before = frame(10, 5_000_000, 1000, 8);
        let later = |rows: u32, by_us: u64| later_us(&before, &frame(10 + rows, 5_000_000 + by_us, 1000, 8));
        assert_eq!([later(9, 6_000), later(9, 13_500), later(0, 0)], [Some(6_000), Some(13_500), Some(0)]);
        assert_eq!([later(9, 5_999), later(9, 13_501), later(0, 1)], [None; 3]);
        assert_eq!(later_us(&frame(19, 5_009_000, 1000, 8), &before), None, "it is earlier");
        let wraps = (frame(u32::MAX, (1 << 32) - 1000, 1000, 1), frame(1, 1 << 32, 1000, 1));
        assert_eq!(later_us(&wraps.0, &wraps.1), None, "two rows in half of their time");
        assert_eq!(later_us(&wraps.0, &frame(0, 1 << 32, 1000, 1)), Some(1000));
    }

    /// A box that samples and prints in one loop may stop for ten seconds; later than that its clock is another one.
    #[test]
    fn a_row_with_its_own_clock_may_be_ten_seconds_late_and_no_more() {
        let sequencer = after(0, 1 << 33, 10_000, 1);
        let place = |row: u32, late_us: u64| {
            let due_us = (1u64 << 33) + u64::from(row) * 10_000;
            sequencer.place(&frame(row, due_us + late_us, 10_000, 1), true)
        };
        // A gap of nine rows gives as long again.
        for (row, most_us) in [(1, 10_000_000), (10, 10_090_000)] {
            assert!(matches!(place(row, most_us), Placement::GoesOn { .. }), "{:?}", place(row, most_us));
            let later = place(row, most_us + 1);
            assert!(matches!(later, Placement::Restarted { .. }), "{later:?}");
        }
    }

    /// Of a frame whose first rows are known its stamp says nothing: its rows keep the times that they were given.
    #[test]
    fn rows_that_came_before_move_nothing_and_over_a_gap_a_twentieth_is_followed() {
        let sequencer = after(100, 1 << 33, 1000, 8);
        let place = |first: u32, off_us: i64| {
            let due_us = (1i64 << 33) + 1000 * i64::from(first as i32 - 100);
            match sequencer.place(&frame(first, (due_us + off_us) as u64, 1000, 8), false) {
                Placement::GoesOn { first_box_us, .. } => first_box_us as i64 - due_us,
                other => panic!("{first}: {other:?}"),
            }
        };
        assert_eq!([place(104, 300), place(104, -300)], [0, 0], "four of its rows came before");
        assert_eq!([place(108, 300), place(108, 5_000)], [300, 400], "a twentieth of eight rows");
        // Forty rows were lost.
        assert_eq!([place(148, 1_900), place(148, 9_000), place(148, -9_000)], [1_900, 2_000, -2_000]);
    }

    /// At half a wrap apart the two rates would leave open which wrap of the clock a frame is of: the old one is kept to.
    #[test]
    fn a_rate_that_changed_in_a_gap_of_hours_is_not_guessed() {
        let sequencer = after(0, 1 << 33, 1000, 1);
        // Three million rows of 1 ms or of 1 s.
        let by_old = frame(3_000_000, (1 << 33) + 3_000_000_000, 1_000_000, 1);
        let placed = sequencer.place(&by_old, false);
        assert!(matches!(placed, Placement::GoesOn { gap_rows: 2_999_999, .. }), "{placed:?}");
    }
}
