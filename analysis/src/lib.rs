//! From a run folder to a verdict on one page.
//!
//! Data flows one way: run folder -> signals -> statistics and spectra -> statics -> verdict -> page.

pub mod compare;
pub mod run;
pub mod signals;
pub mod spectra;
pub mod stats;
