//! Serial ports to frames, readings and run folders: the recorder, and the descriptions it needs.
//!
//! Data flows one way through this crate: port -> records -> frames -> clock -> readings -> run folder.
//! A recording and a rebuild of it from `plow.wire` are the same computation on the same records.
//!
//! The way through it:
//!
//! 1. A person describes the plow in `plow.toml`: [`plow::read_plow`] gives a [`plow::Plow`], or one sentence with
//!    the line that is wrong. Every length, force and angle in it is a [`quantity`] with its unit.
//! 2. A sensor is calibrated at known loads: a [`calibration::CalibrationReport`] says how good the line through
//!    the [`calibration::Observation`]s is, and its [`calibration::CalibrationCurve`] turns counts into readings.
//! 3. [`discovery`] finds the boxes on the ports; [`recorder::record`] writes a run: `run.toml`, a file of rows for
//!    each box, `events.csv`, and what came over each line in a [`wire_file`].
//! 4. [`open_run::open_run`] opens a run folder for reading, whatever happened to its recorder, and
//!    [`rebuild::rebuild`] makes its rows anew from `plow.wire`; [`repair::Repair`] puts that in their place.
//!
//! ```
//! use ingest::open_run::open_run;
//!
//! # let folder = std::path::Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/../sample-runs/runs/balanced"));
//! let run = open_run(folder)?; // sample-runs/runs/balanced
//! assert_eq!(run.description.run.setting_name, "middle");
//! assert_eq!(run.description.plow.sensors.len(), run.description.boxes[0].channels.len());
//! assert!(run.description.ended_properly() && run.notices.is_empty());
//! assert!(run.files[0].whole_bytes > 0 && run.files[0].cut_bytes == 0);
//! # Ok::<(), ingest::description_file::DescriptionError>(())
//! ```

pub mod assemble;
pub mod calibration;
mod channel_role;
pub mod cli;
mod clock;
pub mod csv_text;
pub mod cut;
pub mod description_file;
pub mod discovery;
pub mod gnss;
pub mod memory;
pub mod open_run;
mod own_column;
pub mod passes;
pub mod plow;
pub mod port;
pub mod quantity;
pub mod rebuild;
pub mod recorder;
pub mod repair;
pub mod row_columns;
pub mod run_event;
pub mod run_folder;
pub mod run_toml;
pub mod safety;
mod session;
pub mod student;
pub mod system;
pub mod tables;
pub mod wire_file;
mod writer;

pub use clock::BEND_MAX as CLOCK_BEND_MAX;

#[cfg(test)]
mod script;
