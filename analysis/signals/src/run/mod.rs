//! A run folder as arrays: read strictly, checked row by row, nothing filled in.

mod apart;
mod csv;
mod gnss_read;
mod load;
mod missing;
mod notice;

pub use apart::ClockApart;
pub use csv::{CSV_BYTES_MAX, CsvError, Table, usual_step};
pub use gnss_read::GnssTable;
pub use load::{Run, RunError, load_run};
pub use missing::MissingRows;
pub use notice::{Notice, SpeedFrom};
