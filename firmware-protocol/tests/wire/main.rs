//! What the wire promises, tried from outside the crate.
#![allow(clippy::unwrap_used, clippy::panic)] // helpers of tests, which the exemption for tests misses

mod damage;
mod garbage;
mod hamming_distance;
mod hello_limits;
mod limits;
mod no_std;
mod published;
mod readme;
mod round_trip;
mod samples;
#[path = "../text/mod.rs"]
mod text;
