//! What the text variant promises, tried from outside the crate.
#![allow(clippy::unwrap_used, clippy::panic)] // helpers of tests, which the exemption for tests misses

mod form;
mod limits;
mod lines;
mod rows;
#[allow(dead_code)] // the tests of the binary form use the rest
#[path = "../wire/samples.rs"]
mod samples;
mod stream;
