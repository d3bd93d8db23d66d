//! Why a box cannot be recorded, what is on a port that shows no box, and what to look for there.

use super::Handshake;
use crate::gnss::lacks_checksum;
use firmware_protocol::{Complaint, Dropped, Form, Hello, HelloError, SENTENCE_BYTES_MAX, VERSION_MAJOR};

/// Why a box cannot be recorded with this plow.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
#[allow(missing_docs, reason = "the sentences say what they are, the names of fields their unit")]
pub enum BoxRefusal {
    #[error(
        "box \"{name}\" speaks protocol {theirs}, this recorder speaks {ours}: update the older of the two"
    )]
    OtherMajor { name: String, theirs: u8, ours: u8 },
    #[error(
        "box \"{name}\" has no channel {missing}; it has {has}: correct [[sensors]] in the plow \
         description or connect the right box"
    )]
    MissingChannels { name: String, missing: String, has: String },
    #[error(
        "box \"{name}\" has nothing that the plow description asks for; it has {has}, and [[sensors]] names \
         {wanted}: add its channel there (`hitchwright calibrate` writes such an entry), or leave this port out"
    )]
    NothingWanted { name: String, wanted: String, has: String },
    #[error(
        "channel \"{channel}\" of box \"{name}\" measures {kind}, but the plow description says {role}: \
         correct one of the two"
    )]
    KindDiffers { name: String, channel: String, kind: &'static str, role: &'static str },
    #[error("the box's hello makes no sense ({0}): its program must be corrected")]
    Nonsense(HelloError),
}

/// Whether the box speaks this version of the protocol.
pub fn check_version(hello: &Hello) -> Result<(), BoxRefusal> {
    if hello.version.0 == VERSION_MAJOR {
        return Ok(());
    }
    let name = hello.name.as_str().to_owned();
    Err(BoxRefusal::OtherMajor { name, theirs: hello.version.0, ours: VERSION_MAJOR })
}

/// What is on a port that shows no box to work with.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
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
