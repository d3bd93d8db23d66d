//! A recorder on a bench: devices at the ends of lines, whose time is wound on, and a real disk. What a person is told, and what is
//! then in the run folders.
#![allow(clippy::unwrap_used, clippy::panic, reason = "a helper of tests fails as a test does")]

mod device;
mod disk;
mod receivers;
mod refusals;
mod rig;
mod several_boxes;
mod standing_by;
