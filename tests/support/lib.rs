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
pub mod run_folder;
pub mod run_in_memory;
pub mod snapshot;
pub mod synthetic;
pub mod truth;
pub mod verify;
pub mod virtual_run;

use std::fmt;

/// Why a step of a test could not be done, or what it found: one text, written for whoever reads the
/// failed test.
pub struct Failure(pub String);

/// As it reads: this is what the test harness prints of a test that failed.
impl fmt::Debug for Failure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl fmt::Display for Failure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// What a step gives. Where what its name promises cannot be done, or is not so, it fails with what was tried or
/// found and with all that the programs said.
pub type Outcome<T> = Result<T, Failure>;

/// Turns the error of a system call into a [`Failure`] that says what was tried.
pub trait Doing<T> {
    /// `what` completes "could not …".
    fn doing(self, what: impl FnOnce() -> String) -> Outcome<T>;
}

impl<T, E: fmt::Display> Doing<T> for Result<T, E> {
    fn doing(self, what: impl FnOnce() -> String) -> Outcome<T> {
        self.map_err(|error| Failure(format!("could not {}: {error}", what())))
    }
}
