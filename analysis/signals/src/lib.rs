//! Readings to signals: one uniform time base with gaps kept as gaps, quality, and the working part.
//!
//! [`run`] reads the folder.

mod calibrated_range;
mod join;
mod places;
mod quality;
mod resample;
mod rows;
pub mod run;
mod spikes;
mod time_base;
mod travel;
mod working_part;

pub use calibrated_range::{OutsideRange, outside_range};
pub use join::{Joined, join, within};
pub use places::straight_m;
pub use quality::{ChannelQuality, Quality, QualityInput, assess};
pub use spikes::{Spikes, take_out_spikes};
pub use time_base::{Segment, SignalError, Signals, stretches, uniform};
pub use travel::{Even, Speed, Travel, at_even_speed};
pub use working_part::{WORKING_S_MIN, WorkingPart, WorkingPartError, WorkingParts, find_working_parts};
