//! From a run folder to a verdict on one page: one run summed up, several compared, and all of it put into words.
//!
//! Data flows one way: run folder -> [`signals`] -> [`stats`] and [`spectra`] -> [`statics`] and its verdict ->
//! [`summary`] -> [`report`] -> [`page`].

pub mod causes;
pub mod command;
pub mod compare;
pub mod draft;
pub mod report;
pub mod summary;
pub mod units_out;

// The cases that tests here share with those of the crates below.
#[cfg(test)]
#[allow(dead_code, reason = "other tests use the rest")]
#[path = "../statics/src/invented_plow.rs"]
mod invented_plow;
#[cfg(test)]
#[allow(dead_code, reason = "other tests use the rest")]
#[path = "../page/src/samples.rs"]
mod page_samples;
