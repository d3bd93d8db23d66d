//! Bytes in any chunks to frames.
//!
//! Given: reads may hold parts of frames or many of them; anything may stand before the first frame
//! and between frames; nothing is known of the bytes. Promise: bounded memory, no panic, one event
//! for each chunk between two 0x00, and after any error the next frame starts at the next 0x00.

use core::ffi::CStr;

use crate::event::{Counters, Dropped, Event};
use crate::frame::Frame;
use crate::limits::CRC_BYTES;
use crate::parse::parse;
use crate::{FRAME_BYTES_MAX, cobs, crc32c};

/// A streaming decoder of one direction of one port; the two directions' kinds do not overlap.
///
/// ```
/// use firmware_protocol::{Decoder, Dropped, Event, Frame, encode};
///
/// let mut line = encode(&Frame::Ping { token: 1 }).as_bytes().to_vec();
/// line[1] ^= 0x10; // a wrong bit on the way
/// line.extend(encode(&Frame::Ping { token: 2 }).as_bytes());
///
/// let (mut decoder, mut input) = (Decoder::new(), line.as_slice());
/// assert_eq!(decoder.next_event(&mut input), Some(Event::Dropped(Dropped::Crc)));
/// assert_eq!(decoder.next_event(&mut input), Some(Event::Frame(Frame::Ping { token: 2 })));
/// assert_eq!(decoder.counters().damaged(), 1);
/// ```
#[derive(Clone, Debug)]
pub struct Decoder {
    /// The longest chunk of ours has 255 bytes; the last one is for encoders that close a full block
    /// with an empty one.
    chunk: [u8; FRAME_BYTES_MAX],
    len: usize,
    /// The chunk has outgrown the buffer: its rest is not the start of a frame, so it is skipped to
    /// the next 0x00 (starting afresh in mid-frame would let a tail pass as a frame).
    overflowed: bool,
    counters: Counters,
}

impl Default for Decoder {
    fn default() -> Self {
        Self::new()
    }
}

impl Decoder {
    /// A decoder before its first byte.
    #[must_use]
    pub fn new() -> Self {
        Self { chunk: [0; FRAME_BYTES_MAX], len: 0, overflowed: false, counters: Counters::default() }
    }

    /// What it has seen so far.
    #[must_use]
    pub fn counters(&self) -> Counters {
        self.counters
    }

    /// Forgets a chunk begun, as when the port was closed in between.
    pub fn reset(&mut self) {
        self.len = 0;
        self.overflowed = false;
    }

    /// Takes bytes off the front of `input` up to and including the next 0x00 that ends a chunk and
    /// returns what came of it; `None` when `input` is used up.
    pub fn next_event(&mut self, input: &mut &[u8]) -> Option<Event> {
        loop {
            let Some(end) = find_zero(input) else {
                self.buffer(input);
                *input = &[];
                return None;
            };
            let (chunk, rest) = input.split_at(end);
            self.buffer(chunk);
            *input = rest.get(1..).unwrap_or(&[]);
            if self.len > 0 || self.overflowed {
                return Some(self.close());
            }
            // Two 0x00 in a row: nothing between them, nothing to say.
        }
    }

    fn buffer(&mut self, bytes: &[u8]) {
        if self.overflowed {
            return;
        }
        match self.chunk.get_mut(self.len..self.len + bytes.len()) {
            Some(room) => {
                room.copy_from_slice(bytes);
                self.len += bytes.len();
            }
            None => self.overflowed = true,
        }
    }

    fn close(&mut self) -> Event {
        let event = if self.overflowed {
            Event::Dropped(Dropped::TooLong)
        } else {
            let chunk = self.chunk.get_mut(..self.len).unwrap_or_default();
            match open(chunk) {
                Ok(frame) => Event::Frame(frame),
                Err(dropped) => Event::Dropped(dropped),
            }
        };
        self.reset();
        self.counters.count(&event);
        event
    }
}

/// Where the first 0x00 is. The standard library's search for the end of a C string looks at a machine
/// word at a time; with a plain loop over bytes the whole decoder is a fifth slower (measured).
fn find_zero(bytes: &[u8]) -> Option<usize> {
    CStr::from_bytes_until_nul(bytes).ok().map(CStr::count_bytes)
}

fn open(chunk: &mut [u8]) -> Result<Frame, Dropped> {
    let len = cobs::decode_in_place(chunk).map_err(|_| Dropped::Cobs)?;
    let body = chunk.get(..len).ok_or(Dropped::Cobs)?;
    let (content, crc) = body.split_last_chunk::<CRC_BYTES>().ok_or(Dropped::TooShort)?;
    let (kind, payload) = content.split_first().ok_or(Dropped::TooShort)?;
    if crc32c(content) != u32::from_le_bytes(*crc) {
        return Err(Dropped::Crc);
    }
    parse(*kind, payload)
}
