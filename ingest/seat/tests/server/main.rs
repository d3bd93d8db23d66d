//! The web server at the seat, over real sockets: what it answers, to whom, and what those who mean it ill can do to
//! the recorder and to the others (nothing).
#![cfg(unix)]
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    reason = "a helper of tests fails as a test does"
)]

mod answered;
mod asking;
mod hostile;
mod real;
mod requests;
mod rig;
mod viewers;
