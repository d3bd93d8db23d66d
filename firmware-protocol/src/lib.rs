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
