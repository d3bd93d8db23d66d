//! The panel for the seat in a terminal, for those who have no phone: a view of [`Live`](crate::live::Live) among others,
//! that passes on wishes as the page does.
//!
//! `keys` says what a key does, `draw` what is seen; both are plain functions of what is known, without a terminal.
//! `screen` has the terminal, gives it back however the program ends, and runs both on a thread of its own. Texts from
//! boxes and names come through `text` only, so that none of them can send a command to the terminal.

mod bar;
mod draw;
mod figures;
mod foot;
mod keys;
mod last_run;
mod link_sheet;
mod pen;
mod scene;
mod screen;
mod text;

pub use screen::{Panel, PanelError};
