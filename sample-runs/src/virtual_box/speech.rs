//! The form in which a box speaks and listens: frames, or sentences.

use firmware_protocol::{Decoder, Event, Frame, TextDecoder, encode, sentences};

use super::BoxConfig;

/// How a box speaks, and what it has heard of a command so far.
#[derive(Debug)]
pub(super) enum Speech {
    /// COBS frames.
    Frames(Box<Decoder>),
    /// Sentences in the form of NMEA 0183.
    Sentences(Box<TextDecoder>),
    /// Sentences from a box that can do no more than print.
    PrintsOnly,
}

impl Speech {
    pub(super) fn new(config: &BoxConfig) -> Self {
        match (config.text, config.deaf) {
            (false, _) => Self::Frames(Box::default()),
            (true, false) => Self::Sentences(Box::default()),
            (true, true) => Self::PrintsOnly,
        }
    }

    /// Sends rows from power-up on, each as it is sampled, and its hello between them.
    pub(super) fn is_text(&self) -> bool {
        !matches!(self, Self::Frames(_))
    }

    /// Says no more than it must.
    pub(super) fn prints_only(&self) -> bool {
        matches!(self, Self::PrintsOnly)
    }

    /// The bytes of a frame on the line.
    pub(super) fn bytes(&self, frame: &Frame) -> Vec<u8> {
        if self.is_text() {
            return sentences(frame).flat_map(|sentence| sentence.as_bytes().to_vec()).collect();
        }
        encode(frame).as_bytes().to_vec()
    }

    /// What came of bytes from the host.
    pub(super) fn next_event(&mut self, bytes: &mut &[u8]) -> Option<Event> {
        match self {
            Self::Frames(decoder) => decoder.next_event(bytes),
            Self::Sentences(decoder) => decoder.next_event(bytes),
            Self::PrintsOnly => None,
        }
    }

    /// Forgets a command begun.
    pub(super) fn reset(&mut self) {
        match self {
            Self::Frames(decoder) => decoder.reset(),
            Self::Sentences(decoder) => decoder.reset(),
            Self::PrintsOnly => {}
        }
    }
}
