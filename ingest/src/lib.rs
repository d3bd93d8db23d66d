//! Serial ports to frames, readings and run folders: the recorder, and the descriptions it needs.
//!
//! Data flows one way through this crate: port -> bytes -> frames -> clock -> readings -> run folder.

pub mod plow;
pub mod quantity;
