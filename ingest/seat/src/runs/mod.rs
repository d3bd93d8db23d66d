//! The runs that were recorded: listed, their verdicts after each pass, one setting against another, pages and tables.
//!
//! This program has no analysis in it. It runs `hitchwright`, which stands beside it, as a child process: one at a
//! time, at lower priority, with limits of time, memory and output. Whatever becomes of the child, the recorder's loop
//! never waits for it.

mod after_pass;
mod analyst;
mod comparison;
mod desk;
mod error;
mod file_body;
mod handle;
mod http;
mod list;
mod name;
mod pages;
mod queue;
mod remembered;
mod told;

pub use after_pass::RunsView;
pub use analyst::{Analyst, Limits};
pub use comparison::{Compared, SideRuns};
pub use error::RunsError;
pub use handle::Runs;
pub use http::router;
pub use list::{ListedRun, RunList};
pub use name::RunName;
pub use told::Brief;
