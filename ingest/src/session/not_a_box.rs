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
mod tests {
    use super::*;
    use crate::script::{bytes, hello, nmea_line};
    use firmware_protocol::{Frame, Status};

    /// What is said of a port that brought these bytes.
    fn said(brought: &[u8]) -> String {
        let mut handshake = Handshake::default();
        let mut rest = brought;
        while handshake.hear(&mut rest).is_some() {}
        NotABox::of(&handshake, 115_200).to_string()
    }

    /// For the person who writes the program of a text box: what is wrong with its first sentence that is.
    #[test]
    fn the_first_wrong_sentence_of_a_text_box_is_named_with_what_is_wrong() {
        let line = |body: &str| nmea_line(body).into_bytes();
        let right = line("PHTWH,1,0,1,0.1.0,50000,1,box,1");
        let mut wrong_sum = right.clone();
        let at = wrong_sum.len() - 4;
        wrong_sum[at] = if wrong_sum[at] == b'0' { b'1' } else { b'0' };
        for (brought, part) in [
            (wrong_sum, "$PHTWH says *"),
            (
                b"$PHTWH,1,0,1,0.1.0,50000,1,box,1\r\n".to_vec(),
                "$PHTWH does not end with * and two hexadecimal",
            ),
            (line("PHTWR,0,1,2"), "$PHTWR is a row, but no whole hello came"),
            (line(&format!("PHTWR,{}", "1,".repeat(400))), "$PHTWR is longer than"),
            (line("PHTWZ,1"), "$PHTWZ is of an unknown kind"),
            (line("PHTWH,1"), "$PHTWH has a field too many or too few, or a number out of range"),
        ] {
            let said = said(&brought);
            assert!(said.contains("a text box speaks, but its ") && said.contains(part), "{said}");
            assert_eq!(said.lines().count(), 1, "{said}");
        }
        let table = ["PHTWH,1,0,1,0.1.0,50000,1,box,2", "PHTWC,0,1,24,9,a", "PHTWC,1,1,24,9,a"].map(line);
        let said = said(&table.concat());
        assert_eq!(
            said,
            "the box's hello makes no sense (name of channel 1 is not its own): its program must be corrected"
        );
    }

    #[test]
    fn a_text_box_without_its_channels_and_other_devices_are_told_apart() {
        let sentences = ["PHTWS,1000,0,12000,2000", "PHTWH,1,0,1,0.1.0,50000,1,box,1"].map(nmea_line);
        let status = said(sentences[0].as_bytes());
        assert!(status.contains("no whole hello: $PHTWH and, after it, $PHTWC for each channel"), "{status}");
        // With and without other sentences, it speaks and is at the right speed.
        for sentences in [sentences.concat(), sentences[1].repeat(5)] {
            let hello = said(sentences.as_bytes());
            assert!(hello.contains("followed by 1 $PHTWC") && hello.ends_with("and none came"), "{hello}");
        }
        let two = ["PHTWH,1,0,1,0.1.0,50000,1,box,2", "PHTWC,1,1,24,9,a"].map(nmea_line).concat();
        let two = said(two.as_bytes());
        assert!(two.contains("followed by 2 $PHTWC") && two.ends_with("and 1 only came"), "{two}");
        let sounder = said(nmea_line("SDDBT,7.7,f,2.3,M,1.2,F").as_bytes());
        assert!(sounder.contains("another device speaks here (NMEA 0183)"), "{sounder}");
        // Lines, but not of text.
        let noise = said(b"\xF0\x9F\n\x80\x81\n\xFE\n");
        assert!(noise.contains("check the baud rate (now 115200)"), "{noise}");
    }

    #[test]
    fn a_box_that_says_everything_but_its_hello_has_a_broken_line() {
        let status = Status { uptime_ms: 1, rows_dropped: 0, supply_mv: 12_000, temperature_centi_c: 2000 };
        let said_of = said(&bytes(&Frame::Status(status)));
        assert!(said_of.contains("is its line towards the box connected?"), "{said_of}");
        let mut newer = hello(1);
        newer.version = (2, 0);
        assert!(said(&bytes(&Frame::Hello(newer))).contains("protocol 2"));
    }
}
