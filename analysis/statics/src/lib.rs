//! Statics of the plow in the side view: loads, pull-line offset, balance, and what other holes would do.
//!
//! [`side`] solves a known plow in closed form; [`identify`] goes the other way, from what a run measured to
//! the soil force and the balance, with uncertainty; [`predict`] applies the result to other holes;
//! [`joint`] takes several runs of one plow together; [`value_of_information`] says which measurement would help most;
//! [`report`] says what is known before any run; [`top`] is the top view, with the tractor. [`verdict`] states what
//! the draws support, and [`advice`] says which hole.

pub mod advice;
pub mod contradiction;
pub mod distribution;
pub mod draft;
pub mod draw;
pub mod free_body;
pub mod height_map;
pub mod identify;
pub mod inputs;
pub mod joint;
mod mean_force;
pub mod natural_frequencies;
pub mod plow_model;
pub mod predict;
mod preposterior;
pub mod ranking;
mod refusal;
pub mod report;
mod run_figures;
pub mod samples;
mod sampling;
pub mod sensitivity;
pub mod side;
pub mod soil;
pub mod top;
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
mod side_laws;
