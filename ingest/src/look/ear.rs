//! What is heard on a port, as a state machine without a port.

use super::hint::hint;
use super::sample::Sample;
use crate::assemble::{BoxRefusal, Placement, RowTrack};
use firmware_protocol::{Dropped, Event, Form, Frame, Hello, PortDecoder, Readings, Status, VERSION_MAJOR};

/// Bytes from which it is guessed what else may be on the port.
const FIRST_BYTES: usize = 64;
/// Rows kept in one sample at most; what comes after is counted as if it had not come.
const SAMPLE_ROWS_MAX: usize = 2_000_000;

/// Listens to the bytes of one port.
#[derive(Clone, Debug, Default)]
pub struct Ear {
    decoder: PortDecoder,
    bytes: u64,
    first_bytes: Vec<u8>,
    hello: Option<Hello>,
    hellos: u64,
    refusal: Option<BoxRefusal>,
    status: Option<Status>,
    track: RowTrack,
    taking: bool,
    sample: Sample,
    damaged_before: u64,
}

impl Ear {
    /// Bytes so far.
    #[must_use]
    pub fn bytes(&self) -> u64 {
        self.bytes
    }

    /// Good frames of ours so far.
    #[must_use]
    pub fn frames(&self) -> u64 {
        self.decoder.counters().frames
    }

    /// The last good hello.
    #[must_use]
    pub fn hello(&self) -> Option<&Hello> {
        self.hello.as_ref()
    }

    /// How many hellos came.
    #[must_use]
    pub fn hellos(&self) -> u64 {
        self.hellos
    }

    /// Why the box cannot be used, if it said so itself.
    #[must_use]
    pub fn refusal(&self) -> Option<&BoxRefusal> {
        self.refusal.as_ref()
    }

    /// The last status.
    #[must_use]
    pub fn status(&self) -> Option<Status> {
        self.status
    }

    /// The form of what came of ours.
    #[must_use]
    pub fn form(&self) -> Option<Form> {
        self.decoder.form()
    }

    /// Whether a GNSS receiver speaks here.
    #[must_use]
    pub fn is_gnss(&self) -> bool {
        self.decoder.counters_as_text().gnss > 0
    }

    /// What to look for if nothing of ours came at this speed.
    #[must_use]
    pub fn hint(&self, baud: u32) -> String {
        hint(&self.decoder, &self.first_bytes, baud)
    }

    /// Takes bytes as they came.
    pub fn take(&mut self, mut bytes: &[u8]) {
        self.bytes += bytes.len() as u64;
        let room = FIRST_BYTES.saturating_sub(self.first_bytes.len());
        self.first_bytes.extend(bytes.iter().take(room));
        while let Some(event) = self.decoder.next_event(&mut bytes) {
            match event {
                Event::Frame(Frame::Hello(hello)) => self.hello_came(&hello),
                Event::Frame(Frame::Readings(readings)) => self.readings_came(&readings),
                Event::Frame(Frame::Status(status)) => self.status = Some(status),
                Event::Dropped(Dropped::Hello(error)) if self.hello.is_none() => {
                    self.refusal = Some(BoxRefusal::Nonsense(error));
                }
                Event::Frame(_) | Event::Dropped(_) => {}
            }
        }
    }

    /// Rows are kept from here on.
    pub fn begin(&mut self) {
        self.taking = true;
        // What was lost before is not this sample's.
        self.track.forget();
        self.damaged_before = self.decoder.counters().damaged();
        let channels = self.hello.map_or(0, |hello| hello.channels().len());
        self.sample = Sample { counts: vec![Vec::new(); channels], ..Sample::default() };
    }

    /// How many rows were kept so far.
    #[must_use]
    pub fn rows(&self) -> usize {
        self.sample.rows()
    }

    /// The rows since [`Self::begin`]; none are kept any more.
    pub fn end(&mut self) -> Sample {
        self.taking = false;
        let frames_damaged = self.decoder.counters().damaged() - self.damaged_before;
        Sample { frames_damaged, ..std::mem::take(&mut self.sample) }
    }

    fn hello_came(&mut self, hello: &Hello) {
        self.hellos += 1;
        let before = self.hello.replace(*hello);
        self.refusal = (hello.version.0 != VERSION_MAJOR).then(|| BoxRefusal::OtherMajor {
            name: hello.name.as_str().to_owned(),
            theirs: hello.version.0,
            ours: VERSION_MAJOR,
        });
        if before.is_some_and(|before| before.boot != hello.boot) {
            self.sample.restarts += 1;
            self.track.forget();
        }
    }

