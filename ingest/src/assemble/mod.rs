//! Records of the wire to rows and events: a pure state machine.
//!
//! What it gives depends on the records alone. The recorder feeds it while recording, `rebuild` feeds it
//! from the file, and so the two give the same bytes.
//!
//! `Assembler` hands what the box says (`session::Handshake`) from part to part: `RowSequencer` says what
//! a frame of rows is to those before it, `saturation` which channels are at an end of their converters, and `pending`
//! keeps rows and events until `box_clock` can place them in run time.

mod assembler;
mod box_clock;
mod columns;
mod item;
mod line_quality;
mod pending;
mod row_sequencer;
mod rows_at;
mod saturation;

pub(crate) use assembler::Assembler;
pub use columns::{CalibratedSensor, Fills, calibrated, columns_of, kind_is, kind_name};
pub(crate) use columns::{missing, names_of, quoted};
pub use item::{Row, RunCounters};
pub(crate) use row_sequencer::{Placement, RowSequencer};

pub use crate::run_event::{EventKind, Item, RunEvent};

#[cfg(test)]
mod tests;
