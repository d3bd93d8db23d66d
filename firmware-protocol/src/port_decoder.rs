//! Bytes of a port to frames, in whichever form the box speaks.

use crate::decoder::Decoder;
use crate::event::{Counters, Event};
use crate::text::{Complaint, TextDecoder};

/// A port that has brought nothing of its form for this many bytes is listened to in both forms again.
const DOUBT_BYTES: usize = 2048;

/// The two forms in which frames come.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Form {
    /// COBS frames with a CRC-32C.
    #[default]
    Binary,
    /// Sentences in the form of NMEA 0183.
    Text,
}

/// A streaming decoder of one direction of one port that finds out by itself in which form frames come.
///
/// Until something of ours with a right CRC or checksum has come, it reads the bytes in both forms; then in
/// that one only, until it is reset or nothing good has come for a while.
#[derive(Clone, Debug, Default)]
pub struct PortDecoder {
    binary: Decoder,
    text: TextDecoder,
    /// The form that is taken to be the box's.
    form: Form,
    /// Something of ours has come since the beginning, or since the last reset or doubt.
    sure: bool,
    heard: bool,
    bytes_since_good: usize,
    counters: Counters,
    /// What the other form's decoder has dropped since; it counts only if that form is the right one.
    withheld: Counters,
}

impl PortDecoder {
    /// A decoder before its first byte.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// The form of what came last of ours; `None` before anything did.
    #[must_use]
    pub fn form(&self) -> Option<Form> {
        self.heard.then_some(self.form)
    }

    /// What it has seen so far, in the form that the box speaks.
    #[must_use]
    pub fn counters(&self) -> Counters {
        self.counters
    }

    /// What it has seen so far when taken for text, whatever the form is: to guess what else may be on the
    /// port.
    #[must_use]
    pub fn counters_as_text(&self) -> Counters {
        self.text.counters()
    }

    /// The last sentence that begins as ours do and was dropped.
    #[must_use]
    pub fn complaint(&self) -> Option<Complaint> {
        self.text.complaint()
    }

    /// How many channels of a hello in sentences have come, and of how many, while it is not whole.
    #[must_use]
    pub fn hello_begun(&self) -> Option<(u32, u8)> {
        self.text.hello_begun()
    }

    /// Forgets what was begun, as when the port was closed in between: another box may be behind it.
    pub fn reset(&mut self) {
        self.binary.reset();
        self.text.reset();
        self.doubt();
    }

    fn doubt(&mut self) {
        self.sure = false;
        self.bytes_since_good = 0;
        self.withheld = Counters::default();
        // It was not listened to; what it has begun is of long ago.
        match self.form {
            Form::Binary => self.text.reset(),
            Form::Text => self.binary.reset(),
        }
    }

    /// Takes bytes off the front of `input` up to the end of the next frame, chunk or line, and returns what
    /// came of it; `None` when `input` is used up.
    pub fn next_event(&mut self, input: &mut &[u8]) -> Option<Event> {
        loop {
            let event = if self.sure { self.in_one_form(input) } else { self.in_both_forms(input)? };
            match event {
                Some(event) => return Some(event),
                None if self.sure && input.is_empty() => return None,
                None => {}
            }
        }
    }

    /// The next event of the form that is known, before the bytes are used up or the form is in doubt.
    fn in_one_form(&mut self, input: &mut &[u8]) -> Option<Event> {
        let (until_doubt, later) = input.split_at(input.len().min(DOUBT_BYTES - self.bytes_since_good));
        let mut rest = until_doubt;
        let event = match self.form {
            Form::Binary => self.binary.next_event(&mut rest),
            Form::Text => self.text.next_event(&mut rest),
        };
        let taken = until_doubt.len() - rest.len();
        *input = input.get(taken..).unwrap_or(later);
        self.bytes_since_good += taken;
        match &event {
            Some(event) => self.note(event),
            None if self.bytes_since_good >= DOUBT_BYTES => self.doubt(),
            None => {}
        }
        event
    }

    /// Gives the next byte to both decoders; `None` if there is none. No byte ends a chunk and a line, and
    /// once a line gives more than one event the form is known, so each gives at most one.
    fn in_both_forms(&mut self, input: &mut &[u8]) -> Option<Option<Event>> {
        let (byte, rest) = input.split_at_checked(1)?;
        *input = rest;
        let binary = self.binary.next_event(&mut &*byte);
        let text = self.text.next_event(&mut &*byte);
        let (expected, other, other_form) = match self.form {
            Form::Binary => (binary, text, Form::Text),
            Form::Text => (text, binary, Form::Binary),
        };
        if let Some(event) = other {
            if !event.is_ours() {
                self.withheld.count(&event);
                return Some(None);
            }
            self.form = other_form;
            self.counters.add(&self.withheld);
            self.note(&event);
            return Some(Some(event));
        }
        if let Some(event) = &expected {
            self.note(event);
        }
        Some(expected)
    }

    fn note(&mut self, event: &Event) {
        self.counters.count(event);
        if event.is_ours() {
            (self.sure, self.heard, self.bytes_since_good) = (true, true, 0);
        }
    }
}
