//! What a frame of rows does: where its rows stand, and what is lost, refused or at a converter's end.

use super::{Assembler, RunSoFar};
use crate::assemble::row_sequencer::{Placement, later_us};
use crate::assemble::rows_at::Refused;
use crate::run_event::EventKind;
use firmware_protocol::{Form, Readings};

impl Assembler {
    /// Takes rows; `came_with` are those that came at the same time, after these. A row of a text box may have been
    /// held until then, and its arrival says nothing of its clock.
    pub(super) fn on_readings(&mut self, readings: &Readings, came_with: Option<&Readings>, host_us: u64) {
        let rows = readings.row_count() as u64;
        // A sentence is one row with the clock of that row; a frame has one for all of its rows.
        let each_row_stamped = self.handshake.decoder.form() == Some(Form::Text);
        let came_with = came_with.filter(|_| each_row_stamped);
        let later_us = came_with.and_then(|later| later_us(readings, later));
        let Some(run) = self.run else {
            self.counters.rows_before_start += rows;
            self.boot_before_rows(readings, each_row_stamped);
            let first_box_us = self.clock.run.unwrap_us(readings.clock_us, host_us);
            self.sequencer.took(readings, first_box_us, each_row_stamped);
            if came_with.is_none() {
                self.clock.on_rows(first_box_us + (rows - 1) * u64::from(readings.interval_us), host_us);
            }
            return;
        };
        let interval_us = u64::from(readings.interval_us);
        self.pending.rows_come_every(interval_us);
        if !self.columns.fit(readings) {
            self.counters.frames_refused += 1;
            self.refused =
                Refused { rows: self.refused.rows + rows, channels: Some(readings.channel_count()) };
            return;
        }
        self.rows_at.frame_us = rows * interval_us;
        let placement = if run.has_rows {
            self.sequencer.place(readings, each_row_stamped)
        } else {
            self.boot_before_rows(readings, each_row_stamped);
            Placement::First
        };
        let (first_box_us, rows_known) = match placement {
            Placement::GoesOn { first_box_us, gap_rows, stale_rows } => {
                self.gap(gap_rows, interval_us);
                self.counters.rows_duplicate += u64::from(stale_rows);
                (first_box_us, stale_rows)
            }
            Placement::Stale => {
                self.counters.rows_duplicate += rows;
                return;
            }
            Placement::First => {
                let (first_box_us, before) = self.first_rows(readings, later_us, host_us);
                if u64::from(before) == rows {
                    if !run.has_rows {
                        self.sequencer.took(readings, first_box_us, each_row_stamped);
                    }
                    return;
                }
                (first_box_us, before)
            }
            Placement::Restarted { expected_row, clock_off_us, gap_rows } => {
                self.end_saturation();
                self.gap(gap_rows, interval_us);
                self.counters.resets += 1;
                let detail = format!(
                    "row={}; expected_row={expected_row}; clock_off_s={:.6}",
                    readings.first_row,
                    f64::from(clock_off_us) / 1e6
                );
                self.pending.after_row(EventKind::Restart, detail);
                self.forget_box();
                // Rows with lower numbers are lost, if there was time for them since the last one came.
                if readings.first_row < expected_row && self.rows_at.had_time_for(readings, host_us) {
                    self.gap(readings.first_row, interval_us);
                }
                (self.clock.run.unwrap_us(readings.clock_us, host_us), 0)
            }
        };
        self.sequencer.took(readings, first_box_us, each_row_stamped);
        let last_box_us = first_box_us + (rows - 1) * interval_us;
        if came_with.is_none() {
            let apart = self.clock.on_rows(last_box_us, host_us);
            self.clocks_apart(apart, host_us);
        } else {
            self.clock.run.saw(last_box_us, host_us);
            self.came_later(last_box_us, later_us, host_us);
        }
        for (k, counts) in (0u64..).zip(readings.rows()).skip(rows_known as usize) {
            self.row(first_box_us + k * interval_us, counts, host_us);
        }
    }

