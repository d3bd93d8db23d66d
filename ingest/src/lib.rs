//! Serial ports to frames, readings and run folders: the recorder, and the descriptions it needs.
//!
//! Data flows one way through this crate: port -> records -> frames -> clock -> readings -> run folder.
//! A recording and a rebuild of it from `plow.wire` are the same computation on the same records.

pub mod assemble;
pub mod calibration;
pub mod channel_role;
pub mod cli;
pub mod clock;
pub mod csv_text;
pub mod description_file;
pub mod discovery;
pub mod gnss;
pub mod open_run;
pub mod plow;
pub mod port;
pub mod quantity;
pub mod rebuild;
pub mod recorder;
pub mod run_event;
pub mod run_folder;
pub mod run_toml;
pub mod safety;
pub mod session;
pub mod student;
pub mod tables;
pub mod text_file;
pub mod wire_file;
pub mod writer;

#[cfg(test)]
mod script;
