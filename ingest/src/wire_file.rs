//! `plow.wire`: everything that came from outside, as it came, with the host's time.
//!
//! ```text
//! offset  size  what
//! 0       19    the ASCII text "hitchwright-wire 1\n"
//! then records, one after the other:
//! 0       4     length L of the payload in bytes, u32, at most 65,536
//! 4       1     kind
//! 5       8     host time in us since the recorder began to listen, monotonic clock, u64
//! 13      L     payload
//! 13 + L  4     CRC-32C of the 13 + L bytes before it, u32
//! ```
//! Numbers are little-endian. Host times never fall. Kinds and payloads:
//!
//! ```text
//! 1  received     bytes from the box, any number
//! 2  port opened  name of the port, UTF-8
//! 3  port gone    why, UTF-8
//! 4  ping sent    token, u32
//! 5  host mark    a *mark* frame as on the wire (firmware-protocol), its clock in us of host time
//! 6  clock step   the host's wall clock stepped by this many us, i64
//! 7  started      (empty) the run begins here: its time 0; the box was told to start
//! 8  lost         bytes that were received but not kept because the disk was too slow, u64
//! 9  ended        how the run ended, UTF-8
//! 10 new folder   name of the run folder from here on, UTF-8: the one before was deleted or moved away
//! 11 known        a *hello* as on the wire, the last that the box had said of itself: the run begins with a box
//!                 that was running, and what it sent between that hello and the next record was left out
//! ```
//! A file without record 9 at its end was not closed: power cut, kill, or still recording. A reader
//! stops at the first record that is not whole or whose CRC is wrong and says how many bytes it left:
//! there is no way on from damage, for nothing after it could be placed in time with certainty.

use firmware_protocol::crc32c;
use std::borrow::Cow;

/// First bytes of the file.
pub const WIRE_MAGIC: &[u8; 19] = b"hitchwright-wire 1\n";
/// Longest payload of a record in bytes.
pub const PAYLOAD_BYTES_MAX: usize = 65_536;

const HEAD_BYTES: usize = 13;
const CRC_BYTES: usize = 4;

/// One thing that came from outside; what comes of it in the run is a [`crate::run_event::RunEvent`].
#[derive(Clone, Debug, PartialEq, Eq)]
#[allow(missing_docs, reason = "the lines above the variants say what their fields are")]
pub enum WireEvent {
    /// Bytes came from the box.
    Received(Vec<u8>),
    /// The port was opened: its name.
    PortOpened(String),
    /// The port went away: why.
    PortGone(String),
    /// A ping with this token went out.
    PingSent { token: u32 },
    /// The person at the recorder set a mark: the *mark* frame, encoded.
    HostMark(Vec<u8>),
    /// The host's wall clock stepped by so many µs, forward +.
    ClockStep { step_us: i64 },
    /// The run begins.
    Started,
    /// So many received bytes that were not kept.
    Lost { bytes: u64 },
    /// The run ended: how.
    Ended(String),
    /// The run folder was deleted or moved away: the name of the one that has the run since.
    NewFolder(String),
    /// The last hello of a box that was running when the run began, as on the wire.
    Known(Vec<u8>),
}

/// An event with the host's time.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Record {
    /// Host time since the recorder began to listen, in µs.
    pub host_us: u64,
    /// What happened.
    pub what: WireEvent,
}

