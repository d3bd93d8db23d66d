//! Invented studies: plows whose truth is known, measured with the errors of tape and scale, judged blind.
//!
//! They show that intervals hold the truth as often as they say, that no verdict is bold and wrong, and that
//! decent measurements usually get one. The truth is drawn from other distributions than the analysis
//! assumes.

mod cases;
mod interval_coverage;
mod rests_on;
pub(crate) mod truths;
mod verdict_coverage;
