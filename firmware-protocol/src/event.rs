//! What a decoder says of the stream: frames, and what was dropped and why.

use crate::frame::Frame;
use crate::hello::HelloError;

/// Why a chunk between two 0x00, or a line of text, was dropped.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(missing_docs, reason = "the lines above the variants say what their fields are")]
pub enum Dropped {
    /// More bytes than the longest frame without a 0x00, or than the longest sentence without an end.
    TooLong,
    /// Not a COBS block sequence.
    Cobs,
    /// Too short for a kind and a CRC.
    TooShort,
    /// The CRC does not match.
    Crc,
    /// A sentence whose checksum does not match: `said` stands behind its `*`, its bytes give `right`.
    Checksum { said: u8, right: u8 },
    /// A line that is no sentence: not `$`, then something, then `*` and two hexadecimal digits.
    NotASentence,
    /// Good CRC or checksum, but the length or a field does not fit its kind.
    Malformed,
    /// Good CRC or checksum, but a hello that makes no sense: the box's program is at fault, not the line.
    Hello(HelloError),
    /// Good CRC or checksum, but a kind that this version does not know: a newer minor version's. Of a
    /// sentence, the letter.
    UnknownKind(u8),
    /// A row as a sentence, before the hello that says how far rows are apart.
    RowBeforeHello,
    /// A row as a sentence with a good checksum, but with a number and a clock that fit neither the row
    /// before it nor the one after: the checksum is weak, and this is a wrong bit that it missed.
    Implausible,
    /// A sentence of another device, with a good checksum; `gnss` if it is one that a GNSS receiver sends (RMC, GGA or
    /// VTG of any talker).
    OtherDevice { gnss: bool },
}

/// What came of one chunk or line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[allow(clippy::large_enum_variant)] // as for `Frame`
pub enum Event {
    /// A frame.
    Frame(Frame),
    /// Something that was dropped, and counted.
    Dropped(Dropped),
}

impl Event {
    /// Whether it shows for certain in which form the box speaks: what it stands for was ours.
    pub(crate) fn is_ours(&self) -> bool {
        use Dropped::{Hello, Implausible, Malformed, RowBeforeHello, UnknownKind};
        match self {
            Self::Frame(_) => true,
            Self::Dropped(why) => {
                matches!(why, Malformed | Hello(_) | UnknownKind(_) | RowBeforeHello | Implausible)
            }
        }
    }
}

/// What a decoder has seen so far. Chunks and lines are counted here; lost *rows* are counted from row
/// numbers, never from these, because one wrong bit can spoil two frames or split one in two.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[allow(missing_docs, reason = "each is of the reason in `Dropped` that has its name")]
pub struct Counters {
    /// Good frames.
    pub frames: u64,
    pub too_long: u64,
    pub cobs: u64,
    pub too_short: u64,
    pub crc: u64,
    pub checksum: u64,
    pub not_a_sentence: u64,
    /// [`Dropped::Malformed`] and [`Dropped::Hello`].
    pub malformed: u64,
    pub unknown_kind: u64,
    /// [`Dropped::RowBeforeHello`].
    pub before_hello: u64,
    pub implausible: u64,
    pub other_device: u64,
    /// Those of another device that a GNSS receiver sends.
    pub gnss: u64,
}

impl Counters {
    /// Chunks and lines dropped as damaged. Unknown kinds, another device's sentences and rows before the
    /// hello are not damage.
    #[must_use]
    pub fn damaged(&self) -> u64 {
        self.too_long
            + self.cobs
            + self.too_short
            + self.crc
            + self.checksum
            + self.not_a_sentence
            + self.malformed
            + self.implausible
    }

    pub(crate) fn count(&mut self, event: &Event) {
        let counter = match event {
            Event::Frame(_) => &mut self.frames,
            Event::Dropped(dropped) => match dropped {
                Dropped::TooLong => &mut self.too_long,
                Dropped::Cobs => &mut self.cobs,
                Dropped::TooShort => &mut self.too_short,
                Dropped::Crc => &mut self.crc,
                Dropped::Checksum { .. } => &mut self.checksum,
                Dropped::NotASentence => &mut self.not_a_sentence,
                Dropped::Malformed | Dropped::Hello(_) => &mut self.malformed,
                Dropped::UnknownKind(_) => &mut self.unknown_kind,
                Dropped::RowBeforeHello => &mut self.before_hello,
                Dropped::Implausible => &mut self.implausible,
                Dropped::OtherDevice { gnss } => {
                    self.gnss += u64::from(*gnss);
                    &mut self.other_device
                }
            },
        };
        *counter += 1;
    }

    /// Adds what another decoder of the same stream has counted.
    pub(crate) fn add(&mut self, other: &Self) {
        self.frames += other.frames;
        self.too_long += other.too_long;
        self.cobs += other.cobs;
        self.too_short += other.too_short;
        self.crc += other.crc;
        self.checksum += other.checksum;
        self.not_a_sentence += other.not_a_sentence;
        self.malformed += other.malformed;
        self.unknown_kind += other.unknown_kind;
        self.before_hello += other.before_hello;
        self.implausible += other.implausible;
        self.other_device += other.other_device;
        self.gnss += other.gnss;
    }
}
