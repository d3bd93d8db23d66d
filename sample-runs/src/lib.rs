//! The virtual plow, its virtual sensor box, a virtual GNSS receiver, and small recorded runs made with them.
//!
//! **Every number in here is invented**: the plow, its springs, the soil, the field and the sensors
//! describe no real machine and no real place. They are chosen to look like a trailed two-bottom plow
//! on a light loam, so that the rest of the workspace has something to record, and a known truth to be
//! held against. They prove nothing about a real plow.
//!
//! - [`plow`] is pure computation: a rigid body on two wheels, pulled through a field that depends only
//!   on a seed and on distance, so that two settings can be driven over the same ground.
//! - [`sensors`] turns true readings into raw counts, as a box with real converters would.
//! - [`virtual_box`] sends those counts through a pseudo-terminal, with faults on request.
//! - [`virtual_receiver`] is a GNSS receiver on another one.
//!
//! The way through it: a [`plow::Case`] or a [`plow::DrawnPlow`] says what is driven over which field (a
//! [`plow::PassSpec`]); a [`plow::Pass`] drives it, moment by moment; a [`plow::TruthMeter`] gathers what is
//! true of it; a [`virtual_box::VirtualBox`] lets a recorder see it as it would see a real one.
//!
//! ```
//! use sample_runs::plow::{Case, Pass, TruthMeter};
//! use sample_runs::sensors::{Sensor, SensorSet};
//!
//! // Ten seconds at work in strip 1 of the field, with the hitch that balances the plow.
//! let spec = Case::Balanced.pass(1, 10.0);
//! let (mut pass, mut meter) = (Pass::new(&spec), TruthMeter::new(&spec));
//! let mut sensors = SensorSet::new(&Sensor::BASIC, 1);
//! while !pass.is_over() {
//!     let mut counts = Vec::new();
//!     sensors.sample(&pass.state(), &mut counts);
//!     assert_eq!(counts.len(), Sensor::BASIC.len());
//!     meter.take(&pass.state());
//!     pass.advance(0.02);
//! }
//! let truth = meter.truth().unwrap();
//! assert!(truth.pull_n > 0.0 && truth.balance_index.abs() < 0.5);
//! ```

pub mod plow;
pub mod sensors;
pub mod virtual_box;
pub mod virtual_receiver;

/// Seed for one purpose from the one seed a caller gives: the streams of two purposes never coincide,
/// and adding a purpose leaves the others as they were.
///
/// The mixing is the finaliser of SplitMix64 (Steele, Lea & Flood, OOPSLA 2014; constants from memory).
pub(crate) fn seed_for(seed: u64, purpose: u64) -> u64 {
    let mut z = seed.wrapping_add(purpose.wrapping_mul(0x9E37_79B9_7F4A_7C15));
    z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    z ^ (z >> 31)
}
