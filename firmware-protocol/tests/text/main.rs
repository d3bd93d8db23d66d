//! What the text variant promises, tried from outside the crate.
#![allow(clippy::unwrap_used, clippy::panic)] // helpers of tests, which the exemption for tests misses

mod damage;
mod form;
mod limits;
mod lines;
mod page;
mod rows;
#[allow(dead_code)] // the tests of the binary form use the rest
#[path = "../wire/samples.rs"]
mod samples;
mod stream;
