//! Rows whose number and clock fit those around them: what the weak checksum of a sentence lets through.
//!
//! A row that comes when the row before and the rate of the hello let it be expected goes on at once. Any
//! other (the first one, after a pause, after a reset, or with a wrong digit in its number or its clock) is
//! held until the next row: if that one fits the row before it, the held one was damaged; if it may follow
//! the held one, both are good. So a box whose rows are at other times than it says loses nothing.

use super::parse::Row;

/// Number and clock of a row.
#[derive(Clone, Copy, Debug)]
struct RowStamp {
    number: u32,
    clock_us: u32,
}

/// The rows around the present one.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct RowOrder {
    last: Option<RowStamp>,
    held: Option<Row>,
}

/// What came of a row, in this order.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Judged {
    /// The row held before was damaged.
    pub(super) dropped: bool,
    /// The row held before was good.
    pub(super) held: Option<Row>,
    /// This row is good; else it is held now.
    pub(super) row: Option<Row>,
}

impl RowOrder {
    /// What comes next need not fit anything. Returns whether a row was held, which is dropped.
    pub(super) fn forget(&mut self) -> bool {
        self.last = None;
        self.held.take().is_some()
    }

    pub(super) fn take(&mut self, row: Row, interval_us: u32) -> Judged {
        let held = self.held.take();
        let here = RowStamp { number: row.number, clock_us: row.clock_us };
        if self.last.is_some_and(|last| is_expected(last, here, interval_us)) {
            self.last = Some(here);
            return Judged { dropped: held.is_some(), held: None, row: Some(row) };
        }
        let before = held.map(|held| RowStamp { number: held.number, clock_us: held.clock_us });
        if before.is_some_and(|before| may_follow(before, here)) {
            self.last = Some(here);
            return Judged { dropped: false, held, row: Some(row) };
        }
        self.held = Some(row);
        Judged { dropped: held.is_some(), held: None, row: None }
    }
}

/// By how much the second place is ahead in rows and in µs; both wrap.
fn ahead(before: RowStamp, after: RowStamp) -> (i32, i32) {
    // Truncation to the signed difference is the point.
    let rows = after.number.wrapping_sub(before.number) as i32;
    (rows, after.clock_us.wrapping_sub(before.clock_us) as i32)
}

/// The very same row, or one as many rows later as the time between them asks for, to a third.
fn is_expected(before: RowStamp, after: RowStamp, interval_us: u32) -> bool {
    let (rows, us) = ahead(before, after);
    if (rows, us) == (0, 0) {
        return true;
    }
    let (Ok(rows), Ok(us)) = (u64::try_from(rows), u64::try_from(us)) else { return false };
    let expected_us = rows * u64::from(interval_us);
    rows > 0 && 2 * us <= 3 * expected_us && 3 * us >= 2 * expected_us
}

fn may_follow(before: RowStamp, after: RowStamp) -> bool {
    let (rows, us) = ahead(before, after);
    rows > 0 && us > 0
}
