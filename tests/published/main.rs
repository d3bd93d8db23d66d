//! The program against values that others published, each with its source beside it.

mod backwards;
mod calibration;
mod draft;
mod places;
mod propagation;
mod spectra;
mod statics;
mod statistics;
mod top_view;
