//! Bytes in any chunks to frames.
//!
//! Given: reads may hold parts of frames or many of them; anything may stand before the first frame
//! and between frames; nothing is known of the bytes. Promise: bounded memory, no panic, one event
//! for each chunk between two 0x00, and after any error the next frame starts at the next 0x00.

use core::ffi::CStr;

use crate::frame::Frame;
use crate::hello::HelloError;
use crate::parse::{CRC_BYTES, ParseError, parse};
use crate::{FRAME_BYTES_MAX, cobs, crc32c};

/// Why a chunk between two 0x00 was dropped.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Dropped {
    /// More bytes than the longest frame without a 0x00.
    TooLong,
    /// Not a COBS block sequence.
    Cobs,
    /// Too short for a kind and a CRC.
    TooShort,
    /// The CRC does not match.
    Crc,
    /// Good CRC, but the length or a field does not fit its kind.
    Malformed,
    /// Good CRC, but a hello that makes no sense: the box's program is at fault, not the line.
    Hello(HelloError),
    /// Good CRC, but a kind that this version does not know: a newer minor version's.
    UnknownKind(u8),
}

/// What came of one chunk.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(clippy::large_enum_variant)] // as for `Frame`
pub enum Event {
    /// A frame.
    Frame(Frame),
    /// A chunk that was dropped, and counted.
    Dropped(Dropped),
}

/// What a decoder has seen so far. Chunks are counted here; lost *rows* are counted from row
/// numbers, never from these, because one wrong bit can spoil two frames or split one in two.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Counters {
    /// Good frames.
    pub frames: u64,
    /// [`Dropped::TooLong`].
    pub too_long: u64,
    /// [`Dropped::Cobs`].
    pub cobs: u64,
    /// [`Dropped::TooShort`].
    pub too_short: u64,
    /// [`Dropped::Crc`].
    pub crc: u64,
    /// [`Dropped::Malformed`] and [`Dropped::Hello`].
    pub malformed: u64,
    /// [`Dropped::UnknownKind`].
    pub unknown_kind: u64,
}

impl Counters {
    /// Chunks dropped as damaged; unknown kinds are not damage.
    #[must_use]
    pub fn damaged(&self) -> u64 {
        self.too_long + self.cobs + self.too_short + self.crc + self.malformed
    }

    fn count(&mut self, event: &Event) {
        let counter = match event {
            Event::Frame(_) => &mut self.frames,
            Event::Dropped(Dropped::TooLong) => &mut self.too_long,
            Event::Dropped(Dropped::Cobs) => &mut self.cobs,
            Event::Dropped(Dropped::TooShort) => &mut self.too_short,
            Event::Dropped(Dropped::Crc) => &mut self.crc,
            Event::Dropped(Dropped::Malformed | Dropped::Hello(_)) => &mut self.malformed,
            Event::Dropped(Dropped::UnknownKind(_)) => &mut self.unknown_kind,
        };
        *counter += 1;
    }
}

/// A streaming decoder of one direction of one port; the two directions' kinds do not overlap.
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
                self.keep(input);
                *input = &[];
                return None;
            };
            let (chunk, rest) = input.split_at(end);
            self.keep(chunk);
            *input = rest.get(1..).unwrap_or(&[]);
            if self.len > 0 || self.overflowed {
                return Some(self.close());
            }
            // Two 0x00 in a row: nothing between them, nothing to say.
        }
    }

    fn keep(&mut self, bytes: &[u8]) {
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
    parse(*kind, payload).map_err(|error| match error {
        ParseError::UnknownKind(kind) => Dropped::UnknownKind(kind),
        ParseError::Hello(error) => Dropped::Hello(error),
        ParseError::Malformed => Dropped::Malformed,
    })
}
