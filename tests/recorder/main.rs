//! The recorder and its ports, as whole programs over pseudo-terminals.

mod calibrate;
mod first_evening;
mod gnss;
mod killed;
mod moved;
mod ports;
mod refusals;
mod rig;
mod runs;
mod several_boxes;
mod signals;
mod surroundings;
mod together;
mod zero_check;
