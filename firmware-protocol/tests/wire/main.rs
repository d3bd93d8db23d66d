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
#[allow(dead_code)] // the tests of the text form and of the C header use the rest
mod samples;
