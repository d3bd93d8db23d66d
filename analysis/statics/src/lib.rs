//! Statics of the plow in the side view: loads, pull-line offset, balance, and what other holes would do.
//!
//! [`side`] solves a known plow in closed form; [`identify`] goes the other way, from what a run measured to
//! the soil force and the balance, with uncertainty; [`predict`] applies the result to other holes;
//! [`joint`] takes several runs of one plow together; [`value_of_information`] says which measurement would help most;
//! [`report`] says what is known before any run; [`top`] is the top view, with the tractor. [`verdict`] states what
//! the draws support, and [`advice`] says which hole. [`means`] and [`judge()`](judge::judge) are the whole way from means of readings to
//! the verdict, for the report of a pass and for the seat alike.
//!
//! Lengths, forces, angles and speeds go in and come out as quantities ([`ingest::quantity`]); slopes, shares, gains
//! and the balance index are bare numbers. What is drawn by name ([`inputs::Inputs`]) is a number in SI, angles in
//! degrees, because one list holds all dimensions.
//!
//! A plow as its description has it, with every input at its middle:
//!
//! ```
//! use ingest::plow::read_plow_text;
//! use ingest::quantity::{Force, Length};
//! use statics::predict::nominal;
//! use std::path::Path;
//!
//! let text = include_str!(concat!(env!("CARGO_MANIFEST_DIR"), "/../../sample-runs/plows/two-bottom.toml"));
//! let plow = read_plow_text(text, Path::new("two-bottom.toml"))?;
//! let loads = nominal(&plow, &plow.settings["flat"], Force::from_n(7_480.0))?.side.loads()?;
//! assert!(loads.pull_line_offset > Length::from_m(0.2), "the line of pull passes high");
//! assert!(loads.balance_index > 0.9 && loads.tail_load < Force::from_n(100.0), "the tail wheel hardly carries");
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! The same plow from what a run measured, to the verdict:
//!
//! ```
//! use ingest::plow::read_plow_text;
//! use ingest::quantity::Force;
//! use statics::identify::identify;
//! use statics::inputs::{MeanForce, RunFigures};
//! use statics::plow_model::standing_loads;
//! use statics::verdict::{Class, Indicators, verdict};
//! use stats::Estimate;
//! use std::path::Path;
//!
//! let text = include_str!(concat!(env!("CARGO_MANIFEST_DIR"), "/../../sample-runs/plows/two-bottom.toml"));
//! let plow = read_plow_text(text, Path::new("two-bottom.toml"))?;
//! let setting = &plow.settings["flat"];
//! let read = |n: f64| Estimate::around(n, 10.0).map(Estimate::<Force>::from_si).ok_or("no number");
//! let (_, standing_tail) = standing_loads(&plow, setting)?;
//! let run = RunFigures {
//!     tail_load: Some(MeanForce::tail(read(100.0)?, standing_tail)),
//!     depth: Some(plow.bottoms.depth),
//!     ..RunFigures::of_pull(MeanForce::pull(read(7_480.0)?))
//! };
//! let identified = identify(&plow, setting, &run, 2_000, 1);
//! let signals = Indicators { lifted_share: Some(0.0), front_lifted: false, measured_gain: None, stray: None };
//! let said = verdict(&plow, &identified, &signals);
//! println!("{}, because of {:?}", said.class.label(), said.reasons);
//! assert_eq!(said.class, Class::TooFlat);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

pub mod advice;
pub mod believable;
pub mod calibrations;
pub mod contradiction;
pub mod distribution;
pub mod draft;
pub mod draw;
mod entries;
pub mod height_map;
pub mod identify;
pub mod inputs;
pub mod joint;
pub mod judge;
pub mod judged_load;
pub mod means;
pub mod natural_frequencies;
pub mod plow_model;
pub mod predict;
mod refusal;
pub mod report;
mod run_figures;
pub mod samples;
pub mod sensitivity;
pub mod side;
pub mod soil;
pub mod top;
mod unbelievable;
pub mod value_of_information;
pub mod verdict;
pub mod what_if;

// Under this name the tests of `analysis` read the same cases.
#[cfg(test)]
extern crate self as statics;

#[cfg(test)]
pub(crate) mod from_priors;
#[cfg(test)]
pub(crate) mod invented_plow;
#[cfg(test)]
mod side_equations;
