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
        (b"$PHTWH,1,0,1,0.1.0,50000,1,box,1\r\n".to_vec(), "$PHTWH does not end with * and two hexadecimal"),
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
