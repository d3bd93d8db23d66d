//! Why a step of a test could not be done.

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
