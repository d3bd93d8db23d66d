//! The rig for whole-program tests: real binaries, a virtual sensor box on a real pseudo-terminal, and
//! [`verify`], which holds a run folder against what the box knows to be true.
#![allow(missing_docs, reason = "where a name says all that there is to say, no more is said")]

pub mod binaries;
pub mod calibration_session;
pub mod command;
pub mod coverage;
pub mod data;
pub mod drawn_run;
pub mod emulator;
pub mod field;
pub mod pdf;
pub mod process;
pub mod pty;
pub mod random_plow;
pub mod receiver;
pub mod recording;
pub mod run_in_memory;
pub mod snapshot;
pub mod synthetic;
pub mod virtual_run;

pub use held::{Doing, Failure, Outcome, run_folder, truth, verify};
