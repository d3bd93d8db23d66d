//! Frames between a hitchwright sensor box and the recorder: `no_std`, no allocation.
//!
//! A frame on the wire is `COBS(kind, payload, CRC-32C)` followed by one 0x00. All numbers are
//! little-endian and of fixed width; the byte tables are in this crate's README and are the
//! specification. Promise: within one major version no byte of a known kind ever moves or changes
//! its meaning; a minor version may only add kinds and codes of channels, which an older decoder skips and counts. *hello*
//! keeps its layout in every major version, so that any recorder can say which one a box speaks.
//!
//! Fixed little-endian won over a variable-length coding because a box in C then needs no code for
//! it, and because a frame's length follows from its channel table, which is one more check.
//!
//! Boxes that can do no more than print send the same frames as lines of text: [`TextDecoder`] and
//! [`sentences`]. A [`PortDecoder`] takes either form and finds out which one comes.
//!
//! The way through it, for a box and for a host:
//!
//! 1. A box says once a second who it is, until a host sends [`Frame::Start`]: a [`Hello`] with a line for each
//!    [`Channel`].
//! 2. From then on it sends [`Readings`], rows of raw counts that are numbered without a gap, and once a second a
//!    [`Status`]. It answers a [`Frame::Ping`] with its clock, [`Time`].
//! 3. [`encode`] (or [`sentences`]) makes the bytes of a [`Frame`]; a [`PortDecoder`] makes frames of bytes, in
//!    pieces of any length, and says what it [dropped](Dropped) and why.
//!
//! ```
//! use firmware_protocol::{Event, Frame, PortDecoder, Readings, encode};
//!
//! // Row 7 of a box with two channels, at 1.5 s of its clock, 5 ms before the next row.
//! let readings = Readings::new(7, 1_500_000, 5_000, 2, &[12_840, -3]).unwrap();
//! let bytes = encode(&Frame::Readings(readings));
//! assert_eq!(bytes.as_bytes().last(), Some(&0));
//!
//! let mut decoder = PortDecoder::new();
//! let mut received = bytes.as_bytes();
//! assert_eq!(decoder.next_event(&mut received), Some(Event::Frame(Frame::Readings(readings))));
//! assert_eq!(decoder.next_event(&mut received), None, "all bytes are used up");
//! ```
#![no_std]

mod channel;
mod cobs;
mod crc;
mod decoder;
mod encode;
mod event;
mod frame;
mod hello;
mod label;
mod limits;
mod parse;
mod port_decoder;
mod text;

pub use channel::{Channel, ChannelKind};
pub use cobs::{CobsError, decode_in_place as cobs_decode_in_place, encode as cobs_encode};
pub use crc::crc32c;
pub use decoder::Decoder;
pub use encode::{FrameBytes, encode};
pub use event::{Counters, Dropped, Event};
pub use frame::{Frame, Mark, MarkSource, Readings, ReadingsError, Status, Time};
pub use hello::{Hello, HelloError};
pub use label::{Label, LabelError};
pub use limits::{BODY_BYTES_MAX, CHANNELS_MAX, COUNTS_MAX, FRAME_BYTES_MAX, VERSION_MAJOR, VERSION_MINOR};
pub use port_decoder::{Form, PortDecoder};
pub use text::{Complaint, SENTENCE_BYTES_MAX, Sentence, TextDecoder, sentences};
