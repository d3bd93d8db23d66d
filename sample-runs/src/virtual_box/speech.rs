//! What a box says of itself, and the form in which it speaks and listens: frames, or sentences.

use firmware_protocol::{
    Channel, Decoder, Event, Frame, Hello, Label, LabelError, TextDecoder, VERSION_MINOR, encode, sentences,
};

use super::{BoxConfig, BoxError};
use crate::sensors::Sensor;

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

/// The *hello* of a box in its boot number `boot` that samples at `rate_mhz`.
pub(super) fn greeting(
    config: &BoxConfig,
    channels: &[Channel],
    boot: u32,
    rate_mhz: u32,
) -> Result<Hello, BoxError> {
    let table: Vec<Channel> = channels.iter().map(|c| Channel { rate_mhz, ..*c }).collect();
    let unfit = |error: LabelError| BoxError::Frame(error.to_string());
    let serial = Label::new(&config.serial).map_err(unfit)?;
    let name = Label::new(&config.name).map_err(unfit)?;
    let mut hello = Hello::new(boot, (0, 1, 0), rate_mhz, serial, name, &table)
        .ok_or_else(|| BoxError::Frame("a box has 1 to 8 channels".to_owned()))?;
    hello.version = (config.faults.protocol_major, VERSION_MINOR);
    if config.text && sentences(&Frame::Hello(hello)).next().is_none() {
        let what = "a sentence holds none of $ * , ! \\ ^ ~ in a name or a serial number".to_owned();
        return Err(BoxError::Frame(what));
    }
    Ok(hello)
}

/// The channel table, in the order of the sensors.
pub(super) fn channel_table(config: &BoxConfig) -> Result<Vec<Channel>, BoxError> {
    let channel = |sensor: &Sensor| {
        let name = Label::new(sensor.channel).map_err(|e| BoxError::Frame(e.to_string()))?;
        Ok(Channel { name, kind: sensor.kind, adc_bits: sensor.adc_bits, rate_mhz: config.row_rate_mhz })
    };
    config.sensors.iter().map(channel).collect()
}
