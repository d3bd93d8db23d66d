//! The program against values that others published, each with its source beside it.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a helper of tests fails as a test does")]

mod backwards;
mod calibration;
mod draft;
mod places;
mod propagation;
mod spectra;
mod statics;
mod statistics;
mod top_view;
