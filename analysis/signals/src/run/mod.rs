//! A run folder as arrays: read strictly, checked row by row, nothing filled in.

mod csv;
mod load;
mod missing;
mod notice;

pub use csv::{CSV_BYTES_MAX, CsvError, GnssTable, MEMORY_PER_BYTE, Table, usual_step};
pub use load::{ClockApart, Run, RunError, load_run};
pub use missing::MissingRows;
pub use notice::{Notice, SpeedFrom};
