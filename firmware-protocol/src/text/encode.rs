//! Frame to sentences.

use super::{
    ADDRESS, CHANNEL, HELLO, MARK, PING, ROW, SENTENCE_BYTES_MAX, START, STATUS, STOP, TIME, checksum,
    is_field_byte,
};
use crate::frame::{Frame, Mark, MarkSource, Readings};
use crate::hello::Hello;
use core::fmt::Write;

/// Room for a sentence and its line end, CR and LF.
const LINE_BYTES_MAX: usize = SENTENCE_BYTES_MAX + 2;

/// One sentence as bytes on the line, its CR and LF included.
#[derive(Clone, Copy)]
pub struct Sentence {
    bytes: [u8; LINE_BYTES_MAX],
    len: usize,
}

impl Sentence {
    fn of_kind(letter: u8) -> Self {
        let mut sentence = Self { bytes: [0; LINE_BYTES_MAX], len: 0 };
        sentence.put(b"$");
        sentence.put(ADDRESS);
        sentence.put(&[letter]);
        sentence
    }

    /// The bytes, from `$` to the line end.
    #[must_use]
    pub fn as_bytes(&self) -> &[u8] {
        self.bytes.get(..self.len).unwrap_or(&[])
    }

    /// The longest sentence of each kind fits (a test builds them), so a byte too many is dropped here.
    fn put(&mut self, bytes: &[u8]) {
        if let Some(room) = self.bytes.get_mut(self.len..self.len + bytes.len()) {
            room.copy_from_slice(bytes);
            self.len += bytes.len();
        }
    }

    fn text(&mut self, text: &[u8]) {
        self.put(b",");
        self.put(text);
    }

    /// A whole number, with the character before it.
    fn number(&mut self, before: u8, number: impl Into<i64>) {
        self.put(&[before]);
        // What does not fit is dropped, so writing does not fail.
        let _ = write!(self, "{}", number.into());
    }

    fn field(&mut self, number: impl Into<i64>) {
        self.number(b',', number);
    }

    fn ended(mut self) -> Self {
        let sum = checksum(self.as_bytes().get(1..).unwrap_or(&[]));
        let _ = write!(self, "*{sum:02X}\r\n");
        self
    }
}

impl Write for Sentence {
    fn write_str(&mut self, text: &str) -> core::fmt::Result {
        self.put(text.as_bytes());
        Ok(())
    }
}

impl core::fmt::Debug for Sentence {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        core::fmt::Debug::fmt(core::str::from_utf8(self.as_bytes()).unwrap_or(""), f)
    }
}

/// The sentences of a frame: of a hello one and one more for each channel, of readings one a row, of
/// anything else one.
///
/// None for what the text form does not have: *rate*, a mark that the host set, and a hello with a text
/// that holds a character which NMEA 0183 keeps for itself (`$ * , ! \ ^ ~`).
///
/// ```
/// use firmware_protocol::{Frame, sentences};
///
/// let said: Vec<u8> = sentences(&Frame::Ping { token: 77 }).flat_map(|one| one.as_bytes().to_vec()).collect();
/// assert_eq!(said, b"$PHTWP,77*67\r\n");
/// assert_eq!(sentences(&Frame::Rate { row_rate_mhz: 50_000 }).count(), 0, "a box that prints has its own rate");
/// ```
pub fn sentences(frame: &Frame) -> impl Iterator<Item = Sentence> + '_ {
    let count = match frame {
        Frame::Hello(hello) if has_plain_texts(hello) => 1 + hello.channel_count,
        Frame::Readings(readings) => readings.rows,
        Frame::Hello(_) | Frame::Rate { .. } | Frame::Mark(Mark { source: MarkSource::Host, .. }) => 0,
        _ => 1,
    };
    (0..count).map(|index| sentence(frame, index).ended())
}

fn has_plain_texts(hello: &Hello) -> bool {
    let plain = |text: &[u8]| text.iter().all(|byte| is_field_byte(*byte));
    plain(hello.serial.as_bytes())
        && plain(hello.name.as_bytes())
        && hello.channels().iter().all(|channel| plain(channel.name.as_bytes()))
}

/// The sentence of this index, still without its checksum.
fn sentence(frame: &Frame, index: u8) -> Sentence {
    match frame {
        Frame::Hello(hello) => match index.checked_sub(1) {
            None => head(hello),
            Some(index) => channel(hello, index),
        },
        Frame::Readings(readings) => row(readings, index),
        Frame::Mark(mark) => numbers(MARK, [mark.clock_us.into(), mark.number.into()]),
        Frame::Status(status) => numbers(
            STATUS,
            [
                status.uptime_ms.into(),
                status.rows_dropped.into(),
                status.supply_mv.into(),
                status.temperature_centi_c.into(),
            ],
        ),
        Frame::Time(time) => numbers(TIME, [time.token.into(), time.clock_us.into()]),
        Frame::Ping { token } => numbers(PING, [(*token).into()]),
        // *rate* has no sentence, and none is asked for.
        Frame::Start | Frame::Rate { .. } => Sentence::of_kind(START),
        Frame::Stop => Sentence::of_kind(STOP),
    }
}

/// A sentence of whole numbers only.
fn numbers<const N: usize>(letter: u8, numbers: [i64; N]) -> Sentence {
    let mut sentence = Sentence::of_kind(letter);
    for number in numbers {
        sentence.field(number);
    }
    sentence
}

fn head(hello: &Hello) -> Sentence {
    let mut sentence = Sentence::of_kind(HELLO);
    sentence.field(hello.version.0);
    sentence.field(hello.version.1);
    sentence.field(hello.boot);
    sentence.field(hello.firmware.0);
    sentence.number(b'.', hello.firmware.1);
    sentence.number(b'.', hello.firmware.2);
    sentence.field(hello.row_rate_mhz);
    sentence.text(hello.serial.as_bytes());
    sentence.text(hello.name.as_bytes());
    sentence.field(hello.channel_count);
    sentence
}

fn channel(hello: &Hello, index: u8) -> Sentence {
    let mut sentence = Sentence::of_kind(CHANNEL);
    if let Some(channel) = hello.channels().get(usize::from(index)) {
        sentence.field(index);
        sentence.field(channel.kind.code());
        sentence.field(channel.adc_bits);
        sentence.field(channel.rate_mhz);
        sentence.text(channel.name.as_bytes());
    }
    sentence
}

fn row(readings: &Readings, index: u8) -> Sentence {
    let mut sentence = Sentence::of_kind(ROW);
    let later = u32::from(index);
    sentence.field(readings.first_row.wrapping_add(later));
    sentence.field(readings.clock_us.wrapping_add(later.wrapping_mul(readings.interval_us)));
    for count in readings.rows().nth(usize::from(index)).unwrap_or(&[]) {
        sentence.field(*count);
    }
    sentence
}