    fn readings_came(&mut self, readings: &Readings) {
        let channels = self.sample.counts.len();
        if !self.taking || readings.channel_count() != channels || self.rows() >= SAMPLE_ROWS_MAX {
            return;
        }
        let (first_box_us, gap_rows, stale_rows) = match self
            .track
            .place(readings, self.form() == Some(Form::Text))
        {
            Placement::First => (u64::from(readings.clock_us), 0, 0),
            Placement::GoesOn { first_box_us, gap_rows, stale_rows } => (first_box_us, gap_rows, stale_rows),
            Placement::Stale => return,
            Placement::Restarted { gap_rows, .. } => {
                self.sample.restarts += 1;
                (u64::from(readings.clock_us), gap_rows, 0)
            }
        };
        self.track.took(readings, first_box_us);
        self.sample.rows_lost += u64::from(gap_rows);
        self.sample.gaps += u64::from(gap_rows > 0);
        for row in readings.rows().skip(stale_rows as usize) {
            for (kept, count) in self.sample.counts.iter_mut().zip(row) {
                kept.push(*count);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use firmware_protocol::{Channel, ChannelKind, Label, encode, sentences};

    fn bytes(frame: &Frame) -> Vec<u8> {
        let (bytes, length) = encode(frame);
        bytes[..length].to_vec()
    }

    fn hello() -> Vec<u8> {
        let name = |name: &str| Label::new(name).unwrap();
        let table = [("pull", ChannelKind::Pull), ("depth", ChannelKind::Depth)]
            .map(|(text, kind)| Channel { name: name(text), kind, adc_bits: 24, rate_mhz: 100_000 });
        let serial = Label::new("S").unwrap();
        let hello = Hello::new(1, (1, 0, 0), 100_000, serial, Label::new("b").unwrap(), &table).unwrap();
        bytes(&Frame::Hello(hello))
    }

    fn rows(first: u32, counts: &[i32]) -> Vec<u8> {
        let clock_us = first.wrapping_mul(10_000);
        bytes(&Frame::Readings(Readings::new(first, clock_us, 10_000, 2, counts).unwrap()))
    }

    #[test]
    fn rows_are_kept_by_channel_and_lost_ones_counted() {
        let mut ear = Ear::default();
        ear.take(&hello());
        ear.take(&rows(0, &[1, 2]));
        assert_eq!((ear.frames(), ear.rows()), (2, 0), "none before it begins");
        ear.begin();
        ear.take(&rows(5, &[10, 20, 11, 21]));
        ear.take(&rows(9, &[12, 22]));
        ear.take(&rows(9, &[12, 22]));
        let mut damaged = rows(10, &[13, 23]);
        damaged[6] ^= 4;
        ear.take(&damaged);
        ear.take(&rows(11, &[14, 24]));
        let sample = ear.end();
        assert_eq!(sample.counts, [[10, 11, 12, 14], [20, 21, 22, 24]]);
        assert_eq!((sample.rows_lost, sample.gaps, sample.frames_damaged), (3, 2, 1));
        assert_eq!(sample.spread(0).unwrap().mean, 11.75);
        assert_eq!(ear.form(), Some(Form::Binary));
    }

    /// The sentence is printed in most descriptions of NMEA 0183 (from memory).
    #[test]
    fn a_receiver_is_told_from_text_and_from_noise() {
        let mut ear = Ear::default();
        let sentence = b"$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47\r\n";
        let (first, second) = sentence.split_at(17);
        ear.take(first);
        assert!(!ear.is_gnss());
        ear.take(second);
        assert!(ear.is_gnss() && ear.hint(9600).contains("GNSS receiver"), "{}", ear.hint(9600));
        let mut ear = Ear::default();
        ear.take(b"$GPVTG,054.7,T,034.4,M,005.5,N,010.2,K\r\n$GPVTG,054");
        assert!(!ear.is_gnss() && ear.hint(9600).contains("without checksums"), "{}", ear.hint(9600));
        let mut ear = Ear::default();
        ear.take(b"pull 12 depth 13\r\n");
        assert!(!ear.is_gnss() && ear.hint(9600).contains("lines of text"), "{}", ear.hint(9600));
        let mut ear = Ear::default();
        ear.take(&[0x81; 60]);
        assert!(!ear.is_gnss() && ear.hint(9600).contains("baud rate (now 9600)"), "{}", ear.hint(9600));
    }

    /// A hello and rows as a box prints them.
    #[test]
    fn a_box_that_prints_is_heard_as_one_that_sends_frames() {
        let (mut frames, mut text) = (Ear::default(), Ear::default());
        let mut both = |bytes: &[u8]| {
            frames.take(bytes);
            let mut decoder = PortDecoder::new();
            let mut rest = bytes;
            while let Some(event) = decoder.next_event(&mut rest) {
                let Event::Frame(frame) = event else { panic!("{event:?}") };
                sentences(&frame).for_each(|sentence| text.take(sentence.as_bytes()));
            }
            frames.begin();
            text.begin();
        };
        both(&hello());
        let mut both = |bytes: Vec<u8>, frame: Frame| {
            frames.take(&bytes);
            sentences(&frame).for_each(|sentence| text.take(sentence.as_bytes()));
        };
        for first in [0, 1, 2, 5, 6] {
            let readings = Readings::new(first, first * 10_000, 10_000, 2, &[first as i32, 7]).unwrap();
            both(bytes(&Frame::Readings(readings)), Frame::Readings(readings));
        }
        assert_eq!(text.form(), Some(Form::Text));
        let (frames, text) = (frames.end(), text.end());
        assert_eq!(text.counts, [[0, 1, 2, 5, 6], [7; 5]]);
        assert_eq!((&text, text.rows_lost), (&frames, 2));
    }

    #[test]
    fn no_bytes_panic() {
        use rand::{Rng, SeedableRng};
        let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(1);
        let mut ear = Ear::default();
        ear.take(&hello());
        ear.begin();
        for _ in 0..2_000 {
            let mut noise = [0; 97];
            rng.fill_bytes(&mut noise);
            ear.take(&noise);
        }
        assert_eq!(ear.end().rows(), 0);
    }
}
