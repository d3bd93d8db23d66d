//! Readings to signals: one uniform time base with gaps kept as gaps, quality, and the working part.

mod join;
mod quality;
mod resample;
mod time_base;
mod working_part;

pub use join::{Joined, join, within};
pub use quality::{ChannelQuality, Quality, QualityInput, assess};
pub use time_base::{Segment, SignalError, Signals, stretches, uniform, usual_step};
pub use working_part::{WORKING_S_MIN, WorkingPart, WorkingPartError, WorkingParts, find_working_parts};
