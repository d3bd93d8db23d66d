//! A run folder as arrays: read strictly, checked row by row, nothing filled in.

mod apart;
mod csv_error;
mod csv_read;
mod csv_strict;
mod gnss_read;
mod load;
mod missing;
mod notice;
mod steps;

pub use apart::ClockApart;
pub use csv_error::{CSV_BYTES_MAX, CsvError};
pub use csv_read::{Table, read_table};
pub use gnss_read::{GnssTable, read_gnss};
pub use load::{Run, RunError, load_run};
pub use missing::MissingRows;
pub use notice::{Notice, SpeedFrom};
pub use steps::usual_step;
