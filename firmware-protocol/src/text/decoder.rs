//! Bytes in any pieces to lines, sentences, frames.
//!
//! Given: as for the binary decoder, nothing is known of the bytes. Promise: bounded memory, no panic, each
//! line gives a frame, a part of one, or a reason why it was dropped; after any error the next sentence
//! starts at the next line end or `$`, which stands in no sentence but at its start.

use super::parse::{Row, Said, parse};
use super::row_order::RowOrder;
use super::{ADDRESS, SENTENCE_BYTES_MAX, checksum, interval_us};
use crate::channel::Channel;
use crate::event::{Counters, Dropped, Event};
use crate::frame::{Frame, Readings};
use crate::hello::Hello;
use crate::{CHANNELS_MAX, VERSION_MAJOR};

/// A sentence of ours that was dropped: for the person who writes the box's program.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Complaint {
    /// The letter of its kind; `None` if the line ends before it.
    pub letter: Option<u8>,
    /// Why it was dropped.
    pub why: Dropped,
}

/// A hello whose channels are coming in.
#[derive(Clone, Copy, Debug)]
struct Table {
    hello: Hello,
    channels: [Channel; CHANNELS_MAX],
    count: u8,
    /// A bit for each channel that came.
    came: u8,
}

/// A streaming decoder of sentences in one direction of one port.
#[derive(Clone, Debug)]
pub struct TextDecoder {
    line: [u8; SENTENCE_BYTES_MAX],
    len: usize,
    /// The line has outgrown the buffer: its rest is skipped.
    overflowed: bool,
    table: Option<Table>,
    /// Boot and time from row to row of the last whole hello.
    known: Option<(u32, u32)>,
    order: RowOrder,
    /// A row that goes out after the event before it, and its time to the next one.
    waiting: Option<(Row, u32)>,
    complaint: Option<Complaint>,
    counters: Counters,
}

impl Default for TextDecoder {
    fn default() -> Self {
        Self::new()
    }
}

impl TextDecoder {
    /// A decoder before its first byte.
    #[must_use]
    pub fn new() -> Self {
        Self {
            line: [0; SENTENCE_BYTES_MAX],
            len: 0,
            overflowed: false,
            table: None,
            known: None,
            order: RowOrder::default(),
            waiting: None,
            complaint: None,
            counters: Counters::default(),
        }
    }

    /// What it has seen so far.
    #[must_use]
    pub fn counters(&self) -> Counters {
        self.counters
    }

    /// The last sentence that begins as ours do and was dropped.
    #[must_use]
    pub fn complaint(&self) -> Option<Complaint> {
        self.complaint
    }

    /// How many channels of a hello have come, and of how many, while it is not whole; `None` if none was begun.
    #[must_use]
    pub fn hello_begun(&self) -> Option<(u32, u8)> {
        self.table.map(|table| (table.came.count_ones(), table.count))
    }

    /// Forgets a line begun, as when the port was closed in between. The last hello and the last rows stay known:
    /// what comes before the next hello is read by the one and held against the others.
    pub fn reset(&mut self) {
        (self.len, self.overflowed) = (0, false);
        self.table = None;
        self.waiting = None;
    }

    /// Takes bytes off the front of `input` up to the next line end and returns what came of the line;
    /// `None` when `input` is used up. A line can give two events: the second comes with the next call.
    pub fn next_event(&mut self, input: &mut &[u8]) -> Option<Event> {
        loop {
            let event = match self.waiting.take() {
                Some((row, interval_us)) => Some(readings(&row, interval_us)),
                None => self.next_line(input)?,
            };
            if let Some(event) = event {
                self.counters.count(&event);
                return Some(event);
            }
        }
    }

    /// The event of the next line, if there is a line, and if it gives one.
    fn next_line(&mut self, input: &mut &[u8]) -> Option<Option<Event>> {
        loop {
            let Some(end) = input.iter().position(|byte| matches!(byte, b'\r' | b'\n' | b'$')) else {
                self.buffer(input);
                *input = &[];
                return None;
            };
            let (before, rest) = input.split_at(end);
            self.buffer(before);
            let (&byte, rest) = rest.split_first()?;
            *input = rest;
            let begun = self.len > 0 || self.overflowed;
            let closed = begun.then(|| self.close());
            if byte == b'$' {
                self.buffer(b"$");
            }
            if closed.is_some() {
                return closed;
            }
        }
    }

    /// Keeps what there is room for, so that the beginning of a line that is too long says whose it is.
    fn buffer(&mut self, bytes: &[u8]) {
        let room = self.line.get_mut(self.len..).unwrap_or(&mut []);
        let kept = bytes.len().min(room.len());
        room.iter_mut().zip(bytes).for_each(|(slot, byte)| *slot = *byte);
        self.len += kept;
        self.overflowed |= kept < bytes.len();
    }

