//! The recorder and its ports, as whole programs over pseudo-terminals.

mod an_hour;
mod calibrate;
mod gnss;
mod moved;
mod own_columns;
mod ports;
mod refusals;
mod repair;
mod rig;
mod runs;
mod several_boxes;
mod signals;
mod standing_by;
mod surroundings;
mod terminal;
mod together;
mod zero_check;
