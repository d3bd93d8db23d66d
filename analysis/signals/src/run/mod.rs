//! A run folder as arrays: read strictly, checked row by row, nothing filled in.

mod apart;
mod csv_read;
mod csv_strict;
mod gnss_read;
mod load;
mod missing;
mod steps;

pub use apart::ClockApart;
pub use csv_read::{CSV_BYTES_MAX, CsvError, Table, read_table};
pub use gnss_read::{GnssTable, read_gnss};
pub use load::{Run, RunError, load_run};
pub use missing::MissingRows;
pub use steps::usual_step;
