//! From a run folder to a verdict on one page.
//!
//! Data flows one way: run folder -> signals -> statistics and spectra -> statics -> verdict -> page.

pub mod advice;
pub mod causes;
pub mod command;
pub mod compare;
pub mod draft;
pub mod page;
pub mod report;
pub mod run;
pub mod signals;
pub mod spectra;
pub mod statics;
pub mod stats;
pub mod summary;
pub mod units_out;
pub mod verdict;
