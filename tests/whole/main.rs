//! The commands as a person runs them.

mod cautions;
mod command;
mod example_plows;
mod json_units;
mod one_move;
mod other_kinds;
mod pages;
mod readme;
mod statics_runs;
mod statics_try;
mod top_view;
