//! A recording held against what its boxes know: [`verify`], and what stands behind it.
#![allow(missing_docs, reason = "where a name says all that there is to say, no more is said")]

mod config;
mod failure;
mod plow;
pub mod run_folder;
pub mod truth;
pub mod verify;

pub use config::record_config;
pub use failure::{Doing, Failure, Outcome};
pub use plow::plow_toml;
