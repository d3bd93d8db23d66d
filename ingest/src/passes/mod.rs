//! When the plow works, and when it stands still: rules that a recording, a page and an import share.
//!
//! [`Usual`] says what depth and pull show, [`rule`] what ends a pass. [`PassFinder`] applies both to readings as they come,
//! when what is usual is known by the plow description, and then by the passes so far; whoever has the whole recording takes
//! it from there. [`still`] says what standing still means.

mod finder;
pub mod rule;
mod smoothing;
pub mod still;
pub mod usual;

pub use finder::{PassEvent, PassFinder, Reading, Watched, cannot_find};
pub use rule::Shown;
pub use usual::{NothingUsual, Usual};
