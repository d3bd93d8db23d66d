//! When the plow works, and when it stands still: rules that a recording, a page and an import share.
//!
//! [`rule`] says what being in the ground means and what ends a pass. [`PassFinder`] applies it to readings as they
//! come, when nobody knows yet how deep and how hard this pass will be pulled; whoever has the whole recording takes
//! those levels from it, and the same rule.

mod finder;
pub mod rule;
mod smoothing;

pub use finder::{PassEvent, PassFinder, Reading, Watched, cannot_find};
