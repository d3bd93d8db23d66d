//! From a run folder to a verdict on one page: one run summed up, several compared, and all of it put into words.
//!
//! Data flows one way: run folder -> [`signals`] -> [`stats`] and [`spectra`] -> [`statics`] and its verdict ->
//! [`summary`] -> [`report`] -> [`page`].
//!
//! ```
//! use analysis::report::units::Units;
//! use analysis::report::{run_content, summary_text};
//! use analysis::summary::analyse;
//! use page::{Format, Paper, Sheets, render};
//! use std::path::Path;
//!
//! let run = signals::run::load_run(Path::new("../sample-runs/runs/worn-shares"))?;
//! let analysed = analyse(run)?;
//!
//! // As data: the soil lifts the plow, so the shares come first.
//! let summary = &analysed.summary;
//! assert!(matches!(summary.advice[..], [statics::advice::Advice::SharesFirst { .. }]));
//! assert!(summary.statics.as_ref().is_some_and(|statics| statics.soil_slope.low > 0.0));
//!
//! // The same as a plowman reads it, and as a page.
//! let text = summary_text(summary, &analysed.description.plow, Units::Us);
//! assert!(text.contains("verdict: SHARES FIRST") && text.contains("lbf"));
//! let pdf = render(&run_content(&analysed, Units::Us), Paper::Letter, Format::Pdf, Sheets::One)?;
//! assert!(pdf.starts_with(b"%PDF"));
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

pub mod causes;
mod codes;
pub mod command;
pub mod compare;
pub mod draft;
pub mod report;
pub mod summary;

// The cases that tests here share with those of the crates below.
#[cfg(test)]
#[allow(dead_code, reason = "other tests use the rest")]
#[path = "../statics/src/invented_plow.rs"]
mod invented_plow;