impl Record {
    /// Appends the record's bytes to `out`. A payload over [`PAYLOAD_BYTES_MAX`] is cut there: bytes
    /// come from reads that are shorter by far, and texts of that length are of no use.
    pub fn write_to(&self, out: &mut Vec<u8>) {
        let (kind, payload): (u8, Cow<'_, [u8]>) = match &self.what {
            WireEvent::Received(bytes) => (1, bytes.into()),
            WireEvent::PortOpened(name) => (2, name.as_bytes().into()),
            WireEvent::PortGone(why) => (3, why.as_bytes().into()),
            WireEvent::PingSent { token } => (4, token.to_le_bytes().to_vec().into()),
            WireEvent::HostMark(frame) => (5, frame.into()),
            WireEvent::ClockStep { step_us } => (6, step_us.to_le_bytes().to_vec().into()),
            WireEvent::Started => (7, Cow::default()),
            WireEvent::Lost { bytes } => (8, bytes.to_le_bytes().to_vec().into()),
            WireEvent::Ended(how) => (9, how.as_bytes().into()),
            WireEvent::NewFolder(name) => (10, name.as_bytes().into()),
            WireEvent::Known(hello) => (11, hello.into()),
        };
        let payload = payload.get(..PAYLOAD_BYTES_MAX).unwrap_or(&payload);
        let from = out.len();
        // At most `PAYLOAD_BYTES_MAX`.
        out.extend_from_slice(&(payload.len() as u32).to_le_bytes());
        out.push(kind);
        out.extend_from_slice(&self.host_us.to_le_bytes());
        out.extend_from_slice(payload);
        let crc = crc32c(out.split_at(from).1);
        out.extend_from_slice(&crc.to_le_bytes());
    }

    /// Size in memory, roughly: what a queue of records is bounded by.
    #[must_use]
    pub fn weight_bytes(&self) -> usize {
        let payload = match &self.what {
            WireEvent::Received(bytes) | WireEvent::HostMark(bytes) | WireEvent::Known(bytes) => bytes.len(),
            WireEvent::PortOpened(text)
            | WireEvent::PortGone(text)
            | WireEvent::Ended(text)
            | WireEvent::NewFolder(text) => text.len(),
            _ => 0,
        };
        size_of::<Self>() + payload
    }
}

/// Why the reading of a wire file stopped before its end.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[allow(missing_docs, reason = "the sentences say what they are, the names of fields their unit")]
pub enum WireFault {
    #[error("not a wire file of this version")]
    NotAWireFile,
    /// The last record is not whole: what a power cut leaves.
    #[error("the last record is torn: {left_bytes} bytes left out at byte {at}")]
    Torn { at: usize, left_bytes: usize },
    #[error("damaged at byte {at}: {left_bytes} bytes left out")]
    Damaged { at: usize, left_bytes: usize },
}

/// Reads the records of a wire file that is in memory.
///
/// ```
/// use ingest::wire_file::{Record, WIRE_MAGIC, WireEvent, WireFault, WireReader};
///
/// let started = Record { host_us: 2_000_000, what: WireEvent::Started };
/// let mut file = WIRE_MAGIC.to_vec();
/// started.write_to(&mut file);
/// let whole = file.len();
/// file.extend([0; 4]); // the power went in the middle of the next record
///
/// let mut reader = WireReader::new(&file);
/// assert_eq!(reader.next(), Some(started));
/// assert_eq!(reader.next(), None);
/// assert_eq!(reader.fault(), Some(WireFault::Torn { at: whole, left_bytes: 4 }));
/// ```
#[derive(Clone, Debug)]
pub struct WireReader<'a> {
    bytes: &'a [u8],
    at: usize,
    fault: Option<WireFault>,
}

impl<'a> WireReader<'a> {
    /// A reader at the first record; a file that is none has no records and a fault.
    #[must_use]
    pub fn new(bytes: &'a [u8]) -> Self {
        if bytes.starts_with(WIRE_MAGIC) {
            return Self { bytes, at: WIRE_MAGIC.len(), fault: None };
        }
        let begun = WIRE_MAGIC.starts_with(bytes);
        let fault =
            if begun { WireFault::Torn { at: 0, left_bytes: bytes.len() } } else { WireFault::NotAWireFile };
        Self { bytes, at: 0, fault: Some(fault) }
    }

    /// Why it stopped, once it has; `None` if it has read all bytes, or is still at it.
    #[must_use]
    pub fn fault(&self) -> Option<WireFault> {
        self.fault
    }

    /// Offset of the next record: after the last one, the length of what is whole.
    #[must_use]
    pub fn whole_bytes(&self) -> usize {
        self.at
    }

    fn stop(&mut self, torn: bool) -> Option<Record> {
        let (at, left_bytes) = (self.at, self.bytes.len() - self.at);
        self.fault = Some(if torn {
            WireFault::Torn { at, left_bytes }
        } else {
            WireFault::Damaged { at, left_bytes }
        });
        None
    }
}

