//! What is heard on a port, as a state machine without a port: the conversation with a box, and a sample of its rows.

use super::sample::Sample;
use crate::assemble::{Placement, RowSequencer};
use crate::session::{Heard, Session};
use firmware_protocol::{Form, Readings};
use tokio::time::Instant;

/// Rows kept in one sample at most; what comes after is counted as if it had not come.
const SAMPLE_ROWS_MAX: usize = 2_000_000;

/// Listens to the bytes of one port.
#[derive(Clone, Debug)]
pub struct Listener {
    /// The conversation.
    pub session: Session,
    sequencer: RowSequencer,
    taking: bool,
    sample: Sample,
    damaged_before: u64,
}

impl Listener {
    /// Listens along with this conversation.
    pub fn new(session: Session) -> Self {
        Self {
            session,
            sequencer: RowSequencer::default(),
            taking: false,
            sample: Sample::default(),
            damaged_before: 0,
        }
    }

    /// Takes bytes as they came.
    pub fn take(&mut self, mut bytes: &[u8], now: Instant) {
        while let Some(heard) = self.session.hear(&mut bytes, now) {
            match heard {
                Heard::Hello { hello, before } if before.is_some_and(|before| before.boot != hello.boot) => {
                    self.sample.restarts += 1;
                    self.sequencer.forget();
                }
                Heard::Readings(readings) => self.on_readings(&readings),
                _ => {}
            }
        }
    }

    fn damaged(&self) -> u64 {
        self.session.handshake.decoder.counters().damaged()
    }

    /// Rows are kept from here on.
    pub fn begin(&mut self) {
        self.taking = true;
        // What was lost before is not this sample's.
        self.sequencer.forget();
        self.damaged_before = self.damaged();
        // Before a hello there is no channel whose counts could be kept.
        let channels = self.session.handshake.hello.map_or(0, |hello| hello.channels().len());
        self.sample = Sample { counts: vec![Vec::new(); channels], ..Sample::default() };
    }

    /// How many rows were kept so far.
    pub fn rows(&self) -> usize {
        self.sample.rows()
    }

    /// The rows since [`Self::begin`]; none are kept any more.
    pub fn end(&mut self) -> Sample {
        self.taking = false;
        let frames_damaged = self.damaged() - self.damaged_before;
        Sample { frames_damaged, ..std::mem::take(&mut self.sample) }
    }

    fn on_readings(&mut self, readings: &Readings) {
        let channels = self.sample.counts.len();
        if !self.taking || readings.channel_count() != channels || self.rows() >= SAMPLE_ROWS_MAX {
            return;
        }
        let each_row_stamped = self.session.form() == Some(Form::Text);
        let (first_box_us, gap_rows, stale_rows) = match self.sequencer.place(readings, each_row_stamped) {
            Placement::First => (u64::from(readings.clock_us), 0, 0),
            Placement::GoesOn { first_box_us, gap_rows, stale_rows } => (first_box_us, gap_rows, stale_rows),
            Placement::Stale => return,
            Placement::Restarted { gap_rows, .. } => {
                self.sample.restarts += 1;
                (u64::from(readings.clock_us), gap_rows, 0)
            }
        };
        self.sequencer.took(readings, first_box_us, each_row_stamped);
        self.sample.rows_lost += u64::from(gap_rows);
        self.sample.gaps += u64::from(gap_rows > 0);
        for row in readings.rows().skip(stale_rows as usize) {
            for (kept, count) in self.sample.counts.iter_mut().zip(row) {
                kept.push(*count);
            }
        }
    }
}

#[cfg(test)]
mod tests;