    fn came_later(&mut self, box_us: u64, later_us: Option<u64>, host_us: u64) {
        if let Some(later_us) = later_us {
            self.clock.came_by(box_us + later_us, host_us);
        }
    }

    /// Before the first row of a run nothing is to go on; but rows that do not go on there show a boot too, which neither
    /// a hello nor a status may have told.
    fn boot_before_rows(&mut self, readings: &Readings, each_row_stamped: bool) {
        if matches!(self.sequencer.place(readings, each_row_stamped), Placement::Restarted { .. }) {
            self.forget_box();
            if let Some(run) = &mut self.run {
                run.seen_before_us = Some(0);
            }
        }
    }

    /// Box time of the first frame of rows since the boot or in the run, and how many of its rows were sampled before the
    /// run began. Rows numbered before it were lost if they can only have been sampled since then: after a
    /// boot in the run, or if the first of them comes after the last clock that the box gave before.
    fn first_rows(&mut self, readings: &Readings, later_us: Option<u64>, host_us: u64) -> (u64, u32) {
        let first_box_us = self.clock.run.unwrap_us(readings.clock_us, host_us);
        self.came_later(first_box_us, later_us, host_us);
        let interval_us = u64::from(readings.interval_us);
        let is_before = |k: &u32| self.clock.is_before_start(first_box_us + u64::from(*k) * interval_us);
        let rows = readings.row_count() as u32;
        let before = (0..rows).take_while(is_before).count() as u32;
        self.counters.rows_before_start += u64::from(before);
        let Some(run) = self.run.filter(|_| before < rows) else { return (first_box_us, before) };
        let first_row = readings.first_row.wrapping_add(before);
        if !run.has_rows {
            self.pending.after_row(EventKind::FirstRow, format!("row={first_row}"));
            self.run = Some(RunSoFar { has_rows: true, ..run });
        }
        // One that began by itself when its port was opened has numbered rows from before the run.
        let row_zero_us = first_box_us.saturating_sub(u64::from(readings.first_row) * interval_us);
        let since_start = !self.clock.is_before_start(row_zero_us)
            && run.seen_before_us.is_some_and(|seen| row_zero_us >= seen);
        if run.has_booted || since_start {
            self.gap(readings.first_row, readings.interval_us.into());
        }
        (first_box_us, before)
    }

    fn row(&mut self, box_us: u64, counts: &[i32], host_us: u64) {
        let Some(row) = self.columns.read(counts) else {
            self.refused.rows += 1;
            self.pending.counted(1);
            return;
        };
        self.end_refused();
        if let Some(since_us) = self.rows_at.came(host_us) {
            let lasted_s = host_us.saturating_sub(since_us) as f64 / 1e6;
            self.pending.at_host(host_us, EventKind::RowsBack, format!("lasted_s={lasted_s:.3}"));
        }
        self.pending.row(box_us, row, host_us);
        let pending = &mut self.pending;
        let saturated = self.saturation.row(box_us, &self.columns.reading, counts, |column, change| {
            pending.saturation(column, change);
        });
        self.counters.rows_saturated += u64::from(saturated);
    }

    pub(super) fn end_saturation(&mut self) {
        let pending = &mut self.pending;
        self.saturation.end(self.columns.filled(), |column, change| pending.saturation(column, change));
    }

    pub(super) fn end_refused(&mut self) {
        let Refused { rows, channels } = std::mem::take(&mut self.refused);
        if rows > 0 {
            self.counters.rows_refused += rows;
            let others = channels.map_or(String::new(), |channels| format!("; channels={channels}"));
            self.pending.after_row(EventKind::Refused, format!("rows={rows}{others}"));
        }
    }

    fn gap(&mut self, rows: u32, interval_us: u64) {
        if rows > 0 {
            self.counters.rows_lost += u64::from(rows);
            self.pending.counted(rows.into());
            self.counters.gaps += 1;
            let lasted_s = (u64::from(rows) * interval_us) as f64 / 1e6;
            self.pending.after_row(EventKind::Gap, format!("rows={rows}; lasted_s={lasted_s:.6}"));
        }
    }
}