impl Iterator for WireReader<'_> {
    type Item = Record;

    fn next(&mut self) -> Option<Record> {
        let rest = self.bytes.get(self.at..).filter(|rest| !rest.is_empty() && self.fault.is_none())?;
        let Some((length, _)) = rest.split_first_chunk::<4>() else { return self.stop(true) };
        let length = u32::from_le_bytes(*length) as usize;
        if length > PAYLOAD_BYTES_MAX {
            return self.stop(false);
        }
        let Some(whole) = rest.get(..HEAD_BYTES + length + CRC_BYTES) else { return self.stop(true) };
        match parse(whole) {
            Some(record) => {
                self.at += whole.len();
                Some(record)
            }
            None => self.stop(false),
        }
    }
}

/// The record in exactly its bytes, if they are one.
fn parse(whole: &[u8]) -> Option<Record> {
    let (content, crc) = whole.split_last_chunk::<CRC_BYTES>()?;
    if crc32c(content) != u32::from_le_bytes(*crc) {
        return None;
    }
    let (_, after_length) = content.split_first_chunk::<4>()?;
    let (kind, after_kind) = after_length.split_first()?;
    let (host_us, payload) = after_kind.split_first_chunk::<8>()?;
    let text = || String::from_utf8_lossy(payload).into_owned();
    let what = match *kind {
        1 => WireEvent::Received(payload.to_vec()),
        2 => WireEvent::PortOpened(text()),
        3 => WireEvent::PortGone(text()),
        4 => WireEvent::PingSent { token: u32::from_le_bytes(payload.try_into().ok()?) },
        5 => WireEvent::HostMark(payload.to_vec()),
        6 => WireEvent::ClockStep { step_us: i64::from_le_bytes(payload.try_into().ok()?) },
        7 if payload.is_empty() => WireEvent::Started,
        8 => WireEvent::Lost { bytes: u64::from_le_bytes(payload.try_into().ok()?) },
        9 => WireEvent::Ended(text()),
        10 => WireEvent::NewFolder(text()),
        11 => WireEvent::Known(payload.to_vec()),
        _ => return None,
    };
    Some(Record { host_us: u64::from_le_bytes(*host_us), what })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn event() -> impl Strategy<Value = WireEvent> {
        let bytes = || proptest::collection::vec(any::<u8>(), 0..40);
        prop_oneof![
            bytes().prop_map(WireEvent::Received),
            "[ -~é]{0,20}".prop_map(WireEvent::PortOpened),
            "[ -~]{0,20}".prop_map(WireEvent::PortGone),
            any::<u32>().prop_map(|token| WireEvent::PingSent { token }),
            bytes().prop_map(WireEvent::HostMark),
            any::<i64>().prop_map(|step_us| WireEvent::ClockStep { step_us }),
            Just(WireEvent::Started),
            any::<u64>().prop_map(|bytes| WireEvent::Lost { bytes }),
            "[ -~]{0,20}".prop_map(WireEvent::Ended),
            "[ -~]{0,20}".prop_map(WireEvent::NewFolder),
            bytes().prop_map(WireEvent::Known),
        ]
    }

    fn records() -> impl Strategy<Value = Vec<Record>> {
        let record = (any::<u64>(), event()).prop_map(|(host_us, what)| Record { host_us, what });
        proptest::collection::vec(record, 0..12)
    }

    fn file_of(records: &[Record]) -> (Vec<u8>, Vec<usize>) {
        let mut bytes = WIRE_MAGIC.to_vec();
        let mut ends = vec![bytes.len()];
        for record in records {
            record.write_to(&mut bytes);
            ends.push(bytes.len());
        }
        (bytes, ends)
    }

    #[test]
    fn bytes_are_where_the_table_says() {
        let mut bytes = Vec::new();
        Record { host_us: 0x0102, what: WireEvent::PingSent { token: 7 } }.write_to(&mut bytes);
        let crc = crc32c(&bytes[..17]).to_le_bytes();
        let expected = [&[4, 0, 0, 0, 4, 2, 1, 0, 0, 0, 0, 0, 0, 7, 0, 0, 0][..], &crc].concat();
        assert_eq!(bytes, expected);
    }

    #[test]
    fn another_file_is_refused_and_an_empty_one_is_torn() {
        assert_eq!(WireReader::new(b"t_s,pull_n\n").fault(), Some(WireFault::NotAWireFile));
        assert_eq!(WireReader::new(b"").fault(), Some(WireFault::Torn { at: 0, left_bytes: 0 }));
    }

    /// A record whose CRC is right but whose payload is not of its kind is damage, not an event.
    #[test]
    fn payloads_that_are_not_of_their_kind_are_damage() {
        for (kind, length) in [(4, 3), (6, 7), (7, 1), (8, 9), (0, 0), (12, 0), (255, 5)] {
            let mut file = WIRE_MAGIC.to_vec();
            file.extend_from_slice(&u32::to_le_bytes(length as u32));
            file.push(kind);
            file.extend([0; 8]);
            file.extend(vec![1; length]);
            let crc = crc32c(&file[WIRE_MAGIC.len()..]);
            file.extend_from_slice(&crc.to_le_bytes());
            let mut reader = WireReader::new(&file);
            assert_eq!(reader.next(), None, "kind {kind}");
            let left_bytes = file.len() - WIRE_MAGIC.len();
            assert_eq!(reader.fault(), Some(WireFault::Damaged { at: WIRE_MAGIC.len(), left_bytes }));
        }
    }

    /// A length out of range is not believed: the reader does not ask for that many bytes.
    #[test]
    fn a_length_over_the_bound_is_damage_and_one_at_the_bound_is_read() {
        let long = |length: usize| Record { host_us: 1, what: WireEvent::Received(vec![7; length]) };
        let (mut file, _) = file_of(&[long(PAYLOAD_BYTES_MAX)]);
        assert_eq!(WireReader::new(&file).next(), Some(long(PAYLOAD_BYTES_MAX)));
        let (cut, _) = file_of(&[long(PAYLOAD_BYTES_MAX + 5)]);
        assert_eq!(WireReader::new(&cut).next(), Some(long(PAYLOAD_BYTES_MAX)), "it was cut there");
        let at = WIRE_MAGIC.len();
        file[at..at + 4].copy_from_slice(&(PAYLOAD_BYTES_MAX as u32 + 1).to_le_bytes());
        let mut reader = WireReader::new(&file);
        assert_eq!(reader.next(), None);
        assert!(matches!(reader.fault(), Some(WireFault::Damaged { .. })));
    }

    proptest! {
        #[test]
        fn every_prefix_reads_as_a_prefix_of_the_records(records in records()) {
            let (bytes, ends) = file_of(&records);
            for cut in WIRE_MAGIC.len()..=bytes.len() {
                let mut reader = WireReader::new(&bytes[..cut]);
                let read: Vec<_> = reader.by_ref().collect();
                let whole = ends.iter().filter(|end| **end <= cut).count() - 1;
                prop_assert_eq!(&read[..], &records[..whole]);
                let torn = cut - ends[whole];
                let fault = (torn > 0).then_some(WireFault::Torn { at: ends[whole], left_bytes: torn });
                prop_assert_eq!(reader.fault(), fault);
            }
        }

        #[test]
        fn damage_is_reported_and_never_bridged(records in records(), at in any::<prop::sample::Index>(), bit in 0u8..8) {
            prop_assume!(!records.is_empty());
            let (mut bytes, ends) = file_of(&records);
            let at = WIRE_MAGIC.len() + at.index(bytes.len() - WIRE_MAGIC.len());
            bytes[at] ^= 1 << bit;
            let mut reader = WireReader::new(&bytes);
            let read: Vec<_> = reader.by_ref().collect();
            let before = ends.iter().filter(|end| **end <= at).count() - 1;
            prop_assert_eq!(&read[..], &records[..before]);
            prop_assert!(reader.fault().is_some());
        }

        #[test]
        fn no_bytes_panic(bytes in proptest::collection::vec(any::<u8>(), 0..200)) {
            let file = [WIRE_MAGIC.to_vec(), bytes].concat();
            let mut reader = WireReader::new(&file);
            let _ = reader.by_ref().count();
            prop_assert!(reader.whole_bytes() <= file.len());
        }
    }
}
