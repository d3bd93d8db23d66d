//! What of a recording is lost or wrong, worded once: for the terminal's line, page, panel, status, log and reports.

use super::view::Progress;
use strum::VariantArray;

/// What of a run is lost so far, of all boxes.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Losses {
    /// Rows that never came.
    pub rows_lost: u64,
    /// Rows that were refused: they made no sense, or had other channels than the box said.
    pub rows_refused: u64,
    /// Time without rows that is in no other count, in ms.
    pub without_readings_ms: u64,
}

impl Losses {
    /// One part for each kind there is, such as `8 rows lost` or `40.2 s without readings`.
    #[must_use]
    pub fn in_words(self) -> Vec<String> {
        self.with(|rows| rows.to_string(), seconds)
    }

    /// The same with figures that `rows` makes of a count and `seconds` of a time in ms.
    pub fn with(self, rows: impl Fn(u64) -> String, seconds: impl Fn(u64) -> String) -> Vec<String> {
        let of_rows = |count: u64, what: &str| {
            (count > 0).then(|| format!("{} {} {what}", rows(count), if count == 1 { "row" } else { "rows" }))
        };
        let without = (self.without_readings_ms > 0)
            .then(|| format!("{} s without readings", seconds(self.without_readings_ms)));
        [of_rows(self.rows_lost, "lost"), of_rows(self.rows_refused, "refused"), without]
            .into_iter()
            .flatten()
            .collect()
    }
}

fn seconds(ms: u64) -> String {
    format!("{:.1}", ms as f64 / 1e3)
}

/// `40.2 s without readings`; empty where there was no such time.
#[must_use]
pub fn without_readings(without_readings_ms: u64) -> String {
    Losses { without_readings_ms, ..Losses::default() }.in_words().concat()
}

/// What can be wrong while it records.
#[derive(Clone, Copy, Debug, PartialEq, Eq, VariantArray)]
pub enum Wrong {
    /// The disk fails.
    DiskFails,
    /// The run is over, and its last data are still being written.
    StillWritten,
    /// A port is away.
    PortAway,
    /// A box answers, but no row comes.
    NoRows,
    /// The folder of the run was deleted or moved away.
    FolderAway,
    /// The clock of a box runs apart from the computer's.
    ClockApart,
    /// There should be a GNSS receiver, and it gives nothing.
    NoReceiver,
    /// The GNSS receiver has no fix.
    NoFix,
}

impl Wrong {
    /// As it stands at the end of a line of figures.
    #[must_use]
    pub const fn label(self) -> &'static str {
        match self {
            Self::DiskFails => "DISK FAILS",
            Self::StillWritten => "STILL WRITING",
            Self::PortAway => "BOX AWAY",
            Self::NoRows => "NO ROWS",
            Self::FolderAway => "FOLDER AWAY",
            Self::ClockApart => "CLOCK APART",
            Self::NoReceiver => "NO RECEIVER",
            Self::NoFix => "NO FIX",
        }
    }
}

impl Progress {
    /// What is wrong now, the worst first, each in one sentence.
    #[must_use]
    pub fn wrong(&self) -> Vec<(Wrong, String)> {
        let away: Vec<&str> = self.boxes_away.iter().flatten().map(String::as_str).collect();
        let so = |is_so: bool, text: &str| is_so.then(|| text.to_owned());
        [
            (Wrong::DiskFails, self.disk_trouble.as_ref().map(|what| format!("the disk fails: {what}"))),
            (Wrong::StillWritten, self.still_written.clone()),
            (Wrong::PortAway, so(!away.is_empty(), &away.join("; "))),
            (Wrong::NoRows, so(self.no_rows, "a box answers, but no rows come")),
            (Wrong::FolderAway, self.folder_away.clone()),
            (Wrong::ClockApart, so(self.clock_apart, "the clock of a box runs apart from the computer's")),
            (Wrong::NoReceiver, self.no_receiver.clone()),
            (Wrong::NoFix, so(self.has_no_fix, "the GNSS receiver has no fix")),
        ]
        .into_iter()
        .filter_map(|(wrong, text)| Some((wrong, text?)))
        .collect()
    }

    /// What of the run is lost.
    #[must_use]
    pub fn losses(&self) -> Losses {
        let Self { rows_lost, rows_refused, without_readings_ms, .. } = *self;
        Losses { rows_lost, rows_refused, without_readings_ms }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn losses_are_told_kind_by_kind() {
        let words = |rows_lost, rows_refused, without_readings_ms| {
            Losses { rows_lost, rows_refused, without_readings_ms }.in_words().join(", ")
        };
        assert_eq!(words(0, 0, 0), "");
        assert_eq!(words(1, 0, 0), "1 row lost");
        assert_eq!(words(8, 3, 40_250), "8 rows lost, 3 rows refused, 40.2 s without readings");
        assert_eq!(
            (without_readings(900), without_readings(0)),
            ("0.9 s without readings".into(), "".into())
        );
    }

    #[test]
    fn what_is_wrong_is_told_the_worst_first() {
        let progress = Progress {
            boxes_away: vec![None, Some("waiting for a".to_owned()), Some("waiting for b".to_owned())],
            disk_trouble: Some("full".to_owned()),
            has_no_fix: true,
            ..Progress::default()
        };
        let texts: Vec<String> = progress.wrong().into_iter().map(|(_, text)| text).collect();
        assert_eq!(
            texts,
            ["the disk fails: full", "waiting for a; waiting for b", "the GNSS receiver has no fix"]
        );
        assert!(Progress::default().wrong().is_empty());
    }
}
