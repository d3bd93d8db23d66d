//! Readings to signals: one uniform time base with gaps kept as gaps, quality, and the working part.
//!
//! [`run::load_run`] reads the folder strictly, [`join`] puts what its boxes sent on one time base, and
//! [`find_working_parts`] finds the part of it in which the plow worked:
//!
//! ```
//! use ingest::plow::ChannelRole;
//! use signals::run::load_run;
//! use signals::{find_working_parts, join};
//! use std::path::Path;
//!
//! let run = load_run(Path::new("../../sample-runs/runs/balanced"))?;
//! assert_eq!(run.description.run.setting_name, "middle");
//! assert!(run.missing_rows().all(|table| table.holes_s.is_empty()), "no row is missing");
//!
//! let signals = join(run.tables)?.signals;
//! let part = find_working_parts(&signals, &[])?.longest;
//! let segments = signals.part(part.from_s, part.to_s);
//! // One pass without a gap, and the plow's depth in it, in mm.
//! assert_eq!(segments.len(), 1);
//! let depth_mm = &signals.channels[&ChannelRole::Depth][segments[0].rows.clone()];
//! assert!(depth_mm.iter().all(|depth| *depth > 100.0));
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

mod join;
mod quality;
mod resample;
pub mod run;
mod spikes;
mod time_base;
mod travel;
mod working_part;

pub use join::{Joined, join, within};

pub use quality::{ChannelQuality, Quality, QualityInput, STUCK_S, assess, longest_still};
pub use spikes::{
    BACK_SHARE as SPIKE_BACK_SHARE, BLOCK as SPIKE_BLOCK, BOUND_SD as SPIKE_BOUND_SD,
    SD_PER_MEDIAN as SPIKE_SD_PER_MEDIAN, Spikes, WIDTH_MAX as SPIKE_WIDTH_MAX, take_out_spikes,
};
pub use time_base::{GAP_STEPS, Segment, SignalError, Signals, even_stretches, slices, stretches, uniform};
pub use travel::{Even, Speed, Travel, at_even_speed, straight_m};
pub use working_part::{
    RATE_HZ_MAX, WORKING_S_MIN, WorkingPart, WorkingPartError, WorkingParts, find_working_parts,
};
