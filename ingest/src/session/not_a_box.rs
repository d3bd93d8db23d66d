//! What is on a port that shows no box, and what to look for there.

use super::Handshake;
use super::refusal::BoxRefusal;
use crate::gnss::lacks_checksum;
use firmware_protocol::{Complaint, Dropped, Form, SENTENCE_BYTES_MAX};

/// What is on a port that shows no box to work with.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[allow(missing_docs, reason = "the sentences say what they are, the names of fields their unit")]
pub enum NotABox {
    #[error("nothing arrives: is the sensor box switched on, and is this its port?")]
    Silent,
    #[error("bytes arrive but no frame of a sensor box: {likely_cause}")]
    Other { is_gnss: bool, likely_cause: String },
    #[error(
        "frames of a sensor box, but no hello, even after a start: is its line towards the box connected?"
    )]
    NoHello,
    #[error(transparent)]
    Refused(BoxRefusal),
}

impl NotABox {
    /// What is on a port on which no hello has come at this speed.
    pub fn of(handshake: &Handshake, baud: u32) -> Self {
        if let Some(refusal) = &handshake.refusal {
            return Self::Refused(refusal.clone());
        }
        match (handshake.bytes, handshake.frames(), handshake.decoder.form()) {
            (0, ..) => Self::Silent,
            (_, 1.., Some(Form::Binary)) => Self::NoHello,
            _ => Self::Other {
                is_gnss: handshake.decoder.counters_as_text().gnss > 0,
                likely_cause: likely_cause(handshake, baud),
            },
        }
    }
}

/// What to look for on a port that brings bytes, but no frame.
fn likely_cause(handshake: &Handshake, baud: u32) -> String {
    let (decoder, first_bytes) = (&handshake.decoder, &handshake.first_bytes);
    if let Some(complaint) = decoder.complaint() {
        return of_complaint(&complaint);
    }
    if let Some((came, channels)) = decoder.hello_begun() {
        let came = if came == 0 { "none".to_owned() } else { format!("{came} only") };
        return format!(
            "a text box speaks, but its hello is not whole: its $PHTWH is to be followed by {channels} $PHTWC, one for \
             each channel, and {came} came"
        );
    }
    if decoder.form() == Some(Form::Text) {
        return "a text box speaks, but no whole hello: $PHTWH and, after it, $PHTWC for each channel"
            .to_owned();
    }
    let lines = decoder.counters_as_text();
    if lines.gnss > 0 {
        return "this is a GNSS receiver (NMEA 0183): give its port as --gnss".to_owned();
    }
    if lines.other_device > 0 {
        return "another device speaks here (NMEA 0183)".to_owned();
    }
    // The last line may be cut short, and is then one without a checksum by that alone.
    let whole = first_bytes.split_inclusive(|byte| *byte == b'\n').filter(|line| line.ends_with(b"\n"));
    if whole.into_iter().any(|line| lacks_checksum(line.trim_ascii_end())) {
        return "sentences as a GNSS receiver's come (NMEA 0183), but without checksums: switch them on in its \
                settings"
            .to_owned();
    }
    let is_text = |byte: &u8| (0x20..=0x7E).contains(byte) || byte.is_ascii_whitespace();
    if lines.not_a_sentence > 0 && first_bytes.iter().all(is_text) {
        return "lines of text come, but no sentence: firmware-protocol/README.md says what a text box prints"
            .to_owned();
    }
    format!("check the baud rate (now {baud}) and that a sensor box is on this port")
}

/// What the matter is with a sentence of ours, for the person who writes the box's program.
fn of_complaint(complaint: &Complaint) -> String {
    let letter = complaint.letter.map_or(String::new(), |letter| char::from(letter).to_string());
    let why = match complaint.why {
        Dropped::Checksum { said, right } => {
            format!(
                "says *{said:02X} where *{right:02X} is right (the XOR of the characters between $ and *)"
            )
        }
        Dropped::NotASentence => "does not end with * and two hexadecimal digits".to_owned(),
        Dropped::RowBeforeHello => {
            "is a row, but no whole hello came: $PHTWH and, after it, $PHTWC for each channel".to_owned()
        }
        Dropped::TooLong => format!("is longer than {SENTENCE_BYTES_MAX} characters"),
        Dropped::UnknownKind(_) => "is of an unknown kind".to_owned(),
        Dropped::Hello(error) => format!("makes no sense: {error}"),
        _ => "has a field too many or too few, or a number out of range".to_owned(),
    };
    format!("a text box speaks, but its $PHTW{letter} {why}")
}

#[cfg(test)]
mod tests;