    fn close(&mut self) -> Option<Event> {
        let (line, len) = (self.line, core::mem::take(&mut self.len));
        let line = line.get(..len).unwrap_or(&[]);
        if core::mem::take(&mut self.overflowed) {
            return Some(self.refused(line, Dropped::TooLong));
        }
        let (letter, rest) = match open(line) {
            Ok(ours) => ours,
            Err(dropped) => return Some(self.refused(line, dropped)),
        };
        let major = self.table.map_or(VERSION_MAJOR, |table| table.hello.version.0);
        match parse(letter, rest, major) {
            Ok(said) => self.take(line, said),
            Err(dropped) => Some(self.refused(line, dropped)),
        }
    }

    fn refused(&mut self, line: &[u8], why: Dropped) -> Event {
        if let Some(rest) = line.strip_prefix(b"$").and_then(|line| line.strip_prefix(ADDRESS)) {
            self.complaint = Some(Complaint { letter: rest.first().copied(), why });
        }
        Event::Dropped(why)
    }

    fn take(&mut self, line: &[u8], said: Said) -> Option<Event> {
        match said {
            Said::Hello { hello, channels } => {
                let table = [Channel::default(); CHANNELS_MAX];
                self.table = Some(Table { hello, channels: table, count: channels, came: 0 });
                None
            }
            Said::Channel { index, channel } => self.channel(line, index, channel),
            Said::Row(row) => self.row(line, row),
            Said::Frame(frame) => Some(Event::Frame(frame)),
        }
    }

    /// A line of the table; the last one makes the hello whole. Out of a table that is whole, or before the
    /// first hello, it says nothing yet: the hello comes again.
    fn channel(&mut self, line: &[u8], index: u8, channel: Channel) -> Option<Event> {
        let table = self.table.as_mut()?;
        let Some(slot) = table.channels.get_mut(usize::from(index)).filter(|_| index < table.count) else {
            return Some(self.refused(line, Dropped::Malformed));
        };
        *slot = channel;
        table.came |= 1 << index;
        // `count` is 1 to 8.
        if table.came != u8::MAX >> (8 - table.count) {
            return None;
        }
        let table = self.table.take()?;
        let channels = table.channels.get(..usize::from(table.count)).unwrap_or(&[]);
        match table.hello.with_table(channels) {
            Ok(hello) => {
                let boot_before = self.known.map(|(boot, _)| boot);
                self.known = Some((hello.boot, interval_us(hello.row_rate_mhz)));
                // Rows are numbered anew, and a row that was held is of the boot before.
                if boot_before.is_some_and(|boot| boot != hello.boot) && self.order.forget() {
                    self.counters.count(&Event::Dropped(Dropped::Implausible));
                }
                Some(Event::Frame(Frame::Hello(hello)))
            }
            Err(error) => Some(self.refused(line, Dropped::Hello(error))),
        }
    }

    fn row(&mut self, line: &[u8], row: Row) -> Option<Event> {
        let Some((_, interval_us)) = self.known else {
            return Some(self.refused(line, Dropped::RowBeforeHello));
        };
        let judged = self.order.take(row, interval_us);
        let row = judged.row.map(|row| (row, interval_us));
        if judged.dropped {
            self.waiting = row;
            return Some(self.refused(line, Dropped::Implausible));
        }
        match judged.held {
            Some(held) => {
                self.waiting = row;
                Some(readings(&held, interval_us))
            }
            None => row.map(|(row, interval_us)| readings(&row, interval_us)),
        }
    }
}

fn readings(row: &Row, interval_us: u32) -> Event {
    let counts = row.counts.get(..row.channels).unwrap_or(&[]);
    match Readings::new(row.number, row.clock_us, interval_us, row.channels, counts) {
        Ok(readings) => Event::Frame(Frame::Readings(readings)),
        // A row has 1 to 8 counts and the interval is not 0, so this does not happen.
        Err(_) => Event::Dropped(Dropped::Malformed),
    }
}

/// Letter and fields of a sentence of ours whose checksum is right.
fn open(line: &[u8]) -> Result<(u8, &[u8]), Dropped> {
    let (start, sentence) = line.split_first().ok_or(Dropped::NotASentence)?;
    let (body, [star, high, low]) = sentence.split_last_chunk::<3>().ok_or(Dropped::NotASentence)?;
    let digit = |byte: &u8| char::from(*byte).to_digit(16).and_then(|digit| u8::try_from(digit).ok());
    let (Some(high), Some(low), b'*', b'$' | b'!') = (digit(high), digit(low), star, start) else {
        return Err(Dropped::NotASentence);
    };
    let (said, right) = (16 * high + low, checksum(body));
    if said != right {
        return Err(Dropped::Checksum { said, right });
    }
    match body.strip_prefix(ADDRESS) {
        Some([letter, rest @ ..]) if *start == b'$' => Ok((*letter, rest)),
        _ => Err(Dropped::OtherDevice { gnss: is_gnss(body) }),
    }
}

/// Two letters for the talker, then one of the kinds that every receiver sends.
fn is_gnss(body: &[u8]) -> bool {
    body.get(2..6).is_some_and(|kind| [b"RMC,", b"GGA,", b"VTG,"].iter().any(|known| kind == *known))
}
