//! A GNSS receiver on a port of its own: NMEA 0183 sentences to fixes in run time.
//!
//! Bytes -> lines -> sentences whose checksum is right -> epochs (what a receiver says of one moment) ->
//! fixes. As for a sensor box, what comes out depends on the records alone, so that a rebuild of
//! `gnss.wire` gives the same bytes as the recording did.
//!
//! Three kinds of sentences are read, of any talker (GP, GN, GL, GA, GB, BD, QZ, ...): RMC, or GGA with VTG,
//! or all three. A fix needs a position and a speed.

mod clock;
mod epoch;
mod receiver;
mod sentence;
mod splitter;

pub use receiver::{Fix, GnssCounters, Receiver};
pub use sentence::Position;
pub(crate) use splitter::lacks_checksum;
pub use splitter::{LineCounters, Splitter};
