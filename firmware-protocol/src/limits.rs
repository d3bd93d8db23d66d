//! The version spoken, and how large things may be.

/// Protocol version that this crate speaks: a box with another major number is refused.
pub const VERSION_MAJOR: u8 = 1;
/// Minor version: a box with a higher one may send kinds that this crate skips and counts.
pub const VERSION_MINOR: u8 = 1;

/// Largest body (kind, payload and CRC) in bytes. At 254 a COBS frame costs exactly one byte more,
/// so a whole frame with its 0x00 is at most 256 bytes and a box can index it with one byte.
pub const BODY_BYTES_MAX: usize = 254;
/// Largest frame on the wire, the closing 0x00 included, in bytes.
pub const FRAME_BYTES_MAX: usize = BODY_BYTES_MAX + 2;
/// Channels that one box may have.
pub const CHANNELS_MAX: usize = 8;
/// Raw counts (rows times channels) that one *readings* frame may carry.
pub const COUNTS_MAX: usize = (BODY_BYTES_MAX - READINGS_HEAD_BYTES - CRC_BYTES) / 4;

/// Bytes of the CRC at the end of a body.
pub(crate) const CRC_BYTES: usize = 4;
/// Bytes of a *readings* body before its counts, the kind included.
pub(crate) const READINGS_HEAD_BYTES: usize = 15;
