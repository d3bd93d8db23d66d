//! The recorder and its ports, as whole programs over pseudo-terminals.

mod calibrate;
mod gnss;
mod moved;
mod ports;
mod refusals;
mod rig;
mod runs;
mod signals;
mod surroundings;
mod together;
mod zero_check;
